"""What the checker finds, and a piece as it stands in the chamber."""

from __future__ import annotations

from dataclasses import dataclass

from .loading_shapes import Item, Layer, Position
from .problems import Problem
from .say import figure, say


@dataclass(frozen=True, slots=True)
class LoadProblem(Problem):
    """A problem of a load: the pieces (keys) and the layer it concerns, besides code and message."""

    keys: tuple[str, ...] = ()
    layer: int | None = None


@dataclass(frozen=True, slots=True)
class Stood:
    """A piece in the chamber: outline (corners grown by radius), lowest and highest point, its layer."""

    item: Item
    position: Position
    layer: Layer
    corners: tuple[tuple[float, float], ...]
    radius: float
    low_mm: float
    high_mm: float


def piece_problem(code: str, item: Item, rest: str, layer: Layer | None = None) -> LoadProblem:
    number = None if layer is None else layer.number
    return LoadProblem(
        code,
        say("Piece {key} {rest}", key=item.key, rest=rest),
        about=item.key,
        keys=(item.key,),
        layer=number,
    )


def pair_problem(code: str, keys: tuple[str, str], rest: str, *, overridable: bool = False) -> LoadProblem:
    return LoadProblem(
        code,
        say("Pieces {keys} and {keys_2} {rest}", keys=keys[0], keys_2=keys[1], rest=rest),
        overridable,
        keys[1],
        keys,
    )


def in_mm(value: float) -> str:
    return say("{max} mm", max=figure(max(0.0, value), ".1f"))
