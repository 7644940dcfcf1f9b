"""A firing is closed once: its cost shared to the penny, charged to who answers for it, reversed whole."""

from __future__ import annotations

from datetime import date, timedelta
from decimal import Decimal

import pytest

from studio.actions import money, pieces_end, settling
from studio.actions.unload import answer_place, missing_piece
from studio.actions.unload_found import Unmarked, found_piece
from studio.actions.unload_undo import undo_answer
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import (
    Charge,
    Firing,
    FiringShare,
    Notice,
    Person,
    Piece,
    Placement,
    Settlement,
    UnloadAnswer,
)
from studio.queries.money import balance
from studio.queries.notices import correction_offered
from studio.queries.settled import settled_of
from studio.queries.settling import draft_of, standing_settlement
from tests import factories as make

pytestmark = pytest.mark.django_db
HOUR = timedelta(hours=1)


def emptied(*pieces: Piece, outcome: str = "sound", kind: str = "glaze", **values: object) -> Firing:
    """A firing with every place answered, not closed."""
    pots = list(pieces) or [make.piece(stage=make.READY_FOR[kind])]
    return make.answered(make.firing(Firing.State.UNLOADING, kind=kind, pieces=pots, **values), outcome)


def close(firing: Firing, **values: object) -> Settlement:
    given = {"by": firing.made_by, "client_id": make.client_id(), "energy_kwh": "100", "now": make.NOW}
    return settling.close_firing(firing=firing, **{**given, **values})


def reopen(firing: Firing, **values: object) -> Firing:
    given = {"by": firing.made_by, "client_id": make.client_id(), "now": make.NOW + HOUR}
    return settling.reopen_firing(firing=firing, **{**given, **values})


def pot(maker: Person | None = None, *, mm: int = 100, **values: object) -> Piece:
    size = {"width_mm": mm, "depth_mm": mm, "height_mm": mm, "measured_stage": Stage.GLAZED}
    return make.piece(maker=maker, stage=Stage.GLAZED, **{**size, **values})


# What it cost


def test_the_cost_is_written_down_line_by_line() -> None:
    make.studio(tariff_minor_per_kwh="26.83")
    kiln = make.kiln(wear_minor_per_firing=950, consumables_minor_per_firing=120)
    firing = emptied(kiln=kiln)
    Firing.objects.filter(pk=firing.pk).update(meter_start_kwh="10412.5")
    settlement = close(firing, energy_kwh=None, meter_end_kwh="10473.9", labour_minor=500)
    # 61.4 kWh × 26.83 = 1647.362, rounded half up once.
    assert [(line.kind, line.amount_minor) for line in settlement.cost_lines.order_by("pk")] == [
        ("energy", 1647),
        ("consumables", 120),
        ("wear", 950),
        ("labour", 500),
    ]
    assert settlement.cost_minor == 3217
    assert settlement.cost_lines.get(kind="energy").words == "61.4 kWh by the meter, at £0.2683 a kWh"
    firing.refresh_from_db()
    assert (firing.state, firing.closed_at, firing.meter_end_kwh) == ("closed", make.NOW, Decimal("10473.9"))


def test_without_a_meter_the_energy_is_estimated_and_said_to_be() -> None:
    """Power × hours × share of the time on, half of it to begin with: common practice, no source."""
    make.studio(tariff_minor_per_kwh="30")
    kiln = make.kiln(power_kw="11.52")
    firing = emptied(kiln=kiln)
    assert (firing.ended_at - firing.lit_at) == 9 * HOUR
    line = close(firing, energy_kwh=None).cost_lines.get()
    # 11.52 kW × 9 h × 0.50 = 51.84 kWh, a worked example of the trade; × 30 = 1555.2.
    assert line.amount_minor == 1555
    assert line.words == "About 51.8 kWh: 11.52 kW for 9.0 h, on 50 % of the time, at £0.30 a kWh"

    # A metered firing of the same kiln teaches the next: 25.92 kWh in 9 h are a quarter of the time.
    metered = emptied(kiln=kiln)
    Firing.objects.filter(pk=metered.pk).update(meter_start_kwh="0")
    close(metered, energy_kwh=None, meter_end_kwh="25.9")
    assert draft_of(emptied(kiln=kiln), now=make.NOW).lines[0].words.startswith("About 25.9 kWh")


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"meter_end_kwh": "1"}, "meter-backwards"),
        ({"energy_kwh": "-3"}, "no-meter"),
        ({"energy_kwh": "much"}, "no-meter"),
        ({"labour_minor": -1}, "number-out-of-range"),
        ({"labour_minor": 2.5}, "number-out-of-range"),
    ],
)
def test_costs_that_cannot_be_are_refused_whole(values: dict[str, object], code: str) -> None:
    firing = emptied()
    Firing.objects.filter(pk=firing.pk).update(meter_start_kwh="100")
    with pytest.raises(Refused) as refused:
        close(firing, **values)
    assert refused.value.codes == [code]
    assert not Settlement.objects.exists()
    assert not Charge.objects.exists()


# Whose share is how much


def test_shelf_share_by_hand() -> None:
    """With a pocket calculator: shelf 500 × 400, clearance 5, usable height 600 in one layer, £30.00."""
    make.studio(share_basis="shelf-share", empty_space="studio", clearance_mm=5, tariff_minor_per_kwh="30")
    kiln = make.kiln(
        shape="rectangle",
        width_mm=560,
        depth_mm=460,
        height_mm=650,
        shelf_width_mm=500,
        shelf_depth_mm=400,
    )
    ines = make.student()
    square = pot(ines, is_round=False, width_mm=95, depth_mm=195)
    settlement = close(emptied(square, kiln=kiln))
    share, empty = settlement.shares.order_by("pk")
    # (95 + 5) × (195 + 5) = 20000 mm²; × 600 ÷ 200000 = 60 mm; 3000 × 60 ÷ 600 = 300.
    assert (share.amount_minor, share.payer, share.volume_mm3) == (300, ines, 20000 * 600)
    assert share.words.split("; ") == [
        "100 × 200 = 20000 mm²",
        "20000 × 600 ÷ 200000 = 60 mm",
        "3000 × 60 ÷ 600 = 300",
        "in whole units 300",
    ]
    assert (empty.amount_minor, empty.placement, empty.payer) == (2700, None, None)
    assert balance(ines) == 300


def test_own_box_by_hand() -> None:
    """100 × 100 × 100 and 100 × 100 × 200 share £30.00 as one to two where makers bear the empty space."""
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    ines, tobias = make.student("Ines"), make.student("Tobias")
    settlement = close(emptied(pot(ines), pot(tobias, height_mm=200)))
    assert settlement.basis == "own-box"
    assert {share.payer.first_name: share.amount_minor for share in settlement.shares.all()} == {
        "Ines": 1000,
        "Tobias": 2000,
    }
    rows = settled_of(settlement.firing).rows
    assert [(row.payer, row.charged_minor) for row in rows] == [(ines, 1000), (tobias, 2000)]


def test_the_guardian_pays_for_the_young_and_the_studio_for_its_own() -> None:
    make.studio(empty_space="makers", share_basis="own-box", tariff_minor_per_kwh="30")
    ruth = make.guardian()
    sam = make.young_person(guardian=ruth)
    own = make.piece(stage=Stage.GLAZED, studios_own=True)
    nobodys = make.piece(stage=Stage.GLAZED, nobodys=True)
    settlement = close(emptied(pot(sam), own, nobodys))
    payers = {share.placement.piece.pk: share.payer for share in settlement.shares.all()}
    assert payers[own.pk] is None
    assert payers[nobodys.pk] is None
    charge = Charge.objects.get()
    assert (charge.person, charge.share.placement.piece.maker) == (ruth, sam)
    assert balance(sam) == 0
    assert sum(share.amount_minor for share in settlement.shares.all()) == settlement.cost_minor


def test_on_the_eighteenth_birthday_the_bill_is_ones_own() -> None:
    sam = make.young_person(born_on=date(make.NOW.year - 18, make.NOW.month, make.NOW.day))
    close(emptied(pot(sam)))
    assert Charge.objects.get().person == sam


@pytest.mark.parametrize(("free", "charged"), [(True, 0), (False, 1)])
def test_lost_pieces_pay_by_the_studios_rule(free: bool, charged: int) -> None:
    make.studio(lost_pieces_free=free)
    close(emptied(outcome="lost"))
    assert Charge.objects.count() == charged
    assert sum(share.amount_minor for share in FiringShare.objects.all()) == 2700


def test_a_refire_at_the_studios_cost_is_free() -> None:
    firing = emptied()
    Placement.objects.filter(firing=firing).update(refire_free=True)
    close(firing)
    assert not Charge.objects.exists()
    assert "Refired at the studio's cost." in FiringShare.objects.order_by("pk").first().words


def test_the_smallest_charge_lifts_the_charge_and_not_the_share() -> None:
    make.studio(smallest_charge_minor=150)
    settlement = close(emptied(pot(mm=20)))
    share = settlement.shares.filter(placement__isnull=False).get()
    assert share.amount_minor < 150
    assert share.charges.get().amount_minor == 150
    assert sum(row.amount_minor for row in settlement.shares.all()) == settlement.cost_minor


def test_the_allowance_of_a_course_is_used_up_over_firings() -> None:
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    course = make.course(firing_allowance_litres="1.50")
    lesson = make.session(course)
    ines = make.student()
    first = emptied(pot(ines, session=lesson))  # 1 litre of 1.5
    close(first)
    assert (Charge.objects.count(), standing_settlement(first).shares.get().payer) == (0, None)
    close(emptied(pot(ines, session=lesson)))  # half a litre is left, so half of £30.00 is charged
    assert balance(ines) == 1500
    close(emptied(pot(ines, session=lesson)))
    assert balance(ines) == 4500


# Once


def test_closed_once_is_closed() -> None:
    firing, tap = emptied(), make.client_id()
    first = close(firing, client_id=tap)
    assert close(firing, client_id=tap) == first
    assert close(firing, labour_minor=900) == first
    assert (Settlement.objects.count(), Charge.objects.count()) == (1, 1)


def test_a_place_without_an_answer_keeps_it_open() -> None:
    firing = make.firing(Firing.State.UNLOADING, pieces=[pot(mark="K7H")])
    with pytest.raises(Refused, match="K7H on the top shelf has no answer yet") as refused:
        close(firing)
    assert refused.value.codes == ["unanswered"]
    missing_piece(
        placement=firing.placements.get(), by=firing.made_by, client_id=make.client_id(), now=make.NOW
    )
    close(firing)


@pytest.mark.parametrize("state", [Firing.State.PLANNED, Firing.State.FIRING, Firing.State.COOLING])
def test_a_kiln_that_is_not_unloaded_is_not_closed(state: str) -> None:
    with pytest.raises(Refused) as refused:
        close(make.firing(state))
    assert refused.value.codes == ["not-unloading"]


def test_only_the_tutor_closes_and_reopens() -> None:
    firing = emptied()
    for who in (make.helper(), make.student()):
        for act in (lambda who=who: close(firing, by=who), lambda who=who: reopen(firing, by=who)):
            with pytest.raises(Refused) as refused:
                act()
            assert refused.value.codes == ["tutor-only"]


def test_what_was_found_pays_its_share() -> None:
    ines = make.student()
    firing = emptied(pot())
    found_piece(firing=firing, by=firing.made_by, client_id=make.client_id(), piece=pot(ines), now=make.NOW)
    found_piece(
        firing=firing,
        by=firing.made_by,
        client_id=make.client_id(),
        unmarked=Unmarked(60, 60, 60),
        now=make.NOW,
    )
    settlement = close(firing)
    assert balance(ines) > 0
    assert settlement.shares.filter(placement__isnull=False).count() == 3
    assert settlement.shares.filter(placement__isnull=False, payer__isnull=True).count() == 1


def test_closing_puts_ready_pieces_on_one_notice_and_lost_ones_before_the_tutor() -> None:
    ines = make.student()
    firing = make.firing(
        Firing.State.UNLOADING, pieces=[pot(ines), pot(ines), pot(ines), make.piece(stage=Stage.GLAZED)]
    )
    *ready, lost, _ = firing.placements.order_by("pk")
    for place in ready:
        answer_place(
            placement=place, outcome="sound", by=firing.made_by, client_id=make.client_id(), now=make.NOW
        )
    answer_place(
        placement=lost,
        outcome="lost",
        loss_cause="exploded",
        by=firing.made_by,
        client_id=make.client_id(),
        now=make.NOW,
    )
    make.answered(firing, "flawed")
    close(firing)
    (told,) = Notice.objects.filter(kind=Notice.Kind.READY)
    assert (told.recipient, told.pieces.count(), told.state) == (ines, 2, Notice.State.WAITING)
    (sorry,) = Notice.objects.filter(kind=Notice.Kind.LOSS)
    assert (sorry.recipient, sorry.state) == (ines, Notice.State.WAITING)


# Undone


def test_reopening_reverses_every_charge_by_a_second_row() -> None:
    ines = make.student()
    firing = emptied(pot(ines))
    first, tap = close(firing), make.client_id()
    owed = balance(ines)
    reopen(firing, client_id=tap)
    reopen(firing, client_id=tap)
    firing.refresh_from_db()
    first.refresh_from_db()
    assert (firing.state, firing.closed_at) == (Firing.State.UNLOADING, None)
    assert first.reversed_at == make.NOW + HOUR
    assert [charge.amount_minor for charge in Charge.objects.order_by("pk")] == [owed, -owed]
    assert balance(ines) == 0
    assert not Notice.objects.exclude(state=Notice.State.DROPPED).exists()

    undo_answer(
        answer=UnloadAnswer.objects.get(),
        by=firing.made_by,
        client_id=make.client_id(),
        now=make.NOW + HOUR,
    )
    answer_place(
        placement=firing.placements.get(),
        outcome="sound",
        by=firing.made_by,
        client_id=make.client_id(),
        now=make.NOW + HOUR,
    )
    second = close(firing, now=make.NOW + 2 * HOUR)
    assert second != first
    assert balance(ines) == owed
    assert Notice.objects.exclude(state=Notice.State.DROPPED).count() == 1


def test_a_late_copy_of_the_closing_page_does_not_close_again() -> None:
    firing, tap = emptied(), make.client_id()
    first = close(firing, client_id=tap)
    reopen(firing)
    assert close(firing, client_id=tap) == first
    firing.refresh_from_db()
    assert firing.state == Firing.State.UNLOADING


def test_a_charge_taken_back_by_hand_is_not_taken_back_twice() -> None:
    ines = make.student()
    firing = emptied(pot(ines))
    close(firing)
    money.reverse_charge(
        charge=Charge.objects.get(), by=firing.made_by, client_id=make.client_id(), now=make.NOW
    )
    reopen(firing)
    assert (balance(ines), Charge.objects.count()) == (0, 2)


def test_a_kiln_in_its_next_firing_keeps_the_last_one_closed() -> None:
    firing = emptied()
    close(firing)
    make.firing(Firing.State.FIRING, kiln=firing.kiln)
    with pytest.raises(Refused) as refused:
        reopen(firing)
    assert refused.value.codes == ["kiln-busy"]
    assert standing_settlement(firing)


def test_what_has_been_collected_since_stays_collected() -> None:
    firing = emptied(pot())
    close(firing)
    piece = firing.placements.get().piece
    pieces_end.collect_pieces(
        pieces=[piece], by=firing.made_by, client_id=make.client_id(), now=make.NOW + HOUR
    )
    reopen(firing)
    piece.refresh_from_db()
    assert piece.stage == Stage.COLLECTED
    with pytest.raises(Refused) as refused:
        undo_answer(answer=UnloadAnswer.objects.get(), by=firing.made_by, client_id=make.client_id())
    assert refused.value.codes == ["later-stands"]


def test_an_answer_of_a_closed_firing_cannot_be_undone() -> None:
    firing = emptied()
    close(firing)
    with pytest.raises(Refused) as refused:
        undo_answer(answer=UnloadAnswer.objects.get(), by=firing.made_by, client_id=make.client_id())
    assert refused.value.codes == ["closed"]


def told(firing: Firing) -> Notice:
    """The closed firing's one ready notice, as sent."""
    notice = Notice.objects.get(kind=Notice.Kind.READY)
    Notice.objects.filter(pk=notice.pk).update(state=Notice.State.SENT, sent_at=make.NOW + HOUR / 2)
    return notice


def test_after_the_mail_went_a_wrong_answer_can_be_corrected_by_another() -> None:
    firing = emptied(pot())
    close(firing)
    notice = told(firing)
    reopen(firing)
    wrong = UnloadAnswer.objects.get()
    undo_answer(answer=wrong, by=firing.made_by, client_id=make.client_id(), now=make.NOW + HOUR)
    piece = firing.placements.get().piece
    assert correction_offered(piece, now=make.NOW + HOUR) == notice
    make.answered(firing, "flawed", now=make.NOW + HOUR)
    close(firing, now=make.NOW + 2 * HOUR)
    piece.refresh_from_db()
    assert piece.stage == Stage.FIRED
    assert correction_offered(piece, now=make.NOW + 2 * HOUR) == notice


def test_after_the_mail_went_closing_again_tells_nobody_twice() -> None:
    firing = emptied(pot())
    close(firing)
    told(firing)
    reopen(firing)
    close(firing, now=make.NOW + 2 * HOUR)
    assert Notice.objects.count() == 1
