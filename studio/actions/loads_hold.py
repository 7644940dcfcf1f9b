"""What the actions on a firing stand on: holding it, moving it on, and rules that the tutor overrules."""

from __future__ import annotations

from datetime import datetime

from django.db.models import F

from studio.domain.problems import Problem, Refused
from studio.domain.say import later, midway, say
from studio.domain.stages import FIRING_WORDS, FiringKind
from studio.models import Firing, Override, Person

from .common import clean_text, refuse


def name_of(firing: Firing) -> str:
    """``Glaze firing 42``."""
    return f"{FIRING_WORDS[FiringKind(firing.kind)]} {firing.number}"


def hold_firing(firing: Firing) -> Firing:
    """The firing as it is now, held for this transaction; held before its pieces, always in this order."""
    held = Firing.objects.select_for_update(no_key=True, of=("self",)).select_related("kiln")
    return held.get(pk=firing.pk)


def hold_planned(firing: Firing) -> Firing:
    """`hold_firing` for one that is still being loaded."""
    firing = hold_firing(firing)
    if firing.state != Firing.State.PLANNED:
        refuse(
            "not-planned",
            say(
                "{name_of} is {state}; its load can't be changed any more.",
                name_of=name_of(firing),
                state=midway(firing.get_state_display()),
            ),
        )
    return firing


def move_on(firing: Firing, from_state: str, to_state: str, **values: object) -> None:
    """Change a firing's state, only if it is still as expected, and the row in hand with it."""
    rows = Firing.objects.filter(pk=firing.pk, state=from_state)
    changed = rows.update(state=to_state, revision=F("revision") + 1, **values)
    if changed != 1:
        refuse(
            "changed-meanwhile",
            say("{name_of} was changed just now. Load the page again.", name_of=name_of(firing)),
        )
    firing.state = to_state
    for name, value in values.items():
        setattr(firing, name, value)


def overrule(
    *,
    firing: Firing,
    problems: list[Problem],
    pieces: dict[str, object],
    reason: str,
    by: Person,
    now: datetime,
    once: bool = False,
) -> None:
    """Raise `Refused` unless the tutor gives a reason and every problem may be overruled; then keep both.

    Problems that were overruled for this firing before are let pass, unless a reason holds ``once`` alone.
    ``pieces`` gives the piece for a mark.
    """
    known = {
        (override.problem_code, override.piece.mark if override.piece else "")
        for override in Override.objects.filter(firing=firing).select_related("piece")
    }
    fresh = [
        problem
        for problem in problems
        if once or (problem.code, problem.about) not in known or not problem.overridable
    ]
    if not fresh:
        return
    reason = clean_text(reason, label=later("reason"), longest=300)
    if not reason or any(not problem.overridable for problem in fresh):
        raise Refused(fresh)
    if not by.is_tutor:
        raise Refused([*fresh, Problem("tutor-only", say("Only the tutor may decide otherwise."))])
    Override.objects.bulk_create(
        Override(
            firing=firing,
            piece=pieces.get(problem.about),
            problem_code=problem.code,
            reason=reason,
            by=by,
            at=now,
        )
        for problem in fresh
    )
