"""What the stage rules need to know of pieces, gathered for one or for many at one query count."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable

from django.db.models import Count, Q

from studio.domain.stages import FiringKind, PieceFacts, Route, Stage
from studio.models import Event, FinishingJob, GlazeOnPiece, Piece

#: A piece that is entered at one of these has been through its bisque, unless it is single fired.
_AFTER_BISQUE = frozenset(
    {
        Stage.BISQUED,
        Stage.GLAZED,
        Stage.GLAZE_FIRING,
        Stage.LOW_FIRING,
        Stage.FIRED,
        Stage.FINISHING,
        Stage.READY,
    }
)


def facts_for(pieces: Iterable[Piece]) -> dict[int, PieceFacts]:
    """Facts by the piece's primary key. Four queries however many pieces."""
    pieces = list(pieces)
    keys = [piece.pk for piece in pieces]
    glazed = dict(
        GlazeOnPiece.objects.filter(piece__in=keys, glaze__isnull=False)
        .order_by()
        .values_list("piece")
        .annotate(surfaces=Count("surface", distinct=True))
    )
    open_jobs = dict(
        FinishingJob.objects.filter(piece__in=keys, done_at__isnull=True, withdrawn_at__isnull=True)
        .order_by()
        .values_list("piece")
        .annotate(jobs=Count("id"))
    )
    standing = (
        Event.objects.filter(piece__in=keys, undone_by__isnull=True)
        .exclude(kind=Event.Kind.UNDONE)
        .order_by()
    )
    low_done = Counter(
        standing.filter(
            kind__in=[Event.Kind.UNLOADED, Event.Kind.KNOWN], firing__kind=FiringKind.LOW
        ).values_list("piece", flat=True)
    )
    bisqued = set(
        standing.filter(
            Q(to_stage=Stage.BISQUED)
            | Q(kind__in=[Event.Kind.MADE, Event.Kind.FOUND, Event.Kind.KNOWN], to_stage__in=_AFTER_BISQUE)
            & ~Q(piece__route=Route.SINGLE_FIRED)
        ).values_list("piece", flat=True)
    )
    return {
        piece.pk: PieceFacts(
            mark=piece.mark,
            stage=Stage(piece.stage),
            route=Route(piece.route),
            surfaces_glazed=glazed.get(piece.pk, 0),
            low_firings_left=max(0, piece.low_firings_wanted - low_done[piece.pk]),
            open_jobs=open_jobs.get(piece.pk, 0),
            bisqued_before=piece.pk in bisqued,
        )
        for piece in pieces
    }


def facts_of(piece: Piece) -> PieceFacts:
    """Facts of one piece: its own columns as they were read, the rest as the database has it now."""
    return facts_for([piece])[piece.pk]


def refired_free(pieces: Iterable[Piece]) -> set[int]:
    """Primary keys of pieces that wait for a refire, not yet fired, which is at the studio's cost."""
    free: dict[int, bool] = {}
    for piece, kind, before in (
        Event.objects.filter(
            piece__in=[piece.pk for piece in pieces],
            kind__in=[Event.Kind.REFIRE, Event.Kind.UNLOADED, Event.Kind.FOUND, Event.Kind.KNOWN],
            undone_by__isnull=True,
        )
        .order_by("id")
        .values_list("piece", "kind", "before")
    ):
        free[piece] = kind == Event.Kind.REFIRE and bool(before.get("studio_at_fault"))
    return {piece for piece, is_free in free.items() if is_free}
