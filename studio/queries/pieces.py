"""Pieces as lists show them: found by mark or maker, filtered, counted by stage, with what draws them."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Count, Q, QuerySet

from studio.domain import marks
from studio.domain.stages import ENDED, LIVE, Stage
from studio.models import Person, Piece, Session, Shelf

#: Stages at which the glaze noted on a piece can be seen.
_SHOWS_GLAZE = frozenset(
    {
        *(Stage.GLAZED, Stage.GLAZE_FIRING, Stage.LOW_FIRING, Stage.FIRED, Stage.FINISHING, Stage.READY),
        *(Stage.COLLECTED, Stage.LOST, Stage.UNCLAIMED),
    }
)


def for_drawing(pieces: QuerySet[Piece]) -> QuerySet[Piece]:
    """The pieces with what their drawing and line need: two queries more, however many pieces."""
    return pieces.select_related("maker", "shelf", "clay").prefetch_related("glazes_on__glaze")


def colour_of(piece: Piece, surface: str = "outside") -> str | None:
    """The colour this surface shows: of the glaze put on last, of the clay when it is bare; None if unknown.

    Raw clay is drawn in the drawing's own clay colour, so None is also the answer before glazing.
    """
    if Stage(piece.stage) not in _SHOWS_GLAZE:
        return None
    coats = [coat for coat in piece.glazes_on.all() if coat.surface == surface]
    for coat in sorted(coats, key=lambda coat: coat.order, reverse=True):
        return coat.glaze.colour if coat.glaze else piece.clay.colour
    return None


def with_colours(pieces: list[Piece]) -> list[Piece]:
    """The same pieces, each knowing its outside colour as ``glaze_colour``, which the drawings ask for."""
    for piece in pieces:
        piece.glaze_colour = colour_of(piece)
    return pieces


@dataclass(frozen=True, slots=True)
class StageCount:
    stage: Stage
    count: int


def stage_counts(pieces: QuerySet[Piece]) -> list[StageCount]:
    """How many of these pieces stand at each live stage, in working order; empty stages are left out."""
    found = dict(pieces.filter(stage__in=LIVE).order_by().values_list("stage").annotate(number=Count("id")))
    return [StageCount(stage, found[stage]) for stage in Stage if stage in found]


@dataclass(slots=True)
class Wanted:
    """What a list was asked for. Empty means all; ``ended`` asks for what has left, not what is here.

    ``session`` asks for all that was made in one meeting of a course, here or gone.
    """

    stage: Stage | None = None
    maker: Person | None = None
    shelf: Shelf | None = None
    nowhere: bool = False
    nobodys: bool = False
    session: Session | None = None
    ended: bool = False
    name: str = ""

    def apply(self, pieces: QuerySet[Piece]) -> QuerySet[Piece]:
        if self.stage is not None:
            pieces = pieces.filter(stage=self.stage)
        elif self.session is None or self.ended:
            pieces = pieces.filter(stage__in=ENDED if self.ended else LIVE)
        else:
            pieces = pieces.exclude(stage=Stage.WITHDRAWN)
        return self._of_place_and_maker(pieces)

    def counted_in(self, pieces: QuerySet[Piece]) -> QuerySet[Piece]:
        """The pieces among which stages are counted: all that is asked but the stage."""
        return self._of_place_and_maker(pieces)

    def _of_place_and_maker(self, pieces: QuerySet[Piece]) -> QuerySet[Piece]:
        if self.maker is not None:
            pieces = pieces.filter(maker=self.maker)
        if self.nobodys:
            pieces = pieces.filter(maker=None, studios_own=False)
        if self.session is not None:
            pieces = pieces.filter(session=self.session)
        if self.shelf is not None:
            pieces = pieces.filter(shelf=self.shelf)
        if self.nowhere:
            pieces = pieces.filter(shelf=None)
        for word in self.name.split()[:4]:
            pieces = pieces.filter(
                Q(maker__first_name__icontains=word)
                | Q(maker__last_name__icontains=word)
                | Q(piece_set__name__icontains=word)
            )
        return pieces


def left_with_mark(typed: str, pieces: QuerySet[Piece], most: int = 3) -> list[Piece]:
    """Pieces of exactly this mark that have left, latest first: for an old pot that somebody brings back."""
    mark = marks.normalise(typed[:64])
    if not marks.is_mark(mark):
        return []
    left = pieces.filter(mark=mark, stage__in=ENDED).exclude(stage=Stage.WITHDRAWN)
    return list(left.select_related("maker").order_by("-ended_at")[:most])


def makers_of(pieces: QuerySet[Piece]) -> QuerySet[Person]:
    """The makers of these pieces, by name."""
    return Person.objects.filter(pk__in=pieces.exclude(maker=None).order_by().values("maker"))
