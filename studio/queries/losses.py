"""What is lost, by cause, stage, form and month: counted by the database."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Count, OuterRef, QuerySet, Subquery
from django.db.models.functions import TruncMonth
from django.utils.timezone import localtime

from studio.domain.intervals import Rate, rate
from studio.domain.say import midway, say
from studio.domain.stages import FIRING_WORDS, STAGE_WORDS, FiringKind, Stage
from studio.models import Event, Photo, Piece, UnloadAnswer

CAUSES = tuple(UnloadAnswer.LossCause.values)
SHOWN_PHOTOS = 12


@dataclass(frozen=True, slots=True)
class Month:
    """``causes``: cause -> pieces lost in that month."""

    first: date
    causes: dict[str, int]

    @property
    def lost(self) -> int:
        return sum(self.causes.values())


@dataclass(frozen=True, slots=True)
class Losses:
    """``whole``: of the pieces that went through a fire, or were lost before, how many were lost at last."""

    whole: Rate | None
    months: tuple[Month, ...]
    causes: tuple[tuple[str, int], ...]
    stages: tuple[tuple[str, int], ...]
    forms: tuple[tuple[str, Rate], ...]


def _in_kiln(since: datetime) -> QuerySet[UnloadAnswer]:
    return UnloadAnswer.objects.filter(undone_at__isnull=True, at__gte=since).order_by()


def _by_hand(since: datetime) -> QuerySet[Event]:
    """Lost outside a firing: dropped, cracked on the board."""
    return Event.objects.filter(kind=Event.Kind.LOST, undone_by__isnull=True, at__gte=since).order_by()


def losses(*, since: datetime, until: datetime) -> Losses:
    """Between these moments; every month of it is a row. Four queries whatever the number of pieces."""
    in_kiln = _in_kiln(since).filter(outcome=UnloadAnswer.Outcome.LOST)
    months: dict[date, Counter[str]] = {first: Counter() for first in _months(since, until)}
    stages: Counter[str] = Counter()
    fired = in_kiln.annotate(month=TruncMonth("at")).values_list(
        "month", "loss_cause", "placement__firing__kind"
    )
    for month, cause, kind, count in fired.annotate(Count("pk")):
        months.setdefault(month.date(), Counter())[cause or "broken"] += count
        stages[say("in the {firing}", firing=midway(FIRING_WORDS[FiringKind(kind)]))] += count
    by_hand = _by_hand(since).annotate(month=TruncMonth("at"))
    for month, before, stage, count in by_hand.values_list("month", "before__cause", "from_stage").annotate(
        Count("pk")
    ):
        cause = before if before in CAUSES else "broken"
        months.setdefault(month.date(), Counter())[cause] += count
        stages[midway(STAGE_WORDS[Stage(stage)]) if stage else say("at no known stage")] += count
    whole = sum((causes for causes in months.values()), Counter())
    forms = _forms(since)
    pieces = sum(each.trials for _, each in forms)
    gone = sum(each.successes for _, each in forms)
    words = dict(UnloadAnswer.LossCause.choices)
    return Losses(
        whole=rate(successes=gone, trials=pieces) if pieces else None,
        months=tuple(Month(first, dict(months[first])) for first in sorted(months)),
        causes=tuple((str(words[cause]), count) for cause, count in _commonest(whole)),
        stages=tuple(_commonest(stages)),
        forms=forms,
    )


def _months(since: datetime, until: datetime) -> list[date]:
    """The first days of the months from one moment to another, by the studio's clock."""
    first, last = (localtime(each).date().replace(day=1) for each in (since, until))
    found = []
    while first <= last:
        found.append(first)
        first = (first + timedelta(days=31)).replace(day=1)
    return found


def _commonest(counts: Counter[str]) -> list[tuple[str, int]]:
    return sorted(counts.items(), key=lambda each: (-each[1], each[0]))


def _forms(since: datetime) -> tuple[tuple[str, Rate], ...]:
    """By form the part of pieces that are lost now, of those of which these days have told something: out of
    a fire, or lost before one. The worst first, as far as their interval says. Two queries."""
    counts: dict[str, list[int]] = defaultdict(lambda: [0, 0])
    answers = _in_kiln(since)
    before_fire = _by_hand(since).exclude(piece__in=answers.values("placement__piece"))
    told = [
        (answers.values_list("placement__piece__form", "placement__piece__stage"), "placement__piece"),
        (before_fire.values_list("piece__form", "piece__stage"), "piece"),
    ]
    for rows, piece in told:
        for form, stage, count in rows.annotate(Count(piece, distinct=True)):
            counts[form][0] += count if stage == Stage.LOST else 0
            counts[form][1] += count
    words = dict(Piece.Form.choices)
    rates = [
        (str(words[form]), rate(successes=lost, trials=pieces)) for form, (lost, pieces) in counts.items()
    ]
    return tuple(sorted(rates, key=lambda row: (-row[1].low, -row[1].successes, row[0])))


def lost_pieces(*, since: datetime) -> list[Piece]:
    """The latest lost ones that have a photo; ``photo`` is the code of the newest. One query."""
    newest = Photo.objects.filter(piece=OuterRef("pk")).order_by("-taken_at", "-pk")
    rows = Piece.objects.filter(stage=Stage.LOST, stage_since__gte=since)
    rows = rows.annotate(photo=Subquery(newest.values("code")[:1])).filter(photo__isnull=False)
    return list(rows.order_by("-stage_since", "-pk")[:SHOWN_PHOTOS])
