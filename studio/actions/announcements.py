"""Announcements to a class, to several, to everybody: written once, sent once."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.db import transaction

from studio.domain.say import later, say
from studio.models import Announcement, Course, Notice, Person
from studio.queries.announcements import people_of
from studio.queries.notices import Kind, State

from .common import clean_client_id, clean_text, moment, must_be_tutor, refuse, refuse_all
from .notices_classes import tell
from .notices_wording import subject_problems

TITLE_LONGEST = 120
WORDS_LONGEST = 4000


def checked(title: str, words: str) -> tuple[str, str]:
    """Subject and words, clean; `Refused` for what can't be a mail, or names a young person on its front."""
    title = clean_text(title, label=later("subject"), longest=TITLE_LONGEST, required=True)
    words = clean_text(words, label=later("announcement"), longest=WORDS_LONGEST, lines=True, required=True)
    refuse_all(subject_problems(title))
    return title, words


@transaction.atomic
def announce(
    *,
    title: str,
    words: str,
    by: Person,
    client_id: str,
    courses: Iterable[Course] = (),
    to_everybody: bool = False,
    now: datetime | None = None,
) -> Announcement:
    """Queue it to everybody in these classes, guardians in the young ones' stead, once each.

    Pressed twice it is sent once. It goes when the time of grace is over; until then each notice can be held.
    """
    must_be_tutor(by)
    done = Announcement.objects.filter(client_id=clean_client_id(client_id)).first()
    if done is not None:
        return done
    title, words = checked(title, words)
    courses = list(courses)
    if not courses and not to_everybody:
        refuse("nobody", say("Choose a class, several, or everybody."))
    now = moment(now)
    people = people_of(courses, to_everybody=to_everybody)
    if not people:
        refuse("nobody", say("Nobody is in these classes, so nobody would get it. Choose another."))
    made = Announcement.objects.create(
        title=title,
        words=words,
        to_everybody=to_everybody,
        made_at=now,
        made_by=by,
        client_id=client_id,
    )
    made.courses.set(courses)
    tell(people, kind=Kind.ANNOUNCEMENT, key=made.code, by=by, now=now, announcement=made)
    return made


def hold(*, announcement: Announcement, by: Person) -> int:
    """Keep back every mail of it that is in nobody's hands yet; returns how many."""
    must_be_tutor(by)
    waiting = Notice.objects.filter(announcement=announcement, state__in=(State.QUEUED, State.WAITING))
    return waiting.update(state=State.HELD, approved_at=None, approved_by=None, next_try_at=None)
