"""What may be put on a piece again with one tap: its maker's last glazings, and what is reliable here."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, Max, QuerySet

from studio.domain.glaze_verdict import Reliability, Verdict, verdict
from studio.domain.say import listed, say
from studio.models import Combination, Glaze, GlazeOnPiece, Piece

from . import glaze_results
from .loads_waiting import GLAZES

SHOWN = 3
#: Of the maker's pieces so many are looked through for glazings that differ.
_LOOKED_AT = 30


@dataclass(frozen=True, slots=True)
class Laying:
    """One combination with the surfaces it lies on: ``Chalk Satin`` ``("Inside", "Rim")``."""

    names: str
    surfaces: tuple[str, ...]
    colour: str | None = None

    @property
    def where(self) -> str:
        """``inside and rim``."""
        return listed(self.surfaces).lower()


@dataclass(frozen=True, slots=True)
class Again:
    """A piece whose glazing can be repeated as it is."""

    piece: Piece
    layings: tuple[Laying, ...]


@dataclass(frozen=True, slots=True)
class Reliable:
    """A combination that is reliable here, and the surfaces it is usually on."""

    combination: Combination
    glazes: tuple[Glaze, ...]
    surfaces: tuple[str, ...]
    verdict: Verdict

    @property
    def words(self) -> str:
        return say(" over ").join(glaze.name for glaze in reversed(self.glazes))

    @property
    def where(self) -> str:
        return listed(self.surfaces)


def layings_of(coats: Iterable[GlazeOnPiece]) -> tuple[Laying, ...]:
    """What lies where, surfaces of the same glazes together, in the order in which a pot is read."""
    stacks: dict[str, list[GlazeOnPiece]] = {}
    for coat in sorted(coats, key=lambda coat: coat.order):
        stacks.setdefault(coat.surface, []).append(coat)
    where: dict[tuple[str, str | None], list[str]] = {}
    for surface in GlazeOnPiece.Surface:
        if stack := stacks.get(surface.value):
            glazes = [coat.glaze for coat in reversed(stack) if coat.glaze]
            names = say(" over ").join(glaze.name for glaze in glazes) or say("Bare clay")
            where.setdefault((names, glazes[0].colour if glazes else None), []).append(surface.label)
    return tuple(Laying(names, tuple(on), colour) for (names, colour), on in where.items())


def lasts(piece: Piece, *, among: QuerySet[Piece]) -> list[Again]:
    """The maker's latest glazings that differ, newest first, of pieces that may be seen. Two queries."""
    if piece.maker_id is None:
        return []
    rows = (
        among.filter(maker=piece.maker_id, glazes_on__glaze__isnull=False)
        .exclude(pk=piece.pk)
        .annotate(glazed_at=Max("glazes_on__put_on_at"))
        .prefetch_related(GLAZES)
        .order_by("-glazed_at", "-pk")[:_LOOKED_AT]
    )
    found: dict[tuple[Laying, ...], Again] = {}
    for row in rows:
        coats = list(row.glazes_on.all())
        if not any(coat.glaze and coat.glaze.retired_at for coat in coats):
            found.setdefault(layings_of(coats), Again(row, layings_of(coats)))
    return list(found.values())[:SHOWN]


def reliable_on(piece: Piece) -> list[Reliable]:
    """Combinations that are reliable here on this clay, those with most pieces first. Four queries."""
    rows = glaze_results.results().filter(clay=piece.clay_id)
    if piece.cone_wanted:
        rows = rows.filter(cone=piece.cone_wanted)
    judged = {key: verdict(**counts) for key, counts in glaze_results.outcomes(rows).items()}
    good = {key: said for key, said in judged.items() if said and said.reliability == Reliability.RELIABLE}
    keys = sorted(good, key=lambda key: (-good[key].pieces, key))
    usual: dict[int, str] = {}
    counted = rows.filter(combination__in=keys, outcome="sound").values_list("combination", "surfaces")
    for key, surfaces, _ in sorted(
        counted.annotate(pieces=Count("pk")), key=lambda row: (row[0], -row[2], row[1])
    ):
        usual.setdefault(key, surfaces)
    glazes = glaze_results.glazes_of(keys)
    known = Combination.objects.in_bulk(keys)
    offered = [
        Reliable(known[key], glazes[key], tuple(usual[key].split()), good[key])
        for key in keys
        if key in usual and not any(glaze.retired_at for glaze in glazes[key])
    ]
    return offered[:SHOWN]
