"""Who was at which meeting, what was said of them and by whom, and make-up places in another class."""

from __future__ import annotations

from django.db import models
from django.db.models import Q

from studio.domain.say import later, say

from .base import public_code
from .classes import Session
from .people import Person


class Attendance(models.Model):
    """What the register says now of one person at one meeting; `AttendanceSaid` has what was said before."""

    class Word(models.TextChoices):
        HERE = "here", later("Here")
        LATE = "late", later("Late")
        AWAY = "away", later("Away")
        TOLD_US = "told-us", later("Told us")

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="attendance")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="attendance")
    #: Empty: what was said has been taken back.
    word = models.CharField(max_length=8, choices=Word, blank=True)
    said_at = models.DateTimeField()
    said_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")

    class Meta:
        constraints = [models.UniqueConstraint(fields=["session", "person"], name="attendance_once")]
        indexes = [models.Index(fields=["person", "word"])]

    def __str__(self) -> str:
        return f"{self.person}: {self.get_word_display() or say('nothing said')}"


#: In the studio, so that a deadline counted in classes runs on.
ATTENDED = (Attendance.Word.HERE, Attendance.Word.LATE)
#: Not there, so that their wheel is free for somebody who makes up a class.
MISSED = (Attendance.Word.AWAY, Attendance.Word.TOLD_US)


class AttendanceSaid(models.Model):
    """One thing that was said in a register. Never rewritten; the newest of a person and meeting counts."""

    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="said")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="+")
    word = models.CharField(max_length=8, choices=Attendance.Word, blank=True)
    at = models.DateTimeField()
    by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["id"]
        indexes = [models.Index(fields=["session", "person"])]


class MakeUp(models.Model):
    """A place in a meeting of another class, for somebody who missed one of their own."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="make_ups")
    missed = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="made_up_elsewhere")
    session = models.ForeignKey(Session, on_delete=models.CASCADE, related_name="make_ups")
    booked_at = models.DateTimeField()
    booked_by = models.ForeignKey(Person, null=True, on_delete=models.SET_NULL, related_name="+")
    given_up_at = models.DateTimeField(null=True, blank=True)
    client_id = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["id"]
        constraints = [
            models.UniqueConstraint(
                fields=["person", "missed"],
                condition=Q(given_up_at__isnull=True),
                name="make_up_once_for_a_class",
            ),
            models.UniqueConstraint(
                fields=["person", "session"],
                condition=Q(given_up_at__isnull=True),
                name="make_up_one_place",
            ),
        ]

    def __str__(self) -> str:
        return say("{person} in {session}", person=self.person, session=self.session)
