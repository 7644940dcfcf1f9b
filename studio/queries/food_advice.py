"""Food-use advice for fired pieces: their coats, flaws, jobs and firings, and what laboratories found."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from datetime import date

from django.db.models import prefetch_related_objects
from django.utils import timezone

from studio.domain import advice
from studio.domain.cones import CONES, hotter
from studio.domain.laboratory import Coating, Fire, weigh
from studio.domain.stages import AFTER_LAST_FIRING, FiringKind, Stage
from studio.models import (
    Event,
    FinishingJob,
    Flaw,
    Glaze,
    GlazeOnPiece,
    Piece,
    Studio,
    UnloadAnswer,
)

from .laboratory import TestRow, lab_tests, programme_of, rows_of

_ADVISED = AFTER_LAST_FIRING | {Stage.COLLECTED, Stage.UNCLAIMED}
_TOUCHED = ("inside", "rim")


def advices(
    pieces: Iterable[Piece], *, today: date | None = None, studio: Studio | None = None
) -> dict[int, advice.Advice]:
    """Advice by the piece's primary key, of those that came out of their last firing.

    A constant number of queries however many pieces.
    """
    rows = [piece for piece in pieces if Stage(piece.stage) in _ADVISED]
    if not rows:
        return {}
    keys = [piece.pk for piece in rows]
    coats = _coats(keys)
    flaws, unfinished, fires = _flaws(keys), _unfinished(keys), _fires(keys)
    tests = _tests(coats, today or timezone.localdate(), studio)
    prefetch_related_objects(rows, "clay")  # asks only where it is not at hand
    return {
        piece.pk: _advice(
            piece.clay.name,
            coats[piece.pk],
            flaws[piece.pk],
            piece.pk in unfinished,
            fires[piece.pk],
            tests,
        )
        for piece in rows
    }


def _advice(
    body: str,
    coats: list[GlazeOnPiece],
    flaws: list[Flaw],
    unfinished: bool,
    fires: list[tuple[str, Fire]],
    tests: list[TestRow],
) -> advice.Advice:
    surfaces: dict[str, list[Coating]] = {}
    for coat in coats:
        on_it = surfaces.setdefault(coat.surface, [])
        if coat.glaze:
            on_it.append(
                Coating(
                    coat.glaze.name,
                    coat.glaze_id,
                    batch=coat.batch.name if coat.batch else "",
                    changed_on=coat.glaze.recipe_changed_on,
                    on=timezone.localdate(coat.put_on_at),
                    doubtful=coat.glaze.metallic or coat.glaze.food_contact != Glaze.FoodContact.SUITABLE,
                )
            )
    lab = weigh(
        [row.tested for row in tests],
        surfaces=surfaces,
        body=body,
        fires=[fire for _, fire in fires],
    )
    return advice.food_advice(
        coats=[
            advice.Coat(
                coat.surface,
                coat.glaze.name if coat.glaze else "",
                coat.glaze.food_contact if coat.glaze else "unstated",
                bool(coat.glaze and coat.glaze.metallic),
            )
            for coat in coats
        ],
        flaws=[advice.Seen(flaw.kind, flaw.surface) for flaw in flaws],
        unfinished=unfinished,
        underfired=_underfired(coats, fires),
        lab=lab,
    )


def _underfired(coats: list[GlazeOnPiece], fires: list[tuple[str, Fire]]) -> bool:
    """Whether no glaze firing was hot enough for a glaze where food or lips touch."""
    reached = [fire.cone for kind, fire in fires if kind == FiringKind.GLAZE and fire.cone in CONES]
    wanted = [
        coat.glaze.cone_from
        for coat in coats
        if coat.surface in _TOUCHED and coat.glaze and coat.glaze.kind == Glaze.Kind.GLAZE
    ]
    return bool(reached) and any(
        cone in CONES and all(hotter(cone, each) for each in reached) for cone in wanted
    )


def _coats(keys: list[int]) -> dict[int, list[GlazeOnPiece]]:
    found: dict[int, list[GlazeOnPiece]] = defaultdict(list)
    rows = GlazeOnPiece.objects.filter(piece__in=keys).select_related("glaze", "batch")
    for coat in rows.order_by("piece", "surface", "order"):
        found[coat.piece_id].append(coat)
    return found


def _flaws(keys: list[int]) -> dict[int, list[Flaw]]:
    """Flaws that still stand; those that a glaze firing may mend only where they were seen after the last."""
    answers = UnloadAnswer.objects.filter(
        placement__piece__in=keys, placement__firing__kind=FiringKind.GLAZE, undone_at__isnull=True
    )
    last_fired = dict(answers.order_by("at").values_list("placement__piece", "at"))
    found: dict[int, list[Flaw]] = defaultdict(list)
    rows = Flaw.objects.filter(piece__in=keys, withdrawn_at__isnull=True).select_related("answer")
    for flaw in rows.order_by("piece", "-answer__at", "kind"):
        fired_at = last_fired.get(flaw.piece_id)
        stays = flaw.kind not in advice.MENDED_BY_FIRE
        if stays or fired_at is None or flaw.answer.at >= fired_at:
            found[flaw.piece_id].append(flaw)
    return found


def _unfinished(keys: list[int]) -> set[int]:
    jobs = FinishingJob.objects.filter(piece__in=keys, withdrawn_at__isnull=True, done_at__isnull=True)
    return set(jobs.values_list("piece", flat=True))


def _fires(keys: list[int]) -> dict[int, list[tuple[str, Fire]]]:
    """Kind and fire of every glaze and low firing a piece came out of, the first one first."""
    found: dict[int, list[tuple[str, Fire]]] = defaultdict(list)
    events = (
        Event.objects.filter(
            piece__in=keys,
            undone_by__isnull=True,
            kind__in=[Event.Kind.UNLOADED, Event.Kind.FOUND, Event.Kind.KNOWN],
            firing__kind__in=[FiringKind.GLAZE, FiringKind.LOW],
        )
        .select_related("firing__kiln")
        .order_by("piece", "at", "pk")
    )
    for event in events:
        firing = event.firing
        fire = Fire(firing.kiln.name, firing.cone, programme_of(firing.programme_as_fired))
        found[event.piece_id].append((firing.kind, fire))
    return found


def _tests(coats: dict[int, list[GlazeOnPiece]], today: date, studio: Studio | None) -> list[TestRow]:
    keys = set()
    for of_piece in coats.values():
        on: dict[str, list[str]] = defaultdict(list)
        for coat in of_piece:
            if coat.glaze_id and coat.surface in _TOUCHED:
                on[coat.surface].append(str(coat.glaze_id))
        keys |= {">".join(each) for each in on.values()}
    if not keys:
        return []
    tests = lab_tests().filter(combination__key__in=keys)
    return rows_of(tests, studio=studio or Studio.the(), today=today)
