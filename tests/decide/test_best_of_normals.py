"""The expected best of normal numbers: closed forms, quadrature, limits."""

from __future__ import annotations

import math

import numpy as np
import pytest
from decision_tables import rows_of
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.special import ndtr

from scenariokit.decide.best_of_normals import gain_of_best
from scenariokit.decide.information import value_for_two


def by_quadrature(means, deviations):
    """Return E[max] of independent normals: top - ∫ Π F(x) dx up to the top."""
    means, deviations = np.asarray(means), np.asarray(deviations)
    low, high = (means - 9 * deviations).min(), (means + 9 * deviations).max()
    x = np.linspace(low, high, 40_001)
    below = ndtr((x[:, np.newaxis] - means) / deviations).prod(axis=1)
    return high - float(((below[1:] + below[:-1]) / 2 * np.diff(x)).sum())


@pytest.mark.parametrize(("count", "value"), [row[:2] for row in rows_of("best_of_equals", "gain")])
def test_gain_of_best_of_equals_is_the_largest_order_statistic(count, value):
    gain, changes = gain_of_best(np.zeros(int(count)), np.eye(int(count)), 0)
    assert gain == pytest.approx(value, rel=1e-3)
    assert changes == pytest.approx(1 - 1 / int(count), abs=0.01)


@pytest.mark.parametrize("seed", [0, 5])
def test_gain_of_best_of_unequal_ones_is_that_of_quadrature(seed):
    means, deviations = np.array([2.0, 1.5, 1.8, 0.5]), np.array([0.4, 1.0, 0.1, 2.0])
    gain, _ = gain_of_best(means, np.diag(deviations**2), seed)
    assert gain == pytest.approx(by_quadrature(means, deviations) - 2.0, rel=2e-3)


def test_gain_of_best_beside_one_that_is_known_is_that_of_quadrature():
    means = np.array([1.0, 1.2, 1.5])
    gain, changes = gain_of_best(means, np.diag([1.0, 0.64, 0.0]), 0)
    assert gain == pytest.approx(by_quadrature(means, [1.0, 0.8, 1e-6]) - 1.5, rel=2e-3)
    stays = ndtr(0.5) * ndtr(0.3 / 0.8)
    assert changes == pytest.approx(1 - stays, abs=0.005)


def test_gain_of_best_drawn_agrees_with_the_closed_form_for_two():
    """A third that is far behind changes nothing but the way it is worked out."""
    covariance = np.array([[1.0, 0.3, 0.0], [0.3, 0.5, 0.0], [0.0, 0.0, 1e-4]])
    gain, changes = gain_of_best(np.array([1.0, 0.7, -50.0]), covariance, 0)
    exact = value_for_two([1.0, 0.7], np.sqrt([1.0, 0.5]), 0.3 / math.sqrt(0.5))
    assert gain == pytest.approx(exact, rel=2e-3)
    assert changes == pytest.approx(ndtr(-0.3 / math.sqrt(0.9)), abs=0.005)


def test_gain_of_best_where_nothing_or_one_alone_is_unknown():
    assert gain_of_best(np.array([1.0, 2.0]), np.zeros((2, 2)), 0) == (0.0, 0.0)
    assert gain_of_best(np.array([1.0]), np.eye(1), 0) == (0.0, 0.0)
    gain, changes = gain_of_best(np.array([1.0, 2.0, 1.5]), np.diag([4.0, 0.0, 0.0]), 0)
    assert gain == pytest.approx(value_for_two([2.0, 1.0], [2.0, 0.0]))
    assert changes == pytest.approx(ndtr(-0.5))


def test_gain_of_best_of_two_that_move_as_one_is_nothing():
    assert gain_of_best(np.array([1.0, 2.0]), np.ones((2, 2)), 0) == (0.0, 0.0)


def test_gain_of_best_seed_zero_is_a_seed_and_stays():
    means, covariance = np.array([1.0, 1.1, 0.9]), np.diag([1.0, 0.5, 0.7])
    assert gain_of_best(means, covariance, 0) == gain_of_best(means, covariance, 0)
    assert gain_of_best(means, covariance, 0) != gain_of_best(means, covariance, 1)


@settings(max_examples=40, deadline=None)
@given(
    st.lists(st.tuples(st.floats(-5, 5), st.floats(0, 3)), min_size=1, max_size=6),
    st.floats(0.1, 20), st.floats(-100, 100),
)  # fmt: skip
def test_gain_of_best_is_never_below_zero_scales_and_does_not_shift(rows, rate, shift):
    means, deviations = np.array(rows).T
    gain, changes = gain_of_best(means, np.diag(deviations**2), 0)
    assert gain >= -1e-12
    assert 0 <= changes <= 1
    scaled, _ = gain_of_best(rate * means, np.diag((rate * deviations) ** 2), 0)
    assert scaled == pytest.approx(rate * gain, rel=1e-6, abs=1e-9)
    moved, _ = gain_of_best(means + shift, np.diag(deviations**2), 0)
    assert moved == pytest.approx(gain, rel=1e-6, abs=1e-9)
