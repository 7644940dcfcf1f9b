"""Courses, their sessions and who is enrolled."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q

from .base import public_code
from .people import Person


class Course(models.Model):
    """A weekly course, a one-off workshop or open studio hours."""

    class Kind(models.TextChoices):
        WEEKLY = "weekly", "Weekly course"
        WORKSHOP = "workshop", "Workshop"
        OPEN = "open", "Open studio"

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.WEEKLY)
    teacher = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="teaches"
    )
    places = models.PositiveSmallIntegerField(default=8)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    firing_allowance_litres = models.DecimalField(max_digits=6, decimal_places=2, default=0)

    class Meta:
        ordering = ["-starts_on", "name"]

    def __str__(self) -> str:
        return self.name


class Session(models.Model):
    """One meeting of a course."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="sessions")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ["starts_at"]
        constraints = [
            models.UniqueConstraint(fields=["course", "starts_at"], name="session_once"),
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="session_ends_after_start"),
        ]

    def __str__(self) -> str:
        return f"{self.course.name}, {self.starts_at:%d %b %Y}"


class Enrolment(models.Model):
    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="enrolments")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="enrolments")
    enrolled_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["course", "person"], name="enrolment_once")]
