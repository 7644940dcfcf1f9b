"""What can hurt at each job, in one place, so that every page warns in the same words.

Common practice, no source; none of it replaces the makers' data sheets, the kiln's own instructions or the
rules of the place, and `DEFERS` says so beside every list.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from .problems import DomainError
from .say import later, say


class Danger(StrEnum):
    """What can hurt."""

    MAINS = "mains"
    LICENSED = "licensed"
    HEAT = "heat"
    FUMES = "fumes"
    SILICA = "silica"
    WASH = "wash"
    FIBRE = "fibre"
    LIFTING = "lifting"
    PROPS = "props"
    FIRE = "fire"
    GRINDING = "grinding"
    OPENING = "opening"
    OXIDES = "oxides"


@dataclass(frozen=True, slots=True)
class Caution:
    """One caution: its sign's name, what it is about in two or three words, and what to do."""

    danger: Danger
    sign: str
    heading: str
    words: str


_ALL: dict[Danger, Caution] = {
    caution.danger: caution
    for caution in (
        Caution(
            Danger.MAINS,
            "stop",
            later("Mains off at the wall"),
            later(
                "Isolate the kiln at the wall, and lock or label the switch, before you open it or "
                "touch its elements, thermocouple or wiring. Off on the controller is not off."
            ),
        ),
        Caution(
            Danger.LICENSED,
            "warning",
            later("Wiring is licensed work"),
            later(
                "Elements, relays, plugs and cables are changed and tested by a person who is "
                "licensed to do so where you are."
            ),
        ),
        Caution(
            Danger.HEAT,
            "hot",
            later("Hot for longer than it looks"),
            later(
                "Lid, walls and spy holes burn skin during a firing and for many hours after. "
                "Nothing that burns stands near; gloves made for kilns, and hair and sleeves tied "
                "back."
            ),
        ),
        Caution(
            Danger.OPENING,
            "hot",
            later("Opened near room temperature"),
            later(
                "Sudden cold cracks ware and kiln shelves. Wait until the kiln is below the studio’s "
                "limit, measured by its thermocouple."
            ),
        ),
        Caution(
            Danger.FUMES,
            "warning",
            later("Fumes"),
            later(
                "Clay, wax, glaze and lustre give off fumes that harm the lungs. Vent on, windows "
                "open, nobody works or sleeps in the kiln room while it fires."
            ),
        ),
        Caution(
            Danger.SILICA,
            "dust",
            later("Silica dust"),
            later(
                "Dust of clay, glaze and brick stays in the lungs. Wipe it up wet or with a vacuum "
                "cleaner made for fine dust; never sweep, never blow."
            ),
        ),
        Caution(
            Danger.WASH,
            "dust",
            later("Kiln wash"),
            later(
                "Mix it and brush it on wet. Old wash is scraped or ground off with a fitted dust "
                "mask and eye protection, wetted, outdoors if it can be."
            ),
        ),
        Caution(
            Danger.FIBRE,
            "dust",
            later("Brick and fibre"),
            later(
                "Crumbling brick and ceramic fibre shed dust that must not be breathed. Do not pull "
                "at it; ask the kiln’s maker."
            ),
        ),
        Caution(
            Danger.LIFTING,
            "weight",
            later("Lifting"),
            later(
                "Kiln shelves are heavy and sharp at the edge. Two hands close to the body, two "
                "people for a large one or a deep kiln, and a look for cracks before it carries ware."
            ),
        ),
        Caution(
            Danger.PROPS,
            "weight",
            later("Props first"),
            later("Props come out before the ware of a layer: a falling prop breaks pots and fingers."),
        ),
        Caution(
            Danger.FIRE,
            "heat",
            later("Never left to itself"),
            later(
                "Somebody who knows how to switch it off is within reach for the whole firing, and "
                "the witness cones are looked at through dark glass made for kilns."
            ),
        ),
        Caution(
            Danger.GRINDING,
            "dust",
            later("Grinding"),
            later("Eyes and lungs protected, wheel guarded, and wet. Fired glaze splinters like glass."),
        ),
        Caution(
            Danger.OXIDES,
            "warning",
            later("Alkali and metal oxides"),
            later(
                "Some glaze materials are caustic or poisonous. Gloves and a fitted mask for dry "
                "powder, no food in the glaze room, hands washed after."
            ),
        ),
    )
}
#: The words that stand under every list of cautions.
DEFERS = later(
    "The makers’ data sheets, the kiln’s own instructions and your local rules come "
    "first. Nothing that this program works out replaces them."
)


class Job(StrEnum):
    """A job that is warned of on its page."""

    KILN_CARE = "kiln-care"
    LOADING = "loading"
    FIRING = "firing"
    UNLOADING = "unloading"
    GRINDING = "grinding"
    GLAZING = "glazing"


_FOR: dict[Job, tuple[Danger, ...]] = {
    Job.KILN_CARE: (
        Danger.MAINS,
        Danger.LICENSED,
        Danger.HEAT,
        Danger.WASH,
        Danger.SILICA,
        Danger.FIBRE,
        Danger.LIFTING,
        Danger.FUMES,
    ),
    Job.LOADING: (Danger.MAINS, Danger.LIFTING, Danger.SILICA, Danger.WASH),
    Job.FIRING: (Danger.HEAT, Danger.FUMES, Danger.FIRE, Danger.MAINS),
    Job.UNLOADING: (Danger.MAINS, Danger.OPENING, Danger.PROPS, Danger.LIFTING, Danger.SILICA),
    Job.GRINDING: (Danger.GRINDING, Danger.SILICA),
    Job.GLAZING: (Danger.OXIDES, Danger.SILICA),
}


def cautions_for(job: Job | str) -> tuple[Caution, ...]:
    """The cautions of a job, the most urgent first. Raises `DomainError` for a job nobody knows."""
    try:
        return tuple(_ALL[danger] for danger in _FOR[Job(job)])
    except ValueError:
        raise DomainError(say("There are no cautions for {job}.", job=repr(job)), code="job") from None
