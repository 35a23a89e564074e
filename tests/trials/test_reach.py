"""The smallest difference that a trial finds, against the planning of such a trial."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from scenariokit.trials.analysis import analyse, completely_randomised, pairwise
from scenariokit.trials.design_guess import read_design
from scenariokit.trials.planning.power import detectable_difference, replicates_for_difference
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.reach import reach_of
from scenariokit.trials.summary import summarise


def trial(noise, replicates=5, mean=5.0):
    """A completely randomised trial of four methods whose error is exactly `noise`."""
    rng = np.random.default_rng(11)
    residuals = rng.normal(size=(4, replicates))
    residuals -= residuals.mean(axis=1, keepdims=True)
    residuals *= noise / np.sqrt((residuals**2).sum() / (4 * (replicates - 1)))
    values = (mean + residuals).reshape(-1)
    return PlotTable(values, {"method": tuple(np.repeat(list("ABCD"), replicates))})


def reach(plots, **options):
    design = completely_randomised("method")
    analysis = analyse(plots, design)
    read = read_design(plots, ("method",), "randomised")
    return reach_of(analysis, pairwise(analysis, "method"), read, 0.95, **options)


def test_reach_of_equals_the_planned_difference():
    """A trial of 4 x 5 plots with CV 12 %: 24 % by the planning, so 1.2 of 5 kg/m²."""
    found = reach(trial(0.6))
    planned = detectable_difference(0.12, 5, 4, design="randomised")
    assert found.share == pytest.approx(planned, rel=1e-6)
    assert found.difference.m == pytest.approx(5 * planned, rel=1e-6)
    assert found.variation == pytest.approx(0.12, rel=1e-9)
    assert found.plots == 5


def test_reach_of_next_trial_is_the_planned_one():
    found = reach(trial(0.6))
    assert found.wanted_plots == replicates_for_difference(0.2, 0.12, 4, design="randomised")


def test_reach_of_without_a_design_plans_plots_drawn_freely():
    plots = trial(0.6)
    analysis = analyse(plots, completely_randomised("method"))
    found = reach_of(analysis, pairwise(analysis, "method"), None, 0.95)
    assert found.wanted_plots == reach(plots).wanted_plots


def test_reach_of_more_power_needs_a_larger_difference():
    assert reach(trial(0.6), power=0.95).share > reach(trial(0.6)).share


def test_reach_of_error_with_one_degree_reaches_far():
    """With one degree of freedom t is 12.7: only enormous differences are found."""
    plots = PlotTable([4.1, 4.9, 6.0], {"method": ("A", "A", "B")})
    found = reach(plots)
    assert found.share > 1


def test_reach_of_wild_plots_has_no_next_trial():
    assert reach(trial(8.0, mean=30.0), wanted=0.001).wanted_plots is None


def test_reach_of_nothing_harvested_by_weight_is_none():
    plots = trial(0.6)
    found = summarise(plots)
    zero = dataclasses.replace(found.analysis, mean=found.analysis.mean * 0)
    assert reach_of(zero, found.comparisons, found.design, 0.95) is None
