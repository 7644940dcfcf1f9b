"""What other rules would have cost whom, and whether firing paid: sums by hand, and one count of queries."""

from __future__ import annotations

from datetime import date, timedelta

import pytest

from studio.actions import money
from studio.actions.corrections import correct_costs
from studio.domain.stages import Stage
from studio.models import Charge, Firing, Person, Settlement, SharingPolicy
from studio.queries.firing_pay import firings_paid
from studio.queries.sharing_choices import compare
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def ines() -> Person:
    return make.student("Ines")


@pytest.fixture
def tobias() -> Person:
    return make.student("Tobias")


def fired(*makers: Person | None, heights: tuple[int, ...] = (), **values: object) -> Firing:
    """£30.00 by own box, makers bearing the empty space, unless the rules say otherwise."""
    heights = heights or (100,) * len(makers)
    pots = [
        make.piece(
            stage=Stage.GLAZED,
            maker=maker,
            studios_own=maker is None,
            width_mm=100,
            depth_mm=100,
            height_mm=height,
            **values,
        )
        for maker, height in zip(makers, heights, strict=True)
    ]
    return make.closed_firing(pieces=pots, energy_kwh="100")


def own_box(**values: object) -> SharingPolicy:
    return SharingPolicy(**{"basis": "own-box", "empty_space": "makers", **values})


def test_three_choices_on_the_last_firings(ines: Person, tobias: Person) -> None:
    """Two firings: Ines 1 : Tobias 2 litres is £10 : £20, then Ines alone £30.

    At half the rate everybody pays half; with a smallest charge of £15 only the £10 is raised; with own
    pieces left out nothing changes, as there are none.
    """
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    fired(ines, tobias, heights=(100, 200))
    fired(ines)
    found = compare(
        [
            own_box(rate_guest_per_mille=500),
            own_box(smallest_charge_minor=1500),
            own_box(own_pieces_share=False),
        ],
        last=10,
    )
    assert [(row.maker, row.pieces, row.amounts) for row in found.rows] == [
        (ines, 2, (4000, 2000, 4500, 4000)),
        (tobias, 1, (2000, 1000, 2000, 2000)),
    ]
    assert (found.cost_minor, found.makers_minor) == (6000, (6000, 3000, 6500, 6000))
    assert found.studio_minor == (0, 3000, -500, 0)
    assert len(compare([], last=1).firings) == 1


def test_as_it_was_is_what_was_charged_and_nothing_is_written(ines: Person, tobias: Person) -> None:
    make.studio(smallest_charge_minor=40)
    firing = fired(ines, tobias, None, heights=(100, 37, 80))
    correct_costs(firing=firing, by=firing.made_by, client_id=make.client_id(), energy_minor=2951)
    before = (Settlement.objects.count(), Charge.objects.count(), SharingPolicy.objects.count())
    found = compare([own_box()], last=10)
    charged = sum(Charge.objects.values_list("amount_minor", flat=True))
    assert (found.cost_minor, found.makers_minor[0]) == (2951, charged)
    assert before == (Settlement.objects.count(), Charge.objects.count(), SharingPolicy.objects.count())


def test_allowances_run_on_as_each_choice_would_have_used_them(ines: Person) -> None:
    """1.5 litres in the course, a litre a firing, £30.00 each: by own box free, then half, then all."""
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    lesson = make.session(make.course(firing_allowance_litres="1.50"))
    for _ in range(3):
        fired(ines, session=lesson)
    found = compare([own_box(), own_box(rate_member_per_mille=500)], last=3)
    assert found.rows[0].amounts == (4500, 4500, 2250)


@pytest.mark.parametrize("count", [1, 30])
def test_comparing_costs_three_queries(count: int, django_assert_num_queries: object) -> None:
    for number in range(2 if count > 1 else 1):
        make.closed_firing(pieces=count, layers=3, kiln=make.kiln(f"Kiln of {number}"))
    with django_assert_num_queries(3):
        found = compare([own_box(), SharingPolicy()], last=10)
    assert len(found.rows) == len(found.firings) * count


def test_what_was_paid_by_month_kiln_and_firing(ines: Person) -> None:
    """£30.00 over a litre of Ines's, one of the studio's own and one of hers that the course pays for."""
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    lesson = make.session(make.course(firing_allowance_litres="1.00"))
    paid_for = make.piece(
        stage=Stage.GLAZED, maker=ines, session=lesson, width_mm=100, depth_mm=100, height_mm=100
    )
    pots = [
        make.piece(stage=Stage.GLAZED, maker=ines, width_mm=100, depth_mm=100, height_mm=100),
        make.piece(stage=Stage.GLAZED, studios_own=True, width_mm=100, depth_mm=100, height_mm=100),
        paid_for,
    ]
    firing = make.closed_firing(pieces=pots, energy_kwh="100", kiln=make.kiln("Big round"))
    studio = make.studio()
    found = firings_paid(since=make.NOW - timedelta(days=30), studio=studio)
    whole = found.whole
    assert (whole.firings, whole.cost_minor, whole.recovered_minor, whole.own_minor) == (1, 3000, 1000, 1000)
    assert (whole.empty_minor, whole.given_minor, whole.studio_minor) == (0, 1000, 2000)
    assert [(day, paid.cost_minor) for day, paid in found.months] == [(date(2025, 11, 1), 3000)]
    assert [(name, paid.cost_minor) for name, paid in found.kilns] == [("Big round", 3000)]

    correct_costs(firing=firing, by=firing.made_by, client_id=make.client_id(), energy_minor=3300)
    money.reverse_charge(
        charge=Charge.objects.filter(amount_minor=100).get(), by=firing.made_by, client_id=make.client_id()
    )
    again = firings_paid(since=make.NOW - timedelta(days=30), studio=studio).whole
    assert (again.cost_minor, again.recovered_minor, again.own_minor, again.firings) == (3300, 1000, 1100, 1)
    assert not firings_paid(since=make.NOW, studio=studio).firings


def test_empty_space_is_told_apart(ines: Person) -> None:
    make.studio(share_basis="own-box", empty_space="studio", tariff_minor_per_kwh="30")
    firing = fired(ines)
    paid = firings_paid(since=make.NOW - timedelta(days=30), studio=make.studio()).whole
    empty = firing.settlements.get().shares.get(placement__isnull=True).amount_minor
    assert (paid.empty_minor, paid.recovered_minor, paid.given_minor) == (empty, 3000 - empty, 0)


@pytest.mark.parametrize("count", [1, 12])
def test_what_was_paid_costs_three_queries(count: int, django_assert_num_queries: object) -> None:
    for number in range(count):
        make.closed_firing(pieces=2, kiln=make.kiln(f"Kiln of {number}"))
    studio = make.studio()
    with django_assert_num_queries(3):
        assert len(firings_paid(since=make.NOW - timedelta(days=30), studio=studio).firings) == count
