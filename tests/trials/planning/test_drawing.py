"""Drawing by lot: every order and every Latin square equally likely, the same for a seed."""

from __future__ import annotations

from collections import Counter
from itertools import combinations, permutations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import RangeError
from scenariokit.trials.planning.drawing import Lot, latin_square


def chance_of_uniform(counts, kinds):
    from scipy import stats

    assert len(counts) <= kinds
    observed = [*counts.values(), *[0] * (kinds - len(counts))]
    return stats.chisquare(observed).pvalue


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 12), st.integers(0, 2**40))
def test_latin_square_every_row_and_column_holds_each_number_once(size, seed):
    square = latin_square(size, Lot(seed))
    whole = np.arange(size)
    assert (np.sort(square, axis=0) == whole[:, None]).all()
    assert (np.sort(square, axis=1) == whole).all()


def test_latin_square_of_three_all_twelve_equally_often():
    counts = Counter(latin_square(3, Lot(seed)).tobytes() for seed in range(10_000))
    assert len(counts) == 12
    assert chance_of_uniform(counts, 12) > 0.001


def exchangeable_corners(square):
    """How many 2 x 2 parts of a square are Latin squares themselves."""
    size = range(len(square))
    return sum(
        square[a, c] == square[b, d] and square[a, d] == square[b, c]
        for a, b in combinations(size, 2)
        for c, d in combinations(size, 2)
    )


@pytest.mark.parametrize(
    ("size", "corners", "share"),
    # Known counts: of 576 squares of four 432 have 4 such parts and 144 have 12; of the 56
    # reduced squares of five 6 have none (Fisher and Yates 1938; from memory).
    [(4, 4, 432 / 576), (5, 0, 6 / 56)],
)
def test_latin_square_kinds_that_no_permuting_joins_come_in_their_shares(size, corners, share):
    lot, draws = Lot(0), 700
    found = np.mean(
        [exchangeable_corners(latin_square(size, lot)) == corners for _ in range(draws)]
    )
    assert found == pytest.approx(share, abs=4 * np.sqrt(share * (1 - share) / draws))


def test_lot_order_all_orders_equally_often():
    counts = Counter(tuple(Lot(seed).order(4)) for seed in range(10_000))
    assert set(counts) == set(permutations(range(4)))
    assert chance_of_uniform(counts, 24) > 0.001


def test_lot_below_all_numbers_equally_often():
    lot = Lot(0)
    counts = Counter(lot.below(7) for _ in range(10_000))
    assert set(counts) == set(range(7))
    assert chance_of_uniform(counts, 7) > 0.001


def test_lot_same_seed_same_draws_and_zero_is_a_seed():
    assert Lot(0).order(20) == Lot(0).order(20)
    assert Lot(0).order(20) != Lot(1).order(20)


def test_lot_draws_do_not_change_between_releases():
    """A printed field book must be printable again: these draws are kept for good."""
    assert Lot(0).order(6) == [3, 2, 1, 0, 4, 5]
    assert latin_square(4, Lot(0)).tolist() == [
        [2, 3, 1, 0],
        [0, 1, 3, 2],
        [1, 0, 2, 3],
        [3, 2, 0, 1],
    ]


@pytest.mark.parametrize("seed", [-1, 1.5, "1", None, True])
def test_lot_no_seed_is_refused(seed):
    with pytest.raises(RangeError, match="seed"):
        Lot(seed)
