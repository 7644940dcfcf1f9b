"""The course's row, held while places are counted: who gets a place that is free, and who is offered it.

Everything that takes or frees a place holds the course (`hold_course`), then lets those who wait have
what is free (`settle_offers`). So no place is sold twice, and nobody passes the waiting list.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import partial

from django.db import transaction
from django.urls import reverse

from studio.domain.say import date_words, say
from studio.models import ClassRules, Course, Notice, Studio, Waiting
from studio.queries import places as queries

from .notices_classes import queue_place, withdraw


def hold_course(course: Course) -> Course:
    """The course as it is now, held against everybody else until the transaction ends."""
    return Course.objects.select_for_update(no_key=True).get(pk=course.pk)


def settle_offers(course: Course, now: datetime) -> list[Waiting]:
    """Let offers lapse whose time is over and offer what is free to the next in line; returns the new ones.

    The course must be held. An offer ends at the start of the next meeting at the latest.
    """
    over = Waiting.objects.filter(course=course, state=Waiting.State.OFFERED, offer_until__lte=now)
    over.update(state=Waiting.State.LAPSED, ended_at=now)
    line = queries.in_line(course).filter(state=Waiting.State.WAITING)
    free = queries.free_places(course, now) if line.exists() else 0
    meeting = queries.next_meeting(course, now) if free > 0 else None
    if meeting is None:
        return []
    until = min(now + timedelta(hours=ClassRules.the().offer_hours), meeting.starts_at)
    offered = []
    for row in line:
        if len(offered) == free:
            break
        if not row.person.answers_for(now.date()).is_active or not row.person.is_active:
            end_waiting(row, Waiting.State.GONE, now)
            continue
        Waiting.objects.filter(pk=row.pk).update(
            state=Waiting.State.OFFERED, offered_at=now, offer_until=until
        )
        row.refresh_from_db()
        queue_place(
            course=course,
            person=row.person,
            until=until,
            link_path=reverse("place-offer", args=[row.secret]),
            key=row.code,
            by=None,
            what=partial(_facts, course, meeting.starts_at),
            now=now,
        )
        offered.append(row)
    return offered


def end_waiting(row: Waiting, state: Waiting.State, now: datetime) -> bool:
    """Bring one row of the waiting list to its end; False when it had ended before."""
    ended = Waiting.objects.filter(pk=row.pk, state__in=queries.OPEN).update(state=state, ended_at=now)
    if ended:
        withdraw(
            kind=Notice.Kind.PLACE, key=row.code, why=say("The place was answered for before the mail went.")
        )
    return bool(ended)


def settle_all(*, now: datetime) -> int:
    """Let offers lapse whose time is over, in every course; returns how many were made in their stead."""
    due = Waiting.objects.filter(state=Waiting.State.OFFERED, offer_until__lte=now)
    count = 0
    for course in Course.objects.filter(pk__in=due.values("course")).order_by("pk"):
        with transaction.atomic():
            count += len(settle_offers(hold_course(course), now))
    return count


def _facts(course: Course, starts_at: datetime) -> str:
    studio = Studio.the()
    local = starts_at.astimezone(studio.zone)
    said = say(
        "It meets next on {date_format} at {local}.",
        date_format=date_words(local, "l j F"),
        local=format(local, "%H:%M"),
    )
    if course.price_minor:
        said += say(" The price is {money_words}.", money_words=studio.money_words(course.price_minor))
    return said
