"""Unloading as its pages show it: layers from the top, what comes next, and what does not add up."""

from __future__ import annotations

from dataclasses import dataclass

from django.db.models import Exists, OuterRef, Prefetch, QuerySet

from studio.domain.problems import Problem
from studio.domain.say import say
from studio.models import Event, FinishingJob, Firing, Flaw, Layer, Photo, Piece, Placement, UnloadAnswer

from .loads import layer_name
from .loads_waiting import GLAZES


@dataclass(frozen=True, slots=True)
class Place:
    """A place of the load. ``before`` is the latest photo from before this firing, ``after`` those of it.

    ``found`` says that the piece was not in the load and was found in the kiln.
    """

    placement: Placement
    piece: Piece
    answer: UnloadAnswer | None
    before: Photo | None
    after: tuple[Photo, ...]
    found: bool

    @property
    def is_answered(self) -> bool:
        return self.answer is not None

    @property
    def flaws(self) -> list[Flaw]:
        return list(self.answer.flaws.all()) if self.answer else []

    @property
    def jobs(self) -> list[FinishingJob]:
        return list(self.answer.jobs.all()) if self.answer else []


@dataclass(frozen=True, slots=True)
class LayerOfPlaces:
    """A layer with its places in the order they are unloaded, and how many are answered."""

    layer: Layer
    name: str
    places: tuple[Place, ...]

    @property
    def total(self) -> int:
        return len(self.places)

    @property
    def answered(self) -> int:
        return sum(place.is_answered for place in self.places)

    @property
    def left(self) -> int:
        return self.total - self.answered

    @property
    def part(self) -> float:
        """How much of it is answered, 0 to 1."""
        return self.answered / self.total if self.total else 1.0


@dataclass(frozen=True, slots=True)
class Unload:
    """A firing's places by layer, the top one first. ``last`` is the latest answer that stands, for Undo."""

    firing: Firing
    layers: tuple[LayerOfPlaces, ...]
    last: Place | None

    @property
    def places(self) -> list[Place]:
        return [place for layer in self.layers for place in layer.places]

    @property
    def total(self) -> int:
        return sum(layer.total for layer in self.layers)

    @property
    def answered(self) -> int:
        return sum(layer.answered for layer in self.layers)

    @property
    def left(self) -> int:
        return self.total - self.answered

    @property
    def next(self) -> Place | None:
        """The first place without an answer, from the top layer down."""
        return next((place for place in self.places if not place.is_answered), None)

    def layer_of(self, place: Place) -> LayerOfPlaces:
        """The layer a place is on."""
        return next(layer for layer in self.layers if layer.layer.pk == place.placement.layer_id)

    def place_of(self, code: str) -> Place | None:
        """The place of the piece with this public code, or None."""
        return next((place for place in self.places if place.piece.code == code), None)

    def after(self, place: Place) -> Place | None:
        """The next open place after this one, going round to what was passed over."""
        places = self.places
        start = places.index(place) + 1
        rest = places[start:] + places[: start - 1]
        return next((other for other in rest if not other.is_answered), None)

    @property
    def counts(self) -> dict[str, int]:
        """How many are sound, flawed and lost so far."""
        counts = dict.fromkeys(UnloadAnswer.Outcome.values, 0)
        for place in self.places:
            if place.answer:
                counts[place.answer.outcome] += 1
        return counts


def unload_of(firing: Firing) -> Unload:
    """Everything the unload pages need, at one query count whatever is in the kiln."""
    layers = list(firing.layers.order_by("-number"))
    placements = (
        firing.placements.filter(taken_out_at__isnull=True)
        .select_related("piece__maker__guardian", "piece__clay", "piece__piece_set")
        .prefetch_related(
            Prefetch("piece__glazes_on", queryset=GLAZES.queryset),
            Prefetch("piece__photos", queryset=Photo.objects.order_by("taken_at", "pk")),
            Prefetch(
                "answers",
                queryset=UnloadAnswer.objects.filter(undone_at__isnull=True)
                .select_related("by", "shelf", "event")
                .prefetch_related("flaws", "jobs"),
            ),
        )
        .order_by("pk")
    )
    by_layer: dict[int, list[Place]] = {layer.pk: [] for layer in layers}
    for placement in placements:
        by_layer[placement.layer_id].append(_place(placement, firing))
    rows = tuple(
        LayerOfPlaces(layer, layer_name(layer.number, len(layers)), tuple(by_layer[layer.pk]))
        for layer in layers
    )
    answered = [place for row in rows for place in row.places if place.answer]
    last = max(answered, key=lambda place: (place.answer.at, place.answer.pk), default=None)
    return Unload(firing, rows, last)


def _place(placement: Placement, firing: Firing) -> Place:
    answer = next(iter(placement.answers.all()), None)
    photos = list(placement.piece.photos.all())
    after = tuple(photo for photo in photos if photo.firing_id == firing.pk and not _before(photo, firing))
    earlier = [photo for photo in photos if photo not in after and _before(photo, firing)]
    return Place(
        placement=placement,
        piece=placement.piece,
        answer=answer,
        before=earlier[-1] if earlier else None,
        after=after,
        found=answer is not None and answer.event.kind == Event.Kind.FOUND,
    )


def _before(photo: Photo, firing: Firing) -> bool:
    return firing.opened_at is None or photo.taken_at < firing.opened_at


def all_answered(firing: Firing) -> bool:
    """Whether every place has its answer: one query, however large the load."""
    standing = UnloadAnswer.objects.filter(placement=OuterRef("pk"), undone_at__isnull=True)
    places = firing.placements.filter(taken_out_at__isnull=True)
    return not places.filter(~Exists(standing)).exists()


def reconcile(firing: Firing) -> list[Problem]:
    """What does not add up yet. Places without an answer keep the firing from being closed; what was found
    and belongs to nobody, and what is not there, is for the tutor to see and does not."""
    unload = unload_of(firing)
    problems = []
    for layer in unload.layers:
        for place in layer.places:
            mark = place.piece.mark
            if place.answer is None:
                words = say(
                    "{mark} on the {name} has no answer yet. Say what is there.",
                    mark=mark,
                    name=layer.name.lower(),
                )
                problems.append(Problem("unanswered", words, about=mark))
            elif place.answer.loss_cause == UnloadAnswer.LossCause.MISSING:
                words = say(
                    "{mark} was expected on the {name} and is not there. Look for it.",
                    mark=mark,
                    name=layer.name.lower(),
                )
                problems.append(Problem("missing", words, overridable=True, about=mark))
            elif place.found and place.piece.maker_id is None and not place.piece.studios_own:
                words = say(
                    "{mark} was found without a mark. Nobody knows yet whose it is; the studio pays for it.",
                    mark=mark,
                )
                problems.append(Problem("nobodys", words, overridable=True, about=mark))
            elif place.found:
                words = say("{mark} was found here and was elsewhere by the books.", mark=mark)
                problems.append(Problem("found", words, overridable=True, about=mark))
    return problems


def orphans() -> QuerySet[Piece]:
    """Live pieces of which nobody knows whose they are, the latest first."""
    return (
        Piece.objects.live()
        .filter(maker__isnull=True, studios_own=False)
        .select_related("clay", "shelf")
        .prefetch_related("photos")
        .order_by("-stage_since", "-pk")
    )
