"""What may be said of a combination: rules on Wilson's interval, held against published values."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.glaze_verdict import CARE_UP_TO, RELIABLE_FROM, Reliability, outcome_on, verdict
from studio.domain.problems import DomainError

COUNTS = st.integers(0, 400)


def test_newcombes_example_of_81_in_263() -> None:
    """Newcombe, Statistics in Medicine 17 (1998) 857-872, table I, method 3: 0.2553 to 0.3662."""
    said = verdict(sound=81, flawed=100, lost=82)
    assert said is not None
    assert (round(said.sound.low, 4), round(said.sound.high, 4)) == (0.2553, 0.3662)
    assert said.reliability == Reliability.CARE


def test_newcombes_example_of_15_in_148() -> None:
    """The same table: 15 of 148 is 0.0624 to 0.1605."""
    said = verdict(sound=133, flawed=15, lost=0)
    assert said is not None
    assert (round(said.flawed.low, 4), round(said.flawed.high, 4)) == (0.0624, 0.1605)
    assert said.reliability == Reliability.RELIABLE


@pytest.mark.parametrize(
    ("counts", "said"),
    [
        ((3, 0, 0), Reliability.TOO_FEW),
        ((9, 0, 0), Reliability.TOO_FEW),
        ((10, 0, 0), Reliability.RELIABLE),
        ((27, 5, 2), Reliability.CARE),
        ((10, 1, 0), Reliability.TOO_FEW),
        ((5, 5, 5), Reliability.CARE),
        ((40, 2, 0), Reliability.RELIABLE),
    ],
)
def test_the_rules_as_stated(counts: tuple[int, int, int], said: Reliability) -> None:
    sound, flawed, lost = counts
    found = verdict(sound=sound, flawed=flawed, lost=lost)
    assert found is not None
    assert found.reliability == said
    assert found.pieces == sum(counts)


def test_of_nothing_nothing_is_said() -> None:
    assert verdict(sound=0, flawed=0, lost=0) is None
    with pytest.raises(DomainError):
        verdict(sound=-1, flawed=2, lost=0)


@given(COUNTS, COUNTS, COUNTS)
def test_a_word_always_agrees_with_its_interval(sound: int, flawed: int, lost: int) -> None:
    said = verdict(sound=sound, flawed=flawed, lost=lost)
    if said is None:
        assert sound + flawed + lost == 0
        return
    if said.reliability == Reliability.RELIABLE:
        assert said.sound.low >= RELIABLE_FROM
    if said.reliability == Reliability.CARE:
        assert said.sound.high <= CARE_UP_TO
    if said.pieces < 10:
        assert said.reliability == Reliability.TOO_FEW
    assert said.why.endswith((".", "ten."))


@given(COUNTS, COUNTS)
def test_another_sound_piece_never_speaks_against_it(sound: int, flawed: int) -> None:
    order = [Reliability.CARE, Reliability.TOO_FEW, Reliability.RELIABLE]
    before = verdict(sound=sound, flawed=flawed, lost=0)
    after = verdict(sound=sound + 1, flawed=flawed, lost=0)
    if before is None or before.pieces < 10:
        return
    assert after is not None
    assert order.index(after.reliability) >= order.index(before.reliability)


@pytest.mark.parametrize(
    ("outcome", "flaws", "surfaces", "said"),
    [
        ("sound", [], ["inside"], "sound"),
        ("flawed", ["outside"], ["inside"], "sound"),
        ("flawed", ["outside"], ["inside", "outside"], "flawed"),
        ("flawed", ["outside", ""], ["inside"], "flawed"),
        ("flawed", [], ["inside"], "flawed"),
        ("lost", ["outside"], ["inside"], "lost"),
    ],
)
def test_a_flaw_counts_where_it_was_seen(
    outcome: str, flaws: list[str], surfaces: list[str], said: str
) -> None:
    assert outcome_on(outcome=outcome, flaw_surfaces=flaws, surfaces=surfaces) == said
