"""Which test by ranks a design has, and that means of unequal makeup are not ranked."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.trials.analysis import (
    completely_randomised,
    friedman,
    kruskal_wallis,
    latin_square,
    randomised_blocks,
)
from scenariokit.trials.analysis.residuals import ResidualChecks, Test
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.rank_choice import rank_reason, rank_test

NAN = float("nan")
EMPTY = np.empty(0)


def checks(shapiro, levene):
    tests = [None if p is None else Test(1.0, p) for p in (shapiro, levene)]
    return ResidualChecks(EMPTY, EMPTY, EMPTY, tests[1], None, tests[0], "", ())


@pytest.mark.parametrize(
    ("shapiro", "levene", "words"),
    [
        (0.5, 0.5, ""),
        (None, None, ""),
        (0.01, 0.5, "the residuals are far from a normal curve (p = 0.010)"),
        (0.5, 0.02, "some treatments vary more than others (p = 0.020)"),
    ],
)
def test_rank_reason_names_the_check_that_failed(shapiro, levene, words):
    assert rank_reason(checks(shapiro, levene), 0.05) == words


def test_rank_reason_both_checks_are_joined():
    assert " and " in rank_reason(checks(0.001, 0.001), 0.05)


def factorial(**missing):
    cells = [(b, m, v) for b in "123" for m in "AB" for v in "xy"]
    values = [4 + i % 5 + 0.1 * i for i in range(12)]
    for place in missing.get("places", ()):
        values[place] = NAN
    columns = zip(*cells, strict=True)
    return PlotTable(values, dict(zip(("block", "method", "variety"), columns, strict=True)))


def test_rank_test_blocks_with_varieties_ranks_the_means():
    plots = factorial()
    found, why = rank_test(plots, randomised_blocks("method", "variety"), "method", 0.95)
    means = plots.yields.reshape(6, 2).mean(axis=1)
    table = PlotTable(means, {"block": tuple("112233"), "method": tuple("ABABAB")})
    assert why == ""
    assert found.statistic == friedman(table, "method").statistic
    assert any("counts as one plot" in note for note in found.notes)


def test_rank_test_block_with_a_plot_missing_is_left_out():
    found, _ = rank_test(
        factorial(places=(0,)), randomised_blocks("method", "variety"), "method", 0.95
    )
    assert any("left out: 1" in note for note in found.notes)


def test_rank_test_combination_never_planted_in_a_block_is_not_ranked():
    plots = factorial().where(np.arange(12) != 0)
    found, _ = rank_test(plots, randomised_blocks("method", "variety"), "method", 0.95)
    assert any("left out: 1" in note for note in found.notes)


def test_rank_test_one_plot_each_needs_no_note():
    plots = PlotTable([4.1, 5.2, 4.4, 5.0], {"method": tuple("ABAB"), "block": tuple("1122")})
    found, _ = rank_test(plots, randomised_blocks("method"), "method", 0.95)
    assert found.notes == ()


def test_rank_test_drawn_freely_is_kruskal_wallis():
    plots = PlotTable([4.1, 4.9, 5.3, 6.0, 6.4, 6.8], {"method": tuple("AAABBB")})
    found, why = rank_test(plots, completely_randomised("method"), "method", 0.95)
    assert why == ""
    assert found == kruskal_wallis(plots, "method")


@pytest.mark.parametrize(
    ("design", "compare", "words"),
    [
        (completely_randomised("method", "variety"), "method", "this design"),
        (latin_square("method"), "method", "this design"),
        (randomised_blocks("method", "variety"), "method:variety", "combinations"),
    ],
)
def test_rank_test_design_without_one_says_so(design, compare, words):
    found, why = rank_test(factorial(), design, compare, 0.95)
    assert found is None
    assert words in why


def test_rank_test_impossible_one_says_why():
    plots = factorial(places=(0, 4))
    found, why = rank_test(plots, randomised_blocks("method", "variety"), "method", 0.95)
    assert found is None
    assert "two or more are needed" in why
