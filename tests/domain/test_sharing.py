"""Rounding against the first American census, an independent library and Decimal arithmetic.

Sources: US census of 1790, populations and Hamilton's seats as in Balinski and Young, "Fair Representation"
(1982); the package ``apportionment`` (Hamilton's method there is called "hamilton" or largest remainders).
"""

from collections import Counter
from decimal import Decimal, getcontext
from fractions import Fraction
from itertools import pairwise
from random import Random

import pytest
from apportionment import methods
from hypothesis import given
from hypothesis import strategies as st

from studio.domain.problems import DomainError
from studio.domain.sharing import apportion

# state, population, seats of 120, seats of 105 by Hamilton: US census 1790; Balinski and Young 1982
CENSUS_1790 = [
    ("Virginia", 630560, 21, 18),
    ("Massachusetts", 475327, 16, 14),
    ("Pennsylvania", 432879, 14, 13),
    ("North Carolina", 353523, 12, 10),
    ("New York", 331589, 11, 10),
    ("Maryland", 278514, 9, 8),
    ("Connecticut", 236841, 8, 7),
    ("South Carolina", 206236, 7, 6),
    ("New Jersey", 179570, 6, 5),
    ("New Hampshire", 141822, 5, 4),
    ("Vermont", 85533, 3, 2),
    ("Georgia", 70835, 2, 2),
    ("Kentucky", 68705, 2, 2),
    ("Rhode Island", 68446, 2, 2),
    ("Delaware", 55540, 2, 2),
]
POPULATIONS = [row[1] for row in CENSUS_1790]

weights = st.lists(st.integers(0, 10**9), min_size=1, max_size=40).filter(any)
totals = st.integers(0, 10**7)


@pytest.mark.parametrize(("seats", "column"), [(120, 2), (105, 3)])
def test_the_seats_of_1790(seats, column):
    assert apportion(total=seats, weights=POPULATIONS) == [row[column] for row in CENSUS_1790]


def decimal_hamilton(total, weights):
    """In Decimal with 60 digits, as an accountant would: quotas, floors, then the largest remainders."""
    getcontext().prec = 60
    everything = sum(Decimal(weight) for weight in weights)
    quotas = [Decimal(total) * Decimal(weight) / everything for weight in weights]
    shares = [int(quota) for quota in quotas]
    # Remainders equal to 50 digits are ties; ties go by place.
    remainders = [round(quota - share, 50) for quota, share in zip(quotas, shares, strict=True)]
    order = sorted(range(len(quotas)), key=lambda i: (-remainders[i], i))
    for i in order[: total - sum(shares)]:
        shares[i] += 1
    return shares


def test_forty_thousand_shares_against_decimal():
    """1,500 splits with over 40,000 shares between them; not one minor unit off."""
    random = Random(1790)
    compared = off = 0
    for _ in range(1500):
        count = random.randint(5, 50)
        largest = random.choice([5, 100, 10**4, 10**8])
        weights = [random.randint(0, largest) for _ in range(count)]
        weights[0] += 1
        total = random.choice([random.randint(0, 30), random.randint(0, 10**4), random.randint(0, 10**8)])
        ours, theirs = apportion(total=total, weights=weights), decimal_hamilton(total, weights)
        assert sum(ours) == total
        compared += count
        off += sum(a != b for a, b in zip(ours, theirs, strict=True))
    assert compared >= 40_000
    assert off == 0


def test_against_the_apportionment_package():
    random = Random(105)
    compared = 0
    for _ in range(300):
        weights = random.sample(range(1, 10**6), random.randint(2, 15))
        total = random.randint(1, 500)
        exact = [Fraction(total * weight, sum(weights)) % 1 for weight in weights]
        if len(set(exact)) < len(exact):
            continue  # a tie, which that package settles otherwise
        compared += 1
        assert apportion(total=total, weights=weights) == methods.largest_remainder(
            weights, total, fractions=True, verbose=False
        )
    assert compared > 200


@given(totals, weights)
def test_every_share_is_its_quota_rounded_down_or_up_and_they_sum(total, weights):
    shares = apportion(total=total, weights=weights)
    assert sum(shares) == total
    for share, weight in zip(shares, weights, strict=True):
        assert share >= 0
        assert abs(share - Fraction(total * weight, sum(weights))) < 1
        assert weight or share == 0


@given(totals, weights, st.randoms(use_true_random=False))
def test_the_order_they_come_in_makes_no_difference(total, weights, random):
    keys = [f"K{i:03d}" for i in range(len(weights))]
    by_key = dict(zip(keys, apportion(total=total, weights=weights, keys=keys), strict=True))
    pairs = list(zip(keys, weights, strict=True))
    random.shuffle(pairs)
    again = apportion(total=total, weights=[w for _, w in pairs], keys=[k for k, _ in pairs])
    assert dict(zip([k for k, _ in pairs], again, strict=True)) == by_key


@given(totals, weights, st.integers(1, 1000), st.integers(1, 1000))
def test_only_proportions_matter(total, weights, up, down):
    scaled = [Fraction(weight * up, down) for weight in weights]
    assert apportion(total=total, weights=scaled) == apportion(total=total, weights=weights)


@given(totals, weights)
def test_more_weight_never_means_less(total, weights):
    shares = apportion(total=total, weights=weights)
    for (weight, share), (heavier, more) in pairwise(sorted(zip(weights, shares, strict=True))):
        assert share <= more or weight == heavier


def test_the_alabama_paradox_is_known():
    """Hamilton's method is not monotone in the total: a share may fall when the total grows by one.

    Source: the method's known property (Balinski and Young 1982); these weights found by search here.
    """
    weights = [6, 6, 2]
    assert apportion(total=10, weights=weights) == [4, 4, 2]
    assert apportion(total=11, weights=weights) == [5, 5, 1]


@pytest.mark.parametrize(
    ("total", "weights", "keys", "shares"),
    [
        (1, [1, 1, 1], None, [1, 0, 0]),
        (2, [1, 1, 1], None, [1, 1, 0]),
        (1, [1, 1, 1], ["C7K", "A2D", "B9F"], [0, 1, 0]),
        (10, [1, 1, 1], ["X", "Y", "A"], [3, 3, 4]),
        (100, [Fraction(1, 3), Fraction(2, 3)], None, [33, 67]),
        (100, [Decimal("0.5"), Decimal("1.5")], None, [25, 75]),
        (0, [1, 2], None, [0, 0]),
        (7, [0, 1, 0], None, [0, 7, 0]),
        (10**30 + 1, [1, 1], None, [5 * 10**29 + 1, 5 * 10**29]),
    ],
)
def test_small_cases(total, weights, keys, shares):
    assert apportion(total=total, weights=weights, keys=keys) == shares


@pytest.mark.parametrize(
    ("total", "weights", "keys", "code"),
    [
        (-1, [1], None, "total"),
        (1.0, [1], None, "total"),
        (True, [1], None, "total"),
        (10, [], None, "no-weights"),
        (10, [1, -1], None, "negative-weight"),
        (10, [0, 0], None, "all-zero"),
        (10, [0.5, 0.5], None, "float"),
        (10, [1, 1], ["A"], "keys"),
        (10, [1, 1], ["A", "A"], "keys"),
        (10, [1, 1], ["A", 1], "keys"),
        (10, ["many"], None, "weight"),
        (10, [Decimal("NaN")], None, "weight"),
    ],
)
def test_nonsense_is_refused_by_name(total, weights, keys, code):
    with pytest.raises(DomainError) as refusal:
        apportion(total=total, weights=weights, keys=keys)
    assert refusal.value.code == code
    assert str(refusal.value).endswith((".", "pennies."))


def test_ties_are_shared_out_by_key_and_by_nothing_else():
    counts = Counter()
    for extra in range(7):
        shares = apportion(total=extra, weights=[1] * 7, keys=list("ABCDEFG"))
        counts.update(dict(zip("ABCDEFG", shares, strict=True)))
    assert [counts[key] for key in "ABCDEFG"] == [6, 5, 4, 3, 2, 1, 0]
