"""Who is waiting for a firing, and why some may not go in."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from django.db.models import Prefetch, Q, QuerySet

from studio.domain.lengths import length_words
from studio.domain.load_rules import GlazeFacts, LoadFacts, rule_problems, why_a_stand
from studio.domain.loading import Item, Load, Weights, spot
from studio.domain.problems import Problem
from studio.domain.say import say
from studio.domain.stages import GREENWARE, FiringKind, Route, Stage, firing_wanted
from studio.models import Firing, Glaze, GlazeOnPiece, Kiln, Piece, Studio

from .loads import Plan, empty_plan, item_for
from .loads_sizes import Size, fired_before, size_going_in
from .notices import studio_day
from .piece_facts import facts_for

_GREEN = [stage.value for stage in GREENWARE]

#: From so long before its last day a course's pieces go up the queue; the same days as `Weights.soon_days`.
COURSE_SOON = timedelta(days=Weights().soon_days)

#: Glazes of a piece with one more query for all of them.
GLAZES = Prefetch("glazes_on", queryset=GlazeOnPiece.objects.select_related("glaze"))


@dataclass(frozen=True, slots=True)
class Waiting:
    """A piece that wants this kind of firing. ``problems`` say why it may not go in; empty when it may.

    ``stand_why`` says why it must stand on a stand, which is no problem until it is put in without one.
    ``fits_layers`` are the numbers of the layers that are high enough, when a load is given.
    ``course_ends_on`` is the last day of the course it was made in, when that is near or past.
    """

    piece: Piece
    size: Size
    problems: tuple[Problem, ...]
    stand_why: str
    waited_days: int
    fits_layers: tuple[int, ...] = ()
    course_ends_on: date | None = None

    @property
    def may_go_in(self) -> bool:
        return not self.problems

    @property
    def only_with_a_reason(self) -> bool:
        """Whether the tutor may overrule everything that speaks against it."""
        return bool(self.problems) and all(problem.overridable for problem in self.problems)

    @property
    def due_on(self) -> date | None:
        return self.piece.due_on

    @property
    def wanted_by(self) -> date | None:
        """The day that moves it up the queue: its own, or the end of its course, whichever comes first."""
        return min((day for day in (self.due_on, self.course_ends_on) if day), default=None)


def waiting_for(
    *,
    kiln: Kiln,
    kind: FiringKind,
    cone: str,
    now: datetime,
    plan: Plan | None = None,
    studio: Studio | None = None,
) -> list[Waiting]:
    """Pieces that wait for this kind of firing and stand in no load: those that may go in first, of these by
    due day or the near end of their course, then the longest first.

    Sizes are looked at against the kiln, and against the layers of ``plan`` when one is given. Query count
    does not depend on how many there are.
    """
    studio = studio or Studio.the()
    kind = FiringKind(kind)
    pieces = list(
        candidates(kind)
        .select_related("maker", "clay", "shelf", "piece_set", "session__course")
        .prefetch_related(GLAZES)
        .order_by("stage_since", "pk")
    )
    facts = facts_for(pieces)
    fired = fired_before(pieces)
    bare = empty_plan(kiln, kind, studio)
    largest = _LargestRoom(bare)
    day = studio_day(now, studio)
    rows = []
    for piece in pieces:
        if firing_wanted(facts[piece.pk]) != kind:
            continue
        rules = load_facts(piece, facts[piece.pk])
        size = size_going_in(piece, fired_before=piece.pk in fired)
        item = item_for(piece.mark, size)
        # Without its stand, for the stand is not chosen yet: 1 mm stands for "it will have one".
        found = [*rule_problems(rules, kind=kind, cone=cone, stand_mm=1), *largest.problems(item)]
        rows.append(
            Waiting(
                piece=piece,
                size=size,
                problems=tuple(found),
                stand_why=why_a_stand(rules, kind=kind),
                waited_days=max(0, (now - piece.stage_since).days),
                fits_layers=tuple(
                    row.number for row in plan.layers if plan.room_mm(row.number) >= size.height_mm
                )
                if plan
                else (),
                course_ends_on=_end_that_is_near(piece, day),
            )
        )
    return sorted(
        rows,
        key=lambda row: (
            not row.may_go_in,
            row.wanted_by is None,
            row.wanted_by or date.max,
            row.piece.stage_since,
        ),
    )


def waiting_for_firing(
    firing: Firing, *, now: datetime, plan: Plan | None = None, studio: Studio | None = None
) -> list[Waiting]:
    return waiting_for(
        kiln=firing.kiln,
        kind=FiringKind(firing.kind),
        cone=firing.cone,
        now=now,
        plan=plan,
        studio=studio,
    )


def items_for_planning(
    rows: Iterable[Waiting], *, firing: Firing, now: datetime, studio: Studio | None = None
) -> list[Item]:
    """The waiting pieces that may go in, as items with what makes a place in this load worth to them.

    With `plan_of` this is all that planning by machine needs to know.
    """
    day = studio_day(now, studio or Studio.the())
    return [
        replace(
            item_for(row.piece.mark, row.size),
            cone=firing.cone,
            waited_days=row.waited_days,
            due_in_days=(row.due_on - day).days if row.due_on else None,
            course_ends_in_days=_days_to_end_of_course(row.piece, day),
        )
        for row in rows
        if row.may_go_in
    ]


def waiting_counts() -> dict[FiringKind, int]:
    """How many pieces wait for each kind of firing and could go in by their stage: three queries."""
    return {
        FiringKind.BISQUE: candidates(FiringKind.BISQUE).filter(stage=Stage.BONE_DRY).count(),
        FiringKind.GLAZE: candidates(FiringKind.GLAZE).filter(stage=Stage.GLAZED).count(),
        FiringKind.LOW: len(_low_wanted()),
    }


def candidates(kind: FiringKind) -> QuerySet[Piece]:
    """Pieces in no load that may want this kind of firing, by columns alone."""
    free = Piece.objects.live().filter(held_by__isnull=True)
    if kind == FiringKind.BISQUE:
        return free.filter(stage__in=_GREEN).exclude(route=Route.SINGLE_FIRED)
    if kind == FiringKind.LOW:
        return free.filter(stage__in=[Stage.FIRED, Stage.READY], low_firings_wanted__gt=0)
    after_bisque = Q(stage__in=[Stage.BISQUED, Stage.GLAZED]) & ~Q(route=Route.BISQUE_ONLY)
    return free.filter(after_bisque | Q(stage__in=_GREEN, route=Route.SINGLE_FIRED))


def load_facts(piece: Piece, facts: object, coats: Iterable[GlazeOnPiece] | None = None) -> LoadFacts:
    """What the rules of loading need to know; the piece has its clay and glazes at hand.

    ``coats`` are those of a piece whose glazes are not saved yet.
    """
    glazes = [
        GlazeFacts(
            name=on.glaze.name,
            cone_from=on.glaze.cone_from,
            cone_to=on.glaze.cone_to,
            runs=on.glaze.movement == Glaze.Movement.RUNS,
            on_foot=on.surface == GlazeOnPiece.Surface.FOOT,
        )
        for on in (piece.glazes_on.all() if coats is None else coats)
        if on.glaze is not None
    ]
    return LoadFacts(
        piece=facts,
        clay=piece.clay.name,
        clay_cone=piece.clay.cone,
        cone_wanted=piece.cone_wanted,
        bare_foot=piece.bare_foot,
        glazes=tuple(glazes),
    )


def size_problems(item: Item, load: Load) -> list[Problem]:
    """Whether a piece fits into this kiln at all, with one bare kiln shelf in it."""
    return _LargestRoom(load).problems(item)


class _LargestRoom:
    """Looks at sizes against a bare kiln; a footprint seen before is not tried again."""

    def __init__(self, load: Load) -> None:
        self.load = load
        self.layer = load.layers[0]
        self.room_mm = int(load.room_mm(self.layer))
        self.seen: dict[object, bool] = {}

    def problems(self, item: Item) -> list[Problem]:
        found = []
        if item.footprint not in self.seen:
            flat = replace(item, height_mm=1)
            self.seen[item.footprint] = (
                spot(load=self.load, items={}, item=flat, layer=self.layer) is not None
            )
        if not self.seen[item.footprint]:
            found.append(
                Problem(
                    "too-large",
                    say(
                        "{key} is too wide for this kiln's shelf with the room kept round it. Fire it in a "
                        "larger kiln.",
                        key=item.key,
                    ),
                    about=item.key,
                )
            )
        if item.height_mm > self.room_mm:
            found.append(
                Problem(
                    "too-tall",
                    say(
                        "{key} is {length_words} tall. This kiln has room for {length_words_2} on its bottom "
                        "shelf. Fire it in a taller kiln.",
                        key=item.key,
                        length_words=length_words(item.height_mm),
                        length_words_2=length_words(self.room_mm),
                    ),
                    about=item.key,
                )
            )
        return found


def _days_to_end_of_course(piece: Piece, day: date) -> int | None:
    ends_on = piece.session.course.ends_on if piece.session else None
    return (ends_on - day).days if ends_on else None


def _end_that_is_near(piece: Piece, day: date) -> date | None:
    """A course that is over counts too: its people wait all the more."""
    days = _days_to_end_of_course(piece, day)
    return day + timedelta(days=days) if days is not None and days <= COURSE_SOON.days else None


def _low_wanted() -> Iterable[Piece]:
    pieces = list(candidates(FiringKind.LOW))
    facts = facts_for(pieces)
    return [piece for piece in pieces if firing_wanted(facts[piece.pk]) == FiringKind.LOW]
