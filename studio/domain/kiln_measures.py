"""A kiln's measures: what each may be, where to start, what looks odd, and the space round its thermocouple.

Ranges and starting values are common practice, no source: those of the electric kilns of studios.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

from .lengths import Unit, fine_words, unit_in_force
from .loading_shapes import PROPS_PER_SHELF, KeptClear
from .packing_shapes import Outline, Rectangle, Round
from .problems import DomainError
from .props import heights_possible, stacks_for
from .say import figure, later, say


@dataclass(frozen=True, slots=True)
class Measure:
    """One figure: its name in a sentence, the least and most it can be, its unit, and where a form starts."""

    called: str
    least: int
    most: int
    unit: str = "mm"
    start: int | None = None
    advice: str = later("Measure it again.")

    def allows(self, value: int | Decimal) -> bool:
        return self.least <= value <= self.most

    def refusal(self, value: int | Decimal | str) -> str:
        """Why a figure can't be, and what to do; lengths in the unit in force."""
        if self.unit == "mm" and isinstance(value, int) and unit_in_force() is Unit.INCH:
            return say(
                "{length} can't be the {called}. It is {least} to {most}. {advice}",
                length=fine_words(value),
                called=self.called,
                least=fine_words(self.least),
                most=fine_words(self.most),
                advice=self.advice,
            )
        unit = f" {self.unit}" if self.unit else ""
        figure = f"{value:,}" if isinstance(value, int) else f"{value}"
        return say(
            "{figure}{unit} can't be the {called}. It is {least} to {most}{unit}. {advice}",
            figure=figure,
            unit=unit,
            called=self.called,
            least=format(self.least, ","),
            most=format(self.most, ","),
            advice=self.advice,
        )


MEASURES: dict[str, Measure] = {
    "sides": Measure(later("number of sides"), 5, 16, "", 12, later("Count them.")),
    "width_mm": Measure(later("width inside"), 100, 2000, start=450),
    "depth_mm": Measure(later("depth inside"), 100, 2000, start=450),
    "height_mm": Measure(later("height inside"), 100, 2000, start=570),
    "shelf_width_mm": Measure(later("width of a kiln shelf"), 50, 2000, start=400),
    "shelf_depth_mm": Measure(later("depth of a kiln shelf"), 50, 2000, start=400),
    "shelf_thickness_mm": Measure(later("thickness of a kiln shelf"), 5, 60, start=16),
    "floor_gap_mm": Measure(later("height of the bottom shelf off the floor"), 0, 300, start=25),
    "lid_gap_mm": Measure(later("room under the lid"), 0, 300, start=25),
    "whole_shelves": Measure(later("number of whole kiln shelves"), 0, 100, "", 4, later("Count them.")),
    "half_shelves": Measure(later("number of half kiln shelves"), 0, 200, "", 2, later("Count them.")),
    "prop_side_mm": Measure(later("width of a prop"), 10, 100, start=30),
    "thermocouple_clock": Measure(
        later("place of the thermocouple on the clock face"),
        1,
        12,
        "",
        None,
        later("12 is the back, 3 the right."),
    ),
    "thermocouple_height_mm": Measure(later("height of the thermocouple over the floor"), 10, 2000),
    "thermocouple_reach_mm": Measure(later("length of the thermocouple inside"), 5, 300, start=40),
    "thermocouple_clear_mm": Measure(later("room round the thermocouple"), 5, 150, start=25),
    "power_kw": Measure("power", 0, 100, "kW", None, later("Read it from the plate on the kiln.")),
    "duty_percent": Measure(
        later("share of time the elements are on"), 1, 100, "%", None, later("Half is usual.")
    ),
}
#: What a new kiln's form begins with: a round one of a usual size, that fits on three shelves.
STARTING_PROPS_MM: dict[int, int] = {51: 6, 76: 6, 102: 6, 152: 6}
STARTING_POWER_KW = Decimal("6.5")

#: Between these many watts for each litre of chamber a kiln is built.
LEAST_W_A_LITRE, MOST_W_A_LITRE = 25, 250
#: Room that a kiln shelf leaves to the wall all round.
LEAST_AT_WALL_MM, MOST_AT_WALL_MM = 10, 100
_MOST_ALONG = 6


@dataclass(frozen=True, slots=True)
class Thermocouple:
    """Through the wall at ``clock`` (12 is the back, seen from above), ``height_mm`` over the floor, reaching
    ``reach_mm`` in. Ware and shelves keep ``clear_mm`` from it."""

    clock: int
    height_mm: int
    reach_mm: int = 40
    clear_mm: int = 25

    def tip_mm(self, chamber: Outline) -> tuple[float, float]:
        """x, y of its end in the chamber. Raises `DomainError` when it reaches past the middle."""
        wall = self._to_wall(chamber)
        if self.reach_mm > wall:
            raise DomainError(
                say(
                    "A thermocouple {reach_mm} mm long would reach past the middle of this kiln. Measure "
                    "how far it stands out of the wall.",
                    reach_mm=self.reach_mm,
                )
            )
        return self._at(wall - self.reach_mm)

    def kept_clear(self, chamber: Outline) -> tuple[KeptClear, ...]:
        """The space kept clear: upright discs along it, from its end to the wall."""
        self.tip_mm(chamber)
        wall = self._to_wall(chamber)
        steps = max(1, min(_MOST_ALONG, math.ceil(self.reach_mm / self.clear_mm)))
        low, high = max(0, self.height_mm - self.clear_mm), self.height_mm + self.clear_mm
        return tuple(
            KeptClear(
                *self._at(wall - self.reach_mm + self.reach_mm * step / steps), self.clear_mm, low, high
            )
            for step in range(steps + 1)
        )

    def _direction(self) -> tuple[float, float]:
        angle = math.radians(30 * (self.clock % 12))
        return math.sin(angle), math.cos(angle)

    def _to_wall(self, chamber: Outline) -> float:
        x, y = self._direction()
        if isinstance(chamber, Round):
            return chamber.diameter_mm / 2
        if isinstance(chamber, Rectangle):
            ways = [
                half / abs(part)
                for half, part in ((chamber.width_mm / 2, x), (chamber.depth_mm / 2, y))
                if abs(part) > 1e-9
            ]
            return min(ways)
        raise DomainError(say("A thermocouple is placed in a round or a rectangular kiln."))

    def _at(self, distance: float) -> tuple[float, float]:
        x, y = self._direction()
        return round(x * distance, 1), round(y * distance, 1)


@dataclass(frozen=True, slots=True)
class Built:
    """A kiln as far as its measures are known: what `remarks` and the picture look at."""

    shape: str
    width_mm: int
    depth_mm: int
    height_mm: int
    shelf_width_mm: int
    shelf_depth_mm: int
    shelf_thickness_mm: int
    floor_gap_mm: int
    lid_gap_mm: int
    whole_shelves: int
    half_shelves: int
    power_kw: Decimal | None = None
    props: Mapping[int, int] | None = None
    thermocouple: Thermocouple | None = None

    @property
    def outline(self) -> Outline:
        if self.shape == "rectangle":
            return Rectangle(self.width_mm, self.depth_mm)
        return Round(min(self.width_mm, self.depth_mm))

    @property
    def litres(self) -> float:
        return self.outline.area_mm2 * self.height_mm / 1e6

    @property
    def levels(self) -> int:
        """Layers that its shelves make: two halves lie side by side for one whole."""
        return self.whole_shelves + self.half_shelves // 2

    @property
    def free_mm(self) -> int:
        """Height over the bottom shelf, up to the room kept under the lid."""
        return self.height_mm - self.floor_gap_mm - self.lid_gap_mm - self.shelf_thickness_mm


def layer_heights(built: Built) -> tuple[int, ...]:
    """An even build for a picture: props of each layer, bottom first, 0 on the top one; as many layers as
    shelves, props and height give."""
    stock = {length: count for length, count in (built.props or {}).items() if count > 0}
    for levels in range(min(built.levels, 12), 1, -1):
        room = (built.free_mm - (levels - 1) * built.shelf_thickness_mm) / levels
        heights = _tallest(stock, most_mm=room, count=levels - 1)
        if heights is not None:
            return (*heights, 0)
    return (0,)


def _tallest(stock: Mapping[int, int], *, most_mm: float, count: int) -> tuple[int, ...] | None:
    """So many props heights of at most ``most_mm``, the tallest that the stock can make at once."""
    fitting = [height for height in heights_possible(stock) if height <= most_mm]
    chosen: list[int] = []
    for height in reversed(fitting):
        while len(chosen) < count and stacks_for(heights_mm=[*chosen, height], stock=stock) is not None:
            chosen.append(height)
    return tuple(chosen) if len(chosen) == count else None


def remarks(built: Built) -> list[str]:
    """What looks odd about a kiln that is possible all the same: sentences to read, nothing is refused."""
    found = [*_about_shelves(built), *_about_props(built)]
    if built.power_kw:
        density = float(built.power_kw) * 1000 / built.litres
        if not LEAST_W_A_LITRE <= density <= MOST_W_A_LITRE:
            which = say("little") if density < LEAST_W_A_LITRE else say("much")
            found.append(
                say(
                    "{normalize} kW is {which} for {litres} litres. Look at the plate on the kiln again.",
                    normalize=figure(built.power_kw.normalize(), "f"),
                    which=which,
                    litres=figure(built.litres, ".0f"),
                )
            )
    return [*found, *_about_thermocouple(built)]


def _about_shelves(built: Built) -> list[str]:
    found = []
    at_wall = min(built.width_mm - built.shelf_width_mm, built.depth_mm - built.shelf_depth_mm) / 2
    if at_wall < LEAST_AT_WALL_MM:
        found.append(
            say(
                "The kiln shelf leaves {at_wall} mm to the wall. Heat wants room to rise, and "
                "fingers to lift: {least_at_wall_mm} mm or more is usual.",
                at_wall=figure(at_wall, "g"),
                least_at_wall_mm=LEAST_AT_WALL_MM,
            )
        )
    if at_wall > MOST_AT_WALL_MM:
        found.append(
            say(
                "The kiln shelf leaves {at_wall} mm all round. Is it this kiln’s shelf?",
                at_wall=figure(at_wall, "g"),
            )
        )
    if built.half_shelves % 2:
        found.append(say("One half shelf is left over: two halves lie side by side, left and right."))
    stacked = built.levels * built.shelf_thickness_mm + built.floor_gap_mm + built.lid_gap_mm
    if stacked > built.height_mm:
        found.append(say("There are more kiln shelves than fit in at once."))
    return found


def _about_props(built: Built) -> list[str]:
    if built.props is None:
        return []
    stock = {length: count for length, count in built.props.items() if count}
    if not stock:
        return [say("Without props only one layer can be loaded.")]
    found = []
    few = [length for length, count in sorted(stock.items()) if count < PROPS_PER_SHELF]
    if few:
        lengths = ", ".join(f"{length}" for length in few)
        found.append(say("Fewer than three props of {lengths} mm: three hold a layer.", lengths=lengths))
    long = [length for length in sorted(stock) if length > built.free_mm]
    if long:
        lengths = ", ".join(f"{length}" for length in long)
        found.append(say("Props of {lengths} mm are taller than the room there is.", lengths=lengths))
    return found


def _about_thermocouple(built: Built) -> list[str]:
    probe = built.thermocouple
    if probe is None:
        return [say("The thermocouple is not entered, so nothing is kept away from it.")]
    half = min(built.width_mm - built.shelf_width_mm, built.depth_mm - built.shelf_depth_mm) / 2
    if probe.reach_mm + probe.clear_mm > half:
        low, high = max(0, probe.height_mm - probe.clear_mm), probe.height_mm + probe.clear_mm
        return [
            say(
                "No kiln shelf may lie between {low} and {high} cm over the floor: the thermocouple "
                "is there.",
                low=figure(low / 10, "g"),
                high=figure(high / 10, "g"),
            )
        ]
    return []
