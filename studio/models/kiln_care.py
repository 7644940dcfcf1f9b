"""The care of kilns: the log, how often something is asked for, and reminders silenced for a while."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils.translation import gettext_lazy as _

from studio.domain.kiln_care import CARE_WORDS
from studio.domain.say import date_words

from .base import choices_from, public_code
from .kilns import Kiln
from .people import Person


class KilnCare(models.Model):
    """Something done to a kiln on a day. A correction is a new row that names the one it replaces; the old
    one stays, taken back."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    kiln = models.ForeignKey(Kiln, on_delete=models.PROTECT, related_name="care")
    kind = models.CharField(max_length=16, choices=choices_from(CARE_WORDS))
    done_on = models.DateField("day")
    done_by = models.CharField(_("who did it"), max_length=80, blank=True)
    note = models.CharField(max_length=300, blank=True)
    #: Resistance of all the elements together, as an electrician measured it.
    ohm = models.DecimalField("resistance, Ω", max_digits=7, decimal_places=2, null=True, blank=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    client_id = models.CharField(max_length=64, unique=True)
    replaces = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="corrections"
    )
    taken_back_at = models.DateTimeField(null=True, blank=True)
    taken_back_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )

    class Meta:
        ordering = ["-done_on", "-made_at", "-id"]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}, {date_words(self.done_on, 'j F Y')}"


class CareReminder(models.Model):
    """How often something is asked for at one kiln, where it is not the usual. Both empty: never."""

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="care_reminders")
    kind = models.CharField(max_length=16, choices=choices_from(CARE_WORDS))
    every_months = models.PositiveSmallIntegerField(null=True, blank=True)
    after_firings = models.PositiveSmallIntegerField(null=True, blank=True)
    changed_at = models.DateTimeField()
    changed_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["kiln", "kind"]
        constraints = [models.UniqueConstraint(fields=["kiln", "kind"], name="care_reminder_once")]


class CareSilence(models.Model):
    """A reminder that says nothing up to and on a day, and why. Woken again, the row stays."""

    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="care_silences")
    kind = models.CharField(max_length=16, choices=choices_from(CARE_WORDS))
    until = models.DateField(_("silent until"))
    why = models.CharField("why", max_length=200)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    client_id = models.CharField(max_length=64, unique=True)
    woken_at = models.DateTimeField(null=True, blank=True)
    woken_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        ordering = ["-at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["kiln", "kind"], condition=Q(woken_at__isnull=True), name="care_silence_one_holds"
            )
        ]
