"""Places on one kiln shelf, against the best packings known, published bounds, and loads whose solution is
known."""

from __future__ import annotations

import math
import random
import time

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from studio.domain.packing import (
    Board,
    Disc,
    HalfRound,
    Placed,
    Polygon,
    Rectangle,
    Round,
    place,
    spot,
)
from studio.domain.problems import DomainError

from .loads import cut_by_guillotine

#: Radius of the smallest known circle round n equal circles of radius 1. E. Specht, best known packings of
#: equal circles in a circle (n up to 13 and 19 proved: Kravitz 1967; Graham, Lubachevsky et al. 1998).
BEST_KNOWN = {
    1: 1,
    2: 2,
    3: 2.154700538,
    4: 2.414213562,
    5: 2.701301617,
    6: 3,
    7: 3,
    8: 3.304764871,
    9: 3.61312593,
    10: 3.813025631,
    11: 3.9238044,
    12: 4.02960193,
    13: 4.236067977,
    14: 4.328428555,
    15: 4.521356963,
    16: 4.615425595,
    17: 4.792033749,
    18: 4.863703305,
    19: 4.863703305,
    20: 5.1223207,
}
#: Z. Moroń 1925: a rectangle cut into squares that are all different.
SQUARED_RECTANGLES = [
    (33, 32, (18, 15, 14, 10, 9, 8, 7, 4, 1)),
    (65, 47, (3, 5, 6, 11, 17, 19, 22, 23, 24, 25)),
]
#: Share of a plane that equal circles can cover: π/√12, L. Fejes Tóth.
HEXAGONAL_DENSITY = 0.9068996821


def legal(shelf, footprints, places, gap, edge=0.0, kept_clear=()) -> bool:
    board = Board(shelf, gap_mm=gap, edge_mm=edge, kept_clear=kept_clear)
    for footprint, where in zip(footprints, places, strict=True):
        if where is not None:
            if not board.fits(footprint, where):
                return False
            board.add(footprint, where)
    return True


def share(shelf, footprints, places) -> float:
    area = sum(f.area_mm2 for f, p in zip(footprints, places, strict=True) if p is not None)
    return area / shelf.area_mm2


@pytest.mark.parametrize("gap", [0, 5])
@pytest.mark.parametrize("count", BEST_KNOWN)
def test_equal_rounds_stand_within_one_percent_of_the_best_known_radius(count: int, gap: float) -> None:
    """With a gap g, rounds of radius r on a shelf of R are rounds of r + g/2 on R + g/2."""
    shelf = Round(400)
    radius = 0.99 * (200 + gap / 2) / BEST_KNOWN[count] - gap / 2
    ware = [Round(2 * radius)] * count
    began = time.process_time()
    places = place(shelf=shelf, footprints=ware, gap_mm=gap, seconds=1, seed=count)
    assert time.process_time() - began < 1
    assert None not in places
    assert legal(shelf, ware, places, gap)


def groemer_most(reach: float, radius: float, gap: float) -> int:
    """H. Groemer 1960: at most 1 + (π/(2√3))ρ² + (π/2)ρ circles, ρ = R/r − 1."""
    ratio = (reach + gap / 2) / (radius + gap / 2) - 1
    return math.floor(1 + math.pi / (2 * math.sqrt(3)) * ratio**2 + math.pi / 2 * ratio + 1e-9)


@settings(max_examples=25, deadline=None)
@given(radius=st.integers(18, 120), gap=st.sampled_from([0, 3, 6.5]), count=st.integers(1, 30))
def test_the_published_bounds_are_never_broken(radius: int, gap: float, count: int) -> None:
    shelf, ware = Round(400), [Round(2 * radius)] * count
    places = place(shelf=shelf, footprints=ware, gap_mm=gap, seconds=0.05, seed=1)
    placed = sum(p is not None for p in places)
    assert legal(shelf, ware, places, gap)
    assert placed <= groemer_most(200, radius, gap)
    if placed >= 2:
        assert placed * ware[0].area_mm2 <= HEXAGONAL_DENSITY * shelf.area_mm2


def test_no_more_rounds_than_the_proved_number() -> None:
    """Seven circles of a third of the radius, proved: an eighth never goes in, and the seven are found."""
    ware = [Round(0.995 * 400 / 3)] * 8
    assert (
        sum(p is not None for p in place(shelf=Round(400), footprints=ware, gap_mm=0, seconds=0.3, seed=1))
        == 7
    )


@pytest.mark.parametrize(("width", "depth", "sides"), SQUARED_RECTANGLES)
def test_squared_rectangles_are_covered(width: int, depth: int, sides: tuple[int, ...]) -> None:
    """At least 92 % is asked; both come out whole."""
    shelf, ware = Rectangle(10 * width, 10 * depth), [Rectangle(10 * s, 10 * s) for s in sides]
    places = place(shelf=shelf, footprints=ware, gap_mm=0, seconds=2, seed=1)
    assert legal(shelf, ware, places, 0)
    assert share(shelf, ware, places) >= 0.92


@pytest.mark.parametrize("count", [8, 12, 20, 30, 40])
def test_cut_loads_are_nearly_covered_and_wholly_with_a_tenth_to_spare(count: int) -> None:
    """Guillotine cuts have a full solution by the way they are made; invented cuts."""
    chance = random.Random(count)
    ware = cut_by_guillotine(chance, 400, 420, count)
    tight, wide = Rectangle(400, 420), Rectangle(400 * math.sqrt(1.1), 420 * math.sqrt(1.1))
    places = place(shelf=tight, footprints=ware, gap_mm=0, seconds=2, seed=1)
    assert legal(tight, ware, places, 0)
    assert share(tight, ware, places) >= 0.92
    places = place(shelf=wide, footprints=ware, gap_mm=0, seconds=2, seed=1)
    assert legal(wide, ware, places, 0)
    assert None not in places


def test_as_much_as_a_general_packing_library_places() -> None:
    """rectpack (skyline and maximal rectangles, all its orders) on the same rectangles."""
    rectpack = pytest.importorskip("rectpack")
    for seed in range(4):
        chance = random.Random(seed)
        ware = [Rectangle(chance.randint(40, 150), chance.randint(40, 150)) for _ in range(30)]
        shelf, theirs = Rectangle(450, 450), 0.0
        for algorithm in (
            rectpack.SkylineBl,
            rectpack.SkylineMwf,
            rectpack.MaxRectsBssf,
            rectpack.MaxRectsBaf,
        ):
            packer = rectpack.newPacker(rotation=True, pack_algo=algorithm, sort_algo=rectpack.SORT_AREA)
            packer.add_bin(455, 455)
            for piece in ware:
                packer.add_rect(piece.width_mm + 5, piece.depth_mm + 5)
            packer.pack()
            theirs = max(theirs, sum((w - 5) * (d - 5) for _, _, _, w, d, _ in packer.rect_list()))
        ours = place(shelf=shelf, footprints=ware, gap_mm=5, seconds=0.5, seed=seed)
        assert legal(shelf, ware, ours, 5)
        assert share(shelf, ware, ours) * shelf.area_mm2 >= theirs


SHELVES = [
    Round(420),
    Rectangle(380, 450),
    HalfRound(600, "left"),
    HalfRound(600, "back"),
    Polygon.regular(sides=8, inscribed_mm=420),
    Polygon(((-200, -200), (200, -200), (250, 100), (0, 260), (-220, 150))),
]


@pytest.mark.parametrize("shelf", SHELVES, ids=lambda s: type(s).__name__)
def test_mixed_ware_on_any_shelf_is_legal_and_the_same_for_a_seed(shelf) -> None:
    chance = random.Random(4)
    ware = [
        Round(chance.randint(40, 140)) if chance.random() < 0.5 else Rectangle(chance.randint(40, 140), 90)
        for _ in range(30)
    ]
    clear = [Disc(0, 120, 25)]
    found = [
        place(shelf=shelf, footprints=ware, gap_mm=5, seconds=0.2, seed=9, kept_clear=clear, edge_mm=4)
        for _ in range(2)
    ]
    assert found[0] == found[1]
    assert legal(shelf, ware, found[0], 5, 4, clear)
    assert share(shelf, ware, found[0]) > 0.55


def test_what_stands_already_is_left_alone() -> None:
    fixed = [(Round(150), Placed(10, 20)), (Rectangle(60, 200), Placed(-120, 0, turned=False))]
    ware = [Round(70)] * 20
    places = place(shelf=Round(420), footprints=ware, gap_mm=5, seconds=0.2, seed=1, fixed=fixed)
    board = Board(Round(420), gap_mm=5, placed=fixed)
    for where in places:
        if where is not None:
            assert board.fits(ware[0], where)
            board.add(ware[0], where)
    assert sum(p is not None for p in places) >= 10


@settings(max_examples=40, deadline=None)
@given(data=st.data())
def test_a_spot_is_found_wherever_there_is_one(data) -> None:
    """A search of every place four millimetres apart finds none that `spot` has missed."""
    chance = random.Random(data.draw(st.integers(0, 10**6)))
    shelf = chance.choice(SHELVES)
    standing: list = []
    for _ in range(chance.randint(0, 9)):
        shape = (
            Round(chance.randint(50, 160))
            if chance.random() < 0.5
            else Rectangle(chance.randint(50, 160), 80)
        )
        where = place(
            shelf=shelf, footprints=[shape], gap_mm=4, seconds=0, seed=chance.randint(0, 99), fixed=standing
        )[0]
        if where is not None:
            standing.append((shape, where))
    coming = (
        Round(chance.randint(60, 160)) if chance.random() < 0.5 else Rectangle(chance.randint(60, 160), 70)
    )
    clear = [Disc(-100, 0, 30)]
    began = time.process_time()
    found = spot(shelf=shelf, placed=standing, footprint=coming, gap_mm=4, kept_clear=clear)
    assert time.process_time() - began < 0.05
    board = Board(shelf, gap_mm=4, placed=standing, kept_clear=clear)
    if found is not None:
        assert board.fits(coming, found)
        assert spot(shelf=shelf, placed=standing, footprint=coming, gap_mm=4, kept_clear=clear) == found
        return
    left, front, right, back = (int(v) for v in board.region.box)
    for x in range(left, right + 1, 4):
        for y in range(front, back + 1, 4):
            for turned in (False, True):
                assert not board.fits(coming, Placed(x, y, turned))


def test_a_spot_that_is_exactly_as_large_as_the_piece_is_found() -> None:
    corners = [(Rectangle(100, 100), Placed(x, y)) for x in (-100, 0, 100) for y in (-100, 0, 100) if x or y]
    hole = spot(shelf=Rectangle(300, 300), placed=corners, footprint=Rectangle(100, 100), gap_mm=0)
    assert hole == Placed(0, 0)
    assert spot(shelf=Rectangle(300, 300), placed=corners, footprint=Round(100), gap_mm=0) == Placed(0, 0)
    assert spot(shelf=Rectangle(300, 300), placed=corners, footprint=Round(100.1), gap_mm=0) is None


def test_nothing_to_place_and_nothing_that_fits() -> None:
    assert place(shelf=Round(300), footprints=[], gap_mm=5, seconds=1, seed=1) == []
    huge = [Round(301), Rectangle(290, 290)]
    assert place(shelf=Round(300), footprints=huge, gap_mm=5, seconds=0.05, seed=1) == [None, None]


@pytest.mark.parametrize(
    "wrong",
    [{"gap_mm": -1}, {"seconds": -1}, {"seconds": math.nan}, {"edge_mm": math.inf}, {"shelf": "round"}],
)
def test_nonsense_is_refused(wrong) -> None:
    given_ = {"shelf": Round(300), "footprints": [Round(50)], "gap_mm": 5, "seconds": 0.1, "seed": 1} | wrong
    with pytest.raises(DomainError):
        place(**given_)
