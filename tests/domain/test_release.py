"""Lead and cadmium limits, each row with its source.

Sources: Council Directive 84/500/EEC, Article 2(4) and 2(5) (read); US FDA Compliance Policy Guides 545.400
and 545.450 (read; cups and mugs partly from memory); ISO 6486-2:1999 (from memory).
"""

import pytest

from studio.domain.problems import DomainError
from studio.domain.release import LIMITS, Category, Finding, Kind, Scheme, category, judge

EEC, FDA, ISO = Scheme.EEC, Scheme.FDA, Scheme.ISO

# scheme, category, lead, cadmium, unit
ROWS = [
    (EEC, Category.EEC_1, 0.8, 0.07, "mg/dm²"),
    (EEC, Category.EEC_2, 4.0, 0.3, "mg/L"),
    (EEC, Category.EEC_3, 1.5, 0.1, "mg/L"),
    (FDA, Category.FLAT, 3.0, 0.5, "µg/mL"),
    (FDA, Category.SMALL, 2.0, 0.5, "µg/mL"),
    (FDA, Category.LARGE, 1.0, 0.25, "µg/mL"),
    (FDA, Category.CUP, 0.5, None, "µg/mL"),
    (FDA, Category.PITCHER, 0.5, None, "µg/mL"),
    (ISO, Category.FLAT, 0.8, 0.07, "mg/dm²"),
    (ISO, Category.SMALL, 2.0, 0.5, "mg/L"),
    (ISO, Category.LARGE, 1.0, 0.25, "mg/L"),
    (ISO, Category.STORAGE, 0.5, 0.25, "mg/L"),
    (ISO, Category.CUP, 0.5, 0.25, "mg/L"),
    (ISO, Category.COOKING, 0.5, 0.05, "mg/L"),
]


@pytest.mark.parametrize(("scheme", "kind", "lead", "cadmium", "unit"), ROWS)
def test_the_limits_as_printed(scheme, kind, lead, cadmium, unit):
    limit = LIMITS[scheme, kind]
    assert (limit.lead, limit.unit) == (lead, unit)
    assert cadmium is None or limit.cadmium == cadmium


def test_no_limit_is_left_unchecked():
    assert {(row[0], row[1]) for row in ROWS} == set(LIMITS)


@pytest.mark.parametrize(
    ("scheme", "depth", "litres", "kind", "expected"),
    [
        (EEC, 25.0, 0.5, Kind.OTHER, Category.EEC_1),
        (EEC, 25.1, 0.5, Kind.OTHER, Category.EEC_2),
        (EEC, 25.1, None, Kind.OTHER, Category.EEC_2),
        (EEC, 10, 1, Kind.COOKING, Category.EEC_3),
        (EEC, 200, 3.0, Kind.STORAGE, Category.EEC_2),  # over 3 L, not 3 L
        (EEC, 200, 3.01, Kind.STORAGE, Category.EEC_3),
        (FDA, 25.0, 0.5, Kind.OTHER, Category.FLAT),
        (FDA, 25.1, 0.5, Kind.OTHER, Category.SMALL),
        (FDA, 25.1, 1.099, Kind.OTHER, Category.SMALL),
        (FDA, 25.1, 1.100, Kind.OTHER, Category.LARGE),
        (FDA, 90, 0.3, Kind.CUP_OR_MUG, Category.CUP),
        (FDA, 200, 1.5, Kind.PITCHER, Category.PITCHER),
        (ISO, 25.0, None, Kind.OTHER, Category.FLAT),
        (ISO, 25.1, 1.099, Kind.OTHER, Category.SMALL),
        (ISO, 25.1, 1.1, Kind.OTHER, Category.LARGE),
        (ISO, 250, 2.999, Kind.STORAGE, Category.LARGE),
        (ISO, 250, 3.0, Kind.STORAGE, Category.STORAGE),
        (ISO, 90, 0.24, Kind.CUP_OR_MUG, Category.CUP),
        (ISO, 90, 2.0, Kind.COOKING, Category.COOKING),
    ],
)
def test_categories_from_measures(scheme, depth, litres, kind, expected):
    assert category(scheme=scheme, depth_mm=depth, capacity_l=litres, kind=kind) == expected


def test_what_cannot_be_filled_is_flat():
    assert category(scheme=EEC, depth_mm=200, can_be_filled=False) == Category.EEC_1


def test_every_category_found_has_limits():
    for scheme in Scheme:
        for depth in (10, 100):
            for litres in (0.5, 2, 5):
                for kind in Kind:
                    found = category(scheme=scheme, depth_mm=depth, capacity_l=litres, kind=kind)
                    assert (scheme, found) in LIMITS


@pytest.mark.parametrize(("scheme", "kind", "lead", "cadmium", "unit"), ROWS)
def test_at_the_limit_is_within_it_and_over_is_above(scheme, kind, lead, cadmium, unit):
    limit = LIMITS[scheme, kind]
    within = judge(scheme=scheme, category=kind, lead=[lead] * 6, cadmium=[limit.cadmium] * 6)
    assert (within.finding, within.worst_share) == (Finding.CLOSE, 1)
    for lead_up, cadmium_up in ((1.51, 1), (1, 1.51)):
        over = judge(
            scheme=scheme, category=kind, lead=[lead * lead_up] * 6, cadmium=[limit.cadmium * cadmium_up] * 6
        )
        assert over.finding == Finding.ABOVE
    low = judge(scheme=scheme, category=kind, lead=[lead / 2] * 6, cadmium=[0] * 6)
    assert low.finding == Finding.BELOW


def test_the_average_decides_for_flatware_and_any_one_for_hollow_ware():
    one_high = [0.5] * 5 + [4.0]  # mean 1.083
    flat = judge(scheme=FDA, category=Category.FLAT, lead=one_high, cadmium=[0] * 6)
    small = judge(scheme=FDA, category=Category.SMALL, lead=one_high, cadmium=[0] * 6)
    assert (flat.finding, small.finding) == (Finding.BELOW, Finding.ABOVE)
    assert "mean" in flat.reasons[0]
    assert "highest" in small.reasons[0]


def test_fewer_than_six_never_come_out_as_below_by_the_fda():
    five = judge(scheme=FDA, category=Category.SMALL, lead=[0] * 5, cadmium=[0] * 5)
    assert five.finding == Finding.RETEST
    assert "six" in five.reasons[-1]
    assert judge(scheme=FDA, category=Category.SMALL, lead=[9], cadmium=[0]).finding == Finding.ABOVE


@pytest.mark.parametrize(
    ("lead", "further", "finding"),
    [
        ([1.0, 5.0], (), Finding.RETEST),  # 4.0 exceeded by 25 % on one
        ([1.0, 6.0], (), Finding.RETEST),  # by exactly 50 %
        ([1.0, 6.01], (), Finding.ABOVE),
        ([5.0, 5.0], (), Finding.ABOVE),  # two exceed
        ([5.0], (1.0, 1.0), Finding.RETEST),  # three more are needed
        ([5.0], (1.0, 1.0, 1.0), Finding.CLOSE),
        ([5.0], (1.0, 5.0, 6.0), Finding.CLOSE),  # mean 4.0
        ([5.0], (1.0, 5.0, 6.1), Finding.ABOVE),  # one above the tolerance
        ([5.0], (4.0, 5.0, 5.0), Finding.ABOVE),  # mean 4.67
    ],
)
def test_the_tolerance_of_84_500(lead, further, finding):
    """84/500/EEC, Article 2(5)."""
    found = judge(
        scheme=EEC,
        category=Category.EEC_2,
        lead=lead,
        cadmium=[0.0] * len(lead),
        further_lead=further,
        further_cadmium=[0.0] * len(further),
    )
    assert found.finding == finding


def test_near_the_limit_there_is_a_margin():
    near = judge(scheme=ISO, category=Category.SMALL, lead=[1.6], cadmium=[0.1])
    assert near.finding == Finding.CLOSE
    assert "80% of the limit" in near.reasons[-1]
    assert judge(scheme=ISO, category=Category.SMALL, lead=[1.59], cadmium=[0.1]).finding == Finding.BELOW


def test_hundredths_are_as_written():
    """Three times 0.07 is at the limit of 0.07 in the mean, not a hair over it."""
    found = judge(scheme=ISO, category=Category.FLAT, lead=[0.1] * 3, cadmium=[0.07] * 3)
    assert found.worst_share == 1
    assert found.finding == Finding.CLOSE


@pytest.mark.parametrize(
    "ask",
    [
        lambda: category(scheme=FDA, depth_mm=-1),
        lambda: category(scheme=FDA, depth_mm=50),
        lambda: category(scheme=EEC, depth_mm=50, kind=Kind.STORAGE),
        lambda: category(scheme=ISO, depth_mm=50, capacity_l=0),
        lambda: category(scheme=ISO, depth_mm=float("nan"), capacity_l=1),
        lambda: judge(scheme=EEC, category=Category.SMALL, lead=[0], cadmium=[0]),
        lambda: judge(scheme=EEC, category=Category.EEC_1, lead=[], cadmium=[]),
        lambda: judge(scheme=EEC, category=Category.EEC_1, lead=[1], cadmium=[]),
        lambda: judge(scheme=EEC, category=Category.EEC_1, lead=[-1], cadmium=[0]),
        lambda: judge(scheme=EEC, category=Category.EEC_1, lead=[float("nan")], cadmium=[0]),
    ],
)
def test_nonsense_is_refused(ask):
    with pytest.raises(DomainError):
        ask()
