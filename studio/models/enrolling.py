"""Enrolling: the studio's rules for it, who waits for a place, what guardians consented to, and askings."""

from __future__ import annotations

import secrets

from django.core.validators import MaxValueValidator, MinValueValidator
from django.db import models
from django.db.models import F, Q
from django.utils.translation import gettext_lazy as _

from studio.domain.say import later, say

from .base import public_code
from .classes import Course
from .people import Person


def offer_secret() -> str:
    """What makes the address of an offer unguessable: 160 bits."""
    return secrets.token_urlsafe(20)


class ClassRules(models.Model):
    """One row: how the studio lets people in and out of its classes."""

    id = models.PositiveSmallIntegerField(primary_key=True, default=1, editable=False)
    public_page = models.BooleanField(_("a public page shows coming classes"), default=False)
    offer_hours = models.PositiveSmallIntegerField(
        _("an offered place is kept for, hours"),
        default=24,
        validators=[MinValueValidator(1), MaxValueValidator(336)],
    )
    full_refund_days = models.PositiveSmallIntegerField(
        _("all is given back until, days before the start"), default=14, validators=[MaxValueValidator(365)]
    )
    part_refund_days = models.PositiveSmallIntegerField(
        _("a part is given back until, days before the start"), default=7, validators=[MaxValueValidator(365)]
    )
    part_refund_percent = models.PositiveSmallIntegerField(
        _("that part, percent"), default=50, validators=[MaxValueValidator(100)]
    )
    consent_words = models.TextField(_("what a guardian consents to"), max_length=1500, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(id=1), name="class_rules_only_one"),
            models.CheckConstraint(
                condition=Q(full_refund_days__gte=F("part_refund_days")),
                name="class_rules_days_in_order",
                violation_error_message="A part is given back later than all of it: check the two numbers "
                "of days.",
            ),
        ]

    @classmethod
    def the(cls) -> ClassRules:
        """The one row; as the defaults are until the tutor has saved it."""
        return cls.objects.filter(id=1).first() or cls(id=1)


class Waiting(models.Model):
    """Somebody who waits for a place in a full course, and the place offered to them when one came free.

    An open offer holds its place until ``offer_until``. What became of it stays: the tutor can read it.
    """

    class State(models.TextChoices):
        WAITING = "waiting", later("Waiting")
        OFFERED = "offered", later("A place is offered")
        TAKEN = "taken", later("Took the place")
        LAPSED = "lapsed", later("Did not answer in time")
        DECLINED = "declined", later("Said no")
        GONE = "gone", later("Taken off the list")

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="waiting")
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="waiting")
    state = models.CharField(max_length=8, choices=State, default=State.WAITING)
    asked_at = models.DateTimeField()
    offered_at = models.DateTimeField(null=True, blank=True)
    offer_until = models.DateTimeField(null=True, blank=True)
    secret = models.CharField(max_length=40, unique=True, default=offer_secret, editable=False)
    ended_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["asked_at", "id"]
        indexes = [models.Index(fields=["state", "offer_until"])]
        constraints = [
            models.UniqueConstraint(
                fields=["course", "person"],
                condition=Q(state__in=["waiting", "offered"]),
                name="waiting_once_a_course",
            ),
            models.CheckConstraint(
                condition=~Q(state="offered") | Q(offered_at__isnull=False, offer_until__isnull=False),
                name="waiting_offer_has_end",
            ),
        ]

    def __str__(self) -> str:
        return say("{person} for {course}", person=self.person, course=self.course)


class Consent(models.Model):
    """What a guardian consented to, word for word, when, and for whom. Kept as given; only taken back."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="consents")
    given_by = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="consents_given")
    course = models.ForeignKey(Course, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
    words = models.TextField(max_length=2000)
    #: The name as the guardian typed it under the words.
    signed = models.CharField(max_length=121)
    given_at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)
    #: Signed on paper on this day, and who of the studio noted that; both empty where it was given on a page.
    signed_on = models.DateField(null=True, blank=True)
    noted_by = models.ForeignKey(
        Person, null=True, blank=True, on_delete=models.PROTECT, related_name="consents_noted"
    )

    class Meta:
        ordering = ["given_at", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(signed_on__isnull=True, noted_by__isnull=True)
                | Q(signed_on__isnull=False, noted_by__isnull=False),
                name="consent_paper_has_day_and_hand",
            ),
        ]


class EnrolRequest(models.Model):
    """Somebody without an account asked for a place: kept until the code mailed to them is typed, a day at
    most. It holds no place. The code itself is never stored; the mail worker makes it with the mail.
    """

    token = models.CharField(max_length=64, unique=True)
    course = models.ForeignKey(Course, on_delete=models.CASCADE, related_name="+")
    email = models.EmailField()
    #: What was typed: see ``actions/enrol_requests``.
    details = models.JSONField(default=dict)
    asked_at = models.DateTimeField()
    expires_at = models.DateTimeField(db_index=True)
    code_hash = models.CharField(max_length=160, blank=True)
    tries = models.PositiveSmallIntegerField(default=0)
    mail_tries = models.PositiveSmallIntegerField(default=0)
    next_try_at = models.DateTimeField(null=True, blank=True)
    mailed_at = models.DateTimeField(null=True, blank=True)
    used_at = models.DateTimeField(null=True, blank=True)
    enrolment = models.ForeignKey(
        "studio.Enrolment", null=True, blank=True, on_delete=models.SET_NULL, related_name="+"
    )
    waiting = models.ForeignKey(Waiting, null=True, blank=True, on_delete=models.SET_NULL, related_name="+")
