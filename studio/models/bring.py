"""Tables that the tutor brings from elsewhere: first looked at, then entered whole."""

from __future__ import annotations

from django.db import models

from studio.domain.bring import Subject

from .base import public_code
from .people import Person


class BroughtFile(models.Model):
    """A table of people, classes or pieces. ``data`` is packed, and emptied once it is entered.

    A file nobody entered is swept up after a day. ``made`` holds the primary keys of what an entered
    one brought, so that it can be taken back.
    """

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    subject = models.CharField(max_length=8, choices=[(subject.value, subject.value) for subject in Subject])
    name = models.CharField(max_length=120)
    data = models.BinaryField(blank=True, default=b"")
    sha256 = models.CharField(max_length=64)
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    made_at = models.DateTimeField()
    entered_at = models.DateTimeField(null=True, blank=True)
    #: Lines that brought something, and lines whose matter was here already.
    brought = models.PositiveIntegerField(default=0)
    known = models.PositiveIntegerField(default=0)
    made = models.JSONField(default=dict, blank=True)
    taken_back_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["-made_at", "-id"]

    def __str__(self) -> str:
        return self.name
