"""The rules by which firings are shared, and the price of electricity: entered from a day on."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import date, datetime, time
from decimal import Decimal, InvalidOperation

from django.db import IntegrityError, transaction

from studio.domain.say import date_words, later, midway, say
from studio.models import Kiln, MakerKind, Person, SharingPolicy, Studio, Tariff, TariffSpan
from studio.models.sharing import BEFORE_ALL
from studio.queries.notices import studio_day
from studio.queries.sharing_policies import policy_on

from .common import (
    clean_choice,
    clean_text,
    clean_whole,
    local_day,
    moment,
    must_be_tutor,
    refuse,
    save_checked,
)

#: No studio asks more than three times the share, or rounds to more than a hundred of its large coins.
_MOST_PER_MILLE = 3000
_MOST_SMALLEST = 1_000_000
_MOST_STEP = 100_000
_MOST_SPANS = 24
_HIGHEST_PRICE = Decimal(100_000)


@transaction.atomic
def save_policy(
    *,
    by: Person | None,
    from_date: date,
    basis: str = SharingPolicy.Basis.SHELF_SHARE,
    empty_space: str = SharingPolicy.EmptySpace.STUDIO,
    rates_per_mille: Mapping[str, int] | None = None,
    smallest_charge_minor: int = 0,
    rounding_step_minor: int = 1,
    lost_pieces_free: bool = True,
    refires_free: bool = True,
    own_pieces_share: bool = True,
    words: str = "",
    now: datetime | None = None,
) -> SharingPolicy:
    """Rules from a day on, today at the earliest. ``rates_per_mille``: `MakerKind` -> thousandths, 1000 where
    none is given.

    The same day entered again replaces that day's rules, unless a firing keeps them already.
    """
    if by is not None:
        must_be_tutor(by)
    now = moment(now)
    if from_date < local_day(now):
        refuse(
            "day-passed",
            say("Firings of days gone by keep the rules they had. Choose today or a later day."),
        )
    Studio.the()
    Studio.objects.select_for_update(no_key=True).get(pk=1)
    row = SharingPolicy.objects.filter(from_date=from_date).first() or SharingPolicy(from_date=from_date)
    if row.pk and row.firings.exists():
        refuse(
            "policy-kept",
            say(
                "A firing was lit on {from_date} and keeps that day's rules. Choose the day after.",
                from_date=date_words(from_date, "j F"),
            ),
        )
    row.basis = clean_choice(basis, SharingPolicy.Basis.values, label=say("basis of the shares"))
    row.empty_space = clean_choice(
        empty_space, SharingPolicy.EmptySpace.values, label=say("rule for empty space")
    )
    for kind in MakerKind:
        rate = (rates_per_mille or {}).get(kind.value, 1000)
        rate = clean_whole(
            rate,
            label=say("rate of {label} in thousandths", label=midway(kind.label)),
            least=0,
            most=_MOST_PER_MILLE,
        )
        setattr(row, f"rate_{kind.value}_per_mille", rate)
    row.smallest_charge_minor = clean_whole(
        smallest_charge_minor, label=say("smallest charge"), least=0, most=_MOST_SMALLEST
    )
    row.rounding_step_minor = clean_whole(
        rounding_step_minor, label=say("step that charges are rounded to"), least=1, most=_MOST_STEP
    )
    row.lost_pieces_free = bool(lost_pieces_free)
    row.refires_free = bool(refires_free)
    row.own_pieces_share = bool(own_pieces_share)
    row.words = clean_text(words, label=later("reason"), longest=300)
    row.made_at, row.made_by = now, by
    save_checked(row)
    return row


@transaction.atomic
def drop_policy(*, policy: SharingPolicy, by: Person, now: datetime | None = None) -> None:
    """Take back rules that no firing has been lit under. Dropped already counts as done."""
    must_be_tutor(by)
    row = SharingPolicy.objects.select_for_update().filter(pk=policy.pk).first()
    if row is None:
        return
    if row.firings.exists():
        refuse(
            "policy-kept", say("Firings keep these rules, so they stay. Enter other ones from a later day.")
        )
    if row.from_date <= local_day(moment(now)) and SharingPolicy.objects.count() == 1:
        refuse("only-policy", say("These are the only rules. Enter other ones instead."))
    row.delete()


def policy_to_keep(lit_at: datetime, *, by: Person | None, now: datetime) -> SharingPolicy:
    """The rules that a firing lit then keeps; the usual ones become a row when there are none yet.

    Call it within a transaction.
    """
    rules = policy_on(studio_day(lit_at, Studio.the()))
    if rules.pk is None:
        rules, _ = SharingPolicy.objects.get_or_create(from_date=BEFORE_ALL, defaults={"made_at": now})
    return rules


@transaction.atomic
def save_tariff(
    *,
    by: Person | None,
    from_date: date,
    spans: Sequence[tuple[time, Decimal]],
    kiln: Kiln | None = None,
    now: datetime | None = None,
) -> Tariff:
    """What a kWh costs from a day on: (local start of the span, minor units). The same day replaces.

    A kiln's own without spans ends that kiln's own price. Firings that are closed keep what was posted.
    """
    if by is not None:
        must_be_tutor(by)
    if from_date < BEFORE_ALL:
        refuse("time-too-old", say("The day is before the year 2000. Check the year."))
    if not spans and kiln is None:
        refuse("no-price", say("Write at least one price, like 00:00 26.83."))
    if len(spans) > _MOST_SPANS:
        refuse("too-many-spans", say("At most {most_spans} spans make a day.", most_spans=_MOST_SPANS))
    if len({start for start, _ in spans}) != len(spans):
        refuse("span-twice", say("Two prices start at the same time of day. Keep one of them."))
    prices = [(start, _clean_price(price)) for start, price in spans]
    try:
        with transaction.atomic():
            row, _ = Tariff.objects.get_or_create(from_date=from_date, kiln=kiln)
    except IntegrityError:
        row = Tariff.objects.get(from_date=from_date, kiln=kiln)
    row.spans.all().delete()
    TariffSpan.objects.bulk_create(
        TariffSpan(tariff=row, starts=start, minor_per_kwh=price) for start, price in prices
    )
    return row


def _clean_price(price: Decimal) -> Decimal:
    try:
        exact = Decimal(price).quantize(Decimal("0.001"))
    except (InvalidOperation, TypeError, ValueError):
        refuse("tariff", say("A price is a number, like 26.83."))
    if not exact.is_finite() or not 0 <= exact <= _HIGHEST_PRICE or exact != Decimal(price):
        refuse(
            "tariff",
            say("A price is from 0 to 100,000 minor units for a kWh, with three places after the point."),
        )
    return exact
