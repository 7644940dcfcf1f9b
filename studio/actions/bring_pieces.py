"""Pieces out of a table: each line one piece, at the stage it has now."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from datetime import datetime, time
from enum import Enum
from typing import Any

from studio.domain import marks
from studio.domain.bring import Row
from studio.domain.bring_cells import length_mm, plain
from studio.domain.say import later, say
from studio.domain.stages import STAGE_WORDS
from studio.models import ClayBody, Event, Person, Piece, Shelf

from .bring_lines import Brought, Line, PeopleByName, Result
from .common import clean_email, refuse, studio_zone
from .pieces import CAN_BE_ENTERED, enter_piece

#: What a table may call the studio's own pieces.
_STUDIO = frozenset({"studio", "the studio", "studio’s own", "studio's own"})


class PiecesBringer:
    def __init__(self, brought: Brought) -> None:
        self.brought = brought
        self.people = PeopleByName()
        self.zone = studio_zone()
        self.clays = {plain(clay.name): clay for clay in ClayBody.objects.filter(retired_at__isnull=True)}
        self.shelves = {plain(shelf.name): shelf for shelf in Shelf.objects.filter(retired_at__isnull=True)}
        self.live = {piece.mark: piece for piece in Piece.objects.live().select_related("maker")}

    def start_line(self) -> None:
        """Nothing is remembered from one line to the next but what went in."""

    def forget_line(self) -> None:
        """A refused line has left nothing."""

    def in_order(self, rows: list[Row]) -> Iterable[Row]:
        return rows

    def enter(self, row: Row, line: Line) -> None:
        line.what = " ".join(filter(None, [row["mark"].upper(), row["form"].lower(), row["maker"]]))
        maker, own = self._maker(row)
        client_id = f"brought:{row.key}"
        event = Event.objects.filter(client_id=client_id).select_related("piece").first()
        there = event.piece if event else self._with_mark(row["mark"], maker, own)
        whose = say("the studio’s own") if own else f"{maker.full_name}’s"
        if there is not None:
            line.is_(Result.KNOWN, f"{there}, {whose}")
            return
        sizes = self._sizes(row)
        piece = enter_piece(
            by=self.brought.by,
            maker=maker,
            studios_own=own,
            form=_one_of(row["form"], Piece.Form, what=later("form")),
            technique=_one_of(
                row["technique"] or say("Thrown"), Piece.Technique, what=say("way it was made")
            ),
            use=_one_of(
                row["use"] or say("Food and drink"),
                Piece.Use,
                what=later("use"),
                also={"decoration": "decorative"},
            ),
            clay=self._clay(row["clay"]),
            measured_stage=self._stage(row["stage"]),
            shelf=self._shelf(row["shelf"]),
            cone_wanted=row["cone"],
            due_on=self.brought.day(row["due_on"]),
            made_at=self._made_at(row["made_on"]),
            notes=row["notes"],
            mark=row["mark"] or None,
            client_id=client_id,
            now=self.brought.now,
            **sizes,
        )
        self.live[piece.mark] = piece
        self.brought.note("pieces", piece.pk)
        given = (
            []
            if row["mark"]
            else [say("Gets a mark of its own, such as {mark}: write it on the piece.", mark=piece.mark)]
        )
        line.is_(Result.NEW, f"{piece.get_form_display()}, {whose}", *given)

    def _maker(self, row: Row) -> tuple[Person | None, bool]:
        if plain(row["maker"]) in _STUDIO:
            return None, True
        email = clean_email(row["maker_email"])
        if not email and not row["maker"]:
            refuse(
                "maker-missing",
                say("Whose it is is missing. Write the maker, or “studio” for the studio’s own."),
            )
        return self.people.the_one(name=row["maker"], email=email, what=later("maker")), False

    def _with_mark(self, mark: str, maker: Person | None, own: bool) -> Piece | None:
        """The live piece that this line is, where it has its mark and its maker."""
        piece = self.live.get(marks.normalise(mark)) if mark else None
        same = piece is not None and piece.studios_own == own and piece.maker == maker
        return piece if same else None

    def _sizes(self, row: Row) -> dict[str, Any]:
        unit = self.brought.choice.length_unit
        for name in ("width", "height"):
            if not row[name]:
                refuse("size-missing", say("The {name} is missing. Measure it and fill it in.", name=name))
        width, height = length_mm(row["width"], unit=unit), length_mm(row["height"], unit=unit)
        depth = length_mm(row["depth"], unit=unit) if row["depth"] else width
        return {"is_round": not row["depth"], "width_mm": width, "depth_mm": depth, "height_mm": height}

    def _clay(self, name: str) -> ClayBody:
        if not name and len(self.clays) == 1:
            return next(iter(self.clays.values()))
        if plain(name) not in self.clays:
            known = ", ".join(clay.name for clay in self.clays.values())
            said = say("No clay is called “{name}”.", name=name) if name else say("The clay is missing.")
            refuse(
                "no-such-clay",
                say("{said} The studio has {known}.", said=said, known=known or say("none yet")),
            )
        return self.clays[plain(name)]

    def _shelf(self, name: str) -> Shelf | None:
        if name and plain(name) not in self.shelves:
            refuse(
                "no-such-shelf",
                say(
                    "No shelf is called “{name}”. Enter the shelf first, or leave the cell empty.", name=name
                ),
            )
        return self.shelves.get(plain(name))

    def _stage(self, word: str) -> str:
        words = {plain(STAGE_WORDS[stage]): stage.value for stage in CAN_BE_ENTERED}
        words |= {plain(stage.value): stage.value for stage in CAN_BE_ENTERED}
        if word and plain(word) not in words:
            refuse(
                "no-such-stage",
                say(
                    "“{word}” is no stage to enter a piece at. Write one of: {can_be_entered}.",
                    word=word,
                    can_be_entered=", ".join(STAGE_WORDS[stage].lower() for stage in CAN_BE_ENTERED),
                ),
            )
        return words.get(plain(word), "wet")

    def _made_at(self, cell: str) -> datetime | None:
        """Noon of the day it was made; today is now, so that it is not ahead of the clock."""
        day = self.brought.day(cell)
        if day is None or day == self.brought.today:
            return None
        return datetime.combine(day, time(12), tzinfo=self.zone)


def _one_of(word: str, choices: type[Enum], *, what: str, also: Mapping[str, str] | None = None) -> str:
    """The value whose name or label this is."""
    words = {plain(label): value for value, label in choices.choices}
    words |= {plain(value): value for value in choices.values} | dict(also or {})
    key = plain(word)
    if key not in words and key.rstrip("s") in words:  # "bowls"
        key = key.rstrip("s")
    if key not in words:
        said = (
            say("“{word}” is no {what}", word=word, what=what)
            if word
            else say("The {what} is missing", what=what)
        )
        refuse(
            "no-such-word",
            say(
                "{said}. Write one of: {labels}.",
                said=said,
                labels=", ".join(label.lower() for label in choices.labels),
            ),
        )
    return words[key]
