"""Many fired pieces at once, straight into the tables: for counting thousands. Chance comes from a seed."""

from __future__ import annotations

from datetime import timedelta
from random import Random

from django.db import transaction

from studio.models import (
    Combination,
    CombinationLayer,
    Event,
    Firing,
    Flaw,
    GlazeResult,
    Kiln,
    Layer,
    Piece,
    Placement,
    UnloadAnswer,
)
from tests import factories

LAYERS = 4
IN_A_FIRING = 40
FLAWS = ("pinholes", "running", "crawling", "underfired", "s-crack")
_MANY = 2000


@transaction.atomic
def fired(
    pieces: int, *, seed: int = 1, combinations: int = 12, on_each: int = 2, kiln: Kiln | None = None
) -> list[Piece]:
    """So many collected pieces with an answer each out of closed glaze firings, and ``on_each`` results.

    One in ten is flawed, one in fifty lost; bases are 4 to 14 mm; they stand all over the shelves.
    """
    random = Random(seed)
    kiln = kiln or Kiln.objects.first() or factories.kiln("Bertha")
    clay, by = factories.clay(), factories.tutor()
    now = factories.NOW
    known = _combinations(combinations) if on_each else []
    rows = Piece.objects.bulk_create(
        [
            Piece(
                mark="AAA",
                form=random.choice(("bowl", "mug", "vase")),
                clay=clay,
                width_mm=120,
                depth_mm=120,
                height_mm=90,
                base_mm=random.randint(4, 14),
                stage="collected",
                made_at=now,
                stage_since=now,
                ended_at=now,
            )
            for _ in range(pieces)
        ],
        batch_size=_MANY,
    )
    first = Firing.objects.count() + 1
    firings = Firing.objects.bulk_create(
        Firing(number=first + place, kiln=kiln, kind="glaze", cone="6", state="closed", made_at=now)
        for place in range(-(-pieces // IN_A_FIRING))
    )
    shelves = Layer.objects.bulk_create(
        [Layer(firing=firing, number=number) for firing in firings for number in range(1, LAYERS + 1)],
        batch_size=_MANY,
    )
    reach = kiln.width_mm // 2 - 40
    places = Placement.objects.bulk_create(
        [
            Placement(
                firing=firings[count // IN_A_FIRING],
                layer=shelves[count // IN_A_FIRING * LAYERS + count % LAYERS],
                piece=piece,
                x_mm=round(random.uniform(-reach, reach) * 0.7),
                y_mm=round(random.uniform(-reach, reach) * 0.7),
                width_mm=110,
                depth_mm=110,
                height_mm=80,
                added_at=now,
            )
            for count, piece in enumerate(rows)
        ],
        batch_size=_MANY,
    )
    events = Event.objects.bulk_create(
        [
            Event(
                piece=piece,
                kind="unloaded",
                at=now,
                recorded_at=now,
                to_stage="fired",
                client_id=f"many-{seed}-{piece.pk}",
            )
            for piece in rows
        ],
        batch_size=_MANY,
    )
    outcomes = random.choices(("sound", "flawed", "lost"), (88, 10, 2), k=pieces)
    answers = UnloadAnswer.objects.bulk_create(
        [
            UnloadAnswer(
                placement=place,
                outcome=outcome,
                loss_cause="cracked" if outcome == "lost" else "",
                at=now - timedelta(days=place.firing.number),
                by=by,
                event=event,
                client_id=f"answer-{event.client_id}",
            )
            for place, event, outcome in zip(places, events, outcomes, strict=True)
        ],
        batch_size=_MANY,
    )
    Flaw.objects.bulk_create(
        [
            Flaw(answer=answer, piece=answer.placement.piece, kind=random.choice(FLAWS), surface="outside")
            for answer in answers
            if answer.outcome == "flawed"
        ],
        batch_size=_MANY,
    )
    GlazeResult.objects.bulk_create(
        [
            GlazeResult(
                combination=combination,
                answer=answer,
                piece=answer.placement.piece,
                firing=answer.placement.firing,
                kiln=kiln,
                clay=clay,
                cone="6",
                surfaces="inside rim" if place else "outside",
                thick=random.randint(1, 3),
                layer_number=answer.placement.layer.number,
                layer_count=LAYERS,
                outcome=answer.outcome,
                at=answer.at,
            )
            for answer in answers
            for place, combination in enumerate(random.sample(known, on_each) if on_each else ())
        ],
        batch_size=_MANY,
    )
    return rows


def _combinations(number: int) -> list[Combination]:
    """Half of single glazes, half of each over the next one."""
    glazes = [factories.glaze(f"Glaze {count}") for count in range(max(2, -(-number // 2)))]
    keys = [[glaze] for glaze in glazes]
    keys += [[glaze, glazes[(count + 1) % len(glazes)]] for count, glaze in enumerate(glazes)]
    found = []
    for stack in keys[:number]:
        row = Combination.objects.create(key=">".join(str(glaze.pk) for glaze in stack))
        for order, glaze in enumerate(stack, start=1):
            CombinationLayer.objects.create(combination=row, order=order, glaze=glaze)
        found.append(row)
    return found
