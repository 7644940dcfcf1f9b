"""A firing as pages show it: its readings, how it cools, and whether it may be opened."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from enum import StrEnum

from django.db.models import Count, Max, OuterRef, QuerySet, Subquery
from django.db.models.functions import Coalesce

from studio.domain.cooling import CoolingEstimate, NotCooling, TooFewReadings
from studio.domain.cooling import safe_to_open as estimate_opening
from studio.domain.problems import DomainError
from studio.domain.readings import degrees_words
from studio.domain.say import date_words, say, say_many
from studio.models import Firing, Kiln, Placement, Reading, Studio, UnloadAnswer

from .readings import readings_of

#: How warm a kiln shed is taken to be; the estimate allows for a few degrees either way (common practice).
AMBIENT_C = 18
#: Ranges are told in steps of ten minutes: the estimate knows no better.
_STEP = timedelta(minutes=10)


class Opening(StrEnum):
    """Whether a kiln may be opened."""

    NOT_LIT = "not-lit"
    STILL_ON = "still-on"
    NO_READING = "no-reading"
    TOO_HOT = "too-hot"
    OPEN = "open"
    DONE = "done"


@dataclass(frozen=True, slots=True)
class SafeToOpen:
    """Whether a kiln may be opened now, in a heading and a sentence; and when, as a range, where that is
    known.

    Only a reading taken after the kiln was off, at or below the studio's limit, says that it may. The range
    is an estimate and never does.
    """

    state: Opening
    heading: str
    why: str
    limit_c: int
    last_c: Decimal | None = None
    last_at: datetime | None = None
    earliest: datetime | None = None
    likely: datetime | None = None
    latest: datetime | None = None

    @property
    def may_open(self) -> bool:
        return self.state in {Opening.OPEN, Opening.DONE}


def safe_to_open(firing: Firing, now: datetime, *, studio: Studio | None = None) -> SafeToOpen:
    """Whether this firing's kiln may be opened, and why not yet. Three queries at most."""
    studio = studio or Studio.the()
    limit = studio.opening_limit_c
    state = firing.state
    if state in {Firing.State.UNLOADING, Firing.State.CLOSED}:
        return SafeToOpen(Opening.DONE, say("It has been opened"), "", limit)
    if state in {Firing.State.PLANNED, Firing.State.CANCELLED}:
        return SafeToOpen(
            Opening.NOT_LIT, say("Not lit yet"), say("The kiln has not been lit for this firing."), limit
        )
    if state == Firing.State.FIRING:
        why = say("The kiln is on. Switch it off at the wall and note the end of the firing first.")
        return SafeToOpen(Opening.STILL_ON, say("Still firing"), why, limit)

    readings = readings_of(firing)
    since_off = [(at, celsius) for at, celsius in readings if at >= firing.ended_at]
    if not since_off:
        why = say(
            "No temperature has been noted since the kiln was switched off. Read the "
            "thermocouple and note it: the kiln is opened at {limit} °C or below.",
            limit=limit,
        )
        return SafeToOpen(Opening.NO_READING, say("Not yet: read its temperature"), why, limit)

    last_at, last_c = since_off[-1]
    known = {"limit_c": limit, "last_c": last_c, "last_at": last_at}
    zone = studio.zone
    read = say(
        "{degrees_words} at {clock}",
        degrees_words=degrees_words(last_c, limit),
        clock=_clock(last_at, now, zone),
    )
    if last_c <= limit:
        return SafeToOpen(
            Opening.OPEN,
            say("It may be opened"),
            say("{read}; the limit is {limit} °C.", read=read, limit=limit),
            **known,
        )
    why = say(
        "{read}. It is opened at {limit} °C or below: sudden cold cracks ware and shelves, and hands burn.",
        read=read,
        limit=limit,
    )
    estimate, unknown = _estimate(readings, limit)
    if estimate is None:
        return SafeToOpen(Opening.TOO_HOT, say("Not yet"), f"{why} {unknown}", **known)
    early, late = _down(estimate.earliest), _up(estimate.latest)
    if late <= now:
        why = say("{why} It should have cooled since. Read the thermocouple again and note it.", why=why)
        return SafeToOpen(Opening.TOO_HOT, say("Not yet: read its temperature again"), why, **known)
    heading = say("Safe to open about {clock}", clock=_clock(_nearest(estimate.likely), now, zone))
    span = say(
        "Between {clock} and {clock_2}, as it has been cooling.",
        clock=_clock(early, now, zone),
        clock_2=_clock(late, now, zone),
    )
    times = {"earliest": early, "likely": estimate.likely, "latest": late}
    return SafeToOpen(Opening.TOO_HOT, heading, f"{span} {why}", **known, **times)


@dataclass(frozen=True, slots=True)
class FiringFacts:
    """One firing on a page of its own or in a list, without money."""

    firing: Firing
    placed: int
    answered: int
    last_reading: Reading | None
    peak_c: Decimal | None

    @property
    def hours(self) -> Decimal | None:
        """Hours the kiln was on, to a tenth."""
        firing = self.firing
        if not firing.lit_at or not firing.ended_at:
            return None
        seconds = int((firing.ended_at - firing.lit_at).total_seconds())
        return (Decimal(seconds) / 3600).quantize(Decimal("0.1"))


def with_counts(firings: QuerySet[Firing]) -> QuerySet[Firing]:
    """Firings with their kiln, ``placed``, ``answered`` and ``peak_c``, at one query."""
    standing = Placement.objects.filter(firing=OuterRef("pk"), taken_out_at__isnull=True).order_by()
    answered = standing.filter(answers__isnull=False, answers__undone_at__isnull=True)
    hottest = Reading.objects.filter(firing=OuterRef("pk")).order_by("-temperature_c").values("temperature_c")
    return firings.select_related("kiln").annotate(
        placed=_count(standing), answered=_count(answered), peak_c=Subquery(hottest[:1])
    )


def firing_facts(firing: Firing) -> FiringFacts:
    """The counts and readings of one firing: three queries."""
    standing = firing.placements.filter(taken_out_at__isnull=True)
    return FiringFacts(
        firing=firing,
        placed=standing.count(),
        answered=UnloadAnswer.objects.filter(placement__in=standing, undone_at__isnull=True).count(),
        last_reading=firing.readings.order_by("-at").first(),
        peak_c=firing.readings.aggregate(peak=Max("temperature_c"))["peak"],
    )


def open_firings() -> QuerySet[Firing]:
    """Firings that are neither closed nor cancelled, with counts, the newest first."""
    done = [Firing.State.CLOSED, Firing.State.CANCELLED]
    return with_counts(Firing.objects.exclude(state__in=done)).order_by("-number")


def past_firings(kiln: Kiln | None = None) -> QuerySet[Firing]:
    """Closed firings with counts, the newest first; of one kiln, or of all."""
    firings = Firing.objects.filter(state=Firing.State.CLOSED)
    return with_counts(firings.filter(kiln=kiln) if kiln else firings).order_by("-number")


def _count(rows: QuerySet) -> Coalesce:
    return Coalesce(Subquery(rows.values("firing").annotate(n=Count("pk", distinct=True)).values("n")), 0)


def _estimate(readings: list[tuple[datetime, Decimal]], limit: int) -> tuple[CoolingEstimate | None, str]:
    """When the limit will be reached, or a sentence on why that can't be said."""
    try:
        plain = [(at, float(celsius)) for at, celsius in readings]
        return estimate_opening(readings=plain, limit_c=limit, ambient_c=AMBIENT_C), ""
    except (TooFewReadings, NotCooling) as error:
        return None, error.message
    except DomainError:
        return None, say("When it will have cooled can't be told.")


def _clock(at: datetime, now: datetime, zone: object) -> str:
    """``14:10``, with the day where it is not today."""
    local, today = at.astimezone(zone), now.astimezone(zone)
    days = (local.date() - today.date()).days
    if days == 0:
        return f"{local:%H:%M}"
    if days in {-1, 1}:
        return say_many("{local} tomorrow", "{local} yesterday", days, local=format(local, "%H:%M"))
    return say("{local} on {local_2}", local=format(local, "%H:%M"), local_2=date_words(local, "l j F"))


def _down(at: datetime) -> datetime:
    return at - timedelta(minutes=at.minute % 10, seconds=at.second, microseconds=at.microsecond)


def _up(at: datetime) -> datetime:
    floor = _down(at)
    return floor if floor == at else floor + _STEP


def _nearest(at: datetime) -> datetime:
    return _down(at + _STEP / 2)
