"""Sentences on interactions say what the numbers say."""

from __future__ import annotations

import re

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.analysis import analyse, completely_randomised, interaction_words
from scenariokit.trials.plots import PlotTable

CROSSED = completely_randomised("method", "variety")


def two_by_two(means, noise=0.1):
    """Return two plots of each of A1, A2, B1, B2 around the means."""
    yields = [mean + sign * noise for mean in means for sign in (-1, 1)]
    factors = {"method": tuple("AAAABBBB"), "variety": ("1", "1", "2", "2") * 2}
    return PlotTable(yields, factors)


def told(means, noise=0.1, **options):
    return interaction_words(
        analyse(two_by_two(means, noise), CROSSED), "method:variety", **options
    )


def test_interaction_words_reversal_shown():
    first, second = told([4.0, 6.0, 7.0, 5.5])
    assert re.fullmatch(
        r"The differences of variety depend on method \(F = [\d.]+, p < 0.001\)\.", first
    )
    assert second == (
        "Under method B variety 2 yields 1.5 kg/m² less than variety 1, although under method A "
        "it yields 2 kg/m² more; both differences are shown."
    )


def test_interaction_words_same_rank_is_no_reversal():
    first, second = told([4.0, 6.0, 7.0, 7.5])
    assert first.startswith("The differences of variety depend on method")
    assert second == "Every method ranks the levels of variety alike, as far as they are known."


def test_interaction_words_not_shown():
    first, second = told([4.0, 4.1, 4.1, 4.0], noise=0.5)
    assert first.startswith("That the differences of variety depend on method is not shown (F = ")
    assert second.endswith("neither difference is shown, so this may be chance.")


def test_interaction_words_one_difference_shown():
    _, second = told([4.0, 8.0, 6.05, 6.0], noise=0.2)
    assert second.endswith("only the difference under method A is shown.")


def test_interaction_words_under_the_other_factor():
    _, second = told([4.0, 6.0, 7.0, 5.5], under="variety")
    assert second.startswith("Under variety 2 method B yields 0.5 kg/m² less than method A")
    assert "under variety 1 it yields 3 kg/m² more" in second


def test_interaction_words_count_what_is_left_untold(grid):
    plots = grid({"method": 4, "variety": 4}, replicates=2)
    found = analyse(plots, CROSSED)
    every = interaction_words(found, "method:variety", most=1000)
    few = interaction_words(found, "method:variety", most=1)
    assert few[:2] == every[:2]
    assert few[2] == f"{len(every) - 2} more such reversals are not told here."
    assert len(interaction_words(found, "method:variety", most=0)) == 2


def test_interaction_words_empty_combination_is_passed_over():
    plots = PlotTable(
        [4.0, 4.2, 6.0, 6.1, 8.0, 8.3, float("nan")],
        {"method": tuple("AAAABBB"), "variety": tuple("xxyyxxy")},
    )
    first, second = interaction_words(analyse(plots, CROSSED), "method:variety")
    assert first == "These plots cannot tell whether the differences of variety depend on method."
    assert second.startswith("Every method ranks")


def test_interaction_words_split_plot(analysed):
    first, *rest = interaction_words(analysed("oats"), "variety:nitrogen", under="nitrogen")
    assert first == (
        "That the differences of variety depend on nitrogen is not shown (F = 0.30, p = 0.932)."
    )
    assert rest == ["Every nitrogen ranks the levels of variety alike, as far as they are known."]
    first, *rest = interaction_words(analysed("alfalfa"), "variety:date", under="date")
    assert [sentence.startswith("Under date") for sentence in rest[:3]] == [True] * 3


@pytest.mark.parametrize(
    ("source", "options", "words"),
    [
        ("method", {}, "no interaction of two"),
        ("method:block", {}, "is not in the analysis"),
        ("method:variety", {"under": "block"}, "is not in it"),
        ("method:variety", {"most": -1}, "negative"),
        ("method:variety", {"confidence": 0.2}, "confidence"),
    ],
)
def test_interaction_words_impossible_request_raises(source, options, words):
    found = analyse(two_by_two([4.0, 6.0, 7.0, 5.5]), CROSSED)
    with pytest.raises(RangeError, match=words):
        interaction_words(found, source, **options)


def test_interaction_words_without_error_raises():
    with pytest.raises(InfeasibleError, match="do not differ at all"):
        told([4.0, 6.0, 7.0, 5.5], noise=0.0)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.floats(2, 9), min_size=4, max_size=4), st.floats(0.01, 1))
def test_interaction_words_reversal_told_if_and_only_if_means_cross(means, noise):
    found = analyse(two_by_two(means, noise), CROSSED)
    gaps = np.array(means[0::2]) - np.array(means[1::2])
    if np.min(np.abs(gaps)) < 1e-6:
        return
    sentence = interaction_words(found, "method:variety")[1]
    assert ("although" in sentence) == (gaps[0] * gaps[1] < 0)
