"""Rooms, holidays, courses, their meetings and who is enrolled."""

from __future__ import annotations

from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import date_words, later

from .base import public_code
from .people import Person


class Room(models.Model):
    """Where classes meet, and how many wheels stand there."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=60)
    wheels = models.PositiveSmallIntegerField(_("wheels in it"), default=0)
    retired_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["name", "id"]
        constraints = [
            models.UniqueConstraint(
                fields=["name"], condition=Q(retired_at__isnull=True), name="room_name_once"
            )
        ]

    def __str__(self) -> str:
        return self.name


class Holiday(models.Model):
    """A day, or some days together, on which the whole studio holds no classes. Both days are included."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=60)
    first_on = models.DateField(_("first day"))
    last_on = models.DateField(_("last day"))

    class Meta:
        ordering = ["first_on", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(last_on__gte=F("first_on")),
                name="holiday_ends_after_start",
                violation_error_message="The holiday ends before it starts. Exchange the two days.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Course(models.Model):
    """A weekly course, a one-off workshop or open studio hours.

    ``rule`` is the value of an RRULE (RFC 5545) that starts on ``starts_on`` at ``starts_time`` by the
    studio's clock; empty: its meetings were entered one by one. ``dates_off`` holds the days left out, as ISO
    dates, the studio's holidays among them.
    """

    class Kind(models.TextChoices):
        WEEKLY = "weekly", later("Weekly course")
        WORKSHOP = "workshop", later("Workshop")
        OPEN = "open", later("Open studio")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    name = models.CharField(max_length=80)
    kind = models.CharField(max_length=8, choices=Kind, default=Kind.WEEKLY)
    about = models.TextField(_("what people make and learn"), max_length=1000, blank=True)
    teacher = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.SET_NULL, related_name="teaches"
    )
    room = models.ForeignKey(Room, null=True, blank=True, on_delete=models.PROTECT, related_name="courses")
    places = models.PositiveSmallIntegerField(default=8)
    #: Wheels this class may use; one person sits at each. 0: it works without.
    wheels = models.PositiveSmallIntegerField(_("wheels for this class"), default=0)
    starts_on = models.DateField()
    ends_on = models.DateField(null=True, blank=True)
    starts_time = models.TimeField(null=True, blank=True)
    minutes = models.PositiveSmallIntegerField(_("how long, minutes"), default=150)
    rule = models.CharField(max_length=200, blank=True)
    dates_off = models.JSONField(default=list, blank=True)
    price_minor = models.PositiveBigIntegerField(_("price, tax included"), default=0)
    tax = models.ForeignKey(
        "studio.TaxRate", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    clay_grams = models.PositiveIntegerField(_("clay included, grams"), default=0)
    firing_allowance_litres = models.DecimalField(max_digits=6, decimal_places=2, default=0)
    age_least = models.PositiveSmallIntegerField(_("from age"), null=True, blank=True)
    age_most = models.PositiveSmallIntegerField(_("up to age"), null=True, blank=True)
    is_public = models.BooleanField(_("shown on the public page"), default=False)

    class Meta:
        ordering = ["-starts_on", "name"]
        constraints = [
            models.CheckConstraint(
                condition=Q(age_least__isnull=True)
                | Q(age_most__isnull=True)
                | Q(age_most__gte=F("age_least")),
                name="course_ages_in_order",
                violation_error_message="The lowest age is above the highest. Exchange the two.",
            )
        ]

    def __str__(self) -> str:
        return self.name


class Teaching(models.Model):
    """Somebody who gave a course over to another teacher, and maybe took it again: for their calendar.

    Who has taught a course from its beginning and teaches it still has no row.
    """

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="teachings")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="teachings")
    #: Goes up each time they take the course again.
    round = models.PositiveSmallIntegerField(default=1)
    #: When they gave it over; empty while they teach it again.
    left_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["course", "person"], name="teaching_once")]

    @property
    def revisions(self) -> int:
        """How often the course has left their calendar or come back to it."""
        return 2 * (self.round - 1) + (self.left_at is not None)


class SessionQuerySet(models.QuerySet):
    def held(self) -> SessionQuerySet:
        """Meetings that take place: all but the cancelled."""
        return self.filter(cancelled_at__isnull=True)


class Session(models.Model):
    """One meeting of a course. A cancelled one stays, with its reason; another may replace it."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="sessions")
    starts_at = models.DateTimeField()
    ends_at = models.DateTimeField()
    #: Made by the course's rule, and so moved when the rule changes; false: entered by hand.
    by_rule = models.BooleanField(default=False)
    cancelled_at = models.DateTimeField(null=True, blank=True)
    cancelled_why = models.CharField(_("why it does not take place"), max_length=200, blank=True)
    replaces = models.OneToOneField(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="replaced_by"
    )
    #: Goes up with every change of its time or state: a calendar's SEQUENCE.
    revision = models.PositiveIntegerField(default=0)

    objects = SessionQuerySet.as_manager()

    class Meta:
        ordering = ["starts_at"]
        indexes = [models.Index(fields=["starts_at"])]
        constraints = [
            models.UniqueConstraint(fields=["course", "starts_at"], name="session_once"),
            models.CheckConstraint(condition=Q(ends_at__gt=F("starts_at")), name="session_ends_after_start"),
            models.CheckConstraint(
                condition=Q(cancelled_at__isnull=True, cancelled_why="")
                | Q(cancelled_at__isnull=False, cancelled_why__gt=""),
                name="session_cancelled_has_reason",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.course.name}, {date_words(self.starts_at, 'd M Y')}"

    @property
    def instead(self) -> Session | None:
        """The meeting that is held instead of this one, if there is one and it takes place."""
        stands_in = getattr(self, "replaced_by", None)
        return stands_in if stands_in is not None and stands_in.cancelled_at is None else None


class Enrolment(models.Model):
    """One person's place in one course, from ``enrolled_at`` until ``left_at``."""

    class Way(models.TextChoices):
        TUTOR = "tutor", later("by the tutor")
        PUBLIC = "public", later("from the public page")
        OFFER = "offer", later("from the waiting list")
        TRANSFER = "transfer", later("from another course")

    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="enrolments")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="enrolments")
    enrolled_at = models.DateTimeField()
    way = models.CharField(max_length=8, choices=Way, default=Way.TUTOR)
    #: Goes up each time somebody comes back to a course they had left.
    round = models.PositiveSmallIntegerField(default=1)
    #: The course fee as posted; empty where nothing is owed for the place.
    charge = models.ForeignKey(
        "studio.Charge", null=True, blank=True, on_delete=models.PROTECT, related_name="enrolments"
    )
    #: Why the tutor let somebody in against the age range, or gave back other than the rules say.
    override_words = models.CharField(max_length=200, blank=True)
    left_at = models.DateTimeField(null=True, blank=True)
    left_words = models.CharField(_("why they left"), max_length=200, blank=True)
    #: The place in another course that this one was exchanged for.
    moved_to = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="moved_from"
    )

    class Meta:
        constraints = [models.UniqueConstraint(fields=["course", "person"], name="enrolment_once")]
