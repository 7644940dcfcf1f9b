"""Temperatures of a firing, the controllers' files they came in, and what was amiss while it burned."""

from __future__ import annotations

from datetime import UTC, datetime

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import Q

from studio.domain.say import later

from .base import public_code
from .firings import Firing
from .people import Person


class ReadingsFile(models.Model):
    """A controller's file: first looked at, then saved. ``data`` is packed, and emptied once it is saved.

    A file nobody saved is swept up after a day. A saved one stays, so that its readings can be taken back.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="readings_files")
    name = models.CharField(max_length=120)
    data = models.BinaryField(blank=True, default=b"")
    sha256 = models.CharField(max_length=64)
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField()
    saved_at = models.DateTimeField(null=True, blank=True)
    #: How many readings it brought that were not there before.
    brought = models.PositiveIntegerField(default=0)
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return self.name


class Reading(models.Model):
    """A temperature of the kiln, °C, and when."""

    class Source(models.TextChoices):
        HAND = "hand", later("By hand")
        IMPORTED = "imported", later("From a file")
        POSTED = "posted", later("By a device")

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="readings", db_index=False)
    at = models.DateTimeField()
    temperature_c = models.DecimalField(
        max_digits=5,
        decimal_places=1,
        validators=[MinValueValidator(-30), MaxValueValidator(1450)],
    )
    source = models.CharField(max_length=8, choices=Source, default=Source.HAND)
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+", db_index=False)
    #: The file it came in; a file's readings are looked for within its firing, so it needs no index.
    file = models.ForeignKey(
        ReadingsFile,
        null=True,
        blank=True,
        on_delete=models.SET_NULL,
        related_name="readings",
        db_index=False,
    )

    class Meta:
        ordering = ["firing", "at"]
        constraints = [models.UniqueConstraint(fields=["firing", "at"], name="reading_once")]

    @property
    def stamp(self) -> str:
        """Its moment as an address writes it, in UTC: ``20251117T110000``, with micros where it has any."""
        at = self.at.astimezone(UTC)
        return f"{at:%Y%m%dT%H%M%S}" + (f"-{at.microsecond:06d}" if at.microsecond else "")

    @classmethod
    def moment_of(cls, stamp: str) -> datetime | None:
        """The moment a `stamp` names; None for what names none."""
        for form in ("%Y%m%dT%H%M%S", "%Y%m%dT%H%M%S-%f"):
            try:
                return datetime.strptime(stamp, form).replace(tzinfo=UTC)
            except ValueError:
                continue
        return None


class FiringAlarm(models.Model):
    """Something amiss while a kiln burned: told once, and again only after it had cleared."""

    class Cause(models.TextChoices):
        STEAM = "steam", later("Too fast through steam")
        STALLED = "stalled", later("Stalled")
        PAST_TOP = "past-top", later("Past the top")
        SILENT = "silent", later("No reading for an hour")

    firing = models.ForeignKey(Firing, on_delete=models.CASCADE, related_name="alarms")
    cause = models.CharField(max_length=8, choices=Cause)
    sentence = models.CharField(max_length=300)
    began_at = models.DateTimeField()
    cleared_at = models.DateTimeField(null=True, blank=True)
    #: It was raised while the firing's alarms were muted: shown, not mailed.
    muted = models.BooleanField(default=False)

    class Meta:
        ordering = ["-began_at", "-id"]
        constraints = [
            models.UniqueConstraint(
                fields=["firing", "cause"], condition=Q(cleared_at__isnull=True), name="alarm_once_a_cause"
            )
        ]
