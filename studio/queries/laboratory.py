"""Laboratory tests as the rules need them: held against the studio's limits, and whether due again."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from django.db.models import Prefetch, QuerySet

from studio.domain import release
from studio.domain.laboratory import Coating, Fire, Held, Tested, held_against, retest_reasons
from studio.domain.say import date_words, say
from studio.models import CombinationLayer, Glaze, GlazeBatch, LabTest, Studio

SCHEMES = {
    Studio.ReleaseScheme.ISO: release.Scheme.ISO,
    Studio.ReleaseScheme.EEC: release.Scheme.EEC,
    Studio.ReleaseScheme.FDA: release.Scheme.FDA,
}
KINDS = {
    LabTest.Ware.OTHER: release.Kind.OTHER,
    LabTest.Ware.CUP: release.Kind.CUP_OR_MUG,
    LabTest.Ware.PITCHER: release.Kind.PITCHER,
    LabTest.Ware.COOKING: release.Kind.COOKING,
    LabTest.Ware.STORAGE: release.Kind.STORAGE,
}


@dataclass(frozen=True, slots=True)
class TestRow:
    """A test with what it comes to. ``newest``: nothing newer is of the same glazes, body and firing."""

    test: LabTest
    words: str
    held: Held
    tested: Tested
    retest: tuple[str, ...]
    newest: bool


def lab_tests(among: QuerySet[LabTest] | None = None) -> QuerySet[LabTest]:
    """Those that count, the newest first, with all that `rows_of` asks of them; or others, if named."""
    tests = LabTest.objects.filter(taken_back_at__isnull=True) if among is None else among
    return (
        tests.select_related("combination", "clay", "kiln", "firing")
        .prefetch_related(
            Prefetch(
                "combination__layers", CombinationLayer.objects.select_related("glaze").order_by("order")
            ),
            "batches",
        )
        .order_by("-tested_on", "-pk")
    )


def held(test: LabTest, studio: Studio) -> Held:
    return held_against(
        scheme=SCHEMES[Studio.ReleaseScheme(studio.release_scheme)],
        kind=KINDS[LabTest.Ware(test.ware)],
        depth_mm=test.depth_mm,
        capacity_ml=test.capacity_ml,
        can_be_filled=test.can_be_filled,
        unit=test.unit,
        lead=test.lead,
        cadmium=test.cadmium,
        further_lead=test.further_lead,
        further_cadmium=test.further_cadmium,
    )


def programme_of(as_fired: dict) -> tuple[tuple[object, ...], ...]:
    """The segments a firing keeps, as something to compare; empty where none is known."""
    return tuple(tuple(segment) for segment in (as_fired or {}).get("segments", ()))


def rows_of(tests: Iterable[LabTest], *, studio: Studio, today: date) -> list[TestRow]:
    """The tests with their judgement and what makes them due again. One query beside the tests' own."""
    tests = list(tests)
    glazes = {layer.glaze_id for test in tests for layer in test.combination.layers.all()}
    open_batches: dict[str, list[tuple[str, date]]] = defaultdict(list)
    in_use = GlazeBatch.objects.filter(glaze__in=glazes, finished_on__isnull=True).select_related("glaze")
    for batch in in_use.order_by("made_on", "pk"):
        open_batches[batch.glaze.name].append((batch.name, batch.made_on))
    seen: set[tuple[object, ...]] = set()
    rows = []
    for test in sorted(tests, key=lambda test: (test.tested_on, test.pk), reverse=True):
        layers = [layer.glaze for layer in test.combination.layers.all()]
        judged = held(test, studio)
        tested = _tested(test, layers, judged)
        reasons = retest_reasons(tested, today=today, years=studio.retest_years, open_batches=open_batches)
        same = (test.combination_id, test.clay_id, test.kiln_id, test.cone, tested.fire.programme)
        if reasons:
            tested = Tested(**{**_fields(tested), "retest": reasons[0]})
        rows.append(
            TestRow(
                test,
                say(" over ").join(glaze.name for glaze in reversed(layers)),
                judged,
                tested,
                tuple(reasons),
                same not in seen,
            )
        )
        seen.add(same)
    return rows


def _fields(tested: Tested) -> dict[str, object]:
    return {name: getattr(tested, name) for name in Tested.__slots__}


def _tested(test: LabTest, layers: list[Glaze], judged: Held) -> Tested:
    batches = {batch.glaze_id: batch.name for batch in test.batches.all()}
    why = judged.problem
    if judged.finding == release.Finding.RETEST:
        why = say(
            "The laboratory's figures do not settle it. {reasons}", reasons=judged.judgement.reasons[-1]
        )
    return Tested(
        coatings=tuple(
            Coating(
                glaze.name,
                glaze.pk,
                batch=batches.get(glaze.pk, ""),
                changed_on=glaze.recipe_changed_on,
                on=test.tested_on,
            )
            for glaze in layers
        ),
        body=test.clay.name,
        fire=Fire(test.kiln.name, test.cone, programme_of(test.programme_as_fired)),
        on=test.tested_on,
        on_words=date_words(test.tested_on, "j F Y"),
        method=test.method,
        scheme=str(judged.scheme),
        finding=judged.finding,
        why=why,
    )


def due_again(*, studio: Studio, today: date, glaze: Glaze | None = None) -> list[TestRow]:
    """Newest tests that should be done again, of one glaze or of all."""
    tests = lab_tests()
    if glaze is not None:
        tests = tests.filter(combination__layers__glaze=glaze).distinct()
    return [row for row in rows_of(tests, studio=studio, today=today) if row.newest and row.retest]
