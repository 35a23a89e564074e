from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, RangeError
from scenariokit.trials.prior import Prior, with_prior

NAMED = Prior("three trials of the year before", "0 kg/m^2", "0.5 kg/m^2")


def test_with_prior_equals_worked_case():
    # s² = 2 (0.1 × 5)² = 0.5; τ² = 0.5: half the weight each, sd √0.25
    prior = Prior("a neighbour", "0.4 kg/m^2", quantity(math.sqrt(0.5), "kg/m^2"))
    seen = with_prior("1 kg/m^2", prior, mean="5 kg/m^2", cv=0.1)
    assert seen.weight == pytest.approx(0.5)
    assert seen.standard_error.m_as("kg/m^2") == pytest.approx(math.sqrt(0.5))
    assert seen.difference.m_as("kg/m^2") == pytest.approx(0.7)
    assert seen.sd.m_as("kg/m^2") == pytest.approx(0.5)
    assert seen.high.m_as("kg/m^2") == pytest.approx(0.7 + 1.959964 * 0.5, abs=1e-6)
    assert seen.low.m_as("kg/m^2") == pytest.approx(0.7 - 1.959964 * 0.5, abs=1e-6)
    # normal distribution function at 1.4, from its table
    assert seen.chance_above_zero == pytest.approx(0.9192, abs=5e-5)
    assert seen.prior == "a neighbour"


def test_with_prior_gives_plain_floats_for_scalars():
    seen = with_prior("1 kg/m^2", NAMED, mean="5 kg/m^2", cv=0.1)
    assert type(seen.weight) is float
    assert type(seen.chance_above_zero) is float


def test_with_prior_takes_arrays():
    found = with_prior(
        quantity(np.array([-1.0, 1.0]), "kg/m^2"), NAMED, mean="5 kg/m^2", cv=0.1, plots=2
    )
    assert found.difference.m_as("kg/m^2") == pytest.approx([-0.5, 0.5])
    assert found.chance_above_zero.sum() == pytest.approx(1)


@given(st.floats(-10, 10), st.floats(0.1, 20), st.floats(0.02, 0.9), st.floats(-5, 5))
def test_with_prior_answer_lies_between_prior_and_trial(observed, mean, cv, middle):
    prior = Prior("invented", quantity(middle, "kg/m^2"), "0.5 kg/m^2")
    seen = with_prior(quantity(observed, "kg/m^2"), prior, mean=quantity(mean, "kg/m^2"), cv=cv)
    found = seen.difference.m_as("kg/m^2")
    assert min(observed, middle) - 1e-9 <= found <= max(observed, middle) + 1e-9
    assert seen.sd < seen.standard_error
    assert seen.sd.m_as("kg/m^2") < 0.5 + 1e-12


def test_with_prior_more_plots_weigh_more():
    one, four = (
        with_prior("1 kg/m^2", NAMED, mean="5 kg/m^2", cv=0.1, plots=n).weight for n in (1, 4)
    )
    # τ²/(τ² + s²) with τ² 0.25: 0.25/0.75 and 0.25/0.375
    assert (one, four) == pytest.approx((1 / 3, 2 / 3))


def test_with_prior_does_not_depend_on_the_unit():
    metric = with_prior("1 kg/m^2", NAMED, mean="5 kg/m^2", cv="10 %")
    grams = Prior(NAMED.name, "0 g/m^2", "500 g/m^2")
    other = with_prior("1000 g/m^2", grams, mean="5000 g/m^2", cv=0.1)
    assert other.difference.m_as("kg/m^2") == pytest.approx(metric.difference.m_as("kg/m^2"))


@pytest.mark.parametrize("name", ["", "  "])
def test_with_prior_without_a_name_is_refused(name):
    with pytest.raises(RangeError, match="say where the prior comes from"):
        with_prior("1 kg/m^2", Prior(name, "0 kg/m^2", "1 kg/m^2"), mean="5 kg/m^2", cv=0.1)


def test_with_prior_all_bad_values_are_reported_at_once():
    prior = Prior("invented", 0, "0 kg/m^2")
    with pytest.raises(ArgumentError) as caught:
        with_prior("1 kg", prior, mean="0 kg/m^2", cv=0, plots=0, confidence=0)
    assert [problem.field for problem in caught.value.problems] == [
        "observed", "prior.mean", "prior.sd", "mean", "cv", "plots", "confidence",
    ]  # fmt: skip
