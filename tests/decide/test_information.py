"""The value of knowing all: tables, draws with their errors, and two normal options."""

from __future__ import annotations

import math

import numpy as np
import pytest
from decision_tables import rows_of
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays
from scipy.integrate import quad
from scipy.special import ndtr

from scenariokit import quantity
from scenariokit.decide.information import (
    information,
    loss_of,
    unit_normal_loss,
    value_for_two,
)
from scenariokit.errors import ArgumentError, RangeError, UnitError

TABLES = {
    "three_investments": [[1500, 300, -800], [900, 600, -200], [500, 500, 500]],
    "own_table": [[60, 40, 10], [90, 30, -30], [20, 20, 20]],
}
CHANCES = {"three_investments": [0.5, 0.3, 0.2], "own_table": [0.3, 0.5, 0.2]}
NUMBERS = st.floats(-1e3, 1e3, allow_subnormal=False)
DRAWN = arrays(float, st.tuples(st.integers(1, 5), st.integers(2, 12)), elements=NUMBERS)


@pytest.mark.parametrize(
    ("case", "field"),
    [
        ("three_investments", "expected"), ("three_investments", "perfect"),
        ("three_investments", "value"), ("own_table", "expected"), ("own_table", "perfect"),
        ("own_table", "value"), ("own_table", "expected_loss"),
    ],
)  # fmt: skip
def test_information_published_tables(case, field):
    found = information(TABLES[case], probabilities=CHANCES[case])
    numbers = np.atleast_1d(getattr(found, field))
    for option, value, half in rows_of(case, field):
        assert numbers[int(option or 0)] == pytest.approx(value, abs=half * 1e-6)
    assert (found.best, found.error, found.low_by) == (0, 0.0, 0.0)


def test_information_of_a_quantity_is_one_in_any_unit():
    square_metre = quantity(TABLES["own_table"], "money/m^2")
    chances = CHANCES["own_table"]
    one = information(square_metre, probabilities=chances)
    other = information(square_metre.to("money/ft^2"), probabilities=chances)
    assert one.value.m_as("money/m^2") == pytest.approx(11)
    assert other.value.m_as("money/m^2") == pytest.approx(11)
    assert other.expected_loss.m_as("money/m^2") == pytest.approx([11, 15, 31])
    assert one.error.m_as("money/m^2") == 0


def test_information_lower_is_better():
    costs = -np.array(TABLES["own_table"])
    found = information(costs, "lower", CHANCES["own_table"])
    assert (found.best, found.value, found.perfect) == (
        0, pytest.approx(11), pytest.approx(-51),
    )  # fmt: skip


def test_information_equal_options_takes_the_first_and_nothing_is_to_be_known():
    found = information([[1.0, 2.0], [1.0, 2.0]])
    assert (found.best, found.value) == (0, 0.0)


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ([1.0, 2.0], "is no table"), ([[1.0, math.nan]], "NaN"), ([[1.0, math.inf]], "not finite"),
    ],
)  # fmt: skip
def test_information_what_is_no_table_is_refused(values, words):
    with pytest.raises(RangeError, match=words):
        information(values)


def test_information_other_direction_and_probabilities_are_refused():
    with pytest.raises(RangeError, match="is no direction"):
        information([[1.0, 2.0]], "neither")
    with pytest.raises(RangeError, match="are no probabilities"):
        information([[1.0, 2.0]], probabilities=[0.5, 0.6])


def test_information_one_draw_has_no_error():
    found = information([[1.0], [2.0]])
    assert math.isnan(found.error)
    assert math.isnan(found.low_by)


def test_information_errors_cover_the_truth_of_many_samples():
    """Two options 0 and d + s z: E[max] - max(0, d) = s L(d / s), d 0.3 and s 2.

    From samples of 40 the mean estimate is low by E[max(0, x̄)] - d, exactly
    s/√n L(d √n / s) for a normal mean; the standard error is that of the sample.
    """
    gap, spread, draws = 0.3, 2.0, 40
    truth = loss_of(np.array(gap), spread)
    rng = np.random.default_rng(0)
    samples = gap + spread * rng.standard_normal((4000, draws))
    found = [information([row, 0 * row]) for row in samples]
    values = np.array([one.value for one in found])
    bias = truth - values.mean()
    expected = float(loss_of(np.array(gap), spread / math.sqrt(draws)))
    assert bias == pytest.approx(expected, abs=4 * values.std() / math.sqrt(4000))
    assert bias > 0.02
    # Of a sampled gap the bound is on average larger than the bias but of its size.
    assert 0.4 * expected < np.mean([one.low_by for one in found]) < 1.5 * expected
    assert np.mean([one.error for one in found]) == pytest.approx(values.std(), rel=0.2)


@settings(max_examples=60, deadline=None)
@given(DRAWN, st.sampled_from(["higher", "lower"]), NUMBERS)
def test_information_is_never_below_zero_and_what_all_share_falls_out(values, better, more):
    found = information(values, better)
    size = 1 + np.abs(values).max() + abs(more)
    assert found.value >= 0
    losses = np.asarray(found.expected_loss)
    assert found.value == pytest.approx(losses.min(), abs=1e-12 * size)
    sign = 1 if better == "higher" else -1
    lead = sign * (found.perfect - np.asarray(found.expected)[found.best])
    assert found.value == pytest.approx(lead, abs=1e-11 * size)
    shared = more * np.linspace(-1, 1, values.shape[1])
    assert information(values + shared, better).value == pytest.approx(
        found.value, abs=1e-11 * size
    )


@settings(max_examples=40, deadline=None)
@given(DRAWN, st.floats(0.01, 100))
def test_information_scales_with_money_and_not_with_the_order_of_draws(values, rate):
    found = information(values)
    scaled = information(values * rate)
    assert scaled.value == pytest.approx(rate * found.value, rel=1e-9, abs=1e-9)
    assert scaled.error == pytest.approx(rate * found.error, rel=1e-6, abs=1e-6)
    assert information(values[:, ::-1]).value == pytest.approx(found.value, rel=1e-9, abs=1e-9)


# -- the unit normal loss and two options -----------------------------------------------


@pytest.mark.parametrize("u", [-3.0, 0.0, 0.5, 1.0, 3.0])
def test_unit_normal_loss_is_its_integral(u):
    area, _ = quad(lambda t: ndtr(-t), u, 40)
    assert unit_normal_loss(u) == pytest.approx(area, rel=1e-8)


def test_unit_normal_loss_far_out_keeps_its_digits():
    """L(u) = φ(u) ∫ t exp(-u t - t²/2) dt from 0 on, which loses none."""
    for u in (6.0, 10.0, 20.0):
        area, _ = quad(lambda t, u=u: t * math.exp(-u * t - t * t / 2), 0, 40 / u, epsabs=0)
        density = math.exp(-u * u / 2) / math.sqrt(2 * math.pi)
        assert unit_normal_loss(u) == pytest.approx(density * area, rel=1e-11)


def test_unit_normal_loss_of_an_array_and_its_limits():
    found = unit_normal_loss([0.0, -50.0, 50.0])
    assert found == pytest.approx([1 / math.sqrt(2 * math.pi), 50.0, 0.0])
    assert isinstance(unit_normal_loss(1.0), float)
    with pytest.raises(RangeError, match="NaN"):
        unit_normal_loss(math.nan)


def test_value_for_two_worked_by_hand():
    ((_, value, half),) = rows_of("normal_gap", "value")
    assert value_for_two([5.0, 3.0], [4.0, 0.0]) == pytest.approx(value, abs=half)
    assert value_for_two([3.0, 5.0], [math.sqrt(7), 3.0]) == pytest.approx(value, abs=half)


def test_value_for_two_correlation_of_one_leaves_only_the_difference():
    assert value_for_two([1.0, 0.0], [2.0, 2.0], 1.0) == 0.0
    apart = value_for_two([1.0, 0.0], [3.0, 1.0], 1.0)
    assert apart == pytest.approx(2 * unit_normal_loss(0.5))


def test_value_for_two_quantities_and_arrays():
    means = quantity([[5.0, 5.0], [3.0, 3.0]], "money/m^2")
    deviations = quantity([[4.0, 0.0], [0.0, 0.0]], "money/m^2").to("money/ft^2")
    found = value_for_two(means, deviations)
    assert found.m_as("money/m^2") == pytest.approx([0.791186, 0.0], abs=5e-7)
    assert value_for_two([5.0, 3.0], [4.0, 0.0], [0.0, 0.5]).shape == (2,)


def test_value_for_two_is_the_value_of_many_draws():
    rng = np.random.default_rng(4)
    draws = rng.multivariate_normal([3.0, 2.5], [[4.0, 1.5], [1.5, 1.0]], 200_000).T
    found = information(draws)
    exact = value_for_two([3.0, 2.5], [2.0, 1.0], 0.75)
    assert abs(found.value - exact) < 3 * found.error


@pytest.mark.parametrize(
    ("means", "deviations", "correlation", "words"),
    [
        ([1.0, 2.0, 3.0], [1.0, 1.0, 1.0], 0.0, "are not those of two options"),
        ([1.0, 2.0], [1.0], 0.0, "are not those of two options"),
        ([1.0, 2.0], [1.0, -1.0], 0.0, "is below zero"),
        ([1.0, 2.0], [1.0, 1.0], 1.5, "is no correlation"),
        ([1.0, math.nan], [1.0, 1.0], 0.0, "NaN"),
        ([1.0, 2.0], [1.0, math.inf], 0.0, "not finite"),
    ],
)
def test_value_for_two_what_cannot_be_is_refused(means, deviations, correlation, words):
    with pytest.raises(RangeError, match=words):
        value_for_two(means, deviations, correlation)


def test_value_for_two_all_that_is_wrong_at_once():
    with pytest.raises(ArgumentError) as caught:
        value_for_two([1.0, math.inf], [1.0, -1.0], 2.0)
    assert len(caught.value.problems) == 3


def test_value_for_two_units_that_do_not_fit_are_refused():
    money = quantity([1.0, 2.0], "money/m^2")
    for means, deviations in (
        (money, [1.0, 1.0]), ([1.0, 2.0], money), (money, quantity([1.0, 1.0], "money/kg")),
    ):  # fmt: skip
        with pytest.raises(UnitError, match="another unit"):
            value_for_two(means, deviations)


@settings(max_examples=60, deadline=None)
@given(NUMBERS, NUMBERS, st.floats(0, 100), st.floats(0, 100), st.floats(-1, 1))
def test_value_for_two_grows_with_doubt_and_falls_with_the_gap(a, b, s, t, rho):
    found = value_for_two([a, b], [s, t], rho)
    assert found >= 0
    assert value_for_two([b, a], [t, s], rho) == pytest.approx(found)
    assert value_for_two([a, b], [2 * s, 2 * t], rho) >= found
    assert value_for_two([2 * a, 2 * b], [s, t], rho) <= found + 1e-12
