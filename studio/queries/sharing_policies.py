"""Which rules and which price of electricity hold on a day, for a firing and for each kind of maker."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime, time
from zoneinfo import ZoneInfo

from django.db.models import Count, Q, QuerySet

from studio.domain import energy
from studio.models import Enrolment, Firing, Kiln, MakerKind, Person, SharingPolicy, Studio, Tariff
from studio.models.sharing import BEFORE_ALL

from .notices import studio_day

#: What a kWh costs before anybody has entered a price, in minor units.
UNKNOWN_PRICE = 27


def policies() -> QuerySet[SharingPolicy]:
    """All of them, the newest first, each with the number of firings that keep it (``firings_kept``)."""
    return SharingPolicy.objects.select_related("made_by").annotate(firings_kept=Count("firings"))


def policy_on(day: date) -> SharingPolicy:
    """The rules in force on a day. Before the first that was entered: the usual ones, a row not saved yet."""
    found = SharingPolicy.objects.filter(from_date__lte=day).order_by("-from_date").first()
    return found or SharingPolicy(from_date=BEFORE_ALL)


def policy_of(firing: Firing, *, now: datetime, studio: Studio) -> SharingPolicy:
    """The rules a firing keeps; of one that keeps none yet, those of the day it was lit, or of today."""
    if firing.sharing_policy_id:
        return firing.sharing_policy
    return policy_on(studio_day(firing.lit_at or now, studio))


def tariff_rows(kiln: Kiln, day: date) -> list[tuple[time, object]]:
    """(local start, minor units a kWh) that hold for a kiln: its own, else the studio's. Two queries."""
    rows = list(
        Tariff.objects.filter(Q(kiln=kiln) | Q(kiln__isnull=True), from_date__lte=day)
        .order_by("-from_date")
        .prefetch_related("spans")
    )
    own = next((row for row in rows if row.kiln_id), None)
    of_all = next((row for row in rows if row.kiln_id is None), None)
    for row in (own, of_all):
        if row and (spans := list(row.spans.all())):
            return [(span.starts, span.minor_per_kwh) for span in spans]
    return [(time(), UNKNOWN_PRICE)]


def tariff_of(firing: Firing, *, studio: Studio) -> energy.Tariff:
    """The prices by the studio's clock that a firing was lit under."""
    day = studio_day(firing.lit_at, studio) if firing.lit_at else BEFORE_ALL
    return energy.Tariff.of(prices=tariff_rows(firing.kiln, day), zone=ZoneInfo(studio.time_zone))


def kinds_of(makers: Iterable[Person], *, day: date, in_class: set[int]) -> dict[int, str]:
    """The `MakerKind` of each maker on a day, by primary key: one query.

    A student is who made something of this load in a class (``in_class``), or is enrolled in a course that
    has not ended.
    """
    makers = list(makers)
    enrolled = set(
        Enrolment.objects.filter(Q(course__ends_on__isnull=True) | Q(course__ends_on__gte=day))
        .filter(person__in=makers, left_at__isnull=True)
        .values_list("person", flat=True)
    )
    return {maker.pk: _kind(maker, day, maker.pk in enrolled | in_class) for maker in makers}


def _kind(maker: Person, day: date, is_student: bool) -> str:
    if maker.is_staff_member:
        return MakerKind.STAFF.value
    if maker.is_young_on(day):
        return MakerKind.YOUNG.value
    return (MakerKind.MEMBER if is_student else MakerKind.GUEST).value
