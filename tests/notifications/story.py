"""What the tests about notices share: a clock to turn, ready pieces, a tutor who lets things go."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime, timedelta

from studio.actions import notices, notices_review
from studio.domain.stages import Stage
from studio.models import GlazeOnPiece, Notice, Person, Piece, Role
from studio.notifications import deliver
from tests import factories

NOW = factories.NOW
State = Notice.State


class Clock:
    """A clock that stands until it is turned."""

    def __init__(self, now: datetime = NOW) -> None:
        self.now = now

    def __call__(self) -> datetime:
        return self.now

    def turn(self, **by: float) -> datetime:
        self.now += timedelta(**by)
        return self.now


def tutor() -> Person:
    return Person.objects.filter(role=Role.TUTOR).first() or factories.tutor()


def ready_piece(maker: Person, **values: object) -> Piece:
    """A ready piece, glazed in and out with a glaze that its maker calls suitable."""
    piece = factories.piece(maker=maker, stage=Stage.READY, **values)
    glaze = factories.glaze(food_contact="suitable")
    for surface in ("inside", "rim", "outside"):
        GlazeOnPiece.objects.create(piece=piece, surface=surface, glaze=glaze, put_on_at=NOW)
    return piece


def let_go(*, clock: Clock) -> None:
    """The tutor lets go of everything that waits."""
    by = tutor()
    for notice in Notice.objects.filter(state=State.WAITING):
        notices_review.approve(notice=notice, by=by, now=clock())


def queued(pieces: Iterable[Piece], *, clock: Clock) -> list[Notice]:
    """The notices of these pieces, let go, with their time of grace over."""
    made = notices.queue_ready(pieces=list(pieces), now=clock())
    let_go(clock=clock)
    clock.turn(minutes=16)
    return made


def deliver_all(*, clock: Clock, worker: str = "mail:1") -> dict[str, int]:
    return dict(deliver.deliver_due(worker=worker, clock=clock))
