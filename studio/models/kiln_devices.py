"""Small devices at a kiln that post its temperature, each with a token of its own."""

from __future__ import annotations

from django.db import models
from django.utils.translation import gettext_lazy as _

from .base import public_code
from .kilns import Kiln
from .people import Person


class KilnDevice(models.Model):
    """A device beside one kiln. Its token is shown once, when it is made; only the hash is kept.

    ``minute_began_at`` and ``posts_in_minute`` hold down one that posts without end.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    kiln = models.ForeignKey(Kiln, on_delete=models.CASCADE, related_name="devices")
    name = models.CharField(max_length=40)
    token_hash = models.CharField(max_length=64, unique=True)
    client_id = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    made_by = models.ForeignKey(Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    heard_at = models.DateTimeField(_("last heard"), null=True, blank=True)
    last_c = models.DecimalField(_("last heard, °C"), max_digits=5, decimal_places=1, null=True, blank=True)
    minute_began_at = models.DateTimeField(null=True, blank=True)
    posts_in_minute = models.PositiveSmallIntegerField(default=0)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["kiln", "made_at", "id"]

    def __str__(self) -> str:
        return self.name
