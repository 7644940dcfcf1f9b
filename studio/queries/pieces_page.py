"""What the page of one piece shows: its track with dates, sizes, glazes, photos, shares and history."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Sum

from studio.domain.advice import Advice
from studio.domain.care import care_lines
from studio.domain.say import later, say
from studio.domain.stages import ENDED, GREENWARE, STAGE_WORDS, Route, Stage, track
from studio.models import Event, FinishingJob, FiringShare, Flaw, GlazeOnPiece, Person, Piece, Studio

from . import food_advice
from .loads_sizes import shrinkage_of

_MADE = {
    "thrown": later("Thrown"),
    "coiled": later("Coiled"),
    "slab": later("Built from slabs"),
    "pinched": later("Pinched"),
    "moulded": later("Moulded"),
}
_FIRED_WORDS = {
    Stage.BISQUE_FIRING: later("Bisque fired"),
    Stage.GLAZE_FIRING: later("Glaze fired"),
    Stage.LOW_FIRING: later("Low fired"),
}
_TO_COME = {
    Stage.BISQUE_FIRING: later("Bisque firing"),
    Stage.GLAZE_FIRING: later("Glaze firing"),
    Stage.LOW_FIRING: later("Low firing"),
    Stage.GLAZED: later("Glazing"),
    Stage.READY: later("Ready shelf"),
}
#: Surfaces in the order in which the drawing is read.
_SURFACES = list(GlazeOnPiece.Surface)


@dataclass(frozen=True, slots=True)
class Step:
    """A line of the track. ``state`` is done, now or next."""

    stage: Stage
    words: str
    state: str
    detail: str = ""
    when: datetime | None = None


def standing_events(piece: Piece) -> list[Event]:
    """What happened and was not undone, oldest first."""
    return list(
        piece.events.filter(undone_by__isnull=True)
        .exclude(kind=Event.Kind.UNDONE)
        .select_related("firing", "to_shelf", "from_shelf", "by", "to_maker", "from_maker")
        .order_by("id")
    )


def steps_of(piece: Piece, events: list[Event], jobs: list[FinishingJob]) -> list[Step]:
    """The piece's way from clay to its maker's hands, with the dates on which it got there."""
    now = Stage(piece.stage)
    stages = track(Route(piece.route), low_firings=piece.low_firings_wanted, finishing=bool(jobs))
    # Once it is glazed, "bisqued" says nothing that "bisque fired" does not.
    stages = [stage for stage in stages if stage != Stage.BISQUED or now == Stage.BISQUED]
    if now == Stage.FINISHING and now not in stages:
        stages.insert(stages.index(Stage.READY), now)
    if now == Stage.FIRED:
        stages.insert(stages.index(Stage.READY), now)
    reached = {Stage(event.to_stage): event for event in events if event.from_stage != event.to_stage}
    left = {
        Stage(event.from_stage): event
        for event in events
        if event.from_stage and event.from_stage != event.to_stage
    }
    if now in ENDED and now != Stage.COLLECTED:
        ending = reached.get(now)
        last = Stage(ending.from_stage) if ending and ending.from_stage else Stage.WET
        stages = [*stages[: stages.index(last) + 1 if last in stages else 0], now]
    at = stages.index(now) if now in stages else 0
    return [
        _step(piece, stage, index - at, reached.get(stage), left.get(stage), jobs)
        for index, stage in enumerate(stages)
    ]


def _step(
    piece: Piece,
    stage: Stage,
    offset: int,
    came: Event | None,
    went: Event | None,
    jobs: list[FinishingJob],
) -> Step:
    state = "done" if offset < 0 else "now" if offset == 0 else "next"
    if state == "next":
        return Step(stage, _TO_COME.get(stage, STAGE_WORDS[stage]), state)
    detail = ""
    if stage in _FIRED_WORDS and came and came.firing:
        detail = say("Firing {number}, cone {cone}", number=came.firing.number, cone=came.firing.cone)
    elif stage == Stage.WET:
        detail = ", ".join(filter(None, [piece.clay.name, piece.template_used]))
    elif stage == Stage.FINISHING:
        detail = ", ".join(job.note or job.get_kind_display() for job in jobs if not job.done_at)
    elif stage == Stage.FIRED and state == "now":
        detail = say("The tutor decides what happens next")
    elif stage == Stage.READY and state == "now" and piece.shelf:
        detail = piece.shelf.name
    elif came and came.kind == Event.Kind.REFIRE:
        detail = say("To be refired: {note}", note=came.note) if came.note else say("To be refired")
    elif stage in ENDED and stage != Stage.COLLECTED and came:
        detail = came.note
    if stage == Stage.WET:
        return Step(stage, _MADE[piece.technique], state, detail, piece.made_at)
    if stage in _FIRED_WORDS:
        words = _FIRED_WORDS[stage] if state == "done" else STAGE_WORDS[stage]
        moment = went if state == "done" and went else came
        return Step(stage, words, state, detail, moment.at if moment else None)
    return Step(stage, STAGE_WORDS[stage], state, detail, came.at if came else None)


@dataclass(frozen=True, slots=True)
class Sizes:
    """Height and width, mm: as measured, as it was wet, and as it should be now (None: as measured)."""

    measured_stage: Stage
    now_height_mm: int
    now_width_mm: int
    now_depth_mm: int
    wet_height_mm: int | None
    wet_width_mm: int | None
    now_is_estimate: bool
    wet_is_estimate: bool

    @property
    def shrunk_pct(self) -> float | None:
        """Linear shrinkage since wet, % of the wet height."""
        if not self.wet_height_mm or self.wet_height_mm <= self.now_height_mm:
            return None
        return round(100 * (1 - self.now_height_mm / self.wet_height_mm), 1)


def sizes_of(piece: Piece, events: list[Event]) -> Sizes:
    """Measured where somebody measured, else worked out from the clay's shrinkage and said to be so."""
    measured, stage = Stage(piece.measured_stage), Stage(piece.stage)
    lengths = (piece.height_mm, piece.width_mm, piece.depth_mm)
    if stage in ENDED:
        reached = [
            Stage(event.from_stage) for event in events if event.to_stage == stage and event.from_stage
        ]
        stage = reached[-1] if reached else measured
    percents = shrinkage_of(piece.clay)
    kept = 1 - percents[measured] / 100
    now = tuple(round(length * (1 - percents[stage] / 100) / kept) for length in lengths)
    wet_measured = _first_wet(piece, events)
    if wet_measured:
        wet = wet_measured
    elif measured in GREENWARE and measured != Stage.BONE_DRY:
        wet = lengths[:2]
    else:
        wet = tuple(round(length / kept) for length in lengths[:2])
    shows_wet = wet[0] > now[0]
    return Sizes(
        measured_stage=measured,
        now_height_mm=now[0],
        now_width_mm=now[1],
        now_depth_mm=now[2],
        wet_height_mm=wet[0] if shows_wet else None,
        wet_width_mm=wet[1] if shows_wet else None,
        now_is_estimate=now != lengths,
        wet_is_estimate=not wet_measured and measured not in {Stage.WET, Stage.LEATHER_HARD},
    )


def _first_wet(piece: Piece, events: list[Event]) -> tuple[int, int] | None:
    for event in events:
        was = event.before.get("columns", {})
        if event.kind == Event.Kind.RESIZED and was.get("measured_stage") in {Stage.WET, Stage.LEATHER_HARD}:
            return was.get("height_mm", piece.height_mm), was.get("width_mm", piece.width_mm)
    return None


@dataclass(frozen=True, slots=True)
class Covered:
    """One surface and what is on it, in the order it was put on."""

    surface: str
    words: str
    colour: str | None
    coats: list[GlazeOnPiece]


def surfaces_of(piece: Piece) -> list[Covered]:
    by_surface: dict[str, list[GlazeOnPiece]] = {}
    for coat in sorted(piece.glazes_on.all(), key=lambda coat: coat.order):
        by_surface.setdefault(coat.surface, []).append(coat)
    return [
        Covered(
            surface=surface,
            words=GlazeOnPiece.Surface(surface).label,
            colour=by_surface[surface][-1].glaze.colour if by_surface[surface][-1].glaze else None,
            coats=by_surface[surface],
        )
        for surface in _SURFACES
        if surface in by_surface
    ]


def flaws_of(piece: Piece) -> list[Flaw]:
    """Flaws that still stand, of the last firing in which any were seen."""
    flaws = list(
        piece.flaws.filter(withdrawn_at__isnull=True)
        .select_related("answer__placement__firing")
        .order_by("-answer__at", "kind")
    )
    return [flaw for flaw in flaws if flaw.answer_id == flaws[0].answer_id]


def jobs_of(piece: Piece) -> list[FinishingJob]:
    return list(piece.jobs.filter(withdrawn_at__isnull=True))


def advice_for(piece: Piece, *, studio: Studio | None = None) -> Advice | None:
    """Food-use advice for a piece after its last firing; None before, and for what was never fired."""
    return food_advice.advices([piece], studio=studio).get(piece.pk)


def care_for(piece: Piece, said: Advice | None, flaws: list[Flaw]) -> list[str]:
    """How to look after it at home, where there is advice about food at all."""
    if said is None:
        return []
    return care_lines(
        use=said.use,
        metallic=any(coat.glaze and coat.glaze.metallic for coat in piece.glazes_on.all()),
        bare_foot=piece.bare_foot,
        crazed=any(flaw.kind == "crazing" for flaw in flaws),
        outdoor=piece.use == Piece.Use.OUTDOOR,
    )


@dataclass(frozen=True, slots=True)
class ShareRow:
    """A share with what corrections have added to it. ``has_receipt``: every sum of it can be shown."""

    share: FiringShare
    total_mm3: int
    amount_minor: int
    has_receipt: bool


def shares_of(piece: Piece, viewer: Person) -> list[ShareRow] | None:
    """The piece's shares of its firings, oldest first; None for whoever may see no money of this piece.

    The tutor sees all of them. The maker and the guardian see those that either of them pays: a share from
    before the piece changed hands stays with the former maker. A helper sees none, of no piece.
    """
    maker = piece.maker
    rows = FiringShare.objects.filter(placement__piece=piece, settlement__reversed_at__isnull=True)
    if not viewer.is_tutor:
        if viewer.is_staff_member or maker is None or viewer.pk not in {maker.pk, maker.guardian_id}:
            return None
        rows = rows.filter(payer__in=[key for key in (maker.pk, maker.guardian_id) if key])
    rows = list(
        rows.select_related("settlement__firing", "payer").order_by("settlement__firing__number", "pk")
    )
    of_firing: dict[int, list[FiringShare]] = {}
    for row in rows:
        of_firing.setdefault(row.settlement.corrects_id or row.settlement_id, []).append(row)
    totals = dict(
        FiringShare.objects.filter(settlement__in=of_firing)
        .order_by()
        .values_list("settlement")
        .annotate(total=Sum("volume_mm3"))
    )
    return [
        ShareRow(
            share=shares[0],
            total_mm3=totals.get(settlement, 0),
            amount_minor=sum(share.amount_minor for share in shares),
            has_receipt=bool(shares[0].settlement.facts or shares[0].settlement.corrects_id),
        )
        for settlement, shares in of_firing.items()
    ]


def history_of(piece: Piece) -> list[Event]:
    """Every event, undone ones (``is_undone``) and undos too, newest first."""
    events = list(
        piece.events.select_related(
            "by", "from_shelf", "to_shelf", "from_maker", "to_maker", "firing", "undoes"
        ).order_by("-id")
    )
    undone = {event.undoes_id for event in events if event.undoes_id}
    for event in events:
        event.is_undone = event.pk in undone
    return events
