"""The end of a course: what is unfinished or unclaimed and whose, who came, and which places were sold."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Count, Max, Q, QuerySet

from studio.domain.stages import ENDED, Stage
from studio.models import ATTENDED, Attendance, Course, Enrolment, MakeUp, Person, Piece, Session, Waiting

from .class_waiting import add_ranges
from .standers import standers

#: Courses whose last meeting lies so far back or ahead are at their end of term.
NEAR = timedelta(days=35)


@dataclass
class AtTheEnd:
    """One person of a course. ``words`` says what the register said, meeting for meeting, empty where nothing
    was; ``left`` whether they gave their place up before the end; ``guest`` that they never had one.
    """

    person: Person
    words: list[str] = field(default_factory=list)
    unfinished: list[Piece] = field(default_factory=list)
    ready: list[Piece] = field(default_factory=list)
    left: bool = False
    guest: bool = False

    @property
    def attended(self) -> int:
        return sum(word in ATTENDED for word in self.words)

    @property
    def said(self) -> int:
        return sum(bool(word) for word in self.words)


@dataclass
class TermEnd:
    """``meetings`` are those that took place so far, the earliest first."""

    course: Course
    meetings: list[Session]
    last: datetime | None
    people: list[AtTheEnd]
    places: Places

    @property
    def with_pieces(self) -> list[AtTheEnd]:
        return [row for row in self.people if row.unfinished or row.ready]

    @property
    def unfinished(self) -> int:
        return sum(len(row.unfinished) for row in self.people)

    @property
    def unclaimed(self) -> int:
        return sum(len(row.ready) for row in self.people)


@dataclass(frozen=True, slots=True)
class Places:
    """``sold``: enrolled now; ``given_up`` in the course of it; ``waiting`` for one in vain; ``guests``:
    make-up places taken by people of other classes.
    """

    of_all: int
    sold: int
    given_up: int
    waiting: int
    guests: int

    @property
    def free(self) -> int:
        return max(0, self.of_all - self.sold)


def term_end(course: Course, *, now: datetime) -> TermEnd:
    """Everything of one course, by person. Ten queries, however many people and pieces."""
    held = list(Session.objects.held().filter(course=course).order_by("starts_at"))
    meetings = [meeting for meeting in held if meeting.starts_at <= now]
    rows: dict[int, AtTheEnd] = {}
    enrolments = Enrolment.objects.filter(course=course).select_related("person__guardian")
    for enrolment in enrolments:
        rows[enrolment.person_id] = AtTheEnd(enrolment.person, left=enrolment.left_at is not None)
    pieces = list(
        standers()
        .filter(session__course=course, maker__isnull=False, studios_own=False)
        .exclude(stage__in=ENDED)
        .select_related("maker__guardian", "clay", "shelf")
        .order_by("stage_since", "pk")
    )
    add_ranges(pieces, now=now)
    for piece in pieces:
        row = rows.setdefault(piece.maker_id, AtTheEnd(piece.maker, guest=True))
        (row.ready if piece.stage == Stage.READY else row.unfinished).append(piece)
    said: dict[int, dict[int, str]] = defaultdict(dict)
    for attendance in (
        Attendance.objects.filter(session__in=meetings).exclude(word="").select_related("person__guardian")
    ):
        rows.setdefault(attendance.person_id, AtTheEnd(attendance.person, guest=True))
        said[attendance.person_id][attendance.session_id] = attendance.word
    for key, row in rows.items():
        row.words = [said[key].get(meeting.pk, "") for meeting in meetings]
    people = [row for row in rows.values() if not row.left or row.said or row.unfinished or row.ready]
    return TermEnd(
        course=course,
        meetings=meetings,
        last=held[-1].ends_at if held else None,
        people=sorted(
            people, key=lambda row: (row.guest, row.person.first_name, row.person.last_name, row.person.pk)
        ),
        places=places_of([course])[course.pk],
    )


def places_of(courses: Iterable[Course]) -> dict[int, Places]:
    """By the course's primary key. Three queries."""
    courses = list(courses)
    keys = [course.pk for course in courses]
    enrolled: Counter[tuple[int, bool]] = Counter()
    for course, left_at in Enrolment.objects.filter(course__in=keys).values_list("course", "left_at"):
        enrolled[course, left_at is not None] += 1
    waiting = Counter(
        Waiting.objects.filter(course__in=keys, state=Waiting.State.WAITING).values_list("course", flat=True)
    )
    guests = Counter(
        MakeUp.objects.filter(session__course__in=keys, given_up_at__isnull=True).values_list(
            "session__course", flat=True
        )
    )
    return {
        course.pk: Places(
            of_all=course.places,
            sold=enrolled[course.pk, False],
            given_up=enrolled[course.pk, True],
            waiting=waiting[course.pk],
            guests=guests[course.pk],
        )
        for course in courses
    }


@dataclass(frozen=True, slots=True)
class EndingCourse:
    """One line of the term: ``attended`` of the ``said`` words of its registers."""

    course: Course
    last: datetime
    places: Places
    attended: int
    said: int
    unfinished: int
    unclaimed: int

    @property
    def part_attended(self) -> float | None:
        return self.attended / self.said if self.said else None


def ending_courses(*, now: datetime) -> list[EndingCourse]:
    """Courses whose last meeting is near, the first to end first. Six queries, however many."""
    courses = list(_near_their_end(now))
    keys = [course.pk for course in courses]
    words: Counter[tuple[int, bool]] = Counter()
    for course, word, count in (
        Attendance.objects.filter(session__course__in=keys)
        .exclude(word="")
        .order_by()
        .values_list("session__course", "word")
        .annotate(Count("id"))
    ):
        words[course, word in ATTENDED] += count
    pieces: Counter[tuple[int, bool]] = Counter()
    for course, stage, count in (
        Piece.objects.live()
        .filter(session__course__in=keys, studios_own=False)
        .order_by()
        .values_list("session__course", "stage")
        .annotate(Count("id"))
    ):
        pieces[course, stage == Stage.READY] += count
    places = places_of(courses)
    return [
        EndingCourse(
            course=course,
            last=course.last_at,
            places=places[course.pk],
            attended=words[course.pk, True],
            said=words[course.pk, True] + words[course.pk, False],
            unfinished=pieces[course.pk, False],
            unclaimed=pieces[course.pk, True],
        )
        for course in courses
    ]


def _near_their_end(now: datetime) -> QuerySet[Course]:
    last = Max("sessions__ends_at", filter=Q(sessions__cancelled_at__isnull=True))
    return (
        Course.objects.annotate(last_at=last)
        .filter(last_at__gte=now - NEAR, last_at__lte=now + NEAR)
        .select_related("teacher")
        .order_by("last_at", "name")
    )
