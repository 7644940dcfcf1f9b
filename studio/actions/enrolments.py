"""Places in courses: taken, given up, exchanged; each with its fee, once.

The fee is a charge on the account of whoever answers for the person. Given up, it is taken back by the
studio's own rule; the tutor may give back otherwise, with a reason.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction

from studio.domain.calendar_days import age_on
from studio.domain.problems import Problem
from studio.domain.refunds import RefundRule
from studio.domain.say import later, say
from studio.models import ClassRules, Course, Enrolment, Person, Waiting
from studio.queries import places as queries

from . import consents
from .common import clean_text, local_day, moment, must_be_tutor, refuse, refuse_all
from .course_fees import charge_fee, give_back
from .people import guardian_problems
from .places import end_waiting, hold_course, settle_offers

WORDS_LONGEST = 200


@transaction.atomic
def enrol(
    *,
    course: Course,
    person: Person,
    by: Person,
    override_reason: str = "",
    with_fee: bool = True,
    consent_signed_on: date | None = None,
    now: datetime | None = None,
) -> Enrolment:
    """Enrol somebody; twice is once. Under 18 a guardian with an address must be on file, and their consent.

    ``consent_signed_on`` is the day on the paper that the guardian signed, where no consent is on file yet.
    The tutor may let somebody in who is too young or too old, with a reason, and without the fee.
    """
    must_be_tutor(by)
    now = moment(now)
    words = clean_text(override_reason, label=later("reason"), longest=WORDS_LONGEST)
    return take_place(
        course=hold_course(course),
        person=person,
        way=Enrolment.Way.TUTOR,
        by=by,
        override_words=words,
        with_fee=with_fee,
        consent_signed_on=consent_signed_on,
        now=now,
    )


def take_place(
    *,
    course: Course,
    person: Person,
    way: str,
    by: Person | None,
    now: datetime,
    born_on: date | None = None,
    override_words: str = "",
    with_fee: bool = True,
    consent_signed_on: date | None = None,
) -> Enrolment:
    """Give a place to somebody, with the fee. The course must be held; who may ask, the caller has looked at.

    ``born_on`` is what somebody said of themself where no date of birth is on file.
    """
    row = Enrolment.objects.filter(course=course, person=person).first()
    if row is not None and row.left_at is None:
        return row
    if not person.is_active:
        refuse(
            "person-left",
            say("{full_name} has left the studio. Take them back first.", full_name=person.full_name),
        )
    refuse_all(guardian_problems(person, now))
    wrong = age_problems(course, person, born_on=born_on, now=now)
    if not override_words:
        refuse_all(wrong)
    settle_offers(course, now)
    waiting = Waiting.objects.filter(course=course, person=person, state__in=queries.OPEN).first()
    own_offer = waiting is not None and waiting.state == Waiting.State.OFFERED
    if queries.free_places(course, now) + own_offer <= 0:
        refuse(
            "course-full",
            say(
                "{name} is full: {places} places. Raise the places first.",
                name=course.name,
                places=course.places,
            ),
        )
    consents.must_be_on_file(person=person, signed_on=consent_signed_on, course=course, by=by, now=now)
    if row is None:
        row = Enrolment(course=course, person=person)
    else:
        row.round += 1
    row.enrolled_at, row.left_at, row.left_words, row.moved_to = now, None, "", None
    row.way, row.override_words, row.charge = way, override_words if wrong else "", None
    row.save()
    if course.price_minor and with_fee:
        row.charge = charge_fee(row, by=by, now=now)
        row.save(update_fields=["charge"])
    if waiting is not None:
        end_waiting(waiting, Waiting.State.TAKEN, now)
    return row


def age_problems(
    course: Course, person: Person, *, born_on: date | None = None, now: datetime
) -> list[Problem]:
    """Why somebody is too young or too old for a course on the day it next meets; the tutor may overrule."""
    if course.age_least is None and course.age_most is None:
        return []
    meeting = queries.next_meeting(course, now)
    day = local_day(meeting.starts_at if meeting else now)
    born_on = person.born_on or born_on
    age = age_on(born_on, day) if born_on else None
    return age_range_problems(course, age=age, young=person.is_young_on(day), name=person.first_name)


def age_range_problems(course: Course, *, age: int | None, young: bool, name: str) -> list[Problem]:
    """``age`` None: not known, but whether under 18."""
    least, most = course.age_least or 0, 200 if course.age_most is None else course.age_most
    if age is None:
        # All that is known is on which side of 18 somebody stands.
        if (not young and least <= 18 and most >= 120) or (young and least == 0 and most >= 17):
            return []
        if not young and most < 18:
            return [
                Problem(
                    "too-old",
                    say("{name} is for {age_words}.", name=course.name, age_words=age_words(course)),
                    overridable=True,
                )
            ]
        return [
            Problem(
                "age-not-known",
                say(
                    "{name} is for {age_words}. Enter the date of birth of {name_2} first.",
                    name=course.name,
                    age_words=age_words(course),
                    name_2=name,
                ),
                overridable=True,
            )
        ]
    if age < least:
        return [
            Problem(
                "too-young",
                say(
                    "{name} is for {age_words}: {name_2} will be {age}.",
                    name=course.name,
                    age_words=age_words(course),
                    name_2=name,
                    age=age,
                ),
                True,
            )
        ]
    if age > most:
        return [
            Problem(
                "too-old",
                say(
                    "{name} is for {age_words}: {name_2} will be {age}.",
                    name=course.name,
                    age_words=age_words(course),
                    name_2=name,
                    age=age,
                ),
                True,
            )
        ]
    return []


def age_words(course: Course) -> str:
    """``ages 11 to 16``, ``16 and over``, ``up to 12``, ``all ages``."""
    if course.age_least is None and course.age_most is None:
        return say("all ages")
    if course.age_most is None:
        return say("{age_least} and over", age_least=course.age_least)
    if course.age_least is None:
        return say("up to age {age_most}", age_most=course.age_most)
    return say("ages {age_least} to {age_most}", age_least=course.age_least, age_most=course.age_most)


@dataclass(frozen=True, slots=True)
class GivenBack:
    """What the studio's rule gives back on a day: the fee as it stands, and how much of it."""

    fee_minor: int
    back_minor: int
    percent: int
    days_before: int


def refund_rule(rules: ClassRules | None = None) -> RefundRule:
    rules = rules or ClassRules.the()
    return RefundRule(rules.full_refund_days, rules.part_refund_days, rules.part_refund_percent)


def by_the_rule(enrolment: Enrolment, now: datetime) -> GivenBack:
    """What giving this place up now gives back."""
    meeting = queries.first_meeting(enrolment.course)
    starts_on = local_day(meeting.starts_at) if meeting else enrolment.course.starts_on
    days = (starts_on - local_day(now)).days
    fee = enrolment.charge.amount_minor if enrolment.charge else 0
    rule = refund_rule()
    return GivenBack(fee, rule.amount(fee, days), rule.percent(days), days)


@transaction.atomic
def leave(
    *,
    enrolment: Enrolment,
    by: Person,
    back_minor: int | None = None,
    reason: str = "",
    now: datetime | None = None,
) -> Enrolment:
    """Note that somebody has left a course; their pieces stay. Twice is once.

    What of the fee is given back is the rule's to say, unless the tutor names another sum and why.
    """
    must_be_tutor(by)
    now = moment(now)
    reason = clean_text(reason, label=later("reason"), longest=WORDS_LONGEST)
    course = hold_course(enrolment.course)
    row = Enrolment.objects.select_related("charge", "course", "person").get(pk=enrolment.pk)
    if row.left_at is not None:
        return row
    rule = by_the_rule(row, now)
    back = rule.back_minor if back_minor is None else back_minor
    if back != rule.back_minor and not reason:
        refuse("reason-missing", say("The rule says otherwise. Write down why you give back this much."))
    if not 0 <= back <= rule.fee_minor:
        refuse("back-too-much", say("At most the fee itself can be given back, and never less than nothing."))
    give_back(row, back_minor=back, by=by, words=reason, now=now)
    row.left_at, row.left_words = now, reason
    row.save(update_fields=["left_at", "left_words"])
    settle_offers(course, now)
    return row


@transaction.atomic
def transfer(
    *,
    enrolment: Enrolment,
    to: Course,
    by: Person,
    override_reason: str = "",
    consent_signed_on: date | None = None,
    now: datetime | None = None,
) -> Enrolment:
    """Exchange a place for one in another course that has one free.

    The old fee is taken back whole and the new one charged, so the account carries the difference. Pieces
    stay with the meeting they were made in.
    """
    must_be_tutor(by)
    now = moment(now)
    words = clean_text(override_reason, label=later("reason"), longest=WORDS_LONGEST)
    # Always in one order, so that two exchanges do not wait for each other.
    held = {pk: hold_course(Course(pk=pk)) for pk in sorted({enrolment.course_id, to.pk})}
    row = Enrolment.objects.select_related("charge", "course", "person").get(pk=enrolment.pk)
    if row.moved_to_id is not None and row.moved_to.course_id == to.pk:
        return row.moved_to
    if row.left_at is not None:
        refuse(
            "left-already",
            say("{full_name} has left {name} already.", full_name=row.person.full_name, name=row.course.name),
        )
    if to.pk == row.course_id:
        refuse("same-course", say("That is the course they are in. Choose another one."))
    if queries.enrolled(to).filter(person=row.person).exists():
        refuse(
            "enrolled-already",
            say("{full_name} has a place in {name} already.", full_name=row.person.full_name, name=to.name),
        )
    new = take_place(
        course=held[to.pk],
        person=row.person,
        way=Enrolment.Way.TRANSFER,
        by=by,
        override_words=words,
        consent_signed_on=consent_signed_on,
        now=now,
    )
    if row.charge is not None:
        give_back(row, back_minor=row.charge.amount_minor, by=by, words="", now=now)
    row.left_at, row.left_words, row.moved_to = now, say("Moved to {name}", name=to.name), new
    row.save(update_fields=["left_at", "left_words", "moved_to"])
    settle_offers(held[row.course_id], now)
    return new
