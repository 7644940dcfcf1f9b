"""The search for a load: promising builds are filled, the better ones kept, changed and improved."""

from __future__ import annotations

import math
import random
from collections.abc import Mapping, Sequence
from dataclasses import replace

from .loading_builds import good_builds
from .loading_fill import Filler, Ground, positions_of
from .loading_first_fit import first_fit_builds, first_fit_load
from .loading_layers import Furnisher, build_of, change
from .loading_room import kept_clear_on
from .loading_shapes import Item, Layer, Load, Position
from .loading_units import Unit, units_of
from .loading_value import Weights
from .packing_budget import Budget
from .packing_shapes import Placed


def search_load(
    bare: Load,
    furnisher: Furnisher,
    items: Sequence[Item],
    held: Mapping[str, Item],
    weights: Weights,
    budget: Budget,
    chance: random.Random,
) -> Load:
    """Fill the promising builds, keep the better half, and so on until one is left; then improve that one."""
    widest = max([2 * i.footprint.reach_mm for i in (*items, *held.values())], default=1.0)
    ground = Ground(widest)
    fillers = _fillers(bare, furnisher, items, held, weights, ground, budget, chance)
    if not fillers:
        return bare
    while len(fillers) > 1 and budget.left > 0 and not fillers[0].complete:
        part = budget.share(0.2)
        each = part.left // len(fillers)
        for filler in fillers:
            _work(filler, each, budget)
        fillers.sort(key=lambda f: -f.best.value)
        fillers = fillers[: (len(fillers) + 1) // 2]
    best = max(fillers, key=lambda f: f.best.value)
    # Kept for pushing in what is left over, and for the plain way, which takes time by the square of the
    # pieces.
    plain_cost = 40 * len(items) ** 2
    affordable = not bare.layers and plain_cost <= min(budget.total // 4, budget.left)
    aside = budget.left // 6 + (plain_cost if affordable else 0)
    while budget.left > aside and not best.complete:
        _work(best, budget.total // 25, budget)
        if not bare.layers and not best.complete:
            best = _other_build(best, bare, furnisher, ground, held, budget, chance)
    budget.spend(plain_cost if affordable else 0)
    load = _settled(best, budget)
    if affordable and not best.complete:
        plain = first_fit_load(bare=bare, furnisher=furnisher, units=units_of(items, weights))
        worth = {item.key: weights.of(item) for item in items}
        if _value(plain, worth) > _value(load, worth) + 1e-9:
            return plain
    return load


def _value(load: Load, worth: Mapping[str, float]) -> float:
    return sum(worth[position.key] for position in load.positions)


def _other_build(
    best: Filler,
    bare: Load,
    furnisher: Furnisher,
    ground: Ground,
    held: Mapping[str, Item],
    budget: Budget,
    chance: random.Random,
) -> Filler:
    """Try other props with what stands already; the better of the two goes on."""
    heights = furnisher.useful_heights(best.heights)
    for _ in range(20):
        build = change(build_of(best.load.layers), heights, furnisher, chance)
        layers = furnisher.layers(build)
        if layers is not None and layers != best.load.layers:
            break
    else:
        return best
    trial = Filler(replace(bare, layers=layers), best.units, ground, held, chance)
    trial.begin_like(best, budget)
    _work(trial, budget.total // 60, budget)
    return trial if trial.best.value > best.best.value else best


def _fillers(
    bare: Load,
    furnisher: Furnisher,
    items: Sequence[Item],
    held: Mapping[str, Item],
    weights: Weights,
    ground: Ground,
    budget: Budget,
    chance: random.Random,
) -> list[Filler]:
    # Nested or not, boxed or not, and how much of the chamber's height a stack may take.
    ways = [(False, False, 1.0)]
    if bare.bisque and bare.may_stack:
        ways += [(True, False, 1.0), (True, True, 0.5), (True, True, 1.0)]
    thin = min((s.thickness_mm for s in bare.stock.shelves), default=0.0)
    room = bare.chamber.height_mm - bare.chamber.floor_mm - bare.clearances.lid_mm - thin
    candidates: list[tuple[float, tuple[Layer, ...], list[Unit]]] = []
    for nest, box, part_of in ways:
        units = units_of(items, weights, nest=nest, box=box, room_mm=part_of * room)
        if bare.layers:
            candidates.append((0.0, bare.layers, units))
            continue
        part = budget.share(0.15)
        for score, build in good_builds(
            furnisher=furnisher, units=units, budget=part, chance=chance, count=8
        ):
            made = furnisher.layers(build)
            assert made is not None
            candidates.append((score, made, units))
        budget.settle(part)
        for build in first_fit_builds(bare=bare, furnisher=furnisher, units=units, ground=ground):
            made = furnisher.layers(build)
            assert made is not None
            candidates.append((math.inf, made, units))
            budget.spend(10 * len(units))
    candidates.sort(key=lambda c: -c[0])
    fillers = []
    for _, layers, units in candidates[:8]:
        filler = Filler(replace(bare, layers=layers), units, ground, held, chance)
        filler.first(budget)
        filler.first_by_height(budget)
        filler.back_to_best()
        fillers.append(filler)
        if budget.left <= 0:
            break
    return fillers


def _work(filler: Filler, steps: int, budget: Budget) -> None:
    """Improve a filling for so many steps, which the budget pays."""
    mine = budget.share(1.0)
    mine.left = mine.total = min(steps, mine.left)
    turn = 0
    while mine.left > 0 and not filler.complete:
        turn += 1
        filler.improve(mine)
        if turn % 60 == 0:
            filler.back_to_best()
    filler.back_to_best()
    budget.spend(mine.total - mine.left)
    budget.cut_short = budget.cut_short or mine.cut_short


def _settled(filler: Filler, budget: Budget) -> Load:
    """The load of a filler's best, with what could still be pushed in, and heavy ware moved down."""
    load, units = filler.load, filler.units
    found = filler.squeezed(budget)
    where = list(range(len(filler.levels)))
    if not load.positions:
        _heavy_down(filler, found, where)
    positions = list(load.positions)
    for key, (k, place) in sorted(found.items()):
        positions += positions_of(units[key], load.layers[where[k]].number, place)
    return replace(load, positions=tuple(positions))


def _heavy_down(filler: Filler, found: Mapping[int, tuple[int, Placed]], where: list[int]) -> None:
    """Exchange what stands on two layers where both would do and the upper is the heavier. Changes
    ``where``."""
    levels = filler.levels
    mass, tallest = [0.0] * len(levels), [0.0] * len(levels)
    for key, (k, _) in found.items():
        mass[k] += filler.units[key].mass_g
        tallest[k] = max(tallest[k], filler.heights[key])
    for _ in levels:
        for low in range(len(levels)):
            for high in range(low + 1, len(levels)):
                a, b = where.index(low), where.index(high)
                one, other = levels[low], levels[high]
                alike = one.layer.shelf.outline == other.layer.shelf.outline and one.edge_mm == other.edge_mm
                top = max(tallest[a], tallest[b])
                fits = tallest[b] <= one.room_mm and tallest[a] <= other.room_mm
                if alike and fits and mass[b] > mass[a] and one.discs(top) == other.discs(top):
                    where[a], where[b] = high, low


def nest_the_rest(
    load: Load, items: Sequence[Item], by_key: Mapping[str, Item], weights: Weights
) -> list[Position]:
    """Pieces left over that go into ones that stand in the load, most valuable first."""
    if not (load.bisque and load.may_stack):
        return []
    inside = {position.key for position in load.positions}
    feet = {}
    for position in load.positions:
        if position.rests_on is None:
            feet[position.key] = (Unit(by_key[position.key]), position)
    for position in load.positions:
        if position.rests_on is not None:
            key = next(k for k, (unit, _) in feet.items() if position.rests_on in {i.key for i in unit.items})
            unit, foot = feet[key]
            feet[key] = (unit.plus(by_key[position.key], position.how, 0.0), foot)
    found = []
    for item in sorted(items, key=lambda i: (-weights.of(i), i.key)):
        if item.key in inside:
            continue
        for key, (unit, foot) in feet.items():
            layer = load.layer(foot.layer)
            assert layer is not None
            how = unit.takes(item)
            if how is None:
                continue
            taller = unit.plus(item, how, 0.0)
            discs = kept_clear_on(load, layer, height_mm=taller.height_mm)
            if taller.height_mm <= load.room_mm(layer) and discs == kept_clear_on(
                load, layer, height_mm=unit.height_mm
            ):
                feet[key] = (taller, foot)
                found.append(positions_of(taller, foot.layer, foot.place)[-1])
                break
    return found
