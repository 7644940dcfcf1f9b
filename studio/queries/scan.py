"""What a scanned or typed text leads to: a piece, a shelf, pieces to ask about, or only a sentence."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

from django.db.models import QuerySet
from django.utils import timezone

from studio.domain.say import date_words, midway, say
from studio.domain.scanned import Read, Scanned, read_code, read_scan
from studio.domain.stages import Stage
from studio.models import Piece, Shelf, Tag

from .piece_marks import find_by_mark
from .pieces import left_with_mark


@dataclass(frozen=True, slots=True)
class Lead:
    """One of: ``piece``, ``shelf``, ``near`` pieces to ask about, or only ``sentence`` saying why not.

    ``retired``: the code was one of ours once; ``sentence`` then says what became of it, and ``piece`` or
    ``shelf`` is what it stood for, which nothing may be done to on its word.
    """

    piece: Piece | None = None
    shelf: Shelf | None = None
    near: tuple[Piece, ...] = ()
    sentence: str = ""
    retired: bool = False

    @property
    def live_piece(self) -> Piece | None:
        return None if self.retired else self.piece

    @property
    def live_shelf(self) -> Shelf | None:
        return None if self.retired else self.shelf


def lead_of_text(text: str, *, hosts: Collection[str], pieces: QuerySet[Piece]) -> Lead:
    """Follow a text from the scan field. ``pieces`` are those this person may see."""
    scanned = read_scan(text, hosts=hosts)
    if scanned.kind == Read.MARK:
        return _lead_of_mark(scanned.mark, pieces)
    return lead_of_scan(scanned, pieces=pieces)


def lead_of_code(code: str, *, pieces: QuerySet[Piece]) -> Lead:
    """Follow the code in a tag's address."""
    return lead_of_scan(read_code(code), pieces=pieces)


def lead_of_scan(scanned: Scanned, *, pieces: QuerySet[Piece]) -> Lead:
    if scanned.kind != Read.TAG:
        return Lead(sentence=scanned.sentence)
    tag = Tag.objects.filter(code=scanned.code).select_related("shelf").first()
    piece = pieces.filter(pk=tag.piece_id).select_related("maker", "shelf").first() if tag else None
    if tag is None or (tag.piece_id and piece is None):
        return Lead(sentence=say("No tag or slip here has this code. Scan it again, or type the mark."))
    if tag.retired_at is not None:
        return Lead(piece=piece, shelf=tag.shelf, sentence=_retired_words(tag, piece), retired=True)
    return Lead(piece=piece, shelf=tag.shelf)


def _retired_words(tag: Tag, piece: Piece | None) -> str:
    if piece is not None:
        if piece.stage == Stage.WITHDRAWN:
            return say(
                "This slip is of {mark}, which was entered by mistake. Throw the slip away.", mark=piece.mark
            )
        on = date_words(timezone.localtime(tag.retired_at), "j F Y")
        return say(
            "This slip of {mark} was replaced on {on}. Use the newer one, or type the mark.",
            mark=piece.mark,
            on=on,
        )
    if tag.shelf.retired_at is not None:
        return say("{name} is not in use any more. Take its tag down.", name=tag.shelf.name)
    return say("This tag of {name} was replaced. Put up the newer one.", name=tag.shelf.name)


def _lead_of_mark(typed: str, pieces: QuerySet[Piece]) -> Lead:
    found = find_by_mark(typed, pieces.select_related("maker", "shelf"))
    if found.piece is not None:
        return Lead(piece=found.piece)
    if found.perhaps:
        return Lead(
            near=found.perhaps,
            sentence=say("No piece is marked {typed}. Did you mean one of these?", typed=found.typed),
        )
    if left := left_with_mark(typed, pieces):
        stage = midway(left[0].get_stage_display())
        return Lead(
            sentence=say(
                "{mark} has left: it is {stage}. No piece here has this mark now.",
                mark=left[0].mark,
                stage=stage,
            )
        )
    return Lead(sentence=found.sentence)
