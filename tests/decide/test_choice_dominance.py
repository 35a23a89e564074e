"""Stochastic dominance of both orders, for gains and for costs, and the mean shortfall."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.decide import (
    ORDER_WORDS,
    dominance,
    dominance_table,
    mean_of_worst,
    mean_shortfall,
)
from scenariokit.decide.dominance import dominates
from scenariokit.errors import ArgumentError, RangeError, UnitError

A, B = [1, 4, 4, 5], [3, 3, 4, 4]
"""Worked by hand: means are 3.5. The sums of F at 0 to 6 are A 0 .25 .5 .75 1.5 2.5 3.5 and
B 0 0 0 .5 1.5 2.5 3.5; F(4) is .75 and 1, so there is no dominance of the first order."""
SAMPLES = st.lists(st.integers(-4, 4), min_size=1, max_size=7)


def test_dominance_of_the_second_order_by_hand():
    assert dominates(B, A) == "second order"
    assert dominates(A, B) == ""
    # The sum of F up to x is the mean shortfall below x + 1, for whole numbers.
    targets = np.arange(7) + 1.0
    assert mean_shortfall(A, targets).tolist() == [0, 0.25, 0.5, 0.75, 1.5, 2.5, 3.5]
    assert mean_shortfall(B, targets).tolist() == [0, 0, 0, 0.5, 1.5, 2.5, 3.5]


def test_dominance_of_the_first_order_by_hand():
    assert dominates([2, 3, 4], [1, 3, 4]) == "first order"
    assert dominates([1, 3, 4], [2, 3, 4]) == ""
    assert dominates([1, 2], [2, 1]) == ""


def test_dominance_keeps_its_name_among_the_chances():
    assert dominance(B, A) == "second order"


def test_dominance_of_samples_of_unequal_length():
    """By hand: F of (2, 2) is 1 at 2; that of (1, 1, 2) is 2/3 at 1 already."""
    assert dominates([2, 2], [1, 1, 2]) == "first order"
    assert dominates([1, 2], [1, 1, 2, 2]) == ""
    assert dominates([3], [2, 4]) == "second order"
    assert dominates([2, 4], [3]) == ""


def test_dominance_of_costs_takes_the_steadier_and_the_lower():
    """Lower is better: of two costs of one mean the steadier, whoever dreads high costs most."""
    assert dominates([9, 11], [8, 12], "lower") == "second order"
    assert dominates([8, 12], [9, 11], "lower") == ""
    assert dominates([8, 11], [8, 12], "lower") == "first order"
    # A cost that can be far lower but sometimes a little higher is not shunned by all.
    assert dominates([1, 13], [9, 12], "lower") == ""
    assert dominates([9, 12], [1, 13], "lower") == ""


def test_dominance_table_and_its_words():
    found = dominance_table([A, B, [0, 1, 2, 3]])
    assert found.pairs() == ((0, 2, "first order"), (1, 0, "second order"), (1, 2, "first order"))
    assert found.order(0, 1) == ""
    words = found.words(["A", "B", "C"])
    assert words[1] == f"B beside A: {ORDER_WORDS['second order']} (second order dominance)"
    assert len(words) == 3


def test_dominance_table_of_unequal_lengths_is_that_of_its_pairs():
    samples = [A, B, [3], [2, 4], [0, 1, 1]]
    found = dominance_table(samples)
    for one in range(5):
        for other in range(5):
            expected = "" if one == other else dominates(samples[one], samples[other])
            assert found.order(one, other) == expected


def test_dominance_does_not_care_about_the_unit():
    one, other = quantity(np.array(B), "kg"), quantity(np.array(A), "kg")
    assert dominates(one, other.to("lb")) == "second order"
    assert dominates(one.to("lb"), other) == "second order"
    assert dominance_table(quantity(np.array([A, B]), "kg")).order(1, 0) == "second order"
    assert mean_shortfall(other, quantity(4.0, "kg").to("g")).to("kg").m == pytest.approx(0.75)


@pytest.mark.parametrize("scale", [1e-12, 1.0, 1e9])
def test_dominance_does_not_care_about_the_size_of_numbers(scale):
    rng = np.random.default_rng(3)
    one = rng.normal(size=200)
    two = one - one.mean()
    spread = 1.5 * two + one.mean()
    assert dominates(scale * one, scale * spread) == "second order"
    assert dominance_table(scale * np.stack([one, spread])).order(0, 1) == "second order"
    assert dominates(scale * one, scale * (one - 1e-3)) == "first order"


def test_mean_shortfall_shapes_and_directions():
    assert mean_shortfall([1.0, 4.0], 3) == 1.0
    assert mean_shortfall([1.0, 4.0], 3, "lower") == 0.5
    assert mean_shortfall([[1.0, 4.0], [2.0, 2.0]], [3.0, 4.0]).tolist() == [[1, 1.5], [1, 2]]


def test_samples_are_refused():
    with pytest.raises(RangeError, match="NaN"):
        dominates([1, np.nan], [1])
    with pytest.raises(RangeError, match="hold no draw"):
        dominates([1], [])
    with pytest.raises(RangeError, match="not finite"):
        dominance_table([[1, np.inf]])
    with pytest.raises(RangeError, match="hold no option"):
        dominance_table([])
    with pytest.raises(RangeError, match="is no direction"):
        dominates([1], [2], "neither")
    with pytest.raises(UnitError, match="both have a unit"):
        dominates([1], quantity(np.array([2.0]), "kg"))
    with pytest.raises(UnitError, match="both have a unit"):
        dominates(quantity(np.array([2.0]), "kg"), [1])
    with pytest.raises(UnitError, match="another dimension"):
        dominates(quantity(np.array([2.0]), "kg"), quantity(np.array([2.0]), "m"))


def test_samples_all_that_is_wrong_is_said_at_once():
    with pytest.raises(ArgumentError) as caught:
        dominance_table([[1, np.nan], [], [np.inf]], "up")
    assert len(caught.value.problems) == 4


def test_mean_shortfall_refuses():
    with pytest.raises(RangeError, match="hold no draw"):
        mean_shortfall([], 1.0)
    with pytest.raises(RangeError, match="missing"):
        mean_shortfall([np.nan], 1.0)
    with pytest.raises(RangeError, match="no direction"):
        mean_shortfall([1.0], 1.0, "up")
    with pytest.raises(UnitError, match="both have a unit"):
        mean_shortfall(quantity(np.array([1.0]), "kg"), 1.0)
    with pytest.raises(RangeError, match="target"):
        mean_shortfall([1.0], np.nan)


@given(SAMPLES, SAMPLES, st.sampled_from(["higher", "lower"]))
@settings(max_examples=120, deadline=None)
def test_dominance_is_what_its_definition_says(one, other, better):
    """Both orders from F and from the mean shortfall at every whole number."""
    sign = 1 if better == "higher" else -1
    a, b = sign * np.array(one), sign * np.array(other)
    grid = np.arange(-6, 7)
    below = [np.mean(part[:, np.newaxis] <= grid, axis=0) for part in (a, b)]
    short = [mean_shortfall(part.astype(float), grid.astype(float)) for part in (a, b)]
    slack = 1e-12
    expected = ""
    if np.all(below[0] <= below[1] + slack) and np.any(below[0] < below[1] - slack):
        expected = "first order"
    elif np.all(short[0] <= short[1] + slack) and np.any(short[0] < short[1] - slack):
        expected = "second order"
    assert dominates(one, other, better) == expected


@given(st.lists(st.lists(st.integers(-4, 4), min_size=4, max_size=4), min_size=2, max_size=5))
@settings(max_examples=80, deadline=None)
def test_dominance_table_of_equal_lengths_is_that_of_its_pairs(samples):
    found = dominance_table(samples)
    for one, first in enumerate(samples):
        for other, second in enumerate(samples):
            assert found.order(one, other) == dominates(first, second)
    assert not np.any(found.second & found.second.T)


@given(SAMPLES, SAMPLES, st.sampled_from([0.1, 0.25, 0.5, 1.0]))
@settings(max_examples=80, deadline=None)
def test_dominance_means_no_lower_mean_of_the_worst_draws(one, other, share):
    if dominates(one, other):
        assert mean_of_worst([one], share)[0] >= mean_of_worst([other], share)[0] - 1e-9
