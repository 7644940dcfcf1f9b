"""What the intake page proposes, so that a new mug is a few taps: who, what was used last, which class."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from django.db.models import Max, OuterRef, Q, QuerySet, Subquery

from studio.domain.say import listed, midway
from studio.domain.stages import LIVE
from studio.models import ClayBody, Person, Piece, PieceSet, Role, Session

#: A class counts as the one of now from half an hour before it starts to two hours after it ends.
BEFORE, AFTER = timedelta(minutes=30), timedelta(hours=2)
#: Makers on the grid before anybody searches; a phone shows three columns of them.
GRID = 11
#: Pieces are written down within a fortnight of the class they were made in.
SESSIONS_BACK = timedelta(days=14)


def session_of_now(now: datetime, person: Person | None = None) -> Session | None:
    """The class that is on now, the one with the latest start; of this person's when one is given."""
    on = Session.objects.held().filter(starts_at__lte=now + BEFORE, ends_at__gte=now - AFTER)
    if person is not None:
        on = _attended_by(on, person)
    return on.select_related("course").order_by("-starts_at").first()


def recent_sessions(now: datetime, person: Person | None = None) -> QuerySet[Session]:
    """Classes of the last fortnight, latest first."""
    recent = Session.objects.held().filter(starts_at__gte=now - SESSIONS_BACK, starts_at__lte=now + BEFORE)
    if person is not None:
        recent = _attended_by(recent, person)
    return recent.select_related("course").order_by("-starts_at")


def _attended_by(sessions: QuerySet[Session], person: Person) -> QuerySet[Session]:
    return sessions.filter(
        Q(course__enrolments__person=person) | Q(course__enrolments__person__guardian=person),
        course__enrolments__left_at__isnull=True,
    ).distinct()


@dataclass(frozen=True, slots=True)
class MakerChoice:
    """A maker on the grid, with what they used last (None: nothing yet)."""

    person: Person
    in_class: bool
    technique: str | None = None
    clay_id: int | None = None


def makers_offered(
    *, now: datetime, search: str = "", chosen: Person | None = None, among: QuerySet[Person] | None = None
) -> list[MakerChoice]:
    """Those of the class of now first, by name, then whoever made something last; all matches of a search."""
    session = session_of_now(now)
    in_class = set()
    if session is not None:
        in_class = set(
            session.course.enrolments.filter(left_at__isnull=True).values_list("person_id", flat=True)
        )
    latest = Piece.objects.filter(maker=OuterRef("pk")).order_by("-made_at", "-id")
    people = (Person.objects.current() if among is None else among).annotate(
        last_made=Max("pieces__made_at"),
        last_technique=Subquery(latest.values("technique")[:1]),
        last_clay=Subquery(latest.values("clay")[:1]),
    )
    if search.strip():
        for word in search.split()[:4]:
            people = people.filter(Q(first_name__icontains=word) | Q(last_name__icontains=word))
        rows = list(people[: 2 * GRID])
    elif among is not None:
        rows = list(people)
    else:
        rows = list(people.filter(pk__in=in_class))
        room = GRID - len(rows)
        if room > 0:
            lately = people.filter(last_made__isnull=False).exclude(pk__in=in_class)
            rows += lately.order_by("-last_made", "pk")[:room]
        if len(rows) < GRID:
            # Whoever has made nothing yet is new, and new people are the ones who bring a first pot.
            new = people.filter(role=Role.MEMBER).exclude(pk__in=[person.pk for person in rows])
            rows += new[: GRID - len(rows)]
    if chosen is not None and chosen.pk not in {person.pk for person in rows}:
        rows = [*people.filter(pk=chosen.pk), *rows]
    return [
        MakerChoice(person, person.pk in in_class, person.last_technique, person.last_clay) for person in rows
    ]


@dataclass(frozen=True, slots=True)
class Usual:
    """What to preselect: what this maker used last, else what was entered last, else the studio's first."""

    technique: str
    clay: ClayBody | None
    route: str


def usual_for(maker: Person | None) -> Usual:
    pieces = Piece.objects.select_related("clay").filter(clay__retired_at__isnull=True)
    last = pieces.filter(maker=maker).first() if maker else None
    last = last or pieces.order_by("-id").first()
    if last is None:
        return Usual("thrown", ClayBody.objects.filter(retired_at__isnull=True).first(), "bisque-then-glaze")
    return Usual(last.technique, last.clay, last.route)


@dataclass(frozen=True, slots=True)
class SetChoice:
    """A set that is still being made. ``code`` is the code of one piece in it."""

    code: str
    words: str
    piece_set: PieceSet


def open_sets(pieces: QuerySet[Piece], most: int = 30) -> list[SetChoice]:
    """Sets with a live piece among ``pieces``, newest first."""
    choices: dict[int, tuple[PieceSet, list[Piece]]] = {}
    members = (
        pieces.filter(stage__in=LIVE, piece_set__isnull=False)
        .select_related("piece_set", "maker")
        .order_by("-made_at", "-id")[: most * 4]
    )
    for piece in members:
        choices.setdefault(piece.piece_set_id, (piece.piece_set, []))[1].append(piece)
    return [
        SetChoice(
            code=members[0].code,
            words=" · ".join(
                filter(
                    None,
                    [
                        piece_set.name,
                        listed([f"{p.mark} {midway(p.get_form_display())}" for p in members[:3]]),
                    ],
                )
            ),
            piece_set=piece_set,
        )
        for piece_set, members in list(choices.values())[:most]
    ]
