"""Mails about classes: a change, a free place, an announcement. Guardians read for the young."""

from __future__ import annotations

from datetime import datetime

from django.conf import settings
from django.utils import timezone

from studio.domain.refunds import RefundRule
from studio.domain.say import later, listed, say
from studio.domain.wording import Strong
from studio.models import ClassRules, Notice, Person, Studio
from studio.queries import notices as queries
from studio.queries.courses import rule_words
from studio.queries.places import next_meeting

from . import words
from .made import Made, Nothing
from .rows import name_of


def _for(notice: Notice, studio: Studio, now: datetime) -> list[Person]:
    """The people it is about whose mail this reader gets today."""
    day = queries.studio_day(now, studio)
    about = notice.about.filter(left_at__isnull=True).select_related("guardian").order_by("first_name", "id")
    return [person for person in about if person.answers_for(day).pk == notice.recipient_id]


def _for_whom(notice: Notice, people: list[Person]) -> dict[str, object] | None:
    young = [name_of(person) for person in people if person.pk != notice.recipient_id]
    return {"whom": listed(young)} if young else None


_NOBODY = Nothing(later("Nobody it is about is with the studio, or this reader’s, any more."))


def class_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """What changes, or the place that is kept, and for whom."""
    people = _for(notice, studio, now)
    if not people:
        return _NOBODY
    if notice.course is None:
        return Nothing(say("There is no such class any more."))
    offered = notice.kind == Notice.Kind.PLACE
    until = timezone.localtime(notice.expires_at) if notice.expires_at else None
    link = {
        "link": settings.SITE_URL + notice.link_path,
        "link_words": say("Say yes or no") if offered else say("See the class"),
    }
    written = _written(notice.said)
    waits = offered and say("You get this because you asked for a place at")
    return Made(
        why=f"{waits or say('You get this because you have a class at')} {words.one_line(studio.name)}.",
        values={
            "course": words.one_line(notice.course.name),
            "until": Strong(f"{words.long_day(until.date())}, {until:%H:%M}") if until else "",
        },
        blocks={
            "for_whom": _for_whom(notice, people),
            "change": {"written": written} if written else None,
            "link": link if notice.link_path else None,
        },
    )


def enrolled_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """Which place somebody has: when, for how much, and how it is given up; none where it is given up."""
    people = [
        person
        for person in _for(notice, studio, now)
        if person.enrolments.filter(course=notice.course, left_at__isnull=True).exists()
    ]
    if not people or notice.course is None:
        return Nothing(say("The place was given up before the mail went."))
    course, rules = notice.course, ClassRules.the()
    said = [say("It meets {when}.", when=when) if (when := rule_words(course, studio)) else ""]
    if meeting := next_meeting(course, now):
        local = timezone.localtime(meeting.starts_at)
        said.append(
            say(
                "The next meeting is on {long_day} at {local}.",
                long_day=words.long_day(local.date()),
                local=format(local, "%H:%M"),
            )
        )
    if course.price_minor:
        said.append(
            say(
                "The price is {money_words}; you find it in your account.",
                money_words=studio.money_words(course.price_minor),
            )
        )
        rule = RefundRule(rules.full_refund_days, rules.part_refund_days, rules.part_refund_percent)
        said += [say("If you can’t come:"), *rule.sentences()]
    written = _written("\n\n".join(filter(None, said)))
    return Made(
        why=say("You get this because you took a place at {one_line}.", one_line=words.one_line(studio.name)),
        values={"course": words.one_line(course.name)},
        blocks={"for_whom": _for_whom(notice, people), "change": {"written": written} if written else None},
    )


def announcement_mail(notice: Notice, studio: Studio, now: datetime) -> Made | Nothing:
    """What the tutor wrote to a class, to several, or to everybody."""
    people = _for(notice, studio, now)
    if not people:
        return _NOBODY
    announcement = notice.announcement
    if announcement is None:
        return Nothing(say("There is no such announcement any more."))
    return Made(
        why=say("You get this because you are with {one_line}.", one_line=words.one_line(studio.name)),
        values={"title": words.one_line(announcement.title)},
        blocks={
            "for_whom": _for_whom(notice, people),
            "words": {"written": _written(announcement.words)},
        },
    )


def _written(text: str) -> list[list[str]]:
    """Paragraphs of lines; an empty line parts paragraphs."""
    made: list[list[str]] = [[]]
    for line in words.lines(text):
        if line:
            made[-1].append(line)
        elif made[-1]:
            made.append([])
    return [lines for lines in made if lines]
