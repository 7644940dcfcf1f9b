"""Handing over: whose the chosen pieces are, what else is ready for them, and what is still owed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date

from django.db.models import Count, Min, QuerySet

from studio.domain.stages import Stage
from studio.models import Person, Piece

from .money import with_balances
from .pieces import for_drawing, with_colours


@dataclass(slots=True)
class Visit:
    """One maker's pieces in the basket. ``maker`` None: the studio's own, or nobody knows whose.

    ``owed_minor`` is what whoever answers for the maker owes, None when it is not to be shown; ``also`` are
    other pieces ready for the same maker.
    """

    maker: Person | None
    payer: Person | None = None
    pieces: list[Piece] = field(default_factory=list)
    also: list[Piece] = field(default_factory=list)
    owed_minor: int | None = None


def visits(codes: Iterable[str], *, day: date, show_owed: bool) -> list[Visit]:
    """The basket by maker, in the order in which pieces were put in. Queries do not grow with the basket."""
    codes = list(codes)
    rows = {piece.code: piece for piece in for_drawing(Piece.objects.filter(code__in=codes)).all()}
    by_maker: dict[int | None, Visit] = {}
    for code in codes:
        if piece := rows.get(code):
            by_maker.setdefault(piece.maker_id, Visit(piece.maker)).pieces.append(piece)
    makers = [key for key in by_maker if key]
    also = Piece.objects.filter(maker__in=makers, stage=Stage.READY).exclude(code__in=codes)
    for piece in for_drawing(also).order_by("stage_since"):
        by_maker[piece.maker_id].also.append(piece)
    for visit in by_maker.values():
        with_colours([*visit.pieces, *visit.also])
    if show_owed:
        _add_owed(list(by_maker.values()), day)
    return list(by_maker.values())


def _add_owed(found: list[Visit], day: date) -> None:
    guardians = Person.objects.in_bulk(
        [visit.maker.guardian_id for visit in found if visit.maker and visit.maker.guardian_id]
    )
    for visit in found:
        if visit.maker:
            young = visit.maker.guardian_id in guardians and visit.maker.is_young_on(day)
            visit.payer = guardians[visit.maker.guardian_id] if young else visit.maker
    payers = with_balances(Person.objects.filter(pk__in=[visit.payer.pk for visit in found if visit.payer]))
    owed = dict(payers.values_list("pk", "balance_minor"))
    for visit in found:
        if visit.payer:
            visit.owed_minor = owed[visit.payer.pk]


def waiting_people(most: int = 60) -> QuerySet[Person]:
    """Makers with pieces ready, those who have waited longest first: ``ready`` and ``since`` are on each."""
    ready = Person.objects.filter(pieces__stage=Stage.READY)
    return ready.annotate(ready=Count("pieces"), since=Min("pieces__stage_since")).order_by("since", "pk")[
        :most
    ]
