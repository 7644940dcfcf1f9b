"""How to look after a piece at home. All lines are common practice, no source."""

from __future__ import annotations

import pytest

from studio.domain.advice import FoodUse
from studio.domain.care import care_lines


@pytest.mark.parametrize("use", list(FoodUse))
def test_every_piece_is_kept_from_sudden_heat(use: FoodUse) -> None:
    assert any("Sudden heat or cold" in line for line in care_lines(use=use))


def test_metal_comes_first_and_keeps_it_out_of_the_microwave() -> None:
    assert "microwave" in care_lines(use=FoodUse.DECORATIVE_ONLY, metallic=True)[0]
    assert not any("microwave" in line for line in care_lines(use=FoodUse.NOT_KNOWN))


def test_what_is_for_looking_at_is_not_told_to_be_washed_up() -> None:
    lines = care_lines(use=FoodUse.DECORATIVE_ONLY)
    assert not any("dishwasher" in line for line in lines)
    assert any("glass of water inside" in line for line in lines)
    assert any("dishwasher" in line for line in care_lines(use=FoodUse.TESTED))


def test_a_crazed_piece_weeps_and_a_bare_foot_scratches() -> None:
    crazed = care_lines(use=FoodUse.DECORATIVE_ONLY, crazed=True, bare_foot=True)
    assert sum("weep" in line or "scratch" in line for line in crazed) == 1
    assert any("scratch" in line for line in care_lines(use=FoodUse.NOT_KNOWN, bare_foot=True))


def test_frost_is_spoken_of_only_where_it_stands_outside() -> None:
    assert any("frost" in line for line in care_lines(use=FoodUse.NOT_KNOWN, outdoor=True))
    assert not any("frost" in line for line in care_lines(use=FoodUse.NOT_KNOWN))
