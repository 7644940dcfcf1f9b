"""Firing programmes: named, with their segments in order."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from studio.domain.stages import FIRING_WORDS

from .base import choices_from, public_code
from .kilns import Kiln
from .people import Person


class Programme(models.Model):
    """How a kiln is to be driven. It may change: a firing keeps its own copy of what it was fired with."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=60)
    kind = models.CharField(max_length=8, choices=choices_from(FIRING_WORDS))
    #: Empty: for any kiln.
    kiln = models.ForeignKey(Kiln, null=True, blank=True, on_delete=models.PROTECT, related_name="programmes")
    #: What it is meant to reach; empty where that is left to each firing.
    cone = models.CharField(_("cone it is meant for"), max_length=4, blank=True)
    notes = models.TextField(max_length=1000, blank=True)
    made_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)
    #: The page's own number for the making of it: sent twice, it is made once.
    client_id = models.CharField(max_length=64, unique=True, null=True, blank=True)

    class Meta:
        ordering = ["kind", Lower("name")]
        constraints = [models.UniqueConstraint(Lower("name"), name="programme_name_once")]

    def __str__(self) -> str:
        return self.name


class ProgrammeSegment(models.Model):
    """To ``target_c`` at ``rate_c_per_h``, up or down, then held for ``hold_min``. No rate: as fast as the
    kiln goes."""

    programme = models.ForeignKey(Programme, on_delete=models.CASCADE, related_name="segments")
    number = models.PositiveSmallIntegerField()
    rate_c_per_h = models.PositiveSmallIntegerField(null=True, blank=True)
    target_c = models.PositiveSmallIntegerField()
    hold_min = models.PositiveSmallIntegerField(default=0)

    class Meta:
        ordering = ["programme", "number"]
        constraints = [
            models.UniqueConstraint(fields=["programme", "number"], name="segment_once"),
            models.CheckConstraint(
                condition=Q(rate_c_per_h__isnull=True) | Q(rate_c_per_h__gte=1, rate_c_per_h__lte=2000),
                name="segment_rate",
            ),
            models.CheckConstraint(condition=Q(target_c__lte=1500), name="segment_target"),
            models.CheckConstraint(condition=Q(hold_min__lte=6000), name="segment_hold"),
        ]
