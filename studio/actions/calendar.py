"""The calendar: when a planned firing is meant to be lit, and addresses that calendar programs read."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction
from django.db.models import F

from studio.domain.say import later, say
from studio.models import CalendarFeed, Firing, Person

from .common import clean_choice, clean_text, moment, must_be_staff, refuse
from .loads_hold import hold_planned

#: Nobody uses so many calendar programs; more are a script gone wrong.
MOST_FEEDS = 10
#: A firing is planned within this time from now; further off it is a slip of the finger.
FURTHEST = timedelta(days=730)
_READ_NOTED_EVERY = timedelta(hours=1)


@transaction.atomic
def set_planned_for(
    *, firing: Firing, planned_for: datetime | None, by: Person, now: datetime | None = None
) -> Firing:
    """Give a planned firing another date, or none. Refused once it is lit or cancelled."""
    must_be_staff(by)
    now = moment(now)
    firing = hold_planned(firing)
    if planned_for is not None:
        planned_for = moment(planned_for)
        if not now - timedelta(days=1) <= planned_for <= now + FURTHEST:
            refuse("date", say("A firing is planned from today on, within two years. Choose another date."))
    if planned_for != firing.planned_for:
        Firing.objects.filter(pk=firing.pk).update(planned_for=planned_for, revision=F("revision") + 1)
        firing.planned_for = planned_for
    return firing


@transaction.atomic
def make_feed(
    *, name: str, by: Person, of: str = CalendarFeed.Of.STUDIO, now: datetime | None = None
) -> CalendarFeed:
    """A new address for a calendar program of this person's; members read of their own classes alone."""
    if of != CalendarFeed.Of.OWN:
        must_be_staff(by)
    elif not by.is_active:
        refuse("left", say("You have left the studio, so there is nothing to read."))
    of = clean_choice(of, CalendarFeed.Of.values, label=later("calendar"))
    name = clean_text(name, label=later("name"), longest=60, required=True)
    held = Person.objects.select_for_update(no_key=True).get(pk=by.pk)
    if held.calendar_feeds.filter(ended_at=None).count() >= MOST_FEEDS:
        refuse(
            "too-many",
            say("You have {most_feeds} addresses. End one that is not read any more.", most_feeds=MOST_FEEDS),
        )
    return CalendarFeed.objects.create(person=held, name=name, of=of, made_at=moment(now))


@transaction.atomic
def end_feed(*, feed: CalendarFeed, by: Person, now: datetime | None = None) -> CalendarFeed:
    """The address answers no more. Ended before, nothing changes."""
    if feed.person_id != by.pk and not by.is_tutor:
        refuse("not-yours", say("That address is somebody else's. The tutor can end it."))
    CalendarFeed.objects.filter(pk=feed.pk, ended_at=None).update(ended_at=moment(now))
    feed.refresh_from_db()
    return feed


def note_read(*, feed: CalendarFeed, now: datetime | None = None) -> None:
    """Remember, to the hour, that it was read, so that its owner sees which are in use."""
    now = moment(now)
    if feed.read_at is None or feed.read_at < now - _READ_NOTED_EVERY:
        CalendarFeed.objects.filter(pk=feed.pk).update(read_at=now)
