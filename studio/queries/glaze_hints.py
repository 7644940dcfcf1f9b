"""What is likely to become of glazed pieces, for one or for a whole load at one query count."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from django.db.models import Count, F, Q, prefetch_related_objects

from studio.domain.glaze_hint_facts import Glazed, Hint, Laid, Layered, Record
from studio.domain.glaze_hints import hints, to_mind, without_met
from studio.domain.intervals import FEW
from studio.domain.load_rules import why_a_stand
from studio.domain.say import say
from studio.domain.stages import FiringKind
from studio.models import Firing, GlazeOnPiece, GlazeResult, Layering, Piece, Placement

from .loads_waiting import GLAZES, load_facts

#: ``{combination's key: {(clay's primary key, cone): {outcome or flaw: pieces}}}``
_Counts = Mapping[str, Mapping[tuple[int, str], Mapping[str, int]]]


@dataclass(frozen=True, slots=True)
class _Seen:
    outcomes: _Counts
    flaws: _Counts
    layerings: Sequence[Layered]


def hints_for(pieces: Iterable[Piece], *, cone: str = "") -> dict[int, list[Hint]]:
    """By the piece's primary key, as each is glazed now. ``cone`` is that of the firing, if one is planned.

    The pieces have their clay and `loads_waiting.GLAZES` at hand. Four queries however many pieces.
    """
    worn = {piece: [coat for coat in piece.glazes_on.all() if coat.glaze] for piece in pieces}
    seen = _seen(coats for coats in worn.values())
    return {piece.pk: _hints(piece, coats, seen, cone) for piece, coats in worn.items()}


def hints_with(piece: Piece, coats: Iterable[GlazeOnPiece], *, cone: str = "") -> list[Hint]:
    """Those of this piece with coats that are not saved yet, or with other ones than it has."""
    glazed = [coat for coat in coats if coat.glaze is not None]
    return _hints(piece, glazed, _seen([glazed]), cone)


@dataclass(frozen=True, slots=True)
class Mind:
    """A piece in a load and what to mind about it there: what its stand answers already is left out."""

    place: Placement
    hints: tuple[Hint, ...]


def minds_of(firing: Firing, places: Iterable[Placement]) -> list[Mind]:
    """What to mind about the glazes of a load, piece by piece; nothing in a bisque firing. Five queries."""
    places = list(places)
    if firing.kind == FiringKind.BISQUE:
        return []
    prefetch_related_objects([place.piece for place in places], GLAZES)
    found = hints_for([place.piece for place in places], cone=firing.cone)
    minds = [
        Mind(place, tuple(to_mind(without_met(found[place.piece_id], stand_mm=place.stand_mm))))
        for place in places
    ]
    return [mind for mind in minds if mind.hints]


def key_of(coats: Iterable[GlazeOnPiece]) -> str:
    """The key of the combination on one surface, as `Combination.key`."""
    return ">".join(str(coat.glaze.pk) for coat in sorted(coats, key=lambda coat: coat.order))


def _stacks(coats: Iterable[GlazeOnPiece]) -> dict[str, list[GlazeOnPiece]]:
    stacks: dict[str, list[GlazeOnPiece]] = defaultdict(list)
    for coat in coats:
        stacks[coat.surface].append(coat)
    return stacks


def _hints(piece: Piece, coats: Sequence[GlazeOnPiece], seen: _Seen, cone: str) -> list[Hint]:
    clay = piece.clay
    cone = cone or piece.cone_wanted
    glazed = Glazed(
        form=piece.form,
        clay=clay.name,
        clay_cones=(clay.cone_from or clay.cone, clay.cone_to or clay.cone),
        laid=tuple(_laid(coat) for coat in coats),
        for_food=piece.use == Piece.Use.FOOD,
        low_firings=piece.low_firings_wanted,
        stand_why=why_a_stand(load_facts(piece, None, coats), kind=FiringKind.GLAZE),
    )
    where: dict[str, list[str]] = defaultdict(list)
    words: dict[str, str] = {}
    for surface, stack in sorted(_stacks(coats).items()):
        key = key_of(stack)
        where[key].append(surface)
        ordered = sorted(stack, key=lambda coat: -coat.order)
        words[key] = say(" over ").join(coat.glaze.name for coat in ordered)
    records = [
        _record(words[key], surfaces, seen.outcomes.get(key, {}), seen.flaws.get(key, {}), clay, cone)
        for key, surfaces in where.items()
    ]
    return hints(glazed, records=records, known=seen.layerings)


def _laid(coat: GlazeOnPiece) -> Laid:
    glaze = coat.glaze
    return Laid(
        surface=coat.surface,
        name=glaze.name,
        order=coat.order,
        coats=coat.coats,
        cone_from=glaze.cone_from,
        cone_to=glaze.cone_to,
        movement=glaze.movement,
        food_contact=glaze.food_contact,
        metallic=glaze.metallic,
        kind=glaze.kind,
    )


def _record(
    words: str, surfaces: list[str], outcomes: Mapping, flaws: Mapping, clay: object, cone: str
) -> Record:
    """Of this clay and cone where ten pieces or more are; else of every clay and cone."""
    here = (clay.pk, cone)
    counts, scope = (
        Counter(outcomes.get(here, {})),
        say("on {name} at cone {cone}", name=clay.name, cone=cone),
    )
    faults = Counter(flaws.get(here, {}))
    if counts.total() < FEW:
        counts, faults, scope = Counter(), Counter(), "here"
        for each in outcomes.values():
            counts.update(each)
        for each in flaws.values():
            faults.update(each)
    return Record(
        words=words,
        surfaces=tuple(surfaces),
        sound=counts["sound"],
        flawed=counts["flawed"],
        lost=counts["lost"],
        flaws=dict(faults),
        scope=scope,
    )


def _seen(worn: Iterable[Iterable[GlazeOnPiece]]) -> _Seen:
    keys, glazes = set(), set()
    for coats in worn:
        for stack in _stacks(coats).values():
            keys.add(key_of(stack))
            if len(stack) > 1:
                glazes.update(coat.glaze.pk for coat in stack)
    rows = GlazeResult.objects.filter(combination__key__in=sorted(keys)).order_by()
    counted = rows.values_list("combination__key", "clay", "cone", "outcome").annotate(Count("pk"))
    # A piece that stuck fast and broke ran, though nobody wrote down a flaw of it.
    stuck = rows.filter(answer__loss_cause="stuck").filter(
        Q(surfaces__contains="outside") | Q(surfaces__contains="foot")
    )
    faults = rows.filter(
        Q(answer__flaws__surface="") | Q(surfaces__contains=F("answer__flaws__surface")),
        answer__flaws__withdrawn_at__isnull=True,
        answer__flaws__isnull=False,
    )
    flaws = list(
        faults.values_list("combination__key", "clay", "cone", "answer__flaws__kind").annotate(
            Count("pk", distinct=True)
        )
    )
    flaws += [
        (key, clay, cone, "stuck-to-shelf", count)
        for key, clay, cone, count in stuck.values_list("combination__key", "clay", "cone").annotate(
            Count("pk")
        )
    ]
    layerings = Layering.objects.filter(over__in=sorted(glazes), under__in=sorted(glazes))
    return _Seen(
        outcomes=_nested(counted),
        flaws=_nested(flaws),
        layerings=[
            Layered(each.over.name, each.under.name, each.word, each.note)
            for each in layerings.select_related("over", "under")
        ],
    )


def _nested(rows: Iterable[tuple[str, int, str, str, int]]) -> _Counts:
    found: dict[str, dict[tuple[int, str], Counter[str]]] = defaultdict(lambda: defaultdict(Counter))
    for key, clay, cone, what, count in rows:
        found[key][clay, cone][what] += count
    return found
