"""Glazes, and which glaze is on which surface of a piece."""

from __future__ import annotations

from django.core.validators import RegexValidator
from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower

from .base import public_code

colour_validator = RegexValidator(r"^#[0-9a-f]{6}$", "Write a colour like #7a8c99.")


class Glaze(models.Model):
    class FoodContact(models.TextChoices):
        SUITABLE = "suitable", "Suitable, says its maker"
        UNSUITABLE = "unsuitable", "Not suitable, says its maker"
        UNSTATED = "unstated", "Not stated"

    class Movement(models.TextChoices):
        STILL = "still", "Stays put"
        MOVES = "moves", "Moves a little"
        RUNS = "runs", "Runs: on a stand"

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=60)
    colour = models.CharField(
        "colour on drawings", max_length=7, default="#b7bfb9", validators=[colour_validator]
    )
    finish = models.CharField(max_length=40, blank=True)
    cone_from = models.CharField("matures from cone", max_length=4, default="6")
    cone_to = models.CharField("matures to cone", max_length=4, default="6")
    food_contact = models.CharField(max_length=10, choices=FoodContact, default=FoodContact.UNSTATED)
    movement = models.CharField(max_length=6, choices=Movement, default=Movement.STILL)
    metallic = models.BooleanField("metallic or lustre", default=False)
    notes = models.TextField(max_length=1000, blank=True)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name"]
        constraints = [
            models.UniqueConstraint(
                Lower("name"), condition=Q(retired_at__isnull=True), name="glaze_name_once"
            )
        ]

    def __str__(self) -> str:
        return self.name


class GlazeOnPiece(models.Model):
    """One coat of glaze on one surface; ``glaze`` empty means the clay was left bare on purpose."""

    class Surface(models.TextChoices):
        OUTSIDE = "outside", "Outside"
        RIM = "rim", "Rim"
        INSIDE = "inside", "Inside"
        FOOT = "foot", "Foot"
        DECORATION = "decoration", "Decoration"

    class Method(models.TextChoices):
        DIPPED = "dipped", "Dipped"
        POURED = "poured", "Poured"
        BRUSHED = "brushed", "Brushed"
        SPRAYED = "sprayed", "Sprayed"
        OTHER = "other", "Other"

    piece = models.ForeignKey("studio.Piece", on_delete=models.CASCADE, related_name="glazes_on")
    surface = models.CharField(max_length=10, choices=Surface)
    order = models.PositiveSmallIntegerField("order, over the one before", default=1)
    glaze = models.ForeignKey(Glaze, null=True, blank=True, on_delete=models.PROTECT)
    coats = models.PositiveSmallIntegerField(default=1)
    method = models.CharField(max_length=8, choices=Method, default=Method.DIPPED)
    notes = models.CharField(max_length=200, blank=True)
    put_on_at = models.DateTimeField()

    class Meta:
        ordering = ["piece", "surface", "order"]
        constraints = [
            models.UniqueConstraint(fields=["piece", "surface", "order"], name="glaze_once_in_order")
        ]
