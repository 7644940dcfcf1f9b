"""Taking back what a table brought, while nothing stands on it yet: all of it or nothing."""

from __future__ import annotations

from datetime import datetime

from django.db import transaction

from studio.domain.say import say
from studio.models import BroughtFile, Consent, Course, Enrolment, Event, Person, Piece

from .common import moment, must_be_tutor, refuse
from .undo import last_undoable, undo

#: Names of people or pieces said in a refusal; the rest is counted.
_NAMED = 6


@transaction.atomic
def take_back_file(*, file: BroughtFile, by: Person, now: datetime | None = None) -> BroughtFile:
    """Take back everything that a file brought. Taken back already counts as done.

    Pieces are withdrawn by a second event, so their history stays. People, classes and enrolments go, with
    the consents noted for them, as if
    they had never come. What was filled in on people who were here stays. Refused when something has been
    done since with any of them.
    """
    must_be_tutor(by)
    now = moment(now)
    row = BroughtFile.objects.select_for_update(no_key=True).get(pk=file.pk)
    if row.taken_back_at is not None:
        return row
    if row.entered_at is None:
        refuse("file-not-entered", say("This file was never entered. There is nothing to take back."))
    _withdraw_pieces(row.made.get("pieces", []), by, now)
    Enrolment.objects.filter(pk__in=row.made.get("enrolments", [])).delete()
    Consent.objects.filter(pk__in=row.made.get("consents", [])).delete()
    _drop_courses(row.made.get("courses", []))
    _drop_people(row.made.get("people", []))
    row.taken_back_at = now
    row.save(update_fields=["taken_back_at"])
    return row


def _withdraw_pieces(keys: list[int], by: Person, now: datetime) -> None:
    moved = []
    for piece in Piece.objects.filter(pk__in=keys).order_by("pk"):
        event = last_undoable(piece)
        if event is None:
            continue  # withdrawn one by one before
        if event.kind != Event.Kind.MADE:
            moved.append(piece.mark)
            continue
        undo(event=event, by=by, client_id=f"back:{event.code}", now=now)
    if moved:
        refuse(
            "moved-since",
            say("Something was done since with {some}. Undo that first, piece by piece.", some=_some(moved)),
        )


def _drop_courses(keys: list[int]) -> None:
    courses = Course.objects.filter(pk__in=keys)
    used = courses.filter(enrolments__isnull=False) | courses.filter(sessions__pieces__isnull=False)
    if names := sorted(set(used.values_list("name", flat=True))):
        refuse(
            "class-in-use",
            say("People or pieces belong to {some} by now. Take those out first.", some=_some(names)),
        )
    courses.delete()


def _drop_people(keys: list[int]) -> None:
    """Delete people to whom nothing refers but each other."""
    used: set[int] = set()
    for relation in Person._meta.related_objects:
        rows = relation.related_model._base_manager.filter(**{f"{relation.field.name}__in": keys})
        if relation.related_model is Person:
            rows = rows.exclude(pk__in=keys)
        used.update(rows.values_list(relation.field.name, flat=True))
    if used:
        names = [person.full_name for person in Person.objects.filter(pk__in=used)]
        refuse(
            "person-in-use",
            say(
                "The studio knows more by now of {some}. Change people one by one on their own pages.",
                some=_some(names),
            ),
        )
    Person.objects.filter(pk__in=keys, guardian__isnull=False).delete()
    Person.objects.filter(pk__in=keys).delete()


def _some(names: list[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (say(" and {more} more", more=more) if more > 0 else "")
