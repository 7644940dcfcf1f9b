"""The register of one meeting: who belongs in it, what was said of each, and which meetings are on today."""

from __future__ import annotations

from collections import Counter, defaultdict
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from django.db.models import Count, Q, QuerySet
from django.utils import timezone

from studio.domain.class_deadlines import ClassDeadline
from studio.domain.stages import Stage
from studio.models import MISSED, Attendance, AttendanceSaid, MakeUp, Person, Piece, Session, Studio

from .attendance import class_deadlines

#: A register is wanted from so long before the class to so long after it.
OPEN_BEFORE, OPEN_AFTER = timedelta(hours=1), timedelta(hours=3)


def people_of(session: Session) -> QuerySet[Person]:
    """Everybody in this meeting's register, by name: who was enrolled then, who makes up a class in it, and
    anybody of whom something was said.
    """
    enrolled = Q(
        Q(enrolments__left_at__isnull=True) | Q(enrolments__left_at__gt=session.starts_at),
        enrolments__course=session.course_id,
        enrolments__enrolled_at__lte=session.ends_at,
    )
    keys = Person.objects.filter(enrolled).values("pk")
    guests = MakeUp.objects.filter(session=session.pk, given_up_at__isnull=True).values("person")
    spoken_of = Attendance.objects.filter(session=session.pk).exclude(word="").values("person")
    return (
        Person.objects.filter(Q(pk__in=keys) | Q(pk__in=guests) | Q(pk__in=spoken_of))
        .select_related("guardian")
        .order_by("first_name", "last_name", "pk")
    )


def meetings_of_day(now: datetime) -> list[Session]:
    """Today's meetings by the studio's clock, and those of now about midnight: those on now or just over
    first, the rest by when they begin. ``said_of`` says of how many something was said. One query.
    """
    midnight = timezone.localtime(now).replace(hour=0, minute=0, second=0, microsecond=0)
    rows = (
        Session.objects.held()
        .filter(
            starts_at__lt=max(midnight + timedelta(days=1), now + OPEN_BEFORE),
            ends_at__gte=min(midnight, now - OPEN_AFTER),
        )
        .select_related("course__teacher")
        .annotate(said_of=Count("attendance", filter=~Q(attendance__word="")))
        .order_by("starts_at", "pk")
    )
    found = list(rows)
    for row in found:
        row.on_now = is_open(row, now)
    return sorted(found, key=lambda row: not row.on_now)


def is_open(session: Session, now: datetime) -> bool:
    """Whether the class is on, about to begin or just over."""
    return session.starts_at <= now + OPEN_BEFORE and session.ends_at >= now - OPEN_AFTER


@dataclass
class RegisterRow:
    """One person in a register. ``said`` is the history, the oldest first; ``word`` is empty while nothing is
    said. ``makes_up`` is the class a guest missed elsewhere, ``made_up_in`` where this one is made up.
    """

    person: Person
    word: str = ""
    said: list[AttendanceSaid] = field(default_factory=list)
    makes_up: MakeUp | None = None
    made_up_in: MakeUp | None = None
    made_here: int = 0
    ready: list[Piece] = field(default_factory=list)
    to_glaze: list[Piece] = field(default_factory=list)
    deadlines: dict[int, ClassDeadline] = field(default_factory=dict)

    @property
    def missed(self) -> bool:
        return self.word in MISSED

    @property
    def word_before(self) -> AttendanceSaid | None:
        """What an undo brings back, None when that is nothing."""
        return self.said[-2] if len(self.said) > 1 else None

    def soonest(self, pieces: list[Piece]) -> ClassDeadline | None:
        found = [self.deadlines[piece.pk] for piece in pieces if piece.pk in self.deadlines]
        return min(found, key=lambda one: one.left, default=None)

    @property
    def pickup_deadline(self) -> ClassDeadline | None:
        return self.soonest(self.ready)

    @property
    def glaze_deadline(self) -> ClassDeadline | None:
        return self.soonest(self.to_glaze)


def register_of(session: Session, *, studio: Studio, only: Person | None = None) -> list[RegisterRow]:
    """The whole register, by name. Nine queries, however many people; ``only`` for one person's row."""
    people = people_of(session)
    if only is not None:
        people = people.filter(pk=only.pk)
    rows = {person.pk: RegisterRow(person) for person in people}
    for said in Attendance.objects.filter(session=session, person__in=rows):
        rows[said.person_id].word = said.word
    for said in AttendanceSaid.objects.filter(session=session, person__in=rows).select_related("by"):
        rows[said.person_id].said.append(said)
    make_ups = MakeUp.objects.filter(given_up_at__isnull=True, person__in=rows)
    for row in make_ups.filter(session=session).select_related("missed__course"):
        rows[row.person_id].makes_up = row
    for row in make_ups.filter(missed=session).select_related("session__course"):
        rows[row.person_id].made_up_in = row
    for maker, number in (
        Piece.objects.filter(session=session, maker__in=rows)
        .exclude(stage=Stage.WITHDRAWN)
        .order_by()
        .values_list("maker")
        .annotate(Count("id"))
    ):
        rows[maker].made_here = number
    _add_due(rows, studio)
    return list(rows.values())


def _add_due(rows: dict[int, RegisterRow], studio: Studio) -> None:
    pieces = list(
        Piece.objects.filter(maker__in=rows, stage__in=[Stage.READY, Stage.BISQUED]).order_by(
            "stage_since", "pk"
        )
    )
    deadlines = class_deadlines(pieces, studio=studio)
    by_maker: dict[int, list[Piece]] = defaultdict(list)
    for piece in pieces:
        by_maker[piece.maker_id].append(piece)
    for key, own in by_maker.items():
        row = rows[key]
        row.ready = [piece for piece in own if piece.stage == Stage.READY]
        row.to_glaze = [piece for piece in own if piece.stage == Stage.BISQUED and piece.pk in deadlines]
        row.deadlines = {piece.pk: deadlines[piece.pk] for piece in own if piece.pk in deadlines}


@dataclass(frozen=True, slots=True)
class Tally:
    """How many were said to be what; ``unsaid`` of whom nothing is said yet."""

    here: int
    late: int
    away: int
    told_us: int
    unsaid: int

    @property
    def present(self) -> int:
        return self.here + self.late

    @property
    def of_all(self) -> int:
        return self.present + self.away + self.told_us + self.unsaid


def tally(words: list[str]) -> Tally:
    count = Counter(words)
    return Tally(
        here=count[Attendance.Word.HERE],
        late=count[Attendance.Word.LATE],
        away=count[Attendance.Word.AWAY],
        told_us=count[Attendance.Word.TOLD_US],
        unsaid=count[""],
    )


def tally_of(session: Session) -> Tally:
    """Two queries."""
    people = set(people_of(session).values_list("pk", flat=True))
    words = dict(Attendance.objects.filter(session=session).values_list("person_id", "word"))
    return tally([words.get(key, "") for key in people])
