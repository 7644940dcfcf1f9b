"""How combinations of glazes turn out: counted by the database, judged by stated rules."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Count, F, OuterRef, Q, QuerySet, Subquery
from django.utils.functional import lazy

from studio.domain.glaze_search import Asked, layers_match
from studio.domain.glaze_verdict import NOT_THE_GLAZE, Reliability, Verdict, verdict
from studio.domain.intervals import Comparison, compare
from studio.domain.say import midway, say, say_many
from studio.models import (
    Combination,
    CombinationLayer,
    Flaw,
    FlawKind,
    Glaze,
    GlazeResult,
    Photo,
    UnloadAnswer,
)

from .loads import layer_name

SHOWN_COMBINATIONS = 60
SHOWN_PIECES = 24


@dataclass(frozen=True, slots=True)
class Row:
    """A combination with its glazes from the clay up and what may be said of it."""

    combination: Combination
    glazes: tuple[Glaze, ...]
    verdict: Verdict

    @property
    def words(self) -> str:
        return say(" over ").join(glaze.name for glaze in reversed(self.glazes))


def results(asked: Asked | None = None, *, kiln: str = "") -> QuerySet[GlazeResult]:
    """Those of this cone, form, surface, clay and kiln (by code); anything where nothing is asked."""
    rows = GlazeResult.objects.order_by()
    asked = asked or Asked()
    if asked.cone:
        rows = rows.filter(cone=asked.cone)
    if asked.form:
        rows = rows.filter(piece__form=asked.form)
    if asked.surface:
        rows = rows.filter(surfaces__contains=asked.surface)
    if asked.clay:
        rows = rows.filter(clay__name=asked.clay)
    if kiln:
        rows = rows.filter(kiln__code=kiln)
    return rows


def outcomes(rows: QuerySet[GlazeResult]) -> dict[int, dict[str, int]]:
    """``{combination: {outcome: pieces}}``, in one query."""
    counts: dict[int, dict[str, int]] = defaultdict(lambda: {"sound": 0, "flawed": 0, "lost": 0})
    for combination, outcome, count in rows.values_list("combination", "outcome").annotate(Count("pk")):
        counts[combination][outcome] = count
    return counts


def summaries(asked: Asked | None = None, *, kiln: str = "", reliability: str = "") -> list[Row]:
    """Combinations with results, those with most pieces first. Three queries whatever the number."""
    asked = asked or Asked()
    counts = outcomes(results(asked, kiln=kiln))
    glazes = glazes_of(counts)
    names = {key: tuple(glaze.name for glaze in on_it) for key, on_it in glazes.items()}
    wanted = [key for key in counts if layers_match(asked.glazes, names.get(key, ()))]
    known = Combination.objects.in_bulk(wanted)
    rows = []
    for key in wanted:
        said = verdict(**counts[key])
        if said is not None and (not reliability or said.reliability == reliability):
            rows.append(Row(known[key], glazes[key], said))
    return sorted(rows, key=lambda row: (-row.verdict.pieces, row.words))


def glazes_of(combinations: Iterable[int]) -> dict[int, tuple[Glaze, ...]]:
    """The glazes of combinations by primary key, from the clay up, in one query."""
    found: dict[int, list[Glaze]] = defaultdict(list)
    layers = CombinationLayer.objects.filter(combination__in=list(combinations)).select_related("glaze")
    for layer in layers.order_by("combination", "order"):
        found[layer.combination_id].append(layer.glaze)
    return {key: tuple(glazes) for key, glazes in found.items()}


@dataclass(frozen=True, slots=True)
class WentWrong:
    kind: str
    words: str
    count: int
    aside: str


@dataclass(frozen=True, slots=True)
class OnLayer:
    """What stood on one shelf of the kiln: ``outcomes`` one for each piece, sound first."""

    name: str
    outcomes: tuple[str, ...]
    told: str


def went_wrong(rows: QuerySet[GlazeResult]) -> list[WentWrong]:
    """Flaws seen on these surfaces, or on a surface that nobody said; the commonest first. One query."""
    flaws = Flaw.objects.filter(
        Q(surface="") | Q(answer__glaze_results__surfaces__contains=F("surface")),
        withdrawn_at__isnull=True,
        answer__glaze_results__in=rows.values("pk"),
    )
    counts = flaws.order_by().values_list("kind").annotate(count=Count("answer", distinct=True))
    return [
        WentWrong(kind, FlawKind(kind).label, count, NOT_THE_GLAZE.get(kind, ""))
        for kind, count in sorted(counts, key=lambda row: (-row[1], row[0]))
    ]


def by_layer(rows: QuerySet[GlazeResult]) -> list[OnLayer]:
    """By shelf from the top, as loads name them. One query."""
    counts: dict[str, dict[str, int]] = defaultdict(lambda: {"sound": 0, "flawed": 0, "lost": 0})
    order: dict[str, float] = {}
    grouped = rows.values_list("layer_number", "layer_count", "outcome").annotate(Count("pk"))
    for number, count, outcome, pieces in grouped:
        name = layer_name(number, count)
        counts[name][outcome] += pieces
        order[name] = 99 if number == 1 and count > 1 else count - number
    shown = []
    for name in sorted(counts, key=lambda name: order[name]):
        each = counts[name]
        told = ", ".join(
            f"{each[kind]} {midway(UnloadAnswer.Outcome(kind).label)}"
            for kind in UnloadAnswer.Outcome.values
            if each[kind]
        )
        signs = [kind for kind in ("sound", "flawed", "lost") for _ in range(each[kind])]
        shown.append(OnLayer(name, tuple(signs[:120]), told))
    return shown


@dataclass(frozen=True, slots=True)
class Split:
    """The same combination parted by something: its words and its verdict."""

    words: str
    verdict: Verdict


def split_by(rows: QuerySet[GlazeResult], field: str) -> list[Split]:
    """Parted by clay, cone, kiln or the coats together. One query."""
    names = {"clay": "clay__name", "kiln": "kiln__name"}
    counts: dict[object, dict[str, int]] = defaultdict(lambda: {"sound": 0, "flawed": 0, "lost": 0})
    for value, outcome, count in rows.values_list(names.get(field, field), "outcome").annotate(Count("pk")):
        counts[value][outcome] = count
    parts = []
    for value in sorted(counts, key=lambda value: (-sum(counts[value].values()), str(value))):
        said = verdict(**counts[value])
        if said is not None:
            parts.append(Split(_said(field, value), said))
    return parts


def _said(field: str, value: object) -> str:
    if field == "cone":
        return say("Cone {value}", value=value)
    if field == "thick":
        return say_many("{count} coat together", "{count} coats together", value)
    return str(value)


def newest(rows: QuerySet[GlazeResult], *, most: int = SHOWN_PIECES) -> list[GlazeResult]:
    """The latest, each with its piece, ``photo_after`` that firing and ``photo_any``, codes or None."""
    after = Photo.objects.filter(piece=OuterRef("piece"), taken_at__gte=OuterRef("at")).order_by("taken_at")
    any_photo = Photo.objects.filter(piece=OuterRef("piece")).order_by("-taken_at")
    return list(
        rows.select_related("piece", "firing", "clay")
        .annotate(
            photo_after=Subquery(after.values("code")[:1]), photo_any=Subquery(any_photo.values("code")[:1])
        )
        .order_by("-at", "-pk")[:most]
    )


def compared(first: Verdict, second: Verdict) -> Comparison:
    """Whether one comes out sound more often than the other."""
    return compare(
        first_successes=first.sound.successes,
        first_trials=first.sound.trials,
        second_successes=second.sound.successes,
        second_trials=second.sound.trials,
    )


def _capital(reliability: str) -> str:
    words = say(reliability)
    return words[:1].upper() + words[1:]


RELIABILITIES = [(each.value, lazy(_capital, str)(each.value)) for each in Reliability]
