"""Where somebody is signed in."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.contrib.sessions.models import Session
from django.db.models import QuerySet

from studio.models import Device, Person, Studio


def lasts(person: Person, studio: Studio) -> timedelta:
    """How long this person stays signed in, from signing in."""
    days = studio.staff_signed_in_days if person.is_staff_member else studio.signed_in_days
    return timedelta(days=days)


def signed_in(person: Person, studio: Studio, now: datetime) -> QuerySet[Device]:
    """Devices that need not sign in again, the one seen last first."""
    live = Session.objects.filter(expire_date__gt=now).values("session_key")
    return Device.objects.filter(
        person=person,
        ended_at__isnull=True,
        signed_in_at__gt=now - lasts(person, studio),
        session_key__in=live,
    )
