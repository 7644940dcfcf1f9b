"""Addresses at which a calendar program reads the studio's calendar."""

from __future__ import annotations

import secrets

from django.db import models
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later

from .base import public_code
from .people import Person


def feed_secret() -> str:
    """What makes an address unguessable: 160 bits, so that a feed needs no signing in."""
    return secrets.token_urlsafe(20)


class CalendarFeed(models.Model):
    """One address, made by somebody for a calendar program of theirs. Ended, it answers no more."""

    class Of(models.TextChoices):
        STUDIO = "studio", later("All firings and classes")
        TEACHING = "teaching", later("The classes I teach")
        OWN = "own", later("The classes I go to")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    secret = models.CharField(max_length=40, unique=True, default=feed_secret, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="calendar_feeds")
    name = models.CharField(_("what reads it"), max_length=60)
    #: Members have their own alone.
    of = models.CharField(_("what it shows"), max_length=8, choices=Of, default=Of.STUDIO)
    made_at = models.DateTimeField()
    read_at = models.DateTimeField(null=True, blank=True)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return self.name
