"""People with what hangs on them: pieces in the studio, guardian, courses."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import date, datetime

from django.db.models import Count, Prefetch, Q, QuerySet

from studio.domain.stages import ENDED, Stage
from studio.models import Consent, Enrolment, Person


def people(*, search: str = "", left: bool = False) -> QuerySet[Person]:
    """Everybody current (or who has left), with counts of live and ready pieces."""
    rows = Person.objects.filter(left_at__isnull=not left, erased_at__isnull=True).select_related("guardian")
    for word in search.split()[:4]:
        rows = rows.filter(
            Q(first_name__icontains=word) | Q(last_name__icontains=word) | Q(email__icontains=word)
        )
    return rows.annotate(
        live_pieces=Count("pieces", filter=~Q(pieces__stage__in=ENDED), distinct=True),
        ready_pieces=Count("pieces", filter=Q(pieces__stage=Stage.READY), distinct=True),
    ).order_by("first_name", "last_name")


def person_page(code: str) -> QuerySet[Person]:
    """One person with guardian, young people and current courses."""
    current = Enrolment.objects.filter(left_at__isnull=True).select_related("course")
    standing = Consent.objects.filter(taken_back_at__isnull=True).select_related("noted_by")
    return (
        Person.objects.filter(code=code)
        .select_related("guardian")
        .prefetch_related(
            "young_people",
            Prefetch("enrolments", queryset=current, to_attr="courses_now"),
            Prefetch("consents", queryset=standing, to_attr="consents_standing"),
        )
    )


def consents_standing(people: Iterable[Person]) -> set[int]:
    """Primary keys of those for whom a guardian's consent is on file and not taken back."""
    standing = Consent.objects.filter(person__in=people, taken_back_at__isnull=True)
    return set(standing.values_list("person", flat=True))


def in_class_without_consent(now: datetime, day: date) -> list[Person]:
    """Under-18s with a class still to come and no consent on file: it was taken back, or they came by a door
    of before. One query.
    """
    standing = Consent.objects.filter(taken_back_at__isnull=True)
    perhaps = (
        Person.objects.current()
        .filter(Q(guardian__isnull=False) | Q(born_on__isnull=False))
        .filter(enrolments__left_at__isnull=True, enrolments__course__sessions__starts_at__gte=now)
        .exclude(pk__in=standing.values("person"))
        .select_related("guardian")
        .distinct()
        .order_by("first_name", "last_name", "pk")
    )
    return [person for person in perhaps if person.is_young_on(day)]


def consents_wanted(day: date) -> bool:
    """Whether there is anybody under 18 on this day for whom no guardian's consent is on file."""
    standing = Consent.objects.filter(taken_back_at__isnull=True)
    perhaps = (
        Person.objects.current()
        .filter(Q(guardian__isnull=False) | Q(born_on__isnull=False))
        .exclude(pk__in=standing.values("person"))
    )
    return any(person.is_young_on(day) for person in perhaps.only("born_on", "guardian_id"))
