"""What was seen of a piece at its place, cleaned before it is written."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from studio.domain.say import later, say
from studio.domain.stages import Outcome
from studio.models import (
    FinishingJob,
    Flaw,
    FlawKind,
    GlazeOnPiece,
    Shelf,
    UnloadAnswer,
)

from .common import clean_choice, clean_text, refuse
from .pieces import check_shelf

#: An answer's note is kept with the answer, and with the cause of a loss on the event.
_NOTE_LONGEST = 300
_FLAW_SURFACES = ("", *GlazeOnPiece.Surface.values)


@dataclass(frozen=True, slots=True)
class SeenFlaw:
    """A flaw as seen at the kiln: its kind, where (a surface, or empty) and how bad (1 to 3)."""

    kind: str
    surface: str = ""
    severity: int = Flaw.Severity.CLEAR


@dataclass(frozen=True, slots=True)
class Seen:
    """What somebody says of a piece at the kiln, checked."""

    outcome: Outcome
    flaws: tuple[SeenFlaw, ...]
    jobs: tuple[str, ...]
    loss_cause: str
    note: str
    shelf: Shelf | None

    @property
    def words(self) -> str:
        """For the piece's history: the cause of a loss, and the note."""
        cause = UnloadAnswer.LossCause(self.loss_cause).label if self.loss_cause else ""
        return ": ".join(part for part in (cause, self.note) if part)

    @classmethod
    def checked(
        cls,
        *,
        outcome: Outcome,
        flaws: Iterable[SeenFlaw],
        jobs: Iterable[str],
        loss_cause: str,
        note: str,
        shelf: Shelf | None,
        mark: str,
    ) -> Seen:
        """Refuses what contradicts itself, so that a wrong tap is asked about and not stored."""
        note = clean_text(note, label=later("note"), longest=_NOTE_LONGEST)
        flaws, jobs = clean_flaws(flaws), clean_jobs(jobs, note, mark)
        lost = outcome == Outcome.LOST
        if lost:
            loss_cause = clean_choice(
                loss_cause, UnloadAnswer.LossCause.values, label=say("cause of the loss")
            )
        elif loss_cause:
            refuse(
                "cause-without-loss",
                say("{mark} is not lost, so there is no cause of it.", mark=mark),
                about=mark,
            )
        if outcome == Outcome.SOUND and flaws:
            refuse(
                "sound-with-flaws",
                say("{mark} has a flaw marked. Choose Flawed, or take it off.", mark=mark),
                about=mark,
            )
        if outcome == Outcome.FLAWED and not flaws and not note:
            refuse(
                "no-flaw",
                say("Say what is wrong with {mark}: choose a flaw or write a note.", mark=mark),
                about=mark,
            )
        if lost and jobs:
            refuse(
                "lost-with-jobs",
                say("{mark} is lost; there is nothing to finish on it.", mark=mark),
                about=mark,
            )
        return cls(outcome, flaws, jobs, loss_cause, note, None if lost else check_shelf(shelf))


def clean_flaws(flaws: Iterable[SeenFlaw]) -> tuple[SeenFlaw, ...]:
    """One flaw of a kind on a surface: of two, the worse."""
    worst: dict[tuple[str, str], SeenFlaw] = {}
    for flaw in flaws:
        kind = clean_choice(flaw.kind, FlawKind.values, label=later("flaw"))
        surface = clean_choice(flaw.surface or "", _FLAW_SURFACES, label=say("surface of the flaw"))
        severity = int(
            clean_choice(str(flaw.severity), map(str, Flaw.Severity.values), label=later("severity"))
        )
        before = worst.get((kind, surface))
        if before is None or before.severity < severity:
            worst[kind, surface] = SeenFlaw(kind, surface, severity)
    return tuple(worst.values())


def clean_jobs(jobs: Iterable[str], note: str, mark: str) -> Sequence[str]:
    kinds = dict.fromkeys(
        clean_choice(job, FinishingJob.Kind.values, label=say("finishing job")) for job in jobs
    )
    if FinishingJob.Kind.OTHER in kinds and not note:
        refuse("missing", say("Write in the note what is to be done to {mark}.", mark=mark), about=mark)
    return tuple(kinds)
