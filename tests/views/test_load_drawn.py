"""A load on the page stands as it does in the books: no drawn piece touches a drawn prop or its neighbour."""

from math import hypot

import pytest

from studio.actions.loads import plan_firing, set_layers
from studio.actions.loads_many import load_pieces
from studio.queries.loads import plan_of
from studio.views.load_drawn import drawn_load
from tests import factories

pytestmark = pytest.mark.django_db

PROP_RADIUS_MM = 15


def test_drawn_pieces_keep_clear_of_drawn_props_and_stand_where_the_books_say():
    tutor = factories.tutor()
    kiln = factories.kiln()
    firing = plan_firing(kiln=kiln, kind="bisque", cone="04", by=tutor)
    heights = sorted(kiln.props.values_list("length_mm", flat=True))
    firing = set_layers(firing=firing, props_mm=[heights[-1], 0], by=tutor)
    pieces = [factories.piece(stage="bone-dry", width_mm=95, depth_mm=95, height_mm=60) for _ in range(9)]
    load_pieces(firing=firing, pieces=pieces, by=tutor)
    plan = plan_of(firing)
    bottom = drawn_load(plan).layers[-1]

    assert bottom.props, "the bottom layer carries another, so it has props"
    assert len(bottom.pieces) > 3
    books = {place.piece.mark: (place.x_mm, place.y_mm) for place in plan.placements}
    for piece in bottom.pieces:
        assert (piece.x_mm, piece.y_mm) == books[piece.mark]
        for x, y in bottom.props:
            gap = hypot(piece.x_mm - x, piece.y_mm - y) - piece.width_mm / 2 - PROP_RADIUS_MM
            assert gap >= -0.01, f"{piece.mark} is drawn over a prop"
