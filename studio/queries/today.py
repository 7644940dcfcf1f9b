"""What the tutor's home says: the jobs of now in order, what waits for a kiln, what stands ready."""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Count, F, Q, QuerySet
from django.urls import reverse

from studio.domain.say import later, lower_first, midway, say
from studio.domain.stages import Stage
from studio.models import (
    Firing,
    FiringAlarm,
    Notice,
    Person,
    Piece,
    Shelf,
    Studio,
    WorkerBeat,
)

from . import kiln_care, money_check, wishes
from .counting import capital, counted
from .firings import SafeToOpen
from .laboratory_due import laboratory_jobs
from .standers import standers
from .today_job import Job
from .today_pieces import piece_jobs
from .today_young import consent_jobs

WORKER_SILENT_AFTER = timedelta(minutes=5)
SHOWN_ON_A_SHELF = 18


@dataclass
class ReadyShelf:
    """Ready pieces on one storage shelf; ``shelf`` is None for those that stand on none."""

    shelf: Shelf | None
    pieces: list[Piece] = field(default_factory=list)
    more: int = 0


def hot_firings() -> QuerySet[Firing]:
    """Firings that are burning, cooling or being unloaded, the oldest first."""
    states = [Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING]
    return (
        Firing.objects.filter(state__in=states)
        .select_related("kiln")
        .annotate(
            places=Count("placements", filter=Q(placements__taken_out_at__isnull=True), distinct=True),
            answered=Count(
                "placements__answers", filter=Q(placements__answers__undone_at__isnull=True), distinct=True
            ),
        )
        .order_by("lit_at")
    )


def main_hot(firings: list[Firing]) -> Firing | None:
    """The one the page is about: the largest kiln that is hot or open."""
    return max(
        firings, key=lambda one: one.kiln.width_mm * one.kiln.depth_mm * one.kiln.height_mm, default=None
    )


def _alarm_jobs(firings: list[Firing]) -> list[Job]:
    """What is amiss with a fire comes before everything else."""
    amiss = FiringAlarm.objects.filter(firing__in=firings, cleared_at__isnull=True)
    return [
        Job(
            later("Now"),
            f"{alarm.firing.kiln}: {midway(alarm.get_cause_display())}",
            alarm.sentence,
            reverse("firing", args=[alarm.firing.number]),
            now=True,
        )
        for alarm in amiss.select_related("firing__kiln").order_by("began_at", "id")
    ]


def _kiln_jobs(firings: list[Firing], openings: dict[int, SafeToOpen]) -> list[Job]:
    jobs = []
    for firing in firings:
        words = f"{firing}, {counted(firing.places, later('piece'), later('pieces'))}."
        if firing.state == Firing.State.UNLOADING:
            left = firing.places - firing.answered
            page, title = (
                ("unload", say("Go on unloading")) if left else ("reconcile", say("Count up and close"))
            )
            words = say("{answered} of {places} out.", answered=firing.answered, places=firing.places)
            if not left:
                words += say(" Closing shares the cost and readies the notices.")
            url = reverse(page, args=[firing.number])
            jobs.append(Job(later("Now"), f"{title} {firing.kiln}", words, url, now=True))
        elif firing.state == Firing.State.COOLING:
            url = reverse("firing", args=[firing.number])
            opening = openings[firing.pk]
            if opening.may_open:
                jobs.append(
                    Job(
                        later("Now"),
                        say("Open {kiln} and unload", kiln=firing.kiln),
                        f"{words} {opening.why}",
                        url,
                        now=True,
                    )
                )
            else:
                jobs.append(
                    Job(
                        later("Later"),
                        say("Open {kiln} and unload", kiln=firing.kiln),
                        f"{words} {opening.heading}.",
                        url,
                    )
                )
        else:
            url = reverse("firing", args=[firing.number])
            jobs.append(
                Job(
                    later("Now"),
                    say("{kiln} is firing. Note a reading", kiln=firing.kiln),
                    words,
                    url,
                    now=True,
                )
            )
    return jobs


def _planned_jobs() -> list[Job]:
    planned = (
        Firing.objects.filter(state=Firing.State.PLANNED)
        .select_related("kiln")
        .annotate(places=Count("placements", filter=Q(placements__taken_out_at__isnull=True)))
        .order_by(F("planned_for").asc(nulls_last=True), "number")
    )
    jobs = []
    for firing in planned:
        placed = counted(firing.places, later("piece"), later("pieces"))
        words = say(
            "{kiln}, to cone {cone}. {placed} placed so far.",
            kiln=firing.kiln,
            cone=firing.cone,
            placed=capital(placed),
        )
        jobs.append(
            Job(
                later("Next"),
                say("Load {firing}", firing=lower_first(firing)),
                words,
                reverse("load", args=[firing.number]),
            )
        )
    return jobs


def _notice_jobs(now: datetime) -> list[Job]:
    jobs = []
    counts = dict(
        Notice.objects.exclude(kind=Notice.Kind.SIGN_IN)
        .filter(
            state__in=[
                Notice.State.WAITING,
                Notice.State.REFUSED,
                Notice.State.MAY_HAVE_GONE,
                Notice.State.NO_ADDRESS,
            ]
        )
        .values_list("state")
        .annotate(Count("id"))
    )
    url = reverse("notices")
    if waiting := counts.get(Notice.State.WAITING):
        jobs.append(
            Job(
                later("Today"),
                say("Read and send {counted}", counted=counted(waiting, later("notice"), later("notices"))),
                say("Nothing goes until you say so."),
                url,
            )
        )
    stuck = sum(count for state, count in counts.items() if state != Notice.State.WAITING)
    if stuck:
        jobs.append(
            Job(
                later("Today"),
                say(
                    "{counted} you", counted=capital(counted(stuck, say("notice needs"), say("notices need")))
                ),
                say("Not delivered, or nobody to write to."),
                url,
            )
        )
    beat = WorkerBeat.objects.order_by("-at").first()
    if beat is None or beat.at < now - WORKER_SILENT_AFTER:
        jobs.append(
            Job(
                later("Now"),
                say("No mail is going out"),
                say("The mail worker is silent. Start it, or ask who looks after the computer."),
                url,
                now=True,
            )
        )
    return jobs


def _book_jobs() -> list[Job]:
    """One line when the money does not add up: see `money_check`."""
    problems = money_check.quick()
    if not problems:
        return []
    more = say(" And {count} more.", count=len(problems) - 1) if len(problems) > 1 else ""
    words = f"{problems[0].message}{more}"
    return [Job(later("Now"), say("The books do not add up"), words, reverse("books"), now=True)]


def _care_jobs(studio: Studio, now: datetime) -> list[Job]:
    """One line for each kiln that wants care; silenced reminders say nothing."""
    return [
        Job(
            later("This week"),
            say("Look after {kiln}", kiln=kiln),
            " ".join(line.in_short for line in lines),
            reverse("kiln", args=[kiln.code]),
        )
        for kiln, lines in kiln_care.care_due(now=now, studio=studio).items()
    ]


def jobs_for(
    *,
    person: Person,
    studio: Studio,
    now: datetime,
    firings: list[Firing],
    openings: dict[int, SafeToOpen],
) -> list[Job]:
    """What needs doing, in order. A helper is not asked about notices, money and care of kilns."""
    jobs = [
        *_alarm_jobs(firings),
        *_kiln_jobs(firings, openings),
        *_planned_jobs(),
        *piece_jobs(studio, now),
    ]
    if person.is_tutor:
        jobs += [*_notice_jobs(now), *wishes.jobs(), *_book_jobs(), *_care_jobs(studio, now)]
        jobs += [*consent_jobs(studio, now), *laboratory_jobs(studio, now)]
    order = {"Now": 0, "Later": 1, "Next": 2, "Today": 3, "This week": 4}
    return sorted(jobs, key=lambda job: order[job.when])


def ready_shelves() -> list[ReadyShelf]:
    """Ready pieces by the shelf they stand on, the longest there first; a long shelf is cut short.

    Those on no shelf come last.
    """
    pieces = (
        standers()
        .filter(stage=Stage.READY)
        .order_by(F("shelf__name").asc(nulls_last=True), "stage_since", "id")
    )
    shelves: dict[int | None, ReadyShelf] = {}
    for piece in pieces:
        row = shelves.setdefault(piece.shelf_id, ReadyShelf(piece.shelf))
        if len(row.pieces) < SHOWN_ON_A_SHELF:
            row.pieces.append(piece)
        else:
            row.more += 1
    return list(shelves.values())


def waiting_notices() -> QuerySet[Notice]:
    """Notices the tutor has not let go yet, with their pieces."""
    return (
        Notice.objects.filter(state=Notice.State.WAITING)
        .exclude(kind=Notice.Kind.SIGN_IN)
        .select_related("recipient")
        .prefetch_related("pieces")
        .order_by("made_at")
    )
