"""A factorial of 2,000 plots, beside bare least squares on the same columns.

Run with ``python -m pytest -o addopts="" tests/benchmarks/test_analysis.py``. The
ratio is measured in one run. `analyse` tells the terms apart, which takes one
projection for each; the bare fit gives one residual.
"""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.trials.analysis import analyse, pairwise, randomised_blocks, treatment_means
from scenariokit.trials.analysis.design_matrix import model
from scenariokit.trials.plots import PlotTable

DESIGN = randomised_blocks("method", "variety", "level")
GROUP = "factorial of 2,000 plots"


@pytest.fixture(scope="module")
def plots():
    index = np.indices((4, 10, 5, 10)).reshape(4, -1)
    names = ("method", "variety", "level", "block")
    rng = np.random.default_rng(0)
    return PlotTable(
        rng.normal(5, 0.6, 2000).clip(0),
        {n: tuple(map(str, i)) for n, i in zip(names, index, strict=True)},
    )


@pytest.fixture(scope="module")
def holed(plots):
    yields = plots.yields.copy()
    yields[np.random.default_rng(1).choice(2000, 60, replace=False)] = np.nan
    return PlotTable(yields, plots.factors)


def bare(plots):
    matrix = model(plots, DESIGN).matrix
    fit = matrix @ np.linalg.lstsq(matrix, plots.yields, rcond=None)[0]
    return float(((plots.yields - fit) ** 2).sum())


def test_analyse_same_residual_as_bare_least_squares(plots, holed):
    for table in (plots, holed.known()):
        found = analyse(table, DESIGN).row("residual").sum_of_squares
        assert found == pytest.approx(bare(table))


@pytest.mark.benchmark(group=GROUP)
def test_analyse_balanced(benchmark, plots):
    assert benchmark(analyse, plots, DESIGN).residual.df == 2000 - 200 - 9


@pytest.mark.benchmark(group=GROUP)
def test_analyse_with_plots_missing(benchmark, holed):
    assert benchmark(analyse, holed, DESIGN).residual.df == 1940 - 200 - 9


@pytest.mark.benchmark(group=GROUP)
def test_means_and_pairs_of_a_factor(benchmark, plots):
    found = analyse(plots, DESIGN)

    def both():
        return treatment_means(found, "method:variety"), pairwise(found, "variety", "lsd")

    assert len(benchmark(both)[0]) == 40


@pytest.mark.benchmark(group=GROUP)
def test_bare_least_squares(benchmark, plots):
    assert benchmark(bare, plots) > 0
