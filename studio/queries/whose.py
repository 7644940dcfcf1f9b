"""Whose is this? Which pieces of the books a found one could be, the likeliest first."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import timedelta

from django.db.models import Exists, OuterRef, Prefetch, Q

from studio.domain.say import midway, say
from studio.domain.shrinkage import size_at
from studio.domain.stages import IN_KILN, FiringKind, Stage
from studio.models import Firing, Photo, Piece, Placement, UnloadAnswer

from .loads import layer_name
from .loads_sizes import shrinkage_of
from .loads_waiting import GLAZES
from .orphans import found_in
from .pieces import with_colours

#: A pot shrinks a little more or less than its clay's figure says, and is measured with a ruler
#: (common practice, no source): 8 %, and never less than 8 mm.
TOLERANCE_PCT, TOLERANCE_MM = 8, 8
#: How far back a lost piece may be the one.
LOST_FOR = timedelta(days=400)
MOST = 60

#: By the books where such ware stands before a firing, from where it may have got in unplanned.
_UNPLANNED = {
    FiringKind.BISQUE: (Stage.LEATHER_HARD, Stage.BONE_DRY),
    FiringKind.GLAZE: (Stage.BISQUED, Stage.GLAZED),
    FiringKind.LOW: (Stage.FIRED, Stage.READY),
}


@dataclass(frozen=True, slots=True)
class Asked:
    """What to narrow by; empty or False leaves it open."""

    layer: int | None = None
    form: str = ""
    glaze: str = ""
    mark: str = ""
    about_this_size: bool = False


@dataclass(frozen=True, slots=True)
class Candidate:
    """A piece it could be. ``where`` says why; ``here`` that it is expected in this kiln."""

    piece: Piece
    where: str
    here: bool
    layer: int | None
    before: Photo | None
    width_mm: int
    height_mm: int
    size_fits: bool
    likeness: int

    @property
    def glazes(self) -> list[str]:
        return list(dict.fromkeys(coat.glaze.name for coat in self.piece.glazes_on.all() if coat.glaze))


@dataclass(frozen=True, slots=True)
class Whose:
    """The page: where it was found, whom it could be, and what there is to narrow by."""

    firing: Firing | None
    unloading: bool
    candidates: tuple[Candidate, ...]
    layers: tuple[tuple[int, str], ...]
    forms: tuple[tuple[str, str], ...]
    glazes: tuple[tuple[str, str], ...]
    all_in_all: int


def whose_is(found: Piece, asked: Asked) -> Whose:
    """Whom a piece that nobody knows could belong to, at one query count."""
    answer = found_in(found)
    firing = answer.placement.firing if answer else None
    unloading = firing is not None and firing.state == Firing.State.UNLOADING
    layers = _layers(firing) if firing else {}
    places = _places_here(firing, found) if firing else {}
    rows = []
    for piece in _pieces(found, firing, unloading, places):
        place = places.get(piece.pk)
        rows.append(_candidate(found, piece, place, firing, layers, answer))
    kept = [row for row in rows if _fits(row, asked)]
    kept.sort(key=lambda row: (-row.likeness, -row.piece.stage_since.timestamp()))
    with_colours([row.piece for row in kept])
    glazes = {
        (coat.glaze.code, coat.glaze.name)
        for row in rows
        for coat in row.piece.glazes_on.all()
        if coat.glaze is not None
    }
    forms = {(row.piece.form, row.piece.get_form_display()) for row in rows}
    return Whose(
        firing,
        unloading,
        tuple(kept[:MOST]),
        tuple(sorted(layers.items(), reverse=True)),
        tuple(sorted(forms, key=lambda one: one[1])),
        tuple(sorted(glazes, key=lambda one: one[1])),
        len(rows),
    )


def _layers(firing: Firing) -> dict[int, str]:
    numbers = list(firing.layers.order_by("number").values_list("number", flat=True))
    return {number: layer_name(number, len(numbers)) for number in numbers}


def _places_here(firing: Firing, found: Piece) -> dict[int, Placement]:
    """Places of the load that could be the found one's: without an answer, or where nothing stood."""
    taken = UnloadAnswer.objects.filter(placement=OuterRef("pk"), undone_at__isnull=True).exclude(
        loss_cause=UnloadAnswer.LossCause.MISSING
    )
    places = Placement.objects.filter(~Exists(taken), firing=firing, taken_out_at__isnull=True)
    return {place.piece_id: place for place in places.exclude(piece=found).select_related("layer")}


def _pieces(
    found: Piece, firing: Firing | None, unloading: bool, places: dict[int, Placement]
) -> list[Piece]:
    lost = Q(stage=Stage.LOST, stage_since__gte=found.stage_since - LOST_FOR)
    wanted = lost
    if unloading:
        wanted |= Q(pk__in=list(places))
    stages = _UNPLANNED[FiringKind(firing.kind)] if firing else (found.stage,)
    by_books = Q(stage__in=stages, held_by__isnull=True)
    pieces = Piece.objects.filter(wanted | by_books & Q(maker__isnull=False)).exclude(pk=found.pk)
    return list(
        pieces.filter(Q(maker__isnull=False) | Q(studios_own=True))
        .select_related("maker__guardian", "clay", "shelf")
        .prefetch_related(
            Prefetch("glazes_on", queryset=GLAZES.queryset),
            Prefetch("photos", queryset=Photo.objects.order_by("taken_at", "pk"), to_attr="all_photos"),
        )
        .order_by("-stage_since", "-pk")[:400]
    )


def _candidate(
    found: Piece,
    piece: Piece,
    place: Placement | None,
    firing: Firing | None,
    layers: dict[int, str],
    answer: UnloadAnswer | None,
) -> Candidate:
    at = Stage(found.stage) if found.stage not in {Stage.READY, Stage.FINISHING} else Stage.FIRED
    width, height = (_length_at(length, piece, at) for length in (piece.width_mm, piece.height_mm))
    # A footprint that isn't round may have been measured the other way.
    depth = _length_at(piece.depth_mm, piece, at)
    fits = _near(height, found.height_mm) and (_near(width, found.width_mm) or _near(depth, found.width_mm))
    here = place is not None and firing is not None and firing.state == Firing.State.UNLOADING
    layer = place.layer.number if place else None
    same_layer = answer is not None and layer == answer.placement.layer.number
    likeness = 8 * here + 4 * fits + 3 * (piece.form == found.form) + 2 * same_layer
    likeness += 2 * (piece.stage == Stage.LOST and not here)
    return Candidate(
        piece=piece,
        where=_where(piece, place if here else None, layers),
        here=here,
        layer=layer,
        before=piece.all_photos[-1] if piece.all_photos else None,
        width_mm=width,
        height_mm=height,
        size_fits=fits,
        likeness=likeness,
    )


def _length_at(length_mm: int, piece: Piece, at: Stage) -> int:
    percents = shrinkage_of(piece.clay)
    size = size_at(size_mm=length_mm, measured_at=piece.measured_stage, wanted_at=at.value, percents=percents)
    return max(1, round(size))


def _near(expected_mm: int, measured_mm: int) -> bool:
    return abs(expected_mm - measured_mm) <= max(TOLERANCE_MM, expected_mm * TOLERANCE_PCT / 100)


def _where(piece: Piece, place: Placement | None, layers: dict[int, str]) -> str:
    if place is not None:
        gone = say("noted as not there") if piece.stage == Stage.LOST else say("not answered yet")
        return say("Expected here, {layers}, {gone}", layers=midway(layers[place.layer.number]), gone=gone)
    if piece.stage == Stage.LOST:
        return say("Lost by the books")
    if piece.stage in {stage.value for stage in IN_KILN}:
        return say("In a kiln by the books")
    shelf = say(" on {shelf}", shelf=piece.shelf) if piece.shelf else ""
    return say(
        "{stage} by the books,{shelf}", stage=piece.get_stage_display(), shelf=shelf or say(" on no shelf")
    )


def _fits(row: Candidate, asked: Asked) -> bool:
    return (
        (asked.layer is None or row.layer == asked.layer)
        and (not asked.form or row.piece.form == asked.form)
        and (not asked.mark or row.piece.mark.startswith(asked.mark))
        and (not asked.about_this_size or row.size_fits)
        and (
            not asked.glaze
            or any(coat.glaze and coat.glaze.code == asked.glaze for coat in row.piece.glazes_on.all())
        )
    )
