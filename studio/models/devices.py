"""Where somebody is signed in: one row for each browser, tied to its session."""

from __future__ import annotations

from django.db import models

from .base import public_code
from .people import Person


class Device(models.Model):
    """A browser that is signed in. Ended, its session is gone and it is asked to sign in again.

    ``name`` is the device in plain words; neither its network address nor its own words are kept.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="devices")
    #: The key of its session, as the sessions' own table has it.
    session_key = models.CharField(max_length=40, unique=True)
    name = models.CharField(max_length=60)
    signed_in_at = models.DateTimeField()
    seen_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-seen_at", "-id"]
        indexes = [models.Index(fields=["person", "ended_at"])]

    def __str__(self) -> str:
        return self.name
