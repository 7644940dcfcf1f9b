"""Photos of one piece, sorted by its firings: as it went in, and as it came out."""

from __future__ import annotations

from dataclasses import dataclass, field

from studio.domain.stages import FIRING_WORDS, IN_KILN, FiringKind, Stage
from studio.models import Event, Firing, Photo, Piece

_Span = tuple[Firing, Event, Event | None]


def photos_of(piece: Piece) -> list[Photo]:
    """Newest first."""
    return list(piece.photos.select_related("by").order_by("-taken_at", "-id"))


@dataclass(frozen=True, slots=True)
class Beside:
    """One firing of a piece: the last photo before it and the first after; None where nobody took one."""

    firing: Firing
    before: Photo | None
    after: Photo | None

    @property
    def words(self) -> str:
        return f"{FIRING_WORDS[FiringKind(self.firing.kind)]} {self.firing.number}"


@dataclass(slots=True)
class Album:
    """Photos beside their firings, the latest firing first, and all the others, the newest first."""

    firings: list[Beside] = field(default_factory=list)
    others: list[Photo] = field(default_factory=list)

    def __bool__(self) -> bool:
        return bool(self.firings or self.others)


def album(photos: list[Photo], events: list[Event]) -> Album:
    """``events``: what stands of the piece's history, oldest first, with firings. No query.

    A photo taken at unloading belongs to the firing that it names, whatever the clocks say. One that was
    taken between two firings is after the one and before the other.
    """
    spans = _spans(events)
    oldest_first = sorted(photos, key=lambda photo: (photo.taken_at, photo.pk))
    found = Album()
    for number, (firing, went_in, came_out) in enumerate(spans):
        earlier = spans[number - 1] if number else None
        later = spans[number + 1] if number + 1 < len(spans) else None
        before = [
            photo
            for photo in oldest_first
            if photo.taken_at <= went_in.at
            and photo.firing_id != firing.pk
            and (earlier is None or photo.firing_id == earlier[0].pk or _came_out_by(earlier, photo))
        ]
        after = [
            photo
            for photo in oldest_first
            if photo.firing_id == firing.pk
            or (
                photo.firing_id is None
                and came_out is not None
                and photo.taken_at >= came_out.at
                and (later is None or photo.taken_at <= later[1].at)
            )
        ]
        beside = Beside(firing, before[-1] if before else None, after[0] if after else None)
        if beside.before or beside.after:
            found.firings.insert(0, beside)
    used = {photo.pk for row in found.firings for photo in (row.before, row.after) if photo}
    found.others = [photo for photo in photos if photo.pk not in used]
    return found


def _came_out_by(span: _Span, photo: Photo) -> bool:
    return span[2] is not None and photo.taken_at >= span[2].at


def _spans(events: list[Event]) -> list[_Span]:
    """Each firing of the piece with the event that put it in and the one that took it out."""
    spans: list[_Span] = []
    for event in events:
        if event.from_stage == event.to_stage:
            continue
        if event.to_stage in IN_KILN and event.firing:
            spans.append((event.firing, event, None))
        elif event.from_stage and Stage(event.from_stage) in IN_KILN and spans and spans[-1][2] is None:
            spans[-1] = (*spans[-1][:2], event)
    return spans
