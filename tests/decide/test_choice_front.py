"""Fronts: who beats whom, ties, missing values, and how often an option is on the front."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as hnp

from scenariokit import quantity
from scenariokit.decide import dominators, front_of, front_probability, on_front
from scenariokit.decide import front as module
from scenariokit.errors import RangeError

LOWER = ["lower", "lower"]
POINTS = [(1, 9), (2, 7), (3, 8), (4, 4), (5, 5), (6, 2), (7, 3), (4, 4)]
"""Worked by hand, both to be small: (3, 8) loses to (2, 7), (5, 5) to (4, 4), (7, 3) to (6, 2)."""
TABLES = hnp.arrays(
    float, st.tuples(st.integers(1, 7), st.integers(1, 4)), elements=st.integers(-3, 3)
)


def test_on_front_keeps_equal_options_together():
    assert np.flatnonzero(on_front(POINTS, LOWER)).tolist() == [0, 1, 3, 5, 7]


def test_front_of_names_who_beats_whom():
    found = front_of(POINTS, LOWER)
    assert found.members == (0, 1, 3, 5, 7)
    assert found.beaten_by == ((), (), (1,), (), (3, 7), (), (5,), ())
    assert found.undefined == ((),) * 8


def test_front_of_three_criteria_in_both_directions():
    """By hand: the second is the first with less of the one thing of which more is better."""
    table = [[5, 2, 3], [4, 2, 3], [4, 1, 3], [5, 2, 4]]
    found = front_of(table, ["higher", "lower", "lower"])
    assert found.members == (0, 2)
    assert found.beaten_by == ((), (0, 2), (), (0,))


def test_front_of_an_option_without_a_value_neither_beats_nor_is_beaten():
    found = front_of([[1, np.nan], [0, 0], [-1, -1]], ["higher", "higher"])
    assert found.members == (1,)
    assert found.undefined == ((1,), (), ())
    assert found.beaten_by == ((), (), (1,))
    assert not on_front([[1, np.nan], [0, 0]], ["higher", "higher"])[0]


def test_front_of_one_option_and_of_one_criterion():
    assert front_of([[3]], ["lower"]).members == (0,)
    assert front_of([[3], [1], [1]], ["lower"]).members == (1, 2)


def test_dominators_do_not_care_about_the_unit():
    """A row turned into other units, each column by its own factor, stands as before."""
    factors = np.array([0.2048, 25.4])
    expected = dominators(POINTS, LOWER)
    assert np.array_equal(dominators(np.array(POINTS) * factors, LOWER), expected)
    assert np.array_equal(dominators(quantity(np.array(POINTS), "kg"), LOWER), expected)


def test_front_probability_by_hand():
    """First draw: the second option beats the first. Second draw: neither beats the other."""
    yields, costs = [[5, 4], [5, 3]], [[3, 3], [2, 2]]
    assert front_probability([yields, costs], ["higher", "lower"]).tolist() == [0.5, 1.0]


def test_front_probability_with_a_missing_value_is_not_on_the_front():
    found = front_probability([[[1, np.nan], [0, 0]]], ["higher"])
    assert found.tolist() == [0.5, 0.5]


def test_front_probability_in_pieces_is_the_same(monkeypatch):
    draws = np.random.default_rng(0).integers(0, 3, (3, 5, 40)).astype(float)
    better = ["higher", "lower", "higher"]
    whole = front_probability(draws, better)
    monkeypatch.setattr(module, "_PAIRS", 5 * 5 * 7)
    assert np.array_equal(front_probability(draws, better), whole)


@pytest.mark.parametrize(
    ("values", "better", "said"),
    [
        ([[1, 2]], ["higher"], "one for each criterion"),
        ([1, 2], ["higher"], "one for each criterion"),
        ([[1, 2]], ["higher", "neither"], "is no direction"),
        ([[1, np.inf]], ["higher", "lower"], "are not finite"),
        (np.empty((2, 0)), [], "one criterion or more"),
    ],
)
def test_front_of_refuses(values, better, said):
    with pytest.raises(RangeError, match=said):
        front_of(values, better)


def test_front_of_says_all_that_is_wrong_at_once():
    with pytest.raises(RangeError) as caught:
        front_of([[1, np.inf]], ["up"])
    assert len(caught.value.problems) == 3


@pytest.mark.parametrize(
    ("draws", "better"),
    [([[1, 2]], ["higher"]), ([[[1.0]]], ["higher", "lower"]), (np.empty((1, 2, 0)), ["higher"]),
     ([[[np.inf]]], ["higher"])],
)  # fmt: skip
def test_front_probability_refuses(draws, better):
    with pytest.raises(RangeError):
        front_probability(draws, better)


@given(TABLES)
@settings(max_examples=80, deadline=None)
def test_front_members_are_unbeaten_and_all_others_lose_to_a_member(table):
    better = ["higher", "lower", "higher", "lower"][: table.shape[1]]
    found = front_of(table, better)
    assert found.members
    for number, beaten in enumerate(found.beaten_by):
        assert (number in found.members) == (not beaten)
        assert not beaten or set(beaten) & set(found.members)


@given(TABLES, st.data())
@settings(max_examples=60, deadline=None)
def test_front_does_not_change_when_a_beaten_option_is_added(table, data):
    better = ["higher"] * table.shape[1]
    like = data.draw(st.integers(0, len(table) - 1))
    worse = table[like] - data.draw(st.integers(1, 3))
    assert front_of(np.vstack([table, worse]), better).members == front_of(table, better).members


@given(hnp.arrays(float, (2, 4, 3), elements=st.integers(0, 3)))
@settings(max_examples=60, deadline=None)
def test_front_probability_is_the_mean_of_the_fronts_of_single_draws(draws):
    better = ["higher", "lower"]
    single = [on_front(draws[:, :, n].T, better) for n in range(3)]
    assert front_probability(draws, better) == pytest.approx(np.mean(single, axis=0))
