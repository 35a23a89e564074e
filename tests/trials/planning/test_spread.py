"""Power of the F test, against Cohen's table and another library."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.planning.power import power_of_difference
from scenariokit.trials.planning.spread import (
    effect_of_difference,
    power_of_effect,
    replicates_for_effect,
    spread_power,
)

PUBLISHED = Path(__file__).parents[2] / "published" / "trial_sizes.csv"


def published(quantity):
    with PUBLISHED.open(newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if row["quantity"] == quantity]
    assert rows
    return rows


@pytest.mark.parametrize("row", published("replicates_spread"), ids=lambda row: row["value"])
def test_replicates_for_effect_cohens_sizes(row):
    found = replicates_for_effect(
        float(row["effect"]), int(row["treatments"]), design=row["design"]
    )
    # Cohen prints the nearest whole number, a planner needs the one above.
    assert int(row["value"]) <= found <= int(row["value"]) + 1


@pytest.mark.parametrize("row", published("continuous_spread"), ids=lambda row: row["value"])
def test_spread_power_at_published_fraction_of_a_plot_is_four_fifths(row):
    plots, many = float(row["value"]), int(row["treatments"])
    found = spread_power(float(row["effect"]), plots, many, many * (plots - 1), 0.05)
    assert found == pytest.approx(0.8, abs=3e-5)


def test_power_of_effect_equals_oracle():
    power = pytest.importorskip("statsmodels.stats.power")
    expected = power.FTestAnovaPower().power(0.35, nobs=4 * 11, alpha=0.01, k_groups=4)
    found = power_of_effect(0.35, 11, 4, alpha=0.01, design="randomised")
    assert found == pytest.approx(expected, rel=1e-7)


@settings(max_examples=30, deadline=None)
@given(st.floats(0.05, 1), st.floats(0.03, 0.4), st.integers(3, 30))
def test_power_of_effect_of_two_treatments_is_that_of_their_difference(d, cv, plots):
    effect = effect_of_difference(d, cv, 2)
    if effect <= 10:
        assert power_of_effect(effect, plots, 2) == pytest.approx(
            power_of_difference(d, cv, plots, 2), rel=1e-9
        )


def test_effect_of_difference_is_the_spread_of_its_means():
    means = np.array([-0.1, 0.0, 0.0, 0.1])  # two means 0.2 apart, two half way
    assert effect_of_difference(0.2, 0.05, 4) == pytest.approx(means.std() / 0.05)
    assert effect_of_difference([0.2, 0.4], 0.05, 4).tolist() == pytest.approx(
        [means.std() / 0.05, 2 * means.std() / 0.05]
    )


@settings(max_examples=25, deadline=None)
@given(st.floats(0.15, 2), st.integers(2, 8))
def test_replicates_for_effect_is_the_smallest_that_suffices(effect, many):
    found = replicates_for_effect(effect, many)
    power = power_of_effect(effect, [found, found + 1], many)
    assert 0.8 <= power[0] < power[1] or power[0] == pytest.approx(1)
    if (many - 1) * (found - 2) >= 2:
        assert power_of_effect(effect, found - 1, many) < 0.8


def test_power_of_effect_too_few_plots_is_refused():
    with pytest.raises(InfeasibleError, match="at least 2"):
        power_of_effect(0.4, 2, 2)


def test_replicates_for_effect_impossible_argument_is_refused():
    with pytest.raises(RangeError, match="whole"):
        replicates_for_effect(0.4, 3.5)
    with pytest.raises(RangeError, match="whole"):
        effect_of_difference(0.4, 0.1, 3.5)
    with pytest.raises(RangeError, match="above alpha"):
        replicates_for_effect(0.4, 3, power=0.05)
