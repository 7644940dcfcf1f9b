"""Witness cones: where in a load one stood, and how far it had bent."""

from __future__ import annotations

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import say

from .base import public_code
from .firings import Firing
from .people import Person


class WitnessCone(models.Model):
    """A cone as it was found. Never rewritten: a correction is a new row that names the one it corrects.

    ``layer_number`` counts from the bottom, 1 first. ``bend_degrees``: 0 upright, 90 with the tip at the
    shelf. One that is corrected or struck out has ``ended_at``.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="witness_cones")
    layer_number = models.PositiveSmallIntegerField(validators=[MinValueValidator(1), MaxValueValidator(12)])
    #: Where on the layer, in words, such as "by the spy hole".
    place = models.CharField(_("where on it"), max_length=40, blank=True)
    cone = models.CharField(max_length=4)
    bend_degrees = models.PositiveSmallIntegerField(_("bent by"), validators=[MaxValueValidator(120)])
    note = models.CharField(max_length=200, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    client_id = models.CharField(max_length=64, unique=True)
    corrects = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrected_by"
    )
    ended_at = models.DateTimeField(_("corrected or struck out at"), null=True, blank=True)
    ended_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["firing", "-layer_number", "place", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "layer_number", "place", "cone"],
                condition=Q(ended_at__isnull=True),
                name="witness_cone_once",
            ),
            models.CheckConstraint(condition=Q(bend_degrees__lte=120), name="witness_cone_bend"),
        ]

    def __str__(self) -> str:
        return say("Cone {cone} on layer {layer_number}", cone=self.cone, layer_number=self.layer_number)
