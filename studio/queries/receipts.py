"""The receipt of one piece in one firing: every sum from its size to its charge, for a pocket calculator."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Q

from studio.domain.sharing_rules import Basis, EmptySpace, Free, Policy
from studio.domain.sharing_rules import Placement as SharedPlace
from studio.domain.sharing_sums import LINE_WORDS, Line, Sum, Unit
from studio.models import Charge, Firing, Person, Piece, Placement

from .settled import Row, Settled, settled_of
from .settling import FREE_WORDS


@dataclass(frozen=True, slots=True)
class SumRow:
    """One line as the page shows it. ``sum`` is what is typed; empty where words alone say it."""

    what: str
    sum: str
    result: str
    unit: str
    note: str


@dataclass(frozen=True, slots=True)
class Receipt:
    """``place`` is the piece as it was shared: on its stand, if it had one. Money in minor units."""

    piece: Piece
    placement: Placement
    firing: Firing
    settled: Settled
    row: Row
    place: SharedPlace
    policy: Policy
    sums: tuple[SumRow, ...]

    @property
    def charges(self) -> Sequence[Charge]:
        return self.row.charges

    @property
    def to_pay_minor(self) -> int:
        return self.row.charged_minor

    @property
    def by_own_box(self) -> bool:
        return self.policy.basis == Basis.OWN_BOX

    @property
    def makers_bear_empty(self) -> bool:
        return self.policy.empty_space == EmptySpace.MAKERS


def sum_rows(sums: Sequence[Sum]) -> tuple[SumRow, ...]:
    """The lines of `domain.sharing_sums` in words."""
    rows = []
    for line in sums:
        note = line.note
        if line.line == Line.FREE:
            note = FREE_WORDS[Free(line.note)]
        unit = "" if line.unit == Unit.MINOR else line.unit.value
        rows.append(SumRow(LINE_WORDS[line.line], line.sum, line.result, unit, note))
    return tuple(rows)


def receipt_of(piece: Piece, firing_number: int, viewer: Person) -> Receipt | None:
    """The receipt, or None where there is none for this person.

    The tutor sees all. Others see what they paid, or what was made by them or their young people when it was
    posted: after a piece has changed hands, the former maker's receipt is not the new one's. Helpers see
    none.
    """
    if viewer.is_staff_member and not viewer.is_tutor:
        return None
    placement = (
        Placement.objects.filter(piece=piece, firing__number=firing_number, taken_out_at__isnull=True)
        .select_related("firing__kiln", "layer")
        .first()
    )
    settled = settled_of(placement.firing) if placement else None
    if settled is None or settled.facts is None or placement.pk not in settled.facts.places:
        return None
    row = next(row for row in settled.rows if row.placement.pk == placement.pk)
    place = settled.facts.places[placement.pk]
    if not viewer.is_tutor and not _is_theirs(viewer, row, place):
        return None
    shared = settled.facts.share(settled.cost_minor)
    return Receipt(
        piece=piece,
        placement=placement,
        firing=placement.firing,
        settled=settled,
        row=row,
        place=place,
        policy=settled.facts.policy,
        sums=sum_rows(settled.facts.sums(shared, placement.pk)),
    )


def _is_theirs(viewer: Person, row: Row, place: SharedPlace) -> bool:
    if row.payer is not None and row.payer.pk == viewer.pk:
        return True
    maker = place.maker.partition(":")[0]
    if not maker:
        return False
    return Person.objects.filter(Q(pk=viewer.pk) | Q(guardian=viewer), pk=int(maker)).exists()
