"""Loads that the machine works out: asked for on a page, shown, taken."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from studio.domain.say import later

from .base import public_code
from .firings import Firing
from .people import Person


class Proposal(models.Model):
    """One press of "Fill this kiln" (with ``firing``) or "Work out the queue" (without).

    ``seen`` is what the load looked like then, ``found`` what came of it. While it is worked on ``beat_at``
    moves on every second: when it has stopped, whoever worked on it has died, and it is offered again.
    """

    class State(models.TextChoices):
        WORKING = "working", later("Being worked out")
        READY = "ready", later("Ready")
        STOPPED = "stopped", later("Stopped")
        GIVEN_UP = "given-up", later("Given up")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    firing = models.ForeignKey(
        Firing, null=True, blank=True, on_delete=models.CASCADE, related_name="proposals"
    )
    state = models.CharField(max_length=8, choices=State, default=State.WORKING)
    #: Pieces that are not pinned may be moved and taken out.
    anew = models.BooleanField(default=False)
    seen = models.JSONField(default=dict)
    found = models.JSONField(default=dict)
    percent = models.PositiveSmallIntegerField(default=0)
    asked_at = models.DateTimeField()
    beat_at = models.DateTimeField()
    done_at = models.DateTimeField(null=True, blank=True)
    asked_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    client_id = models.CharField(max_length=64, unique=True)
    #: Which of its ways was taken, and when.
    taken_way = models.CharField(max_length=12, blank=True)
    taken_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-id"]
        constraints = [
            models.CheckConstraint(condition=Q(percent__lte=100), name="proposal_percent_at_most_100")
        ]
