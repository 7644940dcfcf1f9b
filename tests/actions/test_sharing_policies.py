"""Rules and prices from a day on: what a firing was lit under it keeps, whatever is entered later."""

from __future__ import annotations

from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal

import pytest

from studio.actions import firings, loads, loads_places
from studio.actions.sharing_policies import drop_policy, save_policy, save_tariff
from studio.domain.problems import Refused
from studio.domain.stages import Stage
from studio.models import Charge, Firing, MakerKind, SharingPolicy, Tariff
from studio.queries.money import balance
from studio.queries.settling import draft_of
from studio.queries.sharing_policies import kinds_of, policy_on, tariff_rows
from tests import factories as make

pytestmark = pytest.mark.django_db
TODAY = make.NOW.date()
NEXT_WEEK = TODAY + timedelta(days=7)


def lit(at: datetime) -> Firing:
    maud = make.tutor()
    firing = loads.plan_firing(kiln=make.kiln(), kind="glaze", cone="6", by=maud, now=at)
    pot = make.piece(stage=Stage.GLAZED, made_at=at - timedelta(days=30))
    loads_places.load_piece(firing=firing, piece=pot, layer=firing.layers.get(), by=maud, now=at)
    return firings.light(firing=firing, by=maud, client_id=make.client_id(), now=at)


def test_before_anything_is_entered_the_usual_rules_hold() -> None:
    assert policy_on(TODAY).pk is None
    assert policy_on(TODAY).basis == "shelf-share"
    firing = lit(make.NOW)
    assert firing.sharing_policy.from_date == date(2000, 1, 1)


def test_a_firing_keeps_the_rules_of_the_day_it_was_lit() -> None:
    maud = make.tutor()
    make.policy(basis="own-box")
    old = lit(make.NOW)
    new = save_policy(
        by=maud, from_date=TODAY + timedelta(days=1), basis="shelf-share", empty_space="makers", now=make.NOW
    )
    assert draft_of(old, now=make.NOW + timedelta(days=9)).basis == "own-box"
    later = lit(make.NOW + timedelta(days=1))
    assert later.sharing_policy == new
    assert draft_of(later, now=make.NOW + timedelta(days=9)).basis == "shelf-share"


def test_the_day_is_the_studios_own() -> None:
    """23:30 in Paris on the 17th is still 22:30 UTC, and 00:30 on the 18th is 23:30 UTC on the 17th."""
    make.studio(time_zone="Europe/Paris")
    maud = make.tutor()
    before = datetime(2025, 11, 17, 9, tzinfo=UTC)
    new = save_policy(by=maud, from_date=date(2025, 11, 18), basis="own-box", now=before)
    assert lit(datetime(2025, 11, 17, 22, 30, tzinfo=UTC)).sharing_policy != new
    assert lit(datetime(2025, 11, 17, 23, 30, tzinfo=UTC)).sharing_policy == new


def test_not_lit_after_all_it_keeps_none() -> None:
    firing = lit(make.NOW)
    firings.undo_light(firing=firing, by=firing.made_by, client_id=make.client_id(), now=make.NOW)
    firing.refresh_from_db()
    assert firing.sharing_policy is None


def test_days_gone_by_and_rules_that_are_kept_do_not_change() -> None:
    maud = make.tutor()
    with pytest.raises(Refused) as refused:
        save_policy(by=maud, from_date=TODAY - timedelta(days=1), now=make.NOW)
    assert refused.value.codes == ["day-passed"]
    rules = save_policy(by=maud, from_date=TODAY, basis="own-box", now=make.NOW)
    again = save_policy(by=maud, from_date=TODAY, smallest_charge_minor=50, now=make.NOW)
    assert (again.pk, again.basis, again.smallest_charge_minor) == (rules.pk, "shelf-share", 50)
    lit(make.NOW)
    for act in (
        lambda: save_policy(by=maud, from_date=TODAY, basis="own-box", now=make.NOW),
        lambda: drop_policy(policy=rules, by=maud, now=make.NOW),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert refused.value.codes == ["policy-kept"]
    assert policy_on(TODAY).smallest_charge_minor == 50


def test_rules_to_come_can_be_taken_back() -> None:
    maud = make.tutor()
    make.policy(basis="own-box")
    rules = save_policy(by=maud, from_date=NEXT_WEEK, now=make.NOW)
    drop_policy(policy=rules, by=maud, now=make.NOW)
    drop_policy(policy=rules, by=maud, now=make.NOW)
    assert policy_on(NEXT_WEEK).basis == "own-box"


@pytest.mark.parametrize(
    ("values", "code"),
    [
        ({"basis": "weight"}, "no-such-choice"),
        ({"empty_space": "nobody"}, "no-such-choice"),
        ({"rates_per_mille": {"guest": 3001}}, "number-out-of-range"),
        ({"rates_per_mille": {"guest": 87.5}}, "number-out-of-range"),
        ({"rounding_step_minor": 0}, "number-out-of-range"),
        ({"smallest_charge_minor": -1}, "number-out-of-range"),
    ],
)
def test_rules_that_cannot_be_are_refused(values: dict[str, object], code: str) -> None:
    with pytest.raises(Refused) as refused:
        save_policy(by=make.tutor(), from_date=TODAY, now=make.NOW, **values)
    assert refused.value.codes == [code]
    assert not SharingPolicy.objects.exists()


def test_only_the_tutor_enters_rules_and_prices() -> None:
    ivo = make.helper()
    rules = make.policy(NEXT_WEEK)
    for act in (
        lambda: save_policy(by=ivo, from_date=TODAY, now=make.NOW),
        lambda: drop_policy(policy=rules, by=ivo, now=make.NOW),
        lambda: save_tariff(by=ivo, from_date=TODAY, spans=[(time(), Decimal(1))], now=make.NOW),
    ):
        with pytest.raises(Refused) as refused:
            act()
        assert refused.value.codes == ["tutor-only"]


# Rates by kind of maker


def test_who_is_what_kind_of_maker() -> None:
    ines, sam, ivo, pim = make.student(), make.young_person(), make.helper(), make.student("Pim")
    once, walked_in = make.student("Hale"), make.student("Joan")
    course, over = make.course(), make.course("Last year", ends_on=TODAY - timedelta(days=1))
    make.enrolment(ines, course)
    make.enrolment(sam, course)
    make.enrolment(pim, over)
    make.enrolment(once, course, left_at=make.NOW)
    people = [ines, sam, ivo, pim, once, walked_in]
    kinds = kinds_of(people, day=TODAY, in_class={walked_in.pk})
    assert [kinds[person.pk] for person in people] == [
        MakerKind.MEMBER,
        MakerKind.YOUNG,
        MakerKind.STAFF,
        MakerKind.GUEST,
        MakerKind.GUEST,
        MakerKind.MEMBER,
    ]


def test_each_pays_at_their_own_rate_and_the_studio_bears_the_rest() -> None:
    """£40.00 over four equal boxes is £10.00 each: at 100, 50, 87.5 and 0 %."""
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="40")
    make.policy(rate_young_per_mille=500, rate_guest_per_mille=875, rate_staff_per_mille=0)
    ines, sam, hale, ivo = make.student(), make.young_person(), make.student("Hale"), make.helper()
    make.enrolment(ines, make.course())
    pots = [make.piece(stage=Stage.GLAZED, maker=maker) for maker in (ines, sam, hale, ivo)]
    make.closed_firing(pieces=pots, energy_kwh="100")
    assert [balance(person) for person in (ines, sam.guardian, hale, ivo)] == [1000, 500, 875, 0]


def test_charges_are_rounded_to_the_studios_step_and_shares_still_sum() -> None:
    """£10.00 over three: 334, 333, 333; to the nearest 5 pence 335 each. The studio keeps the 5 beyond."""
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="10")
    make.policy(rounding_step_minor=5)
    firing = make.closed_firing(pieces=[make.piece(stage=Stage.GLAZED) for _ in range(3)], energy_kwh="100")
    shares = firing.settlements.get().shares
    assert sorted(shares.values_list("amount_minor", flat=True)) == [333, 333, 334]
    assert set(Charge.objects.values_list("amount_minor", flat=True)) == {335}


@pytest.mark.parametrize(("carry", "share", "empty"), [(True, 1500, 0), (False, 0, 0)])
def test_the_studios_own_pieces_carry_their_share_or_leave_it_to_the_others(
    carry: bool, share: int, empty: int
) -> None:
    make.studio(share_basis="own-box", empty_space="makers", tariff_minor_per_kwh="30")
    make.policy(own_pieces_share=carry)
    ines = make.student()
    own = make.piece(stage=Stage.GLAZED, studios_own=True)
    firing = make.closed_firing(pieces=[make.piece(stage=Stage.GLAZED, maker=ines), own], energy_kwh="100")
    rows = firing.settlements.get().shares
    assert rows.get(placement__piece=own).amount_minor == share
    assert balance(ines) == 3000 - share


# Electricity by the clock


def test_a_night_firing_pays_the_night_price_for_its_night_hours() -> None:
    """Lit 20:00, off 05:00, 54 kWh in 9 h: 4.5 h at 30 until 00:30, 4.5 h at 10 after, 1080 in all."""
    make.tariff(spans={"00:30": "10", "05:30": "30"})
    at = datetime(2025, 11, 16, 20, 0, tzinfo=UTC)
    firing = make.answered(make.firing(Firing.State.UNLOADING, lit_at=at, kiln=make.kiln(power_kw="12")))
    line = draft_of(firing, now=make.NOW, energy_kwh=Decimal(54)).lines[0]
    assert line.amount_minor == 27 * 30 + 27 * 10
    assert line.words == "54.0 kWh, as entered, 27.0 at £0.10 and 27.0 at £0.30 a kWh by the clock"


def test_a_kiln_may_have_a_price_of_its_own_until_it_ends() -> None:
    maud, kiln = make.tutor(), make.kiln()
    for values in (
        {"from_date": date(2025, 1, 1), "spans": [(time(), Decimal(30))]},
        {"from_date": date(2025, 6, 1), "spans": [(time(), Decimal("22.125"))], "kiln": kiln},
        {"from_date": date(2025, 9, 1), "spans": [(time(), Decimal(31))]},
        {"from_date": date(2025, 12, 1), "spans": [], "kiln": kiln},
    ):
        save_tariff(by=maud, **values)
    found = [tariff_rows(kiln, date(2025, month, 2))[0][1] for month in (2, 7, 10, 12)]
    assert found == [Decimal(30), Decimal("22.125"), Decimal("22.125"), Decimal(31)]
    assert tariff_rows(make.kiln(), date(2025, 7, 2)) == [(time(), Decimal(30))]
    save_tariff(by=maud, from_date=date(2025, 1, 1), spans=[(time(), Decimal(29))])
    assert Tariff.objects.count() == 4
    assert tariff_rows(make.kiln(), date(2025, 7, 2)) == [(time(), Decimal(29))]


@pytest.mark.parametrize(
    ("spans", "code"),
    [
        ([], "no-price"),
        ([(time(), Decimal(-1))], "tariff"),
        ([(time(), Decimal("NaN"))], "tariff"),
        ([(time(), Decimal("26.8345"))], "tariff"),
        ([(time(), Decimal(1)), (time(), Decimal(2))], "span-twice"),
    ],
)
def test_prices_that_cannot_be_are_refused(spans: list[tuple[time, Decimal]], code: str) -> None:
    with pytest.raises(Refused) as refused:
        save_tariff(by=make.tutor(), from_date=TODAY, spans=spans)
    assert refused.value.codes == [code]
    assert not Tariff.objects.exists()


def test_what_is_set_for_a_kiln_stands_until_something_else_is_entered() -> None:
    kiln = make.kiln(labour_minor_per_firing=700, duty_percent=40, power_kw="10")
    firing = make.answered(make.firing(Firing.State.UNLOADING, kiln=kiln))
    energy, labour = draft_of(firing, now=make.NOW).lines
    assert (labour.kind, labour.amount_minor, labour.words) == ("labour", 700, "Set for this kiln")
    assert energy.words.startswith("About 36.0 kWh: 10 kW for 9.0 h, on 40 % of the time")
    (line,) = draft_of(firing, now=make.NOW, labour_minor=0).lines
    assert line.kind == "energy"
