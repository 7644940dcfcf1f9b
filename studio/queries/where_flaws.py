"""Where in a kiln flaws gather: counted by the database by height and side, said with their intervals."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass

from django.db.models import (
    Case,
    CharField,
    Count,
    Exists,
    F,
    FloatField,
    OuterRef,
    Q,
    QuerySet,
    Subquery,
    Value,
    When,
)
from django.db.models.functions import Abs, Cast

from studio.domain.intervals import FEW, Rate, Verdict, compare, rate
from studio.domain.say import later
from studio.models import Firing, Flaw, FlawKind, Kiln, Layer, Photo, UnloadAnswer

LEVELS = (
    ("top", later("Top shelf")),
    ("between", later("Shelves between")),
    ("bottom", later("Bottom shelf")),
)
SIDES = (
    ("middle", later("in the middle")),
    ("front", later("at the front")),
    ("back", later("at the back")),
    ("left", later("on the left")),
    ("right", later("on the right")),
)
SHOWN_DOTS = 600
SHOWN_PHOTOS = 12
#: The middle is what lies nearer to the centre than to the wall.
_MIDDLE = 0.5


@dataclass(frozen=True, slots=True)
class Zone:
    """One side of one height of the kiln; ``more`` and ``fewer`` than elsewhere in it, or neither."""

    level: str
    side: str
    words: str
    faults: Rate
    elsewhere: Rate | None
    verdict: Verdict

    @property
    def more(self) -> bool:
        return self.verdict == Verdict.HIGHER

    @property
    def fewer(self) -> bool:
        return self.verdict == Verdict.LOWER


@dataclass(frozen=True, slots=True)
class Dot:
    """Where one piece stood, mm from the middle: ``sound``, ``flawed`` or ``lost``."""

    x_mm: int
    y_mm: int
    outcome: str


@dataclass(frozen=True, slots=True)
class Height:
    name: str
    zones: tuple[Zone, ...]
    dots: tuple[Dot, ...]


def answers_in(kiln: Kiln, *, kind: str = "", flaw: str = "") -> QuerySet[UnloadAnswer]:
    """What came out of its closed firings, with ``level``, ``side`` and ``bad``: has this flaw, or any, or
    is lost."""
    rows = UnloadAnswer.objects.filter(
        placement__firing__kiln=kiln, placement__firing__state=Firing.State.CLOSED, undone_at__isnull=True
    ).exclude(loss_cause=UnloadAnswer.LossCause.MISSING)
    if kind:
        rows = rows.filter(placement__firing__kind=kind)
    bad = ~Q(outcome=UnloadAnswer.Outcome.SOUND)
    if flaw:
        seen = Flaw.objects.filter(answer=OuterRef("pk"), withdrawn_at__isnull=True, kind=flaw)
        bad = Q(Exists(seen))
    above = Layer.objects.filter(
        firing=OuterRef("placement__firing"), number=OuterRef("placement__layer__number") + 1
    )
    across = Cast("placement__x_mm", FloatField()) * (2 / kiln.width_mm)
    along = Cast("placement__y_mm", FloatField()) * (2 / kiln.depth_mm)
    rows = rows.annotate(u=across, v=along)
    if kiln.shape == Kiln.Shape.RECTANGLE:
        middle = Q(u__gte=-_MIDDLE, u__lte=_MIDDLE, v__gte=-_MIDDLE, v__lte=_MIDDLE)
    else:
        rows = rows.annotate(out=F("u") * F("u") + F("v") * F("v"))
        middle = Q(out__lte=_MIDDLE**2)
    return rows.annotate(wide=Abs("u"), deep=Abs("v")).annotate(
        level=_named(
            When(~Exists(above), then=Value("top")),
            When(placement__layer__number=1, then=Value("bottom")),
            other="between",
        ),
        side=_named(
            When(middle, then=Value("middle")),
            When(deep__gte=F("wide"), v__lt=0, then=Value("front")),
            When(deep__gte=F("wide"), then=Value("back")),
            When(u__lt=0, then=Value("left")),
            other="right",
        ),
        bad=Case(When(bad, then=Value(1)), default=Value(0)),
    )


def _named(*cases: When, other: str) -> Case:
    return Case(*cases, default=Value(other), output_field=CharField())


def heights(kiln: Kiln, *, kind: str = "", flaw: str = "") -> list[Height]:
    """Each height of the kiln from the top: its zones, and where the latest pieces stood. Three queries."""
    rows = answers_in(kiln, kind=kind, flaw=flaw).order_by()
    counts: dict[tuple[str, str], list[int]] = defaultdict(lambda: [0, 0])
    for level, side, bad, pieces in rows.values_list("level", "side", "bad").annotate(Count("pk")):
        counts[level, side][0] += bad * pieces
        counts[level, side][1] += pieces
    judged, dots = _judged(counts), _dots(rows, flaw=flaw)
    found = []
    for level, name in LEVELS:
        zones = tuple(judged[level, side] for side, _ in SIDES if (level, side) in judged)
        if zones:
            found.append(Height(name, zones, tuple(dots[level])))
    return found


def _judged(counts: dict[tuple[str, str], list[int]]) -> dict[tuple[str, str], Zone]:
    """Every zone against all others together; the confidence is raised for how many are looked at."""
    all_bad, all_pieces = (sum(each[place] for each in counts.values()) for place in (0, 1))
    looked = sum(pieces >= FEW for _, pieces in counts.values()) or 1
    where = dict(SIDES)
    names = dict(LEVELS)
    found = {}
    for (level, side), (bad, pieces) in counts.items():
        rest, rest_bad = all_pieces - pieces, all_bad - bad
        verdict, elsewhere = Verdict.TOO_FEW, None
        if rest:
            elsewhere = rate(successes=rest_bad, trials=rest)
            verdict = compare(
                first_successes=bad,
                first_trials=pieces,
                second_successes=rest_bad,
                second_trials=rest,
                comparisons=looked,
            ).verdict
        words = f"{names[level]}, {where[side]}"
        found[level, side] = Zone(level, side, words, rate(successes=bad, trials=pieces), elsewhere, verdict)
    return found


def _dots(rows: QuerySet[UnloadAnswer], *, flaw: str) -> dict[str, list[Dot]]:
    """By level the latest of them; the bad ones come last, to be drawn over the others."""
    latest = list(rows.order_by("-at", "-pk").values_list("pk", flat=True)[:SHOWN_DOTS])
    places = rows.filter(pk__in=latest).order_by("bad", "at", "pk")
    found: dict[str, list[Dot]] = defaultdict(list)
    for level, x, y, outcome, bad in places.values_list(
        "level", "placement__x_mm", "placement__y_mm", "outcome", "bad"
    ):
        shown = "sound"
        if bad:
            shown = "flawed" if flaw and outcome == UnloadAnswer.Outcome.SOUND else outcome
        found[level].append(Dot(x, y, shown))
    return found


def photos(kiln: Kiln, *, kind: str = "", flaw: str = "") -> list[UnloadAnswer]:
    """The latest that came out bad, each with ``photo``, the code of one taken since. One query."""
    since = Photo.objects.filter(piece=OuterRef("placement__piece"), taken_at__gte=OuterRef("at"))
    rows = answers_in(kiln, kind=kind, flaw=flaw).filter(bad=1)
    rows = rows.annotate(photo=Subquery(since.order_by("taken_at").values("code")[:1]))
    shown = rows.filter(photo__isnull=False).select_related("placement__piece", "placement__firing")
    return list(shown.order_by("-at", "-pk")[:SHOWN_PHOTOS])


def flaws_seen(kiln: Kiln) -> list[tuple[str, str]]:
    """The kinds of flaw this kiln has shown, to choose from."""
    kinds = (
        Flaw.objects.filter(
            answer__placement__firing__kiln=kiln,
            answer__placement__firing__state=Firing.State.CLOSED,
            answer__undone_at__isnull=True,
            withdrawn_at__isnull=True,
        )
        .order_by()
        .values_list("kind", flat=True)
        .distinct()
    )
    seen = set(kinds)
    return [(kind.value, str(kind.label)) for kind in FlawKind if kind.value in seen]
