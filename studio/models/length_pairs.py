"""Lengths measured before and after: what a clay's own figure of shrinkage stands on."""

from __future__ import annotations

from decimal import Decimal

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code
from .people import Person
from .pieces import ClayBody

_length = [MinValueValidator(Decimal(5)), MaxValueValidator(Decimal(1500))]


class LengthPair(models.Model):
    """The same length on a bar or a pot, wet and at a later stage, in mm to a tenth."""

    class Stage(models.TextChoices):
        BONE_DRY = "bone-dry", later("Bone dry")
        BISQUED = "bisqued", later("Bisqued")
        FIRED = "fired", later("Fired")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    clay = models.ForeignKey(ClayBody, on_delete=models.CASCADE, related_name="length_pairs")
    stage = models.CharField(_("measured again"), max_length=8, choices=Stage, default=Stage.FIRED)
    #: Of the glaze firing, where it was measured fired; another cone is another figure.
    cone = models.CharField(max_length=4, blank=True)
    wet_mm = models.DecimalField(max_digits=5, decimal_places=1, validators=_length)
    later_mm = models.DecimalField(max_digits=5, decimal_places=1, validators=_length)
    what = models.CharField(_("what was measured"), max_length=60, blank=True)
    measured_on = models.DateField()
    entered_at = models.DateTimeField()
    entered_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    #: It was entered by mistake and counts for nothing.
    taken_back_at = models.DateTimeField(null=True, blank=True)
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["-measured_on", "-id"]
