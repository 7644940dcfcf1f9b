"""A sheet of the load, ticked by hand at the kiln and typed in later: all its lines, or none of them."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from studio.domain.problems import Problem, Refused
from studio.domain.say import say
from studio.domain.stages import Outcome
from studio.models import Firing, Person, Placement, Shelf, UnloadAnswer

from .common import happened_at, moment, must_be_staff, refuse, refuse_all
from .loads import hold_firing, name_of
from .unload import SeenFlaw, answer_place, refuse_unless_unloading, standing_answer


@dataclass(frozen=True, slots=True)
class PaperLine:
    """What the sheet says of one place."""

    placement: Placement
    outcome: Outcome
    flaws: tuple[str, ...] = ()
    jobs: tuple[str, ...] = ()
    loss_cause: str = ""
    note: str = ""
    shelf: Shelf | None = None


@dataclass(frozen=True, slots=True)
class PaperAnswers:
    """The answers that are new, and the places that the books already had just so."""

    answers: tuple[UnloadAnswer, ...]
    already: tuple[Placement, ...]


@transaction.atomic
def answer_sheet(
    *,
    firing: Firing,
    lines: Iterable[PaperLine],
    by: Person,
    client_id: str,
    at: datetime | None = None,
    now: datetime | None = None,
) -> PaperAnswers:
    """Answer every place that the sheet speaks of, at the time the kiln was opened.

    A place that has the same answer already is left as it is, so that a sheet typed in twice changes
    nothing; one with another answer refuses the whole sheet. All reasons are said together, as `Refused`.
    """
    must_be_staff(by)
    now = moment(now)
    at = happened_at(at, now, label=say("time of opening"))
    firing = hold_firing(firing)
    refuse_unless_unloading(firing)
    if firing.ended_at and at < firing.ended_at.replace(second=0, microsecond=0):
        refuse(
            "before-the-end",
            say("{name_of} was still on then. Give the time the kiln was opened.", name_of=name_of(firing)),
        )
    answers, already, problems = [], [], list[Problem]()
    for line in lines:
        standing = standing_answer(line.placement)
        if standing and _same(standing, line):
            already.append(line.placement)
            continue
        try:
            # Refused, a line must leave nothing behind that the next one would stand on.
            with transaction.atomic():
                answers.append(_answer(line, by=by, client_id=client_id, at=at, now=now))
        except Refused as refused:
            problems += refused.problems
    refuse_all(problems)
    return PaperAnswers(tuple(answers), tuple(already))


def _answer(line: PaperLine, *, by: Person, client_id: str, at: datetime, now: datetime) -> UnloadAnswer:
    return answer_place(
        placement=line.placement,
        outcome=line.outcome,
        flaws=[SeenFlaw(kind) for kind in line.flaws],
        jobs=line.jobs,
        loss_cause=line.loss_cause,
        note=line.note,
        shelf=None if line.outcome == Outcome.LOST else line.shelf,
        by=by,
        client_id=f"{client_id[:50]}:{line.placement.piece.code}",
        at=at,
        now=now,
    )


def _same(answer: UnloadAnswer, line: PaperLine) -> bool:
    """Whether the books say what the sheet says: outcome, cause and kinds of flaws. The shelf may differ: the
    piece may have been moved since."""
    kinds = set(answer.flaws.values_list("kind", flat=True))
    return (answer.outcome, answer.loss_cause, kinds) == (line.outcome, line.loss_cause, set(line.flaws))
