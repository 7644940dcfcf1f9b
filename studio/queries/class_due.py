"""Whose pieces are to be taken home or glazed by the next class, counted in classes attended.

Whoever reminds makers asks here: it is the one list of what a deadline of the studio's falls on.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db.models import F, Q, QuerySet

from studio.domain.class_deadlines import ClassDeadline
from studio.domain.stages import Stage
from studio.models import Person, Piece, Session, Studio

from .attendance import class_deadlines
from .keeping import not_kept


@dataclass(frozen=True, slots=True)
class ClassDue:
    """One piece whose time runs out. ``next_class`` is the maker's next meeting, None when none is planned.

    ``what`` is pickup or glazing, ``round`` last (by the next class) or passed; with the piece's code they
    are the same until the piece moves on, so nobody need be told twice.
    """

    piece: Piece
    maker: Person
    what: str
    round: str
    deadline: ClassDeadline
    next_class: Session | None

    @property
    def key(self) -> str:
        return f"{self.piece.code}:{self.what}:{self.piece.stage_since:%Y%m%d%H%M%S}:{self.round}"


def due_by_class(*, studio: Studio, now: datetime) -> list[ClassDue]:
    """Pieces with one class left or none, by maker, those that have waited longest first.

    Left out are those that are kept for their maker, those that stand in a load, and those of people who have
    left. Four queries, however many there are.
    """
    pieces = list(
        _counted(studio, now)
        .select_related("maker__guardian", "shelf")
        .order_by("maker__first_name", "maker__last_name", "maker_id", "stage_since", "pk")
    )
    deadlines = class_deadlines(pieces, studio=studio)
    soon = [piece for piece in pieces if piece.pk in deadlines and deadlines[piece.pk].left <= 1]
    coming = _next_classes({piece.maker_id for piece in soon}, now)
    return [
        ClassDue(
            piece=piece,
            maker=piece.maker,
            what="pickup" if piece.stage == Stage.READY else "glazing",
            round="passed" if deadlines[piece.pk].passed else "last",
            deadline=deadlines[piece.pk],
            next_class=coming.get(piece.maker_id),
        )
        for piece in soon
    ]


def deadlines_shown(
    pieces: Iterable[Piece], *, studio: Studio, now: datetime
) -> dict[int, tuple[str, ClassDeadline]]:
    """Primary key of a piece -> pickup or glazing, and its deadline: of those that have one, as above.

    For the pages of pieces. Two queries, none where no piece is at such a stage.
    """
    at = {Stage.READY, Stage.BISQUED}
    asked = [piece for piece in pieces if piece.stage in at]
    if not asked:
        return {}
    counted = set(
        _counted(studio, now).filter(pk__in=[piece.pk for piece in asked]).values_list("pk", flat=True)
    )
    deadlines = class_deadlines([piece for piece in asked if piece.pk in counted], studio=studio)
    return {
        piece.pk: ("pickup" if piece.stage == Stage.READY else "glazing", deadlines[piece.pk])
        for piece in asked
        if piece.pk in deadlines
    }


def _counted(studio: Studio, now: datetime) -> QuerySet[Piece]:
    """Pieces for which classes count at all."""
    rows = not_kept(Piece.objects.filter(stage=Stage.READY), now=now)
    if studio.glaze_classes:
        rows |= Piece.objects.filter(stage=Stage.BISQUED, held_by__isnull=True)
    return rows.filter(maker__left_at__isnull=True, studios_own=False)


def _next_classes(makers: set[int], now: datetime) -> dict[int, Session]:
    """Primary key of a person -> the next meeting they come to, make-ups among them. Two queries."""
    found: dict[int, Session] = {}
    coming = Session.objects.held().filter(starts_at__gt=now).select_related("course")
    for who, way in (
        ("course__enrolments__person", Q(course__enrolments__left_at__isnull=True)),
        ("make_ups__person", Q(make_ups__given_up_at__isnull=True)),
    ):
        rows = (
            coming.filter(way, **{f"{who}__in": makers})
            .annotate(for_person=F(who))
            .order_by("starts_at", "pk")
        )
        for row in rows:
            first = found.setdefault(row.for_person, row)
            if row.starts_at < first.starts_at:
                found[row.for_person] = row
    return found
