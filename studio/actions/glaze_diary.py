"""A maker's own words about a piece's glazing. They change nothing about the piece."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import DiaryNote, Person, Piece

from .common import clean_text, moment, refuse
from .pieces_events import hold_piece

LONGEST_NOTE = 1000


@transaction.atomic
def write_diary(*, piece: Piece, words: str, by: Person, now: datetime | None = None) -> DiaryNote | None:
    """Keep these words in the diary of the piece's maker; empty ones take the note away.

    Also after the firing, when there is most to write. A guardian writes for a young maker.
    """
    piece = hold_piece(piece)
    if piece.maker is None or by.pk not in {piece.maker_id, piece.maker.guardian_id}:
        refuse("not-yours", say("A diary is its maker’s own. Write on your own pieces."))
    words = clean_text(words, label=say("diary note"), longest=LONGEST_NOTE, lines=True)
    if not words:
        DiaryNote.objects.filter(piece=piece, maker=piece.maker).delete()
        return None
    row, _ = DiaryNote.objects.update_or_create(
        piece=piece, maker=piece.maker, defaults={"words": words, "written_at": moment(now)}
    )
    return row
