"""Which marks are in use, which rest, and which piece a typed mark means."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from studio.domain import marks
from studio.domain.marks import Match, Resolution
from studio.domain.say import say
from studio.domain.stages import ENDED
from studio.models import Piece

#: A piece that left this lately may come back by an undo, so new marks keep two apart from its mark as well.
MAY_COME_BACK = timedelta(days=90)


def live_marks() -> set[str]:
    return set(Piece.objects.live().values_list("mark", flat=True))


def marks_to_keep_from(now: datetime) -> tuple[set[str], set[str]]:
    """(marks a new one must be two apart from, marks that rest for a year) at this moment."""
    left = list(
        Piece.objects.filter(stage__in=ENDED, ended_at__gt=now - timedelta(days=367)).values_list(
            "mark", "ended_at"
        )
    )
    recent = marks.still_recent(((mark, ended_at.date()) for mark, ended_at in left), today=now.date())
    coming_back = {mark for mark, ended_at in left if ended_at > now - MAY_COME_BACK}
    return live_marks() | coming_back, recent


@dataclass(frozen=True, slots=True)
class Found:
    """What a typed mark leads to: one piece, or the pieces it may have been meant for, never both."""

    typed: str
    piece: Piece | None
    perhaps: tuple[Piece, ...] = ()

    @property
    def sentence(self) -> str:
        """What to say when no piece was found; empty when one was."""
        if self.piece is not None:
            return ""
        if not self.typed:
            return say("Type the mark under the foot: 3 or 4 letters and digits.")
        if self.perhaps:
            words = say(" or ").join(piece.mark for piece in self.perhaps)
            return say("No piece is marked {typed}. Did you mean {words}?", typed=self.typed, words=words)
        return say("No piece is marked {typed}. Look at the foot again, or search by name.", typed=self.typed)


def find_by_mark(typed: str, among: object | None = None) -> Found:
    """The live piece with exactly this mark, else the live pieces near it to ask about; never a guess.

    ``among`` is a queryset of the pieces this person may see; None means all. Nothing outside it is named.
    """
    pieces = (Piece.objects.all() if among is None else among).exclude(stage__in=ENDED)
    resolution = resolve_mark(typed, set(pieces.values_list("mark", flat=True)))
    shown = resolution.typed[:12]
    if resolution.match == Match.EXACT:
        return Found(shown, pieces.select_related("maker").get(mark=resolution.mark))
    by_mark = {piece.mark: piece for piece in pieces.filter(mark__in=resolution.suggestions)}
    perhaps = tuple(by_mark[mark] for mark in resolution.suggestions if mark in by_mark)
    return Found(shown, None, perhaps)


def resolve_mark(typed: str, live: set[str] | None = None) -> Resolution:
    """What the typed mark means among the live marks."""
    return marks.resolve(typed, live_marks() if live is None else live)
