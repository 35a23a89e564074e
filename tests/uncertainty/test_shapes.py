"""Standard shapes: distributions, mirrors and the tables of their quantiles."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import special, stats

from scenariokit.uncertainty import shapes

ALL = [
    shapes.Uniform(), shapes.Triangular(0.3), shapes.Triangular(0.0), shapes.Triangular(1.0),
    shapes.Beta(7 / 3, 11 / 3), shapes.Beta(1, 5), shapes.Normal(), shapes.Student(3.0),
]  # fmt: skip
each_shape = pytest.mark.parametrize("shape", ALL, ids=str)


@each_shape
def test_shape_density_is_the_slope_of_its_distribution(shape):
    at = shape.quantile(np.array([0.02, 0.2, 0.45, 0.7, 0.98]))
    step = 1e-6
    slope = (shape.share_below(at + step) - shape.share_below(at - step)) / (2 * step)
    assert shape.density(at) == pytest.approx(slope, rel=1e-5)


@each_shape
def test_shape_from_above_is_from_below(shape):
    shares = np.array([0.01, 0.3, 0.5, 0.9])
    at = shape.quantile(shares)
    assert shape.share_above(at) == pytest.approx(1 - shares)
    assert shape.quantile_from_above(1 - shares) == pytest.approx(at)
    assert shape.share_below(at) == pytest.approx(shares)


@each_shape
def test_shape_moments_agree_with_its_draws(shape):
    shares = (np.arange(200_000) + 0.5) / 200_000
    drawn = shape.at_scores(special.ndtri(shares))
    mean, variance = shape.moments()
    assert drawn.mean() == pytest.approx(mean, abs=1e-4)
    # Student's t has rare draws far out, which a grid of shares leaves out.
    assert drawn.var() == pytest.approx(variance, rel=0.05)


@each_shape
def test_shape_outside_its_support_has_no_density(shape):
    if np.isfinite(shape.support[0]):
        assert np.all(shape.density(np.array([-0.1, 1.1])) == 0)
        assert shape.share_below(np.array([-0.1, 1.1])) == pytest.approx([0, 1])


def test_student_quantile_ends_are_infinite():
    assert np.array_equal(shapes.Student(2.0).quantile([0, 1]), [-np.inf, np.inf])


@pytest.mark.parametrize("degrees", [1.0, 2.0, 3.0, 30.0])
def test_student_table_is_near_even_in_far_tails(degrees):
    scores = np.linspace(-8, -0.01, 3001)
    exact = stats.t.ppf(stats.norm.cdf(scores), degrees)
    found = shapes.Student(degrees).at_scores(scores)
    assert found == pytest.approx(exact, rel=2e-7)
    # The other tail mirrors it, where a share next to 1 would have lost its digits.
    assert shapes.Student(degrees).at_scores(-scores) == pytest.approx(-exact, rel=2e-7)


@pytest.mark.parametrize("alpha", [1.0, 1.5, 3.0, 4.2, 5.0])
def test_beta_table_is_within_its_stated_error(alpha):
    scores = np.linspace(-8, 0, 3001)
    beta = 6 - alpha
    below = special.betaincinv(alpha, beta, special.ndtr(scores))
    above = 1 - special.betaincinv(beta, alpha, special.ndtr(scores))
    shape = shapes.Beta(alpha, beta)
    assert np.max(np.abs(shape.at_scores(scores) - below)) < 1e-10
    assert np.max(np.abs(shape.at_scores(-scores) - above)) < 1e-10


def test_beta_beyond_the_table_stays_at_its_end_and_on_its_support():
    found = shapes.Beta(1.0, 5.0).at_scores(np.array([-40.0, -12.0, 12.0, 40.0]))
    assert np.all((found >= 0) & (found <= 1))
    assert found[0] == found[1]
    assert found[2] == found[3]


def test_beta_whose_ends_move_in_proportion_keeps_its_table():
    first = shapes.Beta(1 + 4 * (0.3 - 0.1) / (0.7 - 0.1), 1 + 4 * (0.7 - 0.3) / (0.7 - 0.1))
    other = shapes.Beta(1 + 4 * (3 - 1) / (7 - 1), 1 + 4 * (7 - 3) / (7 - 1))
    first.at_scores(np.zeros(1))
    before = shapes.quantile_table.cache_info().misses
    other.at_scores(np.zeros(1))
    assert shapes.quantile_table.cache_info().misses == before


def test_fixed_shape():
    shape = shapes.Fixed()
    assert shape.moments() == (0, 0)
    assert np.array_equal(shape.share_above(np.array([-1.0, 0.0, 1.0])), [1, 0, 0])
    assert shape.quantile_from_above(0.3) == 0
