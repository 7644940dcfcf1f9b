"""Filling a kiln that is loaded in part: what stands in it stays, layers are added above and filled."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

from .loading import plan
from .loading_layers import Furnisher
from .loading_plan import Plan, value_bound
from .loading_shapes import PROPS_PER_SHELF, Chamber, Clearances, Item, Layer, Load, Position, Stock
from .loading_value import Weights
from .loading_ways import FULLEST

#: Prop heights tried on the topmost layer that stays: the lowest that clear its ware.
_HEIGHTS_TRIED = 3
#: Parts of the time for a first look at each of them, above it and with it.
_LOOK = 0.07
#: Why a piece can't be in any load of this kiln and cone: it says nothing about how full the kiln could be.
_NEVER = {"too-tall", "too-wide", "other-cone", "damp"}


def plan_on(
    *,
    items: Iterable[Item],
    chamber: Chamber,
    stock: Stock,
    clearances: Clearances,
    bisque: bool = False,
    layers: Sequence[Layer] = (),
    held: Sequence[Position] = (),
    weights: Weights | None = None,
    seconds: float = 1,
    seed: int = 0,
    clock: Callable[[], float] | None = None,
) -> Plan:
    """`plan`, round pieces that stand in the kiln already (``held``) on ``layers``, bottom first.

    The layers up to the highest that holds one stay, with their props; above them the kiln is furnished anew.
    Without held pieces it is `plan` with nothing fixed. Raises DomainError where what stands is not legal.
    """
    pieces = list(items)
    given = {
        "items": pieces,
        "clearances": clearances,
        "bisque": bisque,
        "weights": weights,
        "seed": seed,
        "clock": clock,
    }
    if not held:
        return plan(chamber=chamber, stock=stock, seconds=seconds, **given)
    highest = max(position.layer for position in held)
    kept = tuple(layer for layer in layers if layer.number <= highest)
    by_key = {item.key: item for item in pieces}
    inside = {position.key for position in held}
    best: tuple[float, tuple[Layer, ...]] | None = None
    tried = _furnished(
        chamber=chamber,
        stock=stock,
        clearances=clearances,
        bisque=bisque,
        kept=kept,
        held=held,
        by_key=by_key,
        look=lambda **upper: plan(
            **{**given, **upper, "items": [i for i in pieces if i.key not in inside]},
            seconds=seconds * _LOOK,
        ),
    )
    for found in tried:
        looked = plan(
            chamber=chamber, stock=stock, layers=found, pinned=held, seconds=seconds * _LOOK, **given
        )
        if best is None or looked.value > best[0] + 1e-9:
            best = (looked.value, found)
    assert best is not None
    rest = seconds * max(0.3, 1 - _LOOK * 2 * len(tried))
    return plan(chamber=chamber, stock=stock, layers=best[1], pinned=held, seconds=rest, **given)


def _furnished(
    *,
    chamber: Chamber,
    stock: Stock,
    clearances: Clearances,
    bisque: bool,
    kept: tuple[Layer, ...],
    held: Sequence[Position],
    by_key: Mapping[str, Item],
    look: Callable[..., Plan],
) -> list[tuple[Layer, ...]]:
    """Sets of layers to fill: those that stay by themselves, and with others above on several props."""
    top = kept[-1]
    bare = (*kept[:-1], replace(top, props_mm=()))
    load = Load(chamber, bare, tuple(held), stock, clearances, bisque)
    tallest = max(by_key[p.key].height_mm for p in held if p.layer == top.number)
    sets = [bare]
    left = _without(stock, kept[:-1], shelves=len(kept), of=top)
    heights = [
        height
        for height in Furnisher(chamber, left, clearances).heights
        if height >= tallest + clearances.above_mm
    ]
    for height in sorted({*sorted(heights)[:_HEIGHTS_TRIED], *[h for h in heights if h == top.prop_mm]}):
        stack = _stack(height, left)
        if stack is None:
            continue
        carrying = replace(top, props_mm=stack)
        above = replace(chamber, floor_mm=load.base_mm(top) + carrying.prop_mm)
        spare = _without(left, [carrying], shelves=0, of=top)
        if above.floor_mm + top.shelf.thickness_mm + clearances.lid_mm >= chamber.height_mm:
            continue
        upper = look(chamber=above, stock=spare)
        if upper.load.positions:
            more = (replace(layer, number=layer.number + top.number) for layer in upper.load.layers)
            sets.append((*kept[:-1], carrying, *more))
    return sets


def _without(stock: Stock, layers: Iterable[Layer], *, shelves: int, of: Layer) -> Stock:
    """The stock less the props of these layers and so many shelves like that of a layer."""
    props = dict(stock.props)
    for layer in layers:
        for length in layer.props_mm:
            props[length] = props.get(length, 0) - PROPS_PER_SHELF
    counts = dict(stock.shelves)
    counts[of.shelf] = max(0, counts.get(of.shelf, 0) - shelves)
    return Stock({length: max(0, count) for length, count in props.items()}, counts)


def _stack(height_mm: float, stock: Stock) -> tuple[float, ...] | None:
    """One stack of props of this height, a single one before two; None when the stock has none."""
    enough = {length for length, count in stock.props.items() if count >= PROPS_PER_SHELF}
    if height_mm in enough:
        return (height_mm,)
    for long in sorted(enough, reverse=True):
        short = height_mm - long
        if short in enough and (short != long or stock.props[long] >= 2 * PROPS_PER_SHELF):
            return (long, short)
    return None


def most_share(found: Plan, items: Iterable[Item]) -> float:
    """The part of the chamber that no load of these pieces can pass, beside `Plan.volume_share`.

    Held against the whole stock, whatever stands in the kiln now.
    """
    load = found.load
    never = {out.key for out in found.left_out if out.code in _NEVER}
    litres = value_bound(
        items=[item for item in items if item.key not in never],
        furnisher=Furnisher(load.chamber, load.stock, load.clearances),
        weights=FULLEST.weights,
        stacked=False,
    )
    height = load.chamber.height_mm - load.chamber.floor_mm - load.clearances.lid_mm
    return litres * 1e6 / (load.chamber.outline.area_mm2 * height) if height > 0 else 0.0
