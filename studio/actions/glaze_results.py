"""Keeping what combinations of glazes came to: written when a firing is closed, gone when it is reopened."""

from __future__ import annotations

from collections import defaultdict

from django.db import transaction

from studio.domain.glaze_verdict import outcome_on
from studio.domain.say import later
from studio.models import (
    Combination,
    CombinationLayer,
    Firing,
    GlazeOnPiece,
    GlazeResult,
    Person,
    UnloadAnswer,
)

from .common import clean_text, must_be_tutor

MANY = 500


@transaction.atomic
def keep_results(firing: Firing) -> int:
    """Write down how every combination on a piece of this firing came out; how many were written."""
    answers = list(
        UnloadAnswer.objects.filter(placement__firing=firing, undone_at__isnull=True)
        .select_related("placement__piece", "placement__layer")
        .prefetch_related("flaws")
    )
    coats: dict[int, dict[str, list[GlazeOnPiece]]] = defaultdict(lambda: defaultdict(list))
    worn = GlazeOnPiece.objects.filter(
        piece__in=[answer.placement.piece_id for answer in answers], glaze__isnull=False
    )
    for coat in worn.order_by("piece", "surface", "order"):
        coats[coat.piece_id][coat.surface].append(coat)
    layer_count = firing.layers.count()
    keys = {_key(on_it) for surfaces in coats.values() for on_it in surfaces.values()}
    combinations = _combinations(keys)
    rows = []
    for answer in answers:
        place = answer.placement
        flaws = [flaw.surface for flaw in answer.flaws.all() if flaw.withdrawn_at is None]
        where: dict[str, list[str]] = defaultdict(list)
        for surface, on_it in coats[place.piece_id].items():
            where[_key(on_it)].append(surface)
        for key, surfaces in where.items():
            thick = max(sum(coat.coats for coat in coats[place.piece_id][each]) for each in surfaces)
            rows.append(
                GlazeResult(
                    combination=combinations[key],
                    answer=answer,
                    piece_id=place.piece_id,
                    firing=firing,
                    kiln_id=firing.kiln_id,
                    clay_id=place.piece.clay_id,
                    cone=firing.cone,
                    surfaces=" ".join(sorted(surfaces)),
                    thick=thick,
                    layer_number=place.layer.number,
                    layer_count=layer_count,
                    outcome=outcome_on(outcome=answer.outcome, flaw_surfaces=flaws, surfaces=surfaces),
                    at=answer.at,
                )
            )
    GlazeResult.objects.bulk_create(rows, batch_size=MANY)
    return len(rows)


def drop_results(firing: Firing) -> None:
    """The firing is open again: nothing of it counts until it is closed anew."""
    GlazeResult.objects.filter(firing=firing).delete()


@transaction.atomic
def note_combination(*, combination: Combination, notes: str, by: Person) -> Combination:
    """The studio's own words about a combination."""
    must_be_tutor(by)
    combination.notes = clean_text(notes, label=later("notes"), longest=1000, lines=True)
    combination.save(update_fields=["notes"])
    return combination


def _key(coats: list[GlazeOnPiece]) -> str:
    return ">".join(str(coat.glaze_id) for coat in coats)


def _combinations(keys: set[str]) -> dict[str, Combination]:
    known = {row.key: row for row in Combination.objects.filter(key__in=keys)}
    for key in sorted(keys - set(known)):
        row, made = Combination.objects.get_or_create(key=key)
        if made:
            CombinationLayer.objects.bulk_create(
                CombinationLayer(combination=row, order=order, glaze_id=int(glaze))
                for order, glaze in enumerate(key.split(">"), start=1)
            )
        known[key] = row
    return known
