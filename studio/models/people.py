"""People: tutor, helper, student and guardian are one kind of row with a role; and how they sign in."""

from __future__ import annotations

from datetime import date, datetime

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models
from django.db.models import F, Q
from django.db.models.functions import Lower
from django.utils.translation import gettext_lazy as _

from studio.domain.calendar_days import age_on
from studio.domain.languages import LANGUAGES
from studio.domain.say import later

from .base import public_code


class Role(models.TextChoices):
    TUTOR = "tutor", later("Tutor")
    HELPER = "helper", later("Helper")
    MEMBER = "member", later("Student or guardian")


class PersonQuerySet(models.QuerySet):
    def current(self) -> PersonQuerySet:
        return self.filter(left_at__isnull=True)

    def staff(self) -> PersonQuerySet:
        return self.current().filter(role__in=[Role.TUTOR, Role.HELPER])


class PersonManager(BaseUserManager.from_queryset(PersonQuerySet)):
    def get_by_natural_key(self, email: str) -> Person:
        return self.get(email__iexact=email)


ADULT_AGE = 18


class Person(AbstractBaseUser):
    """Somebody the studio knows. An email is held by one person; the under-18s' mail goes to the guardian."""

    code = models.CharField(max_length=12, unique=True, default=public_code, editable=False)
    first_name = models.CharField(max_length=60)
    last_name = models.CharField(max_length=60, blank=True)
    email = models.EmailField(null=True, blank=True, unique=True)
    phone = models.CharField(max_length=40, blank=True)
    role = models.CharField(max_length=8, choices=Role, default=Role.MEMBER)
    born_on = models.DateField(_("date of birth, for the under-18s"), null=True, blank=True)
    guardian = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.PROTECT, related_name="young_people"
    )
    gallery_consent = models.BooleanField(_("photos of work may be shown in the gallery"), default=False)
    #: Of their pages and mails; empty is the studio's.
    language = models.CharField(max_length=10, choices=list(LANGUAGES.items()), blank=True, default="")
    #: Who said so: for the under-18s it counts from the guardian or the tutor alone.
    gallery_consent_by = models.ForeignKey(
        "self", null=True, blank=True, on_delete=models.SET_NULL, related_name="+", editable=False
    )
    notes = models.TextField(_("notes for the tutor"), max_length=2000, blank=True)
    #: For staff at class, the person and their guardian alone: see `studio.queries.care_notes`.
    emergency_name = models.CharField(_("who to call in an emergency"), max_length=80, blank=True)
    emergency_phone = models.CharField(_("their phone number"), max_length=40, blank=True)
    health_note = models.TextField(_("what staff should know for their safety"), max_length=600, blank=True)
    joined_at = models.DateTimeField()
    left_at = models.DateTimeField(null=True, blank=True)
    #: They, or their guardian, asked the studio to erase them.
    erase_asked_at = models.DateTimeField(null=True, blank=True)
    #: Nothing is known of them any more: see `studio.actions.erasing`.
    erased_at = models.DateTimeField(null=True, blank=True)

    USERNAME_FIELD = "email"
    REQUIRED_FIELDS = ["first_name"]
    objects = PersonManager()

    class Meta:
        ordering = ["first_name", "last_name", "id"]
        constraints = [
            models.CheckConstraint(
                condition=Q(email__isnull=True) | Q(email=Lower("email")), name="person_email_lower_case"
            ),
            models.CheckConstraint(
                condition=Q(guardian__isnull=True) | ~Q(guardian=F("id")), name="person_not_own_guardian"
            ),
        ]

    def __str__(self) -> str:
        return self.full_name

    @property
    def is_active(self) -> bool:
        return self.left_at is None

    @property
    def full_name(self) -> str:
        return f"{self.first_name} {self.last_name}".strip()

    @property
    def is_tutor(self) -> bool:
        return self.role == Role.TUTOR

    @property
    def is_staff_member(self) -> bool:
        """Tutor or helper: may scan, load and unload. Only the tutor sees money."""
        return self.role in {Role.TUTOR, Role.HELPER}

    def age_on(self, day: date) -> int | None:
        if self.born_on is None:
            return None
        return age_on(self.born_on, day)

    def is_young_on(self, day: date) -> bool:
        """Under 18 on this day. Without a date of birth: young where a guardian is named, else grown."""
        age = self.age_on(day)
        return self.guardian_id is not None if age is None else age < ADULT_AGE

    def slip_name(self, day: date) -> str:
        """What a slip lying about may say: first name and initial; of the under-18s the first name alone."""
        if self.is_young_on(day) or not self.last_name:
            return self.first_name
        return f"{self.first_name} {self.last_name[0]}."

    def answers_for(self, day: date) -> Person:
        """Who gets the mail and the bill: the guardian of a young person, else the person."""
        return self.guardian if self.is_young_on(day) and self.guardian else self


class SignInCode(models.Model):
    """A one-time code. The code itself is never stored: it is made when the mail is, and its hash kept."""

    person = models.ForeignKey(Person, null=True, blank=True, on_delete=models.CASCADE)
    token = models.CharField(max_length=64, unique=True)
    code_hash = models.CharField(max_length=160, blank=True)
    link_hash = models.CharField(max_length=160, blank=True)
    asked_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    tries = models.PositiveSmallIntegerField(default=0)
    used_at = models.DateTimeField(null=True, blank=True)
    mailed_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        indexes = [models.Index(fields=["expires_at"])]


class Attempt(models.Model):
    """One try at something that is limited: a sign-in, an unknown tag. Keys are hashes, never addresses."""

    kind = models.CharField(max_length=24)
    key_hash = models.CharField(max_length=64)
    at = models.DateTimeField()

    class Meta:
        indexes = [models.Index(fields=["kind", "key_hash", "at"])]

    @classmethod
    def count_since(cls, *, kind: str, key_hash: str, since: datetime) -> int:
        return cls.objects.filter(kind=kind, key_hash=key_hash, at__gte=since).count()
