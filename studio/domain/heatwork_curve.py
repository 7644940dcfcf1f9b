"""The parts of a noted curve that heat work is reckoned from."""

from __future__ import annotations

from collections.abc import Sequence

_HOT_PART_C = 200.0
_NEAR_TOP_C = 5.0
#: The rise and hold end with the last reading so near the top; what follows is cooling.
_END_C = 2.0
_MOST_READINGS = 600


def hot_part(curve: Sequence[tuple[float, float]], peak: float) -> list[tuple[float, float]]:
    """From 200 °C below the top, which holds all heat work that counts, to the last reading near the top."""
    hot = [place for place, (_, celsius) in enumerate(curve) if celsius >= peak - _HOT_PART_C]
    near = [place for place in hot if curve[place][1] >= peak - _END_C]
    return list(curve[max(0, hot[0] - 1) : near[-1] + 1])


def cools_slowly(curve: Sequence[tuple[float, float]], peak: float) -> bool:
    """Whether the first 50 °C of cooling went slower than 100 °C/h, as far as the readings go."""
    ends = max(place for place, (_, celsius) in enumerate(curve) if celsius >= peak - _NEAR_TOP_C)
    below = [hours for hours, celsius in curve[ends:] if celsius <= peak - 50]
    return bool(below) and below[0] - curve[ends][0] > 0.5


def thinned(curve: list[tuple[float, float]]) -> list[tuple[float, float]]:
    step = 1 + len(curve) // _MOST_READINGS
    thin = curve[::step]
    return thin if thin[-1] == curve[-1] else [*thin, curve[-1]]


def soak_minutes(curve: Sequence[tuple[float, float]], peak: float) -> float:
    near = [hours for hours, celsius in curve if celsius >= peak - _NEAR_TOP_C]
    return (near[-1] - near[0]) * 60
