"""Loads made up for tests and measurements: invented, with the sizes that pots of a teaching studio have."""

from __future__ import annotations

import random
from collections.abc import Sequence

from studio.domain.loading import (
    Chamber,
    Clearances,
    Item,
    KeptClear,
    Layer,
    Load,
    Position,
    Shelf,
    Stock,
    Weights,
    spot,
)
from studio.domain.packing import HalfRound, Polygon, Rectangle, Round
from studio.domain.props import heights_possible, stacks_for

PROPS = {25: 6, 51: 9, 76: 9, 102: 9, 127: 9, 152: 9, 203: 6, 254: 6}


def mixed_pieces(chance: random.Random, count: int) -> list[Item]:
    """Mugs, bowls, plates, vases and slab-built dishes."""
    items = []
    for number in range(count):
        kind = chance.random()
        if kind < 0.35:
            foot, height = Round(chance.randint(70, 110)), chance.randint(80, 120)
        elif kind < 0.6:
            foot, height = Round(chance.randint(110, 190)), chance.randint(50, 100)
        elif kind < 0.75:
            foot, height = Round(chance.randint(180, 270)), chance.randint(20, 40)
        elif kind < 0.87:
            foot, height = Round(chance.randint(80, 150)), chance.randint(140, 260)
        else:
            foot = Rectangle(chance.randint(60, 200), chance.randint(60, 140))
            height = chance.randint(15, 140)
        items.append(
            Item(
                f"P{number:03}",
                foot,
                height,
                cone="6",
                waited_days=chance.randint(0, 40),
                due_in_days=chance.choice([None, None, chance.randint(-3, 30)]),
                course_ends_in_days=chance.choice([None, chance.randint(0, 60)]),
            )
        )
    return items


def full_kiln(*, rectangular: bool = False) -> tuple[Chamber, Stock]:
    """A kiln of five layers, with a thermocouple half way up."""
    if rectangular:
        shelf = Shelf(Rectangle(480, 440))
        chamber = Chamber(Rectangle(505, 465), 700, kept_clear=(KeptClear(0, 232, 25, 300, 340),))
    else:
        shelf = Shelf(Round(500))
        chamber = Chamber(Round(525), 700, kept_clear=(KeptClear(0, 262, 25, 300, 340),))
    return chamber, Stock(PROPS, {shelf: 5})


def value_of(items: Sequence[Item], load: Load) -> float:
    by_key = {item.key: item for item in items}
    return sum(Weights().of(by_key[position.key]) for position in load.positions)


def first_fit_by_falling_height(
    *, items: Sequence[Item], chamber: Chamber, stock: Stock, clearances: Clearances
) -> Load:
    """The plain way: highest ware first, each piece on the lowest layer that has room, else on a new one
    above."""
    shelf = next(iter(stock.shelves))
    layers = [Layer(1, shelf)]
    load = Load(chamber, tuple(layers), (), stock, clearances)
    by_key: dict[str, Item] = {}
    for item in sorted(items, key=lambda i: (-i.height_mm, i.key)):
        place = None
        for layer in load.layers:
            place = spot(load=load, items=by_key, item=item, layer=layer)
            if place is not None:
                break
        if place is None:
            higher = _one_more(load, by_key)
            if higher is None:
                continue
            layer = higher.layers[-1]
            place = spot(load=higher, items=by_key, item=item, layer=layer)
            if place is None:
                continue
            load = higher
        by_key[item.key] = item
        load = Load(
            chamber,
            load.layers,
            (*load.positions, Position(item.key, layer.number, place)),
            stock,
            clearances,
        )
    return load


def _one_more(load: Load, by_key: dict[str, Item]) -> Load | None:
    """A shelf on the shortest props that clear what stands on the top layer; None when stock or height are
    used up."""
    top = load.layers[-1]
    on_it = [by_key[p.key] for p in load.positions if p.layer == top.number]
    if len(load.layers) >= load.stock.shelves[top.shelf] or not on_it:
        return None
    need = max(item.height_mm for item in on_it) + load.clearances.above_mm
    for height in heights_possible(load.stock.props):
        if height < need:
            continue
        stacks = stacks_for(
            heights_mm=[*(layer.prop_mm for layer in load.layers[:-1]), height], stock=load.stock.props
        )
        if stacks is None:
            continue
        layers = [Layer(n + 1, top.shelf, stack) for n, stack in enumerate(stacks)]
        layers.append(Layer(len(layers) + 1, top.shelf))
        higher = Load(load.chamber, tuple(layers), load.positions, load.stock, load.clearances)
        return higher if higher.room_mm(layers[-1]) > 0 else None
    return None


def cut_by_guillotine(chance: random.Random, width: float, depth: float, count: int) -> list[Rectangle]:
    """A rectangle cut straight through again and again: its pieces cover it without rest."""
    pieces = [(width, depth)]
    while len(pieces) < count:
        k = max(range(len(pieces)), key=lambda i: pieces[i][0] * pieces[i][1] * chance.uniform(0.3, 1))
        w, d = pieces.pop(k)
        part = chance.uniform(0.3, 0.7)
        pieces += [(w * part, d), (w - w * part, d)] if w > d else [(w, d * part), (w, d - d * part)]
    return [Rectangle(w, d) for w, d in pieces]


def any_kiln(chance: random.Random) -> tuple[Chamber, Stock]:
    """Any shape of kiln, with whole and half shelves, few or many props, thermocouples or none."""
    size, deep = chance.randint(250, 600), chance.randint(250, 600)
    kind = chance.choice(("round", "rectangle", "polygon"))
    margin = chance.choice((0, 10, 25, 40))
    shelves: dict[Shelf, int] = {}
    thick = chance.choice((10, 13, 16, 19))
    if kind == "round":
        wall, whole = Round(size + margin), Round(size)
        half = HalfRound(size, chance.choice(("left", "right")))
    elif kind == "rectangle":
        wall, whole = Rectangle(size + margin, deep + margin), Rectangle(size, deep)
        half = Rectangle(size / 2 - chance.choice((0, 2)), deep)
    else:
        sides = chance.choice((6, 8, 10, 12))
        wall = Polygon.regular(sides=sides, inscribed_mm=size + margin)
        whole, half = Polygon.regular(sides=sides, inscribed_mm=size), HalfRound(size, "left")
    shelves[Shelf(whole, thick)] = chance.randint(0 if chance.random() < 0.2 else 1, 5)
    if chance.random() < 0.5:
        shelves[Shelf(half, thick, half=True)] = chance.randint(1, 6)
    zones = []
    for _ in range(chance.choice((0, 0, 1, 2))):
        low = chance.randint(0, 400)
        top = chance.choice((None, low + chance.randint(10, 80)))
        zones.append(
            KeptClear(chance.randint(-200, 200), size / 2 + margin / 2, chance.randint(20, 60), low, top)
        )
    props = {length: chance.randint(0, 9) for length in PROPS if chance.random() < 0.7}
    chamber = Chamber(
        wall,
        chance.randint(150, 800),
        floor_mm=chance.choice((0, 13, 25)),
        kept_clear=tuple(zones),
        prop_side_mm=chance.choice((0, 30, 38)),
    )
    return chamber, Stock(props, shelves)


def any_pieces(chance: random.Random, count: int) -> list[Item]:
    """Any pieces, some hollow, some damp, some of another cone, some larger than any kiln."""
    items = []
    for number in range(count):
        height = chance.randint(10, 60) if chance.random() < 0.4 else chance.randint(10, 300)
        if chance.random() < 0.6:
            size = chance.randint(20, 260)
            foot, inside = Round(size), Round(max(1, size - chance.randint(8, 20)))
        else:
            foot = Rectangle(chance.randint(20, 260), chance.randint(20, 260))
            inside = Rectangle(max(1, foot.width_mm - 12), max(1, foot.depth_mm - 12))
        hollow = chance.random() < 0.6
        items.append(
            Item(
                f"Q{number}",
                foot,
                height,
                cone=chance.choice(("", "6", "6", "6", "04")),
                bone_dry=chance.random() < 0.95,
                waited_days=chance.randint(0, 90),
                due_in_days=chance.choice((None, chance.randint(-20, 40))),
                hollow=inside if hollow else None,
                hollow_depth_mm=height * 0.85 if hollow else 0,
                rim_open=hollow,
            )
        )
    return items
