"""Notices about classes: a change, and a place kept for somebody who waited; guardians once for all.

Called by whatever changes a class, in its own transaction. ``key`` names the change (a session's code and its
new time, an offer's code): the same key is never queued twice to one reader, however often it is called.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from datetime import datetime, timedelta

from django.db import transaction
from django.utils import translation

from studio.domain.languages import spoken
from studio.domain.say import later, say
from studio.models import Announcement, Course, Notice, Person, Studio
from studio.queries import notices as queries
from studio.queries.notices import Kind, State

from .common import clean_text, moment

SAID_LONGEST = 2000

#: Words as they are, or how to say them: asked for each reader, in the reader's language.
Words = str | Callable[[], str]
#: What can still be taken back.
_NOT_GONE = (State.WAITING, State.HELD, State.QUEUED, State.NO_ADDRESS, State.REFUSED)


@transaction.atomic
def queue_class_change(
    *,
    course: Course,
    people: Iterable[Person],
    change: Words,
    key: str,
    by: Person,
    until: datetime | None = None,
    link_path: str = "",
    now: datetime | None = None,
) -> list[Notice]:
    """Tell the people of a class what changes; returns the notices, one to each reader.

    ``change`` is whole sentences, an empty line parts paragraphs; see `Words`. ``until`` is the moment after
    which it is no news (the start of the class): it is not sent later, and quiet hours that would keep it
    back past that do not. It goes by itself when the time of grace is over; until then the tutor can hold it.
    """

    def said() -> str:
        words = change if isinstance(change, str) else change()
        return clean_text(words, label=later("change"), longest=SAID_LONGEST, lines=True, required=True)

    return tell(
        people,
        kind=Kind.CLASS_CHANGE,
        key=key,
        by=by,
        now=moment(now),
        course=course,
        said=said() if isinstance(change, str) else said,
        expires_at=until,
        link_path=link_path,
    )


@transaction.atomic
def queue_turn(
    *,
    course: Course,
    people: Iterable[Person],
    change: Words,
    key: str,
    before: str,
    after: str,
    by: Person,
    until: datetime | None = None,
    now: datetime | None = None,
) -> list[Notice]:
    """Tell the people of a class that something is now ``after`` and no longer ``before``: a room, or whether
    a meeting is on.

    Both are short words of our own without a colon. What was queued under ``key`` and has not gone is
    withdrawn, so that nobody reads both; who thereby knows of ``after`` already gets nothing.
    """
    now = moment(now)
    unsent = Notice.objects.filter(key__startswith=f"{Kind.CLASS_CHANGE}:{key}:", state__in=_NOT_GONE)
    known: dict[int, str] = {}
    for notice in unsent.select_for_update(no_key=True).order_by("pk"):
        known.setdefault(notice.recipient_id, notice.key.split(f":{key}:", 1)[1].split(":")[0])
    withdraw(kind=Kind.CLASS_CHANGE, key=key, why=say("It has changed again since."))
    day = queries.studio_day(now, Studio.the())
    knowing: dict[str, list[Person]] = {}
    for person in people:
        knows = known.get(person.answers_for(day).pk, before)
        if knows != after:
            knowing.setdefault(knows, []).append(person)
    made = []
    for knows in sorted(knowing):
        made += queue_class_change(
            course=course,
            people=knowing[knows],
            change=change,
            key=f"{key}:{knows}:{after}:{now:%Y%m%d%H%M%S%f}",
            by=by,
            until=until,
            now=now,
        )
    return made


@transaction.atomic
def queue_place(
    *,
    course: Course,
    person: Person,
    until: datetime,
    link_path: str,
    key: str,
    by: Person | None,
    what: Words = "",
    now: datetime | None = None,
) -> list[Notice]:
    """Say that a place is kept for this person until a moment; ``link_path`` is where to say yes or no.

    ``what`` is what else there is to know: days, price. Take it back with `withdraw` when the place is taken,
    declined or given on.
    """

    def said() -> str:
        words = what if isinstance(what, str) else what()
        return clean_text(words, label=later("words about the place"), longest=SAID_LONGEST, lines=True)

    return tell(
        [person],
        kind=Kind.PLACE,
        key=key,
        by=by,
        now=moment(now),
        course=course,
        said=said() if isinstance(what, str) else said,
        expires_at=until,
        link_path=link_path,
    )


@transaction.atomic
def queue_enrolled(*, course: Course, person: Person, key: str, now: datetime | None = None) -> list[Notice]:
    """Say that somebody has a place in a course, as the studio has it in its books."""
    return tell([person], kind=Kind.ENROLLED, key=key, by=None, now=moment(now), course=course)


@transaction.atomic
def withdraw(*, kind: str, key: str, why: str, person: Person | None = None) -> int:
    """Send nothing more about this change or place, or not for this person; returns how many notices went out
    of the queue. What has gone, has gone.
    """
    about = Notice.objects.filter(key__startswith=f"{kind}:{key}:", state__in=_NOT_GONE)
    dropped = 0
    for notice in about.select_for_update(no_key=True).order_by("pk"):
        if person is not None:
            notice.about.remove(person)
            if notice.about.exists():
                continue
        dropped += Notice.objects.filter(pk=notice.pk, state__in=_NOT_GONE).update(
            state=State.DROPPED, dropped_why=why[:200], next_try_at=None
        )
    return dropped


def tell(
    people: Iterable[Person],
    *,
    kind: Kind,
    key: str,
    by: Person | None,
    now: datetime,
    course: Course | None = None,
    announcement: Announcement | None = None,
    said: Words = "",
    link_path: str = "",
    expires_at: datetime | None = None,
) -> list[Notice]:
    """One notice to everybody who answers for one of these people, about all of theirs."""
    studio = Studio.the()
    day = queries.studio_day(now, studio)
    by_reader: dict[int, tuple[Person, list[Person]]] = {}
    for person in people:
        if person.left_at is None:
            reader = person.answers_for(day)
            by_reader.setdefault(reader.pk, (reader, []))[1].append(person)
    made = []
    for reader_key in sorted(by_reader):
        reader, theirs = by_reader[reader_key]
        reachable = bool(queries.address_of(reader, day))
        with translation.override(spoken(reader.language, studio.language)):
            words = said if isinstance(said, str) else said()
        notice, is_new = Notice.objects.get_or_create(
            key=f"{kind}:{key}:{reader.pk}"[:120],
            defaults={
                "kind": kind,
                "recipient": reader,
                "state": State.QUEUED if reachable else State.NO_ADDRESS,
                "course": course,
                "announcement": announcement,
                "said": words,
                "link_path": link_path,
                "expires_at": expires_at,
                "made_at": now,
                "not_before": now + timedelta(minutes=studio.notice_grace_minutes),
                "approved_at": now if reachable else None,
                "approved_by": by if reachable else None,
            },
        )
        if is_new:
            notice.about.set(theirs)
        made.append(notice)
    return made
