"""What of the laboratory needs doing: glazes that should be tested again."""

from __future__ import annotations

from datetime import datetime

from django.urls import reverse

from studio.domain.say import later, say
from studio.models import Studio

from .counting import counted
from .laboratory import due_again
from .today_job import Job


def laboratory_jobs(studio: Studio, now: datetime) -> list[Job]:
    """One line for all glazes that a laboratory should see again."""
    due = due_again(studio=studio, today=now.astimezone(studio.zone).date())
    if not due:
        return []
    count = counted(len(due), later("glaze"), later("glazes"))
    why = f"{due[0].words}: {' '.join(due[0].retest)}"
    return [Job(later("This week"), say("Have {count} tested again", count=count), why, reverse("lab-tests"))]
