"""Which breakage the tutor has not dealt with yet, and which mails about breakage have become untrue.

A piece that came out flawed is in no automatic mail until the tutor has read the draft about its flaw and
sent it, told the maker in person, or dropped it.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db.models import Exists, OuterRef, QuerySet, Subquery

from studio.domain.stages import ENDED, Stage
from studio.models import Event, Notice, Piece, UnloadAnswer

State = Notice.State
Kind = Notice.Kind

#: The tutor has said what is to become of it.
DECIDED = (
    State.QUEUED,
    State.SENDING,
    State.SENT,
    State.REFUSED,
    State.MAY_HAVE_GONE,
    State.DROPPED,
)
#: In somebody's inbox, or perhaps so.
_GONE = (State.SENT, State.SENDING, State.MAY_HAVE_GONE)
BREAKAGE = (Kind.LOSS, Kind.FLAW)


def last_answer(piece: Piece) -> UnloadAnswer | None:
    """The latest answer at a kiln that stands for this piece."""
    return (
        UnloadAnswer.objects.filter(placement__piece=piece, undone_at__isnull=True)
        .select_related("placement__firing")
        .order_by("-event_id")
        .first()
    )


def flaw_of(piece: Piece) -> UnloadAnswer | None:
    """The answer by which this piece is flawed now, or None."""
    answer = last_answer(piece)
    return answer if answer and answer.outcome == UnloadAnswer.Outcome.FLAWED else None


def is_held_back(piece: Piece) -> bool:
    """Whether this piece came out flawed and the tutor has not dealt with that yet."""
    return _held_back(Piece.objects.filter(pk=piece.pk)).exists()


def held_back_among(pieces: Iterable[Piece]) -> set[int]:
    """Primary keys of those of these pieces that are held back so, in one query."""
    held = _held_back(Piece.objects.filter(pk__in=[piece.pk for piece in pieces]))
    return set(held.order_by().values_list("pk", flat=True))


def without_held_back(pieces: QuerySet[Piece]) -> QuerySet[Piece]:
    """Those that an automatic mail may speak of."""
    return pieces.exclude(pk__in=_held_back(Piece.objects.all()).values("pk"))


def _held_back(pieces: QuerySet[Piece]) -> QuerySet[Piece]:
    standing = UnloadAnswer.objects.filter(placement__piece=OuterRef("pk"), undone_at__isnull=True).order_by(
        "-event_id"
    )
    decided = Notice.objects.filter(
        kind=Kind.FLAW, answer=OuterRef("latest_answer"), state__in=DECIDED, pieces=OuterRef("pk")
    )
    return (
        pieces.annotate(
            latest_answer=Subquery(standing.values("pk")[:1]),
            latest_outcome=Subquery(standing.values("outcome")[:1]),
        )
        .filter(latest_outcome=UnloadAnswer.Outcome.FLAWED)
        .filter(~Exists(decided))
    )


def told_of_breakage(piece: Piece) -> Notice | None:
    """The latest mail that has gone, or may have, about this piece being lost or flawed."""
    return (
        Notice.objects.filter(kind__in=BREAKAGE, pieces=piece, state__in=_GONE)
        .select_related("answer", "recipient")
        .order_by("-made_at", "-id")
        .first()
    )


def is_untrue(told: Notice, piece: Piece) -> bool:
    """Whether what this mail said of the piece is no longer so, with no later news of the same kind.

    A lost piece that lives again; a flaw whose answer was taken back, unless the piece is flawed again or
    lost, which its own mail says.
    """
    stage = Stage(piece.stage)
    if told.kind == Kind.LOSS:
        return stage not in {Stage.LOST, Stage.COLLECTED}
    answer = told.answer
    if answer is None or answer.undone_at is None:
        return False
    return stage not in ENDED - {Stage.WITHDRAWN} and flaw_of(piece) is None


def was_brought_back_since(piece: Piece, notice: Notice) -> bool:
    """Whether the piece has lived again since this mail about its loss."""
    return (
        Event.objects.filter(
            piece=piece, from_stage=Stage.LOST, recorded_at__gte=notice.sent_at or notice.made_at
        )
        .exclude(to_stage=Stage.LOST)
        .exists()
    )


def told_by(correction: Notice) -> Notice | None:
    """The mail that a correction puts right: its key names it."""
    parts = correction.key.split(":")
    return (
        Notice.objects.filter(pk=int(parts[1])).select_related("answer").first() if len(parts) == 3 else None
    )


def waiting() -> QuerySet[Notice]:
    """Drafts about breakage that nobody has decided on."""
    return Notice.objects.filter(kind__in=BREAKAGE, state__in=(State.WAITING, State.HELD, State.NO_ADDRESS))
