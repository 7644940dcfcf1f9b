"""Firings: the planned load, the fire, the unload."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later
from studio.domain.stages import FIRING_WORDS

from .base import choices_from, public_code
from .kilns import Kiln
from .people import Person
from .pieces import Piece
from .programmes import Programme
from .sharing import SharingPolicy
from .shelves import Shelf


class Firing(models.Model):
    """One firing of one kiln, from the first piece planned into it to its closing."""

    class State(models.TextChoices):
        PLANNED = "planned", later("Being loaded")
        FIRING = "firing", later("Firing")
        COOLING = "cooling", later("Cooling")
        UNLOADING = "unloading", later("Being unloaded")
        CLOSED = "closed", later("Closed")
        CANCELLED = "cancelled", later("Cancelled")

    number = models.PositiveIntegerField(unique=True)
    kiln = models.ForeignKey(Kiln, on_delete=models.PROTECT, related_name="firings")
    kind = models.CharField(max_length=8, choices=choices_from(FIRING_WORDS))
    cone = models.CharField(max_length=4)
    state = models.CharField(max_length=10, choices=State, default=State.PLANNED, db_index=True)
    planned_for = models.DateTimeField(null=True, blank=True)
    lit_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(_("kiln off at"), null=True, blank=True)
    opened_at = models.DateTimeField(null=True, blank=True)
    closed_at = models.DateTimeField(null=True, blank=True)
    meter_start_kwh = models.DecimalField(max_digits=9, decimal_places=1, null=True, blank=True)
    meter_end_kwh = models.DecimalField(max_digits=9, decimal_places=1, null=True, blank=True)
    #: The rules its cost is shared by: those of the day it was lit. Empty until then.
    sharing_policy = models.ForeignKey(
        SharingPolicy, null=True, blank=True, on_delete=models.PROTECT, related_name="firings"
    )
    #: The programme chosen for it, and the copy it keeps from its lighting on: {"name", "segments": [[rate or
    #: None, target, hold], ...]} in °C/h, °C and minutes. While it is planned the copy is empty.
    programme = models.ForeignKey(
        Programme, null=True, blank=True, on_delete=models.SET_NULL, related_name="firings"
    )
    programme_as_fired = models.JSONField(default=dict, blank=True)
    #: Counts what a calendar must hear of: a new date, lit, off, opened, cancelled.
    revision = models.PositiveIntegerField(default=0)
    notes = models.TextField(max_length=2000, blank=True)
    #: The tutor wants no mail about this fire. What is amiss is shown all the same.
    alarms_muted_at = models.DateTimeField(null=True, blank=True)
    made_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField()
    #: The page's own number for the planning of it: sent twice, it is planned once.
    client_id = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["-number"]
        constraints = [
            models.UniqueConstraint(
                fields=["kiln"],
                condition=Q(state__in=["cooling", "firing", "unloading"]),
                name="firing_one_hot_a_kiln",
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("lit_at")),
                name="firing_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()} {self.number}"


class Override(models.Model):
    """A rule the tutor overruled for a firing, and why. Stays with the firing."""

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="overrides")
    piece = models.ForeignKey(Piece, null=True, blank=True, on_delete=models.CASCADE)
    problem_code = models.CharField(max_length=40)
    reason = models.CharField(max_length=300)
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    at = models.DateTimeField()


class Layer(models.Model):
    """A layer of a load. ``number`` counts from the bottom, 1 first. Props stand on this layer's kiln shelf
    and carry the next; the top layer has none."""

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="layers")
    number = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(12)])
    prop_mm = models.PositiveSmallIntegerField("props", default=0)

    class Meta:
        ordering = ["firing", "number"]
        constraints = [models.UniqueConstraint(fields=["firing", "number"], name="layer_once")]


class Placement(models.Model):
    """A piece at its place in a load, at the size it goes in (mm), x and y from the kiln shelf's centre.

    ``taken_out_at`` ends a placement: taken out of the plan, or cancelled with the firing.
    """

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="placements")
    layer = models.ForeignKey(Layer, on_delete=models.PROTECT, related_name="placements")
    piece = models.ForeignKey(Piece, on_delete=models.PROTECT, related_name="placements")
    x_mm = models.IntegerField(default=0)
    y_mm = models.IntegerField(default=0)
    turned = models.BooleanField(default=False)
    is_round = models.BooleanField(default=True)
    width_mm = models.PositiveSmallIntegerField()
    depth_mm = models.PositiveSmallIntegerField()
    height_mm = models.PositiveSmallIntegerField()
    stand_mm = models.PositiveSmallIntegerField(_("stand under it, mm"), default=0)
    #: Stays where it is when the kiln is filled anew; moved or taken out only after it is unpinned.
    pinned = models.BooleanField(default=False)
    refire_free = models.BooleanField(_("refired at the studio's cost"), default=False)
    added_at = models.DateTimeField()
    added_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    #: Set while the placement counts: a piece can stand in one load at a time. Emptied when the load is done.
    holds_piece = models.OneToOneField(
        Piece, null=True, blank=True, on_delete=models.PROTECT, related_name="held_by"
    )
    taken_out_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["firing", "layer", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "piece"],
                condition=Q(taken_out_at__isnull=True),
                name="placement_once_a_firing",
            )
        ]


class UnloadAnswer(models.Model):
    """What was found at one place. One counts at a time; an undone one stays, marked so."""

    class Outcome(models.TextChoices):
        SOUND = "sound", later("Sound")
        FLAWED = "flawed", later("Flawed")
        LOST = "lost", later("Lost")

    class LossCause(models.TextChoices):
        EXPLODED = "exploded", later("Exploded")
        CRACKED = "cracked", later("Cracked")
        BROKEN = "broken", later("Broken")
        STUCK = "stuck", later("Stuck fast")
        MISSING = "missing", later("Not there")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    placement = models.ForeignKey(Placement, on_delete=models.PROTECT, related_name="answers")
    outcome = models.CharField(max_length=6, choices=Outcome)
    loss_cause = models.CharField(max_length=8, choices=LossCause, blank=True)
    note = models.CharField(max_length=300, blank=True)
    shelf = models.ForeignKey(Shelf, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    event = models.ForeignKey("studio.Event", on_delete=models.PROTECT, related_name="+")
    client_id = models.CharField(max_length=64, unique=True)
    undone_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["at", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["placement"], condition=Q(undone_at__isnull=True), name="answer_once_a_place"
            )
        ]
