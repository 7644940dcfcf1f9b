"""Pots for the demo: what people make, from wet to bone dry and on to glazed, with drawn photos."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import count
from random import Random

from studio.actions import photos, pieces
from studio.actions.pieces_glaze import Coat, note_glazes
from studio.actions.shelves import mark_printed
from studio.domain.stages import Route, Stage
from studio.imaging.photos import store_ready_many
from studio.imaging.photos_drawn import drawn_photo
from studio.models import Person, Piece, Tag

from .books import Books

#: form -> (round, width, depth, height) in mm as thrown or built, wet.
FORMS: dict[str, tuple[bool, int, int, int]] = {
    "mug": (False, 124, 92, 104),
    "bowl": (True, 162, 162, 78),
    "plate": (True, 236, 236, 30),
    "vase": (True, 118, 118, 182),
    "jug": (False, 158, 122, 176),
    "jar": (True, 128, 128, 132),
    "bottle": (True, 98, 98, 188),
    "planter": (True, 148, 148, 138),
    "tile": (False, 124, 124, 14),
    "box": (False, 132, 96, 88),
    "figure": (False, 112, 92, 142),
}
THROWN = ("mug", "bowl", "mug", "vase", "bowl", "jug", "plate", "bottle", "jar", "planter")
BUILT = ("box", "tile", "figure", "plate", "planter", "bowl")


@dataclass
class Ware:
    """Makes and moves the demo's pieces. One seed, one studio."""

    books: Books
    random: Random
    _ids: count = field(default_factory=lambda: count(1))

    def client_id(self) -> str:
        return f"demo:{next(self._ids)}"

    def make(
        self,
        maker: str | None,
        form: str,
        made_at: datetime,
        *,
        course: str | None = None,
        clay: str = "stoneware",
        **fields: object,
    ) -> Piece:
        """One wet piece, its size a little different each time."""
        is_round, width, depth, height = FORMS.get(form, FORMS["bowl"])
        by_hand = self.random.uniform(0.9, 1.08)
        person = self.books.people[maker] if maker else None
        fields.setdefault("session", self.books.session_before(course, made_at) if course else None)
        fields.setdefault("technique", "thrown" if course != "handbuilding" else "slab")
        if fields["technique"] == "thrown":
            fields.setdefault("base_mm", 5 + round(height * by_hand) % 8)
        return pieces.enter_piece(
            by=person if person and not person.is_young_on(self.books.today) else self.books.tutor,
            maker=person,
            form=form,
            clay=self.books.clays[clay],
            is_round=is_round,
            width_mm=round(width * by_hand),
            depth_mm=round((width if is_round else depth) * by_hand),
            height_mm=round(height * by_hand),
            shelf=self.books.shelves["rack"],
            made_at=made_at,
            client_id=self.client_id(),
            now=made_at,
            random=self.random,
            **fields,
        )

    def move(self, piece: Piece, to: Stage, now: datetime, shelf: str | None = None) -> None:
        pieces.move_piece(piece=piece, to=to, by=self.books.tutor, client_id=self.client_id(), now=now)
        if shelf:
            self.put(piece, shelf, now)

    def put(self, piece: Piece, shelf: str, now: datetime) -> None:
        piece.refresh_from_db(fields=["shelf"])
        if piece.shelf == self.books.shelves[shelf]:
            return
        pieces.put_on_shelf(
            piece=piece,
            shelf=self.books.shelves[shelf],
            by=self.books.helper,
            client_id=self.client_id(),
            now=now,
        )

    def dry(self, batch: Sequence[Piece], made_at: datetime) -> None:
        """Leather-hard after two days, bone dry after nine: on the trolley."""
        for piece in batch:
            self.move(piece, Stage.LEATHER_HARD, made_at + timedelta(days=2))
            self.move(piece, Stage.BONE_DRY, made_at + timedelta(days=9), "trolley")
        self.print_slips(batch, made_at + timedelta(hours=1))

    def print_slips(self, batch: Sequence[Piece], now: datetime) -> None:
        mark_printed(tags=Tag.objects.filter(piece__in=batch), by=self.books.tutor, now=now)

    def glaze(self, piece: Piece, now: datetime, *coats: tuple[str, str | None]) -> None:
        """``("outside", "fern")`` and so on; a repeated surface is a second coat over the first."""
        seen: dict[str, int] = {}
        rows = []
        for surface, glaze in coats:
            seen[surface] = seen.get(surface, 0) + 1
            rows.append(
                Coat(
                    surface=surface,
                    glaze=self.books.glazes[glaze] if glaze else None,
                    order=seen[surface],
                    method="dipped",
                )
            )
        note_glazes(
            piece=piece, coats=rows, by=self.glazer(piece), client_id=self.client_id(), at=now, now=now
        )
        self.put(piece, "queue", now + timedelta(minutes=10))

    def glazer(self, piece: Piece) -> Person:
        maker = piece.maker
        if maker is None or maker.is_young_on(self.books.today) or not maker.is_active:
            return self.books.tutor
        return maker

    def usual_glaze(self, piece: Piece, now: datetime) -> None:
        """A glaze fit for the piece's clay and use, drawn by chance."""
        if piece.clay == self.books.clays["red"]:
            return self.glaze(piece, now, ("outside", "barley"), ("inside", "barley"), ("foot", None))
        outside = self.random.choice(("fern", "mere", "chalk", "chalk", "ember", "mere"))
        inside = "chalk" if outside == "ember" else self.random.choice((outside, "chalk"))
        if piece.form in {"tile", "figure"}:
            return self.glaze(piece, now, ("outside", outside), ("foot", None))
        return self.glaze(
            piece, now, ("outside", outside), ("inside", inside), ("rim", inside), ("foot", None)
        )

    def photograph(self, batch: Sequence[Piece], now: datetime, *, firing: object = None) -> None:
        """One drawn photo of each piece as it is now; made safe together, which is quicker."""
        rows = [Piece.objects.prefetch_related("glazes_on__glaze").get(pk=piece.pk) for piece in batch]
        pictures = store_ready_many(self._picture(piece) for piece in rows)
        for minute, (piece, picture) in enumerate(zip(rows, pictures, strict=True)):
            photos.add_photo(
                piece=piece,
                data=picture,
                by=self.books.tutor,
                client_id=self.client_id(),
                taken_at=now + timedelta(minutes=minute),
                firing=firing,
                now=now + timedelta(minutes=minute),
            )

    def _picture(self, piece: Piece) -> bytes:
        colours = {coat.surface: coat.glaze.colour if coat.glaze else None for coat in piece.glazes_on.all()}
        return drawn_photo(
            form=piece.form,
            width_mm=piece.width_mm,
            height_mm=piece.height_mm,
            stage=piece.stage,
            random=self.random,
            colour=colours.get("outside"),
            inside_colour=colours.get("inside"),
            clay_colour=piece.clay.colour,
            width_px=1000,
            height_px=750,
        )

    def batch(
        self, students: Sequence[str], forms: Sequence[str], made_at: datetime, **fields
    ) -> list[Piece]:
        """One piece for each student in turn, of each form in turn."""
        return [
            self.make(students[index % len(students)], form, made_at + timedelta(minutes=4 * index), **fields)
            for index, form in enumerate(forms)
        ]


def is_glazable(piece: Piece) -> bool:
    return piece.stage == Stage.BISQUED and piece.route != Route.BISQUE_ONLY
