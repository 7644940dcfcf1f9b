"""Firing programmes: their segments and curves, and the copy that a firing keeps."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.db.models import Count, F, Max, Q, QuerySet

from studio.domain.problems import DomainError
from studio.domain.programme import PlannedCurve, Segment, Ware, plan
from studio.domain.stages import FiringKind, Stage
from studio.models import Firing, Kiln, Placement, Programme, ProgrammeSegment

from .kiln_rates import rates_of

#: The kiln before it is lit (common practice); the first minutes hardly depend on it.
ROOM_C = 20.0
_LIT = [Firing.State.FIRING, Firing.State.COOLING, Firing.State.UNLOADING, Firing.State.CLOSED]


@dataclass(frozen=True, slots=True)
class Chosen:
    """The programme of a firing: its own copy once lit (``kept``), else the chosen one as it is now."""

    name: str
    segments: tuple[Segment, ...]
    kept: bool


def programmes() -> QuerySet[Programme]:
    """Those in use, with segments, ``firings_done`` and ``last_lit_at``: two queries."""
    lit = Q(firings__state__in=_LIT)
    return (
        Programme.objects.filter(retired_at__isnull=True)
        .select_related("kiln")
        .prefetch_related("segments")
        .annotate(
            firings_done=Count("firings", filter=lit, distinct=True),
            last_lit_at=Max("firings__lit_at", filter=lit),
        )
    )


def choices_for(kind: str = "", kiln: Kiln | None = None, *, also: int | None = None) -> QuerySet[Programme]:
    """Programmes in use that a firing of this kind in this kiln may have; ``also`` is one chosen before."""
    fits = Q(retired_at__isnull=True)
    if kind:
        fits &= Q(kind=kind)
    if kiln:
        fits &= Q(kiln__isnull=True) | Q(kiln=kiln)
    return Programme.objects.filter(fits | Q(pk=also) if also else fits).select_related("kiln")


def segments_of(programme: Programme) -> tuple[Segment, ...]:
    """Its segments in order, as the domain has them; one query, none when prefetched."""
    return tuple(map(_segment, programme.segments.all()))


def copy_of(programme: Programme) -> dict[str, object]:
    """What a firing keeps of it: ``{"name", "segments": [[rate or None, target, hold], ...]}``."""
    rows = ([row.rate_c_per_h, row.target_c, row.hold_min] for row in programme.segments.all())
    return {"name": programme.name, "segments": list(rows)}


def chosen_of(firing: Firing) -> Chosen | None:
    """The programme of a firing, or None. One query while it is planned, none once it is lit."""
    if kept := firing.programme_as_fired:
        segments = tuple(Segment(*map(_number, row)) for row in kept["segments"])
        return Chosen(kept["name"], segments, kept=True)
    if firing.programme_id is None or firing.state not in {Firing.State.PLANNED, Firing.State.CANCELLED}:
        return None
    return Chosen(firing.programme.name, segments_of(firing.programme), kept=False)


def curve_of(firing: Firing, *, start_c: float = ROOM_C) -> PlannedCurve | None:
    """The curve that a firing's programme asks for, its ``points`` as (minutes from lighting, °C).

    None without a programme, or where nobody knows how fast the kiln goes by itself. Two queries while it is
    planned, none for a lit firing whose segments all have rates.
    """
    chosen = chosen_of(firing)
    return curve_in(chosen.segments, firing.kiln, start_c=start_c) if chosen else None


def curve_in(
    segments: Sequence[Segment], kiln: Kiln | None, *, start_c: float = ROOM_C
) -> PlannedCurve | None:
    """The curve in this kiln, which is asked for its own rates only where a segment has none."""
    free = any(segment.rate_c_per_h is None for segment in segments)
    try:
        return plan(segments=segments, start_c=start_c, kiln=rates_of(kiln) if free and kiln else None)
    except DomainError:
        return None


def ware_of(firing: Firing) -> Ware:
    """What stands in a load, for the programme's warnings: damp, greenware, thick, and the glazes' cones.

    Two queries.
    """
    standing = Placement.objects.filter(firing=firing, taken_out_at__isnull=True)
    pieces = list(standing.values_list("piece__stage", "piece__base_mm", "piece__wall_mm"))
    glazes = (
        standing.filter(piece__glazes_on__glaze__isnull=False)
        .values_list(
            "piece__glazes_on__glaze__name",
            "piece__glazes_on__glaze__cone_from",
            "piece__glazes_on__glaze__cone_to",
        )
        .order_by("piece__glazes_on__glaze__name")
        .distinct()
    )
    green = firing.kind == FiringKind.BISQUE
    return Ware(
        damp=any(stage in {Stage.WET, Stage.LEATHER_HARD} for stage, _, _ in pieces),
        greenware=green,
        thick=green and any(max(base or 0, wall or 0) > THICK_MM for _, base, wall in pieces),
        glazes=tuple(glazes) if firing.kind == FiringKind.GLAZE else (),
    )


#: Greenware with a part thicker than this wants half the speed through steam (common practice).
THICK_MM = 15


def firings_with(programme: Programme) -> QuerySet[Firing]:
    """Firings lit with it, the newest first, with their kiln."""
    found = programme.firings.filter(state__in=_LIT).select_related("kiln")
    return found.order_by(F("lit_at").desc(nulls_last=True))


def _segment(row: ProgrammeSegment) -> Segment:
    return Segment(*map(_number, (row.rate_c_per_h, row.target_c, row.hold_min)))


def _number(value: int | None) -> float | None:
    return None if value is None else float(value)
