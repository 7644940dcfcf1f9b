"""The sums behind one piece's charge, written so that a pocket calculator agrees with every line.

Each line is a sum of plain numbers with + − × ÷, worked from left to right as a pocket calculator does, and
its result rounded half up to the places shown. A later line uses the result of an earlier one as shown.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from .problems import DomainError
from .say import later, say
from .sharing import Share, SharedFiring, round_half_up
from .sharing_rules import Basis, Free, Layer, Placement

_PLACES_OF_HEIGHT = 6
_PLACES_OF_QUOTA = 2


class Line(StrEnum):
    """What a line of the sum works out."""

    BOX = "box"  # mm³ of the piece's own box
    FOOTPRINT = "footprint"  # mm² on the shelf, with clearance
    HEIGHT_SHARE = "height-share"  # mm of the kiln's height
    QUOTA = "quota"  # exact part of the cost, minor units
    WHOLE_UNITS = "whole-units"  # rounded by largest remainder
    ALLOWANCE = "allowance"  # part that the allowance does not cover
    RATE = "rate"
    STEP = "step"  # rounded to the studio's step
    SMALLEST = "smallest"
    FREE = "free"


#: What each line works out, as it is said on a receipt.
LINE_WORDS = {
    Line.BOX: later("Its own box: width × depth × height"),
    Line.FOOTPRINT: later("Its room on the kiln shelf, with half the clearance all round"),
    Line.HEIGHT_SHARE: later(
        "Its part of the kiln’s height: room × height of the layer ÷ area of the kiln shelf"
    ),
    Line.QUOTA: later("Its part of the cost"),
    Line.WHOLE_UNITS: later("Its share, in the smallest coin"),
    Line.ALLOWANCE: later("What the allowance of the course does not cover"),
    Line.RATE: later("At the maker’s rate"),
    Line.STEP: later("Rounded to the step of the studio"),
    Line.SMALLEST: later("Raised to the smallest charge"),
    Line.FREE: later("Nothing is charged"),
}


class Unit(StrEnum):
    MM2 = "mm²"
    MM3 = "mm³"
    MM = "mm"
    LITRES = "litres"
    MINOR = "minor"


@dataclass(frozen=True, slots=True)
class Sum:
    """One line: ``sum`` as typed into a calculator, ``result`` as it shows, ``note`` for what no sum says."""

    line: Line
    sum: str
    result: str
    unit: Unit
    note: str = ""


def explain(
    *,
    shared: SharedFiring,
    placement: Placement,
    layers: Sequence[Layer] = (),
    share: Share | None = None,
) -> list[Sum]:
    """The lines from the piece's measures to its charge in minor units. `DomainError` if it was not in.

    ``share``, when at hand, is the piece's own, so that it need not be looked for.
    """
    share = share or next((share for share in shared.shares if share.key == placement.key), None)
    if share is None or share.key != placement.key:
        raise DomainError(say("{key} was not in this firing.", key=placement.key), code="keys")
    if not share.weight:  # the studio's own, which this policy leaves out
        return [Sum(Line.FREE, "", "0", Unit.MINOR, note=Free.STUDIO_PIECE.value)]
    if shared.policy.basis == Basis.OWN_BOX:
        lines, space, whole = _box_lines(shared, placement)
    else:
        lines, space, whole = _shelf_lines(shared, share, placement, layers)
    quota = plain(share.quota, _PLACES_OF_QUOTA)
    lines.append(Sum(Line.QUOTA, f"{shared.cost_minor} × {space} ÷ {whole}", quota, Unit.MINOR))
    lines.append(
        Sum(Line.WHOLE_UNITS, "", str(share.share_minor), Unit.MINOR, note=_rounding_note(share, quota))
    )
    return lines + _charge_lines(shared, share)


def _box_lines(shared: SharedFiring, placement: Placement) -> tuple[list[Sum], str, str]:
    box = placement.width_mm * placement.depth_mm * placement.height_mm
    line = Sum(
        Line.BOX,
        f"{placement.width_mm} × {placement.depth_mm} × {placement.height_mm} ÷ 1000000",
        _litres(box),
        Unit.LITRES,
    )
    return [line], line.result, plain(shared.whole / 10**6, 6)


def _shelf_lines(
    shared: SharedFiring, share: Share, placement: Placement, layers: Sequence[Layer]
) -> tuple[list[Sum], str, str]:
    layer = next((layer for layer in layers if layer.number == placement.layer), None)
    if layer is None:
        raise DomainError(
            say("Layer {layer} is needed to explain {key}.", layer=placement.layer, key=placement.key),
            code="layers",
        )
    width = placement.width_mm + shared.policy.clearance_mm
    depth = placement.depth_mm + shared.policy.clearance_mm
    area = str(share.space_mm3 // layer.height_mm)
    lines = [
        Sum(
            Line.FOOTPRINT,
            f"{width} × {width} × 3.1416 ÷ 4" if placement.round else f"{width} × {depth}",
            area,
            Unit.MM2,
        ),
        Sum(
            Line.HEIGHT_SHARE,
            f"{area} × {layer.height_mm} ÷ {layer.area_mm2}",
            plain(share.weight, _PLACES_OF_HEIGHT),
            Unit.MM,
        ),
    ]
    return lines, lines[-1].result, plain(shared.whole, _PLACES_OF_HEIGHT)


def _rounding_note(share: Share, quota: str) -> str:
    if share.quota.denominator == 1:
        return say("A whole number already.")
    if share.extra_unit:
        return say(
            "{quota} is rounded up: it has one of the largest fractions, and those get what is left over.",
            quota=quota,
        )
    return say("{quota} is rounded down: what is left over went to the largest fractions.", quota=quota)


def _charge_lines(shared: SharedFiring, share: Share) -> list[Sum]:
    if share.free is not None:
        return [Sum(Line.FREE, "", "0", Unit.MINOR, note=share.free.value)]
    lines: list[Sum] = []
    amount = Fraction(share.share_minor)
    if share.covered_mm3:
        paid, space = share.space_mm3 - share.covered_mm3, share.space_mm3
        amount = amount * paid / space
        lines.append(
            Sum(
                Line.ALLOWANCE,
                f"{share.share_minor} × {_litres(paid)} ÷ {_litres(space)}",
                plain(amount, 4),
                Unit.MINOR,
                note=say("{litres} litres are part of the course.", litres=_litres(share.covered_mm3)),
            )
        )
        if paid == 0:
            return lines
    if share.rate_per_mille != 1000:
        before = plain(amount, 4)
        amount = amount * share.rate_per_mille / 1000
        percent = plain(Fraction(share.rate_per_mille, 10), 1)
        lines.append(Sum(Line.RATE, f"{before} × {percent} ÷ 100", plain(amount, 4), Unit.MINOR))
    if share.rate_per_mille == 0:
        return lines
    step = shared.policy.rounding_step_minor
    if step > 1 or amount.denominator > 1:
        rounded = round_half_up(amount / step) * step
        note = say("Rounded to the nearest {step}; a half goes up.", step=step)
        lines.append(Sum(Line.STEP, "", str(rounded), Unit.MINOR, note=note))
    if share.at_smallest_charge:
        lines.append(
            Sum(Line.SMALLEST, "", str(share.charge_minor), Unit.MINOR, note=say("The smallest charge."))
        )
    return lines


def plain(value: Fraction, places: int) -> str:
    """A plain decimal, rounded half up to so many places, without zeros at its end; for 0 and more."""
    whole, part = divmod(round_half_up(value * 10**places), 10**places)
    digits = f"{part:0{places}d}".rstrip("0") if places else ""
    return f"{whole}.{digits}" if digits else str(whole)


def _litres(mm3: int) -> str:
    return plain(Fraction(mm3, 10**6), 6)
