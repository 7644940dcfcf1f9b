"""How a kiln's elements are doing: how long like firings took since the elements were changed."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from hashlib import sha256
from statistics import median
from zoneinfo import ZoneInfo

from django.db.models import BigIntegerField, F, Q, Sum
from django.db.models.functions import Cast
from django.utils import timezone

from studio.domain.energy import FEWEST_FIRINGS, ElementHealth, element_health
from studio.domain.kiln_care import CareKind
from studio.domain.say import date_words, figure, later, say
from studio.models import Firing, Kiln, KilnCare, Studio

from .counting import capital, counted

#: A load of less or more than these parts of the usual one is no like load, and is left out.
LEAST_LOAD, MOST_LOAD = 0.6, 1.5
#: A trend of less than this is none: loads and the weather do as much.
NO_TREND_PERCENT = 2.0
#: As many sets of like firings are offered.
GROUPS_SHOWN = 6


@dataclass(frozen=True, slots=True)
class Took:
    """One firing: its count since the change, how long it took, and how much was in it."""

    firing: Firing
    count: int
    hours: float
    volume_mm3: int

    @property
    def minutes(self) -> float:
        return self.hours * 60


@dataclass(frozen=True, slots=True)
class LikeFirings:
    """Firings of one programme (or kind) to one cone, since the elements were changed."""

    key: str
    name: str
    took: tuple[Took, ...]
    #: Of much smaller or larger loads, and so not compared.
    left_out: int


@dataclass(frozen=True, slots=True)
class Wear:
    """``chosen`` is None before the first firing has ended. ``firings`` counts all since ``changed_on``,
    which is None when no change is in the log: then from the first firing in the books."""

    changed_on: date | None
    firings: int
    groups: tuple[LikeFirings, ...]
    chosen: LikeFirings | None
    health: ElementHealth | None
    new_ohm: float | None
    measured_ohm: float | None

    @property
    def has_trend(self) -> bool:
        return self.health is not None and self.health.slower_percent is not None

    @property
    def heading(self) -> str:
        """The answer in one line."""
        if self.health is None or (self.health.slower_percent is None and not self.health.worn):
            return say("Too few firings to say how the elements are")
        if self.health.worn:
            return say("The elements look worn")
        return say("The elements look well")

    @property
    def sentences(self) -> list[str]:
        """What the dots say, how sure that is, and what else would do the same."""
        if self.chosen is None or self.health is None:
            return [say("Nothing has been fired to its end here since the elements were changed.")]
        health, found = self.health, []
        number = len(self.chosen.took)
        if health.slower_percent is None or health.per_firing_min is None:
            firings = capital(counted(number, later("firing"), later("firings")))
            found.append(
                say(
                    "{firings} of this kind so far. From {counted} on a trend is worked out.",
                    firings=firings,
                    counted=counted(FEWEST_FIRINGS, later("firing"), later("firings")),
                )
            )
        elif abs(health.slower_percent) < NO_TREND_PERCENT:
            found.append(say("Firings take as long as this set’s first ones."))
        elif health.slower_percent < 0:
            found.append(
                say(
                    "Firings take {value} % less than this set’s first ones, so nothing speaks of wear.",
                    value=figure(-health.slower_percent, ".0f"),
                )
            )
        else:
            found.append(
                say(
                    "Firings take {slower_percent} % longer than this set’s first ones. At 10 % elements "
                    "count as worn.",
                    slower_percent=figure(health.slower_percent, ".0f"),
                )
            )
            if health.firings_left and not health.worn:
                found.append(
                    say(
                        "At this pace that is about {counted} away.",
                        counted=counted(health.firings_left, later("firing"), later("firings")),
                    )
                )
        if health.resistance_percent is not None:
            found.append(
                say(
                    "Their resistance is {resistance_percent} % against new, as measured. At 10 % more "
                    "they count as worn.",
                    resistance_percent=figure(health.resistance_percent, "+.0f"),
                )
            )
        if self.chosen.left_out:
            loads = counted(self.chosen.left_out, later("firing"), later("firings"))
            found.append(say("{loads} with a much smaller or larger load left out.", loads=capital(loads)))
        found.append(say("Colder days, heavier ware and a low mains voltage make firings longer too."))
        return found


def wear_of(kiln: Kiln, *, studio: Studio, chosen: str = "") -> Wear:
    """The wear of the elements in a kiln now. ``chosen`` is the key of a `LikeFirings`; else the largest set.
    Three queries."""
    care = list(
        KilnCare.objects.filter(kiln=kiln, taken_back_at__isnull=True).filter(
            Q(kind=CareKind.ELEMENTS) | Q(ohm__isnull=False)
        )
    )
    change = next((row for row in care if row.kind == CareKind.ELEMENTS), None)
    measured = next(
        (row for row in care if row.ohm and row != change and (not change or row.done_on >= change.done_on)),
        None,
    )
    lit = _lit_since(kiln, change.done_on if change else None, studio)
    groups = _groups(lit, studio.zone)
    picked = next((one for one in groups if one.key == chosen), groups[0] if groups else None)
    new_ohm = float(change.ohm) if change and change.ohm else None
    measured_ohm = float(measured.ohm) if measured and measured.ohm else None
    health = None
    if picked is not None:
        health = element_health(
            firing_hours=[one.hours for one in picked.took],
            firing_counts=[one.count for one in picked.took],
            new_ohm=new_ohm,
            measured_ohm=measured_ohm if new_ohm else None,
        )
    return Wear(
        changed_on=change.done_on if change else None,
        firings=len(lit),
        groups=groups[:GROUPS_SHOWN],
        chosen=picked,
        health=health,
        new_ohm=new_ohm,
        measured_ohm=measured_ohm,
    )


def _lit_since(kiln: Kiln, since: date | None, studio: Studio) -> list[Firing]:
    """Firings lit since a day, the earliest first, each with the volume of what was in it."""
    zone = studio.zone
    lit = (
        Firing.objects.filter(kiln=kiln, lit_at__isnull=False)
        .exclude(state__in=[Firing.State.PLANNED, Firing.State.CANCELLED])
        .annotate(
            volume_mm3=Sum(
                Cast("placements__width_mm", BigIntegerField())
                * F("placements__depth_mm")
                * F("placements__height_mm"),
                filter=Q(placements__taken_out_at__isnull=True),
            )
        )
        .order_by("lit_at", "number")
    )
    return [row for row in lit if since is None or timezone.localdate(row.lit_at, zone) >= since]


def _groups(lit: list[Firing], zone: ZoneInfo) -> tuple[LikeFirings, ...]:
    by_key: dict[tuple[str, str], list[Took]] = {}
    for count, firing in enumerate(lit, start=1):
        if firing.ended_at is None or firing.ended_at <= firing.lit_at:
            continue
        hours = (firing.ended_at - firing.lit_at).total_seconds() / 3600
        took = Took(firing, count, hours, firing.volume_mm3 or 0)
        by_key.setdefault(_key(firing), []).append(took)
    groups = []
    names = [name for _, name in by_key]
    for (key, name), rows in by_key.items():
        if names.count(name) > 1:
            # One programme that was changed in between: told apart by the day it was first fired so.
            name = say(
                "{name}, from {localdate}",
                name=name,
                localdate=date_words(timezone.localdate(rows[0].firing.lit_at, zone), "j F"),
            )
        usual = median(row.volume_mm3 for row in rows)
        alike = tuple(
            row for row in rows if not usual or LEAST_LOAD * usual <= row.volume_mm3 <= MOST_LOAD * usual
        )
        groups.append(LikeFirings(key, name, alike or tuple(rows), len(rows) - len(alike) if alike else 0))
    return tuple(sorted(groups, key=lambda group: (-len(group.took), group.name)))


def _key(firing: Firing) -> tuple[str, str]:
    """What makes firings alike: the programme as it was fired, or the kind where none is known, and the
    cone."""
    kept = firing.programme_as_fired or {}
    name = say("{get} to cone {cone}", get=kept.get("name") or firing.get_kind_display(), cone=firing.cone)
    said = f"{firing.kind}|{firing.cone}|{kept.get('segments') or ''}"
    return sha256(said.encode()).hexdigest()[:10], name
