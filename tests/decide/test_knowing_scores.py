"""What scores are worth: closed forms, the direction of the bias, what falls out."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.decide.information import information, unit_normal_loss, value_for_two
from scenariokit.decide.knowing_scores import (
    FOLDS,
    leads,
    learned_floats,
    score_basis,
    value_of_scores,
)
from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.uncertainty import Uncertain, Uncertainty, draw_scores, fixed

SOBOL = draw_scores(Uncertainty(tuple(Uncertain(f"x{n}", fixed(0.0)) for n in range(4))), 0, 4096)


def linear(gap, weights, scores=SOBOL):
    """Return two options: gap + Σ w z, and zero."""
    up = gap + np.tensordot(weights, scores[: len(weights)], 1)
    return np.array([up, 0 * up])


@pytest.mark.parametrize("gap", [0.5, -1.0, 2.0])
def test_value_of_scores_linear_normal_is_the_normal_loss(gap):
    """E[max(0, E[d + a z + b y | z])] - max(0, d) = a L(|d| / a)."""
    rows = linear(gap, [1.5, 1.0])
    found = value_of_scores(rows, SOBOL[0])
    assert found.value == pytest.approx(1.5 * unit_normal_loss(abs(gap) / 1.5), rel=0.02)
    other = value_of_scores(rows, SOBOL[1])
    assert other.value == pytest.approx(unit_normal_loss(abs(gap)), rel=0.04)


def test_value_of_scores_of_a_group_is_that_of_both_together():
    rows = linear(0.5, [1.5, 1.0, 0.7])
    both = value_of_scores(rows, SOBOL[:2])
    assert both.value == pytest.approx(value_for_two([0.5, 0.0], [math.hypot(1.5, 1.0), 0.0]), rel=0.02)  # fmt: skip
    every = value_of_scores(rows, SOBOL[:3])
    assert every.value == pytest.approx(information(rows).value, rel=0.01)


def test_value_of_scores_product_of_two_is_seen_only_together():
    """z y has the mean 0 given either, and is known given both: E[max(0, z y)] = E|z|² / 2 = 1/π."""
    rows = np.array([SOBOL[0] * SOBOL[1], 0 * SOBOL[0]])
    assert value_of_scores(rows, SOBOL[0]).value < 0.03
    both = value_of_scores(rows, SOBOL[:2])
    assert both.value == pytest.approx(1 / math.pi, rel=0.02)


def test_value_of_scores_curved_mean_is_followed():
    """z² - 1 against 0: E[max(0, z² - 1)] = 2 φ(1), by parts."""
    rows = np.array([SOBOL[0] ** 2 - 1 + 0.5 * SOBOL[1], 0 * SOBOL[0]])
    density = math.exp(-0.5) / math.sqrt(2 * math.pi)
    assert value_of_scores(rows, SOBOL[0]).value == pytest.approx(2 * density, rel=0.02)


@pytest.mark.parametrize(("gap", "weight", "noise"), [(0.6, 1.0, 2.0), (1.0, 0.5, 2.0)])
def test_value_of_scores_low_is_too_low_and_high_too_high_and_their_mean_near(gap, weight, noise):
    """Over 400 samples of 300 draws, beside the closed form a L(d / a)."""
    rng = np.random.default_rng(3)
    rows = []
    for _ in range(400):
        scores = rng.standard_normal((2, 300))
        rows.append(learned_floats(leads(linear(gap, [weight, noise], scores)), scores[:1])[:2])
    low, high = np.array(rows).T
    truth = weight * unit_normal_loss(gap / weight)
    error = low.std() / math.sqrt(len(low))
    assert low.mean() < truth - 2 * error
    assert high.mean() > truth
    mean = (low.mean() + high.mean()) / 2
    assert abs(mean - truth) < 0.6 * max(truth - low.mean(), high.mean() - truth)


def test_value_of_scores_that_tell_nothing_is_zero_or_nearly_so():
    rng = np.random.default_rng(1)
    values = rng.standard_normal((3, 2000)) + np.array([[0.3], [0.0], [0.1]])
    found = value_of_scores(values, rng.standard_normal(2000))
    assert found.low < 0 < found.high + 1e-12
    assert found.value == max((found.low + found.high) / 2, 0.0)
    assert found.value < 0.02


def test_value_of_scores_lower_is_better_and_units_stay():
    rows = linear(0.5, [1.5, 1.0])
    plain = value_of_scores(rows, SOBOL[0])
    costs = value_of_scores(quantity(-rows, "money/m^2"), SOBOL[0], "lower")
    assert costs.value.m_as("money/m^2") == pytest.approx(plain.value)
    feet = value_of_scores(quantity(rows, "money/m^2").to("money/ft^2"), SOBOL[0])
    assert feet.high.m_as("money/m^2") == pytest.approx(plain.high)
    assert feet.error.m_as("money/m^2") == pytest.approx(plain.error)


def test_value_of_scores_score_that_does_not_vary_tells_nothing():
    found = value_of_scores(linear(0.5, [1.0]), np.zeros(4096))
    assert (found.value, found.low) == (pytest.approx(0, abs=1e-12), pytest.approx(0, abs=1e-12))


@pytest.mark.parametrize(
    "scores", [SOBOL[0, :100], np.zeros((0, 4096)), np.zeros((1, 1, 4096))]
)  # fmt: skip
def test_value_of_scores_of_other_draws_is_refused(scores):
    with pytest.raises(RangeError, match="is not that of the draws"):
        value_of_scores(linear(0.5, [1.0]), scores)


def test_value_of_scores_missing_numbers_and_other_words_are_refused():
    with pytest.raises(RangeError, match=r"scores.*NaN"):
        value_of_scores(linear(0.5, [1.0]), np.full(4096, np.nan))
    with pytest.raises(RangeError, match=r"values.*NaN"):
        value_of_scores(np.full((2, 4096), np.nan), SOBOL[0])
    with pytest.raises(RangeError, match="is no direction"):
        value_of_scores(linear(0.5, [1.0]), SOBOL[0], "neither")


def test_value_of_scores_too_few_draws_are_refused_with_how_many_it_takes():
    scores = SOBOL[:2, :40]
    with pytest.raises(InfeasibleError, match=r"40 draws are too few.*50 or more"):
        value_of_scores(linear(0.5, [1.0], scores), scores)
    enough = SOBOL[:2, :50]
    assert value_of_scores(linear(0.5, [1.0], enough), enough).high >= 0


def test_score_basis_has_mean_square_one_and_is_nearly_orthogonal():
    basis = score_basis(SOBOL[:3])
    assert basis.shape == (1 + 4 * 3 + 3, 4096)
    gram = basis @ basis.T / 4096
    assert gram == pytest.approx(np.eye(16), abs=0.2)


def test_learned_floats_number_of_draws_need_not_divide():
    scores = SOBOL[:1, : 1000 * FOLDS + 3]
    low, high, error = learned_floats(leads(linear(0.5, [1.0], scores)), scores)
    assert low <= high
    assert error > 0


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 99), st.integers(1, 3), st.floats(0.1, 50))
def test_value_of_scores_bounds_shared_parts_and_scale(seed, count, rate):
    rng = np.random.default_rng(seed)
    scores = rng.standard_normal((count, 400))
    values = rng.normal(size=(4, count)) @ scores + rng.normal(size=(4, 400))
    found = value_of_scores(values, scores)
    assert 0 <= found.value <= information(values).value + 3 * found.error
    assert found.low <= found.high + 2 * found.error
    shared = rng.normal(size=400) * 100
    again = value_of_scores(rate * (values + shared), scores)
    assert again.value == pytest.approx(rate * found.value, rel=1e-6, abs=1e-9 * rate)
    assert value_of_scores(values, scores) == found
