"""What the daily run will do, and what it did."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import QuerySet

from studio.domain.retention import did_words
from studio.models import KeepingRun, Person, Waiting

#: Columns of a person that staff need while they come, and nobody after.
CARE_NOTES = ("emergency_name", "emergency_phone", "health_note")
ENDED_WAITS = (*(Waiting.State.TAKEN, Waiting.State.LAPSED, Waiting.State.DECLINED, Waiting.State.GONE),)
MOST_RUNS = 30


def left_before(moment: datetime) -> QuerySet[Person]:
    """Who left before this moment and is not erased yet."""
    return Person.objects.filter(left_at__lt=moment, erased_at__isnull=True)


def asked_to_be_erased() -> QuerySet[Person]:
    return Person.objects.filter(erase_asked_at__isnull=False, erased_at__isnull=True).order_by(
        "erase_asked_at"
    )


@dataclass(frozen=True, slots=True)
class Ran:
    """``lines`` are whole sentences without names; empty: there was nothing to do."""

    day: date
    done_at: datetime | None
    lines: tuple[str, ...]


def runs() -> list[Ran]:
    """What the last runs did, the newest first."""
    return [
        Ran(run.day, run.done_at, tuple(did_words(code, count) for code, count in run.did))
        for run in KeepingRun.objects.all()[:MOST_RUNS]
    ]
