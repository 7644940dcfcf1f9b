"""What there is to do about pieces, for the page of the day."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.urls import reverse

from studio.domain.say import later, say, say_many
from studio.domain.stages import GREENWARE, Stage
from studio.models import (
    FinishingJob,
    Piece,
    Studio,
    Tag,
)

from .counting import counted
from .keeping import not_kept
from .piece_facts import facts_for
from .today_job import Job


def piece_jobs(studio: Studio, now: datetime) -> list[Job]:
    jobs = []
    facts = facts_for(Piece.objects.filter(stage=Stage.FIRED).order_by("stage_since", "pk"))
    decide = [fact.mark for fact in facts.values() if not fact.low_firings_left]
    if decide:
        jobs.append(
            Job(
                later("Today"),
                say(
                    "Look at {counted}",
                    counted=counted(len(decide), say("flawed piece"), say("flawed pieces")),
                ),
                say("Ready as it is, to be refired, or lost?"),
                f"{reverse('pieces')}?stage=fired",
                marks=tuple(decide[:6]),
            )
        )
    finishing = list(
        FinishingJob.objects.filter(
            done_at__isnull=True, withdrawn_at__isnull=True, piece__stage=Stage.FINISHING
        )
        .order_by("piece_id")
        .values_list("piece__mark", flat=True)
    )
    if finishing:
        marks = tuple(dict.fromkeys(finishing))
        jobs.append(
            Job(
                later("Today"),
                say("Finish {counted}", counted=counted(len(marks), later("piece"), later("pieces"))),
                say("Eyes and dust protected, and wet."),
                f"{reverse('pieces')}?stage=finishing",
                marks=marks[:6],
            )
        )
    nobodys = Piece.objects.live().filter(maker__isnull=True, studios_own=False).count()
    if nobodys:
        jobs.append(
            Job(
                later("Today"),
                say("Find out whose piece this is")
                if nobodys == 1
                else say("Find out whose {nobodys} pieces these are", nobodys=nobodys),
                say("No maker is in the books. Their photos hang on the makers’ wall."),
                reverse("orphan-wall"),
            )
        )
    slips = Tag.objects.filter(
        piece__isnull=False,
        retired_at__isnull=True,
        printed_at__isnull=True,
        piece__stage__in=[*GREENWARE, Stage.BISQUED],
    ).count()
    if slips:
        jobs.append(
            Job(
                later("Today"),
                say("Print {counted}", counted=counted(slips, later("slip"), later("slips"))),
                say("New pieces whose slip is not on the ware board yet."),
                reverse("slips"),
            )
        )
    long_ago = now - timedelta(weeks=studio.overdue_after_weeks)
    overdue = list(
        not_kept(Piece.objects.filter(stage=Stage.READY, stage_since__lt=long_ago), now=now).values_list(
            "mark", flat=True
        )
    )
    if overdue:
        waited = say_many("It has waited more than", "They have waited more than", len(overdue))
        jobs.append(
            Job(
                later("This week"),
                say(
                    "Ask again about {counted}",
                    counted=counted(len(overdue), later("piece"), later("pieces")),
                ),
                f"{waited} {counted(studio.overdue_after_weeks, later('week'), later('weeks'))}.",
                f"{reverse('pieces')}?stage=ready",
                marks=tuple(overdue[:6]),
            )
        )
    return jobs
