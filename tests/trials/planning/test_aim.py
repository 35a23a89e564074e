"""What a trial of one size can find, alone and in combined treatments."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from scenariokit.errors import ArgumentError, InfeasibleError, RangeError
from scenariokit.trials.planning.aim import (
    TrialAim,
    chance_of_finding,
    error_behind,
    half_interval,
    plots_behind,
    replicates_for_aim,
    smallest_difference,
    smallest_interaction,
)
from scenariokit.trials.planning.power import (
    detectable_difference,
    power_of_difference,
    replicates_for_difference,
)
from scenariokit.trials.planning.width import width_of_interval

FOUR, TWO = ["bag", "pots", "wick", "tray"], ["early", "late"]
SINGLE = ["randomised", "blocks", "latin_square"]


def test_trial_aim_keeps_names_and_shares_plain():
    aim = TrialAim(FOUR, TWO, cv="15 %", difference=0.25)
    assert (aim.treatments, aim.varieties) == (tuple(FOUR), tuple(TWO))
    assert (aim.cv, aim.compare, aim.questions) == (0.15, "treatment", 6)
    assert aim.pairs[:2] == (("bag", "early"), ("bag", "late"))


@pytest.mark.parametrize(
    ("compare", "compared", "questions"),
    [
        ("treatment", ("bag", "pots"), 1),
        ("variety", ("early", "late"), 1),
        ("combination", ("bag early", "bag late", "pots early", "pots late"), 6),
    ],
)
def test_trial_aim_compared_are_named(compare, compared, questions):
    aim = TrialAim(FOUR[:2], TWO, compare=compare)
    assert (aim.compared, aim.questions) == (compared, questions)


def test_trial_aim_single_treatment_compares_varieties():
    assert TrialAim(["bag"], TWO).compare == "variety"


@pytest.mark.parametrize(
    ("values", "fields"),
    [
        ({"cv": 12, "difference": 0}, ["cv", "difference"]),
        ({"design": "rows", "compare": "all"}, ["design", "compare"]),
        ({"varieties": ["early"], "compare": "variety"}, ["compare"]),
        ({"design": "split_plot"}, ["varieties"]),
        ({"treatments": ["bag"], "varieties": TWO, "design": "split_plot"}, ["treatments"]),
        ({"power": 0.04}, ["power"]),
        ({"treatments": ["bag", "bag", ""]}, ["treatments", "treatments"]),
        ({"treatments": ["bag"]}, ["treatments"]),
    ],
)
def test_trial_aim_that_cannot_be_is_refused_with_every_fault(values, fields):
    with pytest.raises(ArgumentError) as caught:
        TrialAim(**{"treatments": FOUR, **values})
    assert sorted(problem.field for problem in caught.value.problems) == sorted(fields)


@pytest.mark.parametrize("design", SINGLE)
@pytest.mark.parametrize("replicates", [4, 8])
def test_aim_of_single_treatments_is_the_planning_of_a_pair(design, replicates):
    aim = TrialAim(FOUR, design=design, cv=0.15, difference=0.2)
    options = {"design": design}
    assert chance_of_finding(aim, replicates) == pytest.approx(
        power_of_difference(0.2, 0.15, replicates, 4, **options), rel=1e-12
    )
    assert smallest_difference(aim, replicates) == pytest.approx(
        detectable_difference(0.15, replicates, 4, **options), rel=1e-9
    )
    assert half_interval(aim, replicates) == pytest.approx(
        width_of_interval(0.15, replicates, 4, **options), rel=1e-12
    )
    assert replicates_for_aim(aim) == replicates_for_difference(0.2, 0.15, 4, **options)


def test_replicates_for_aim_by_hand():
    """z form: 2 (1.96 + 0.84)² (12 / 25)² = 3.6, which Student's t makes 5; computed."""
    assert replicates_for_aim(TrialAim(FOUR, cv=0.12, difference=0.25)) == 5


@pytest.mark.parametrize(
    ("design", "compare", "plots", "degrees"),
    [
        # 3 methods, 2 varieties, 4 replicates: 24 plots; hand-worked tables of analysis.
        ("randomised", "treatment", 8, 18),  # 23 - 5
        ("blocks", "treatment", 8, 15),  # 23 - 5 - 3
        ("blocks", "variety", 12, 15),
        ("blocks", "combination", 4, 15),
        ("split_plot", "treatment", 4, 6),  # whole plots: 11 - 2 - 3
        ("split_plot", "variety", 12, 9),  # 23 - 11 - 1 - 2
        ("split_plot", "combination", 4, 6),
    ],
)
def test_plots_and_error_behind_hand_worked(design, compare, plots, degrees):
    aim = TrialAim(FOUR[:3], TWO, design=design, compare=compare)
    assert plots_behind(aim, 4) == plots
    assert error_behind(aim, 4) == degrees


def test_error_behind_latin_square_hand_worked():
    """Six combinations in a 6 x 6 square: 35 - 5 - 5 - 5."""
    aim = TrialAim(FOUR[:3], TWO, design="latin_square")
    assert (error_behind(aim, 6), plots_behind(aim, 6)) == (20, 12)
    assert (aim.first, aim.step) == (6, 6)


def test_chance_of_finding_a_treatment_over_varieties_is_what_simulated_trials_find():
    """4,000 trials in blocks, seed 0, tested as an analysis of variance tests them."""
    aim = TrialAim(FOUR[:3], TWO, cv=0.15, difference=0.2)
    rng, count, replicates = np.random.default_rng(0), 4000, 3
    true = np.array([1.0, 1.2, 1.1])[:, None]
    plots = true + rng.normal(0, 0.15, (count, replicates, 3, 2))
    plots += rng.normal(0, 0.3, (count, replicates, 1, 1))
    cells = plots.mean(axis=1, keepdims=True)
    blocks = plots.mean(axis=(2, 3), keepdims=True)
    left = plots - cells - blocks + plots.mean(axis=(1, 2, 3), keepdims=True)
    error = error_behind(aim, replicates)
    mean_square = (left**2).sum(axis=(1, 2, 3)) / error
    means = plots.mean(axis=(1, 3))
    t = (means[:, 1] - means[:, 0]) / np.sqrt(2 * mean_square / plots_behind(aim, replicates))
    found = np.mean(np.abs(t) > stats.t.ppf(0.975, error))
    chance = chance_of_finding(aim, replicates)
    assert found == pytest.approx(chance, abs=3 * np.sqrt(chance * (1 - chance) / count))


def test_smallest_interaction_is_what_simulated_trials_find_in_four_of_five():
    """The difference of differences of two methods and two varieties, seed 1."""
    aim = TrialAim(FOUR[:2], TWO, cv=0.1)
    rng, count, replicates = np.random.default_rng(1), 4000, 4
    size = smallest_interaction(aim, replicates)
    true = 1 + np.array([[0.0, 0.0], [0.0, size]])
    plots = true + rng.normal(0, 0.1, (count, replicates, 2, 2))
    left = plots - plots.mean(axis=1, keepdims=True) - plots.mean(axis=(2, 3), keepdims=True)
    left += plots.mean(axis=(1, 2, 3), keepdims=True)
    error = error_behind(aim, replicates)
    mean_square = (left**2).sum(axis=(1, 2, 3)) / error
    means = plots.mean(axis=1)
    between = means[:, 0, 0] - means[:, 0, 1] - means[:, 1, 0] + means[:, 1, 1]
    t = between / np.sqrt(4 * mean_square / replicates)
    assert np.mean(np.abs(t) > stats.t.ppf(0.975, error)) == pytest.approx(0.8, abs=0.02)


def test_smallest_interaction_needs_two_of_both():
    assert smallest_interaction(TrialAim(FOUR), 4) is None
    assert smallest_interaction(TrialAim(["bag"], TWO), 4) is None


def test_smallest_interaction_in_a_split_plot_is_held_against_sections():
    split = TrialAim(FOUR[:2], TWO, design="split_plot")
    blocks = replace(split, design="blocks")
    # 2 (2 - 1)(4 - 1) = 6 degrees against 9 in blocks.
    assert smallest_interaction(split, 4) > smallest_interaction(blocks, 4)


@pytest.mark.parametrize(
    "function", [chance_of_finding, smallest_difference, smallest_interaction, half_interval]
)
def test_too_few_replicates_are_refused_with_what_would_do(function):
    aim = TrialAim(FOUR[:2], TWO, design="split_plot")
    with pytest.raises(InfeasibleError, match="possible: 3 replicates"):
        function(aim, 2)
    with pytest.raises(RangeError, match="replicates"):
        function(aim, 2.5)


def test_replicates_for_aim_hopeless_difference_is_refused():
    with pytest.raises(InfeasibleError, match="more than 10000"):
        replicates_for_aim(TrialAim(FOUR, difference=0.001, cv=0.5))


def test_replicates_for_aim_smaller_risk_takes_more():
    aim = TrialAim(FOUR, difference=0.25)
    assert replicates_for_aim(aim, alpha=0.05 / 6) == replicates_for_aim(
        replace(aim, alpha=0.05 / 6)
    )
    assert replicates_for_aim(aim, alpha=0.05 / 6) > replicates_for_aim(aim)


AIMS = st.builds(
    TrialAim,
    st.integers(2, 5).map(lambda count: [f"m{number}" for number in range(count)]),
    st.integers(0, 3).map(lambda count: [f"v{number}" for number in range(count)]),
    st.sampled_from(["randomised", "blocks", "latin_square"]),
    cv=st.floats(0.05, 0.4),
    difference=st.floats(0.1, 1),
    power=st.floats(0.5, 0.95),
)


@settings(max_examples=60, deadline=None)
@given(AIMS)
def test_replicates_for_aim_are_enough_and_one_step_fewer_are_not(aim):
    found = replicates_for_aim(aim)
    assert chance_of_finding(aim, found) >= aim.power
    assert smallest_difference(aim, found) <= aim.difference * (1 + 1e-9)
    if found > aim.first:
        assert chance_of_finding(aim, found - aim.step) < aim.power


@settings(max_examples=40, deadline=None)
@given(AIMS, st.integers(1, 4), st.floats(1.01, 3))
def test_chance_of_finding_grows_with_plots_and_falls_with_cv(aim, steps, factor):
    count = aim.first + aim.step
    here = chance_of_finding(aim, count)
    assert chance_of_finding(aim, count + steps * aim.step) >= here - 1e-12
    assert chance_of_finding(aim, count, cv=aim.cv * factor) <= here + 1e-12
    assert chance_of_finding(aim, count, difference=aim.difference * factor) >= here - 1e-12
    scaled = replace(aim, cv=aim.cv / 2, difference=aim.difference / 2)
    assert chance_of_finding(scaled, count) == pytest.approx(here, rel=1e-9)
