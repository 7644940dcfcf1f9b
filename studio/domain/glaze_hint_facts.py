"""What hints about glazes are worked out from, and the hint itself: see `glaze_hints`."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum


class Tone(StrEnum):
    """``stop``: think again. ``care``: mind this. ``good``: nothing speaks against it."""

    STOP = "stop"
    CARE = "care"
    GOOD = "good"


@dataclass(frozen=True, slots=True)
class Hint:
    """``code`` names the rule. ``words`` say what it is and what to do; ``why`` is what stands behind it."""

    code: str
    words: str
    tone: Tone = Tone.CARE
    why: str = ""
    #: A stand under the piece answers it.
    met_by_stand: bool = False

    def __str__(self) -> str:
        return self.words


@dataclass(frozen=True, slots=True)
class Laid:
    """A glaze as it lies on one surface; ``order`` 1 is on the clay. ``movement``: still, moves or runs."""

    surface: str
    name: str
    order: int = 1
    coats: int = 1
    cone_from: str = "6"
    cone_to: str = "6"
    movement: str = "still"
    food_contact: str = "unstated"
    metallic: bool = False
    kind: str = "glaze"


@dataclass(frozen=True, slots=True)
class Glazed:
    """The piece and all that lies on it. ``clay_cones`` are the coolest and hottest its clay is fired to."""

    form: str
    clay: str
    clay_cones: tuple[str, str]
    laid: tuple[Laid, ...] = ()
    for_food: bool = False
    low_firings: int = 0
    #: What `load_rules.why_a_stand` says of it.
    stand_why: str = ""

    def on(self, surface: str) -> list[Laid]:
        return sorted((each for each in self.laid if each.surface == surface), key=lambda each: each.order)


@dataclass(frozen=True, slots=True)
class Record:
    """What became of a combination here. ``flaws``: kind -> pieces that had it; ``scope``: of which pieces,
    in words, such as ``on Quill stoneware at cone 6``."""

    words: str
    surfaces: tuple[str, ...]
    sound: int
    flawed: int
    lost: int
    flaws: Mapping[str, int] = field(default_factory=dict)
    scope: str = "here"

    @property
    def pieces(self) -> int:
        return self.sound + self.flawed + self.lost


@dataclass(frozen=True, slots=True)
class Layered:
    """What the studio says of one glaze over another: good, careful or never, and its note."""

    over: str
    under: str
    word: str
    note: str = ""
