from __future__ import annotations

import numpy as np
import pytest

from scenariokit.trials.mixed.matrices import (
    averaging,
    contrasts,
    deviations,
    fixed_part,
    group_codes,
    indicators,
)
from scenariokit.trials.plots import PlotTable

GRID = PlotTable(
    [1, 2, 3, 4, 5, 6.0],
    {
        "method": ("A", "A", "A", "B", "B", "B"),
        "variety": ("None", "1", "NA", "None", "1", "NA"),
        "block": ("x", "y", "x", "y", "x", "y"),
    },
)


def test_indicators_hold_one_for_each_plot():
    assert indicators(np.array([1, 0, 1]), 2).tolist() == [[0, 1], [1, 0], [0, 1]]


@pytest.mark.parametrize("levels", [2, 3, 7])
def test_deviations_sum_to_zero_and_have_full_rank(levels):
    columns = deviations(levels)
    assert columns.shape == (levels, levels - 1)
    assert np.all(columns.sum(axis=0) == 0)
    assert np.linalg.matrix_rank(columns) == levels - 1


def test_fixed_part_with_interaction_gives_each_combination_its_own_mean():
    part = fixed_part(GRID, ("method", "variety"), interaction=True)
    assert part.columns.tolist() == np.eye(6).tolist()
    assert part.cells[1] == ("A", "1")
    assert part.grown.all()
    assert part.sizes == (2, 3)


def test_fixed_part_without_interaction_gives_even_means():
    part = fixed_part(GRID, ("method", "variety"), interaction=False)
    assert part.columns.shape == (6, 4)
    b = np.linalg.lstsq(part.columns, GRID.yields, rcond=None)[0]
    # additive values 1..6: methods differ by 3, varieties by 1
    assert part.means @ b == pytest.approx([1, 2, 3, 4, 5, 6])


def test_fixed_part_missing_combination_is_not_grown():
    part = fixed_part(GRID.where(np.arange(6) != 4), ("method", "variety"), interaction=True)
    assert part.columns.shape == (5, 5)
    assert part.grown.tolist() == [True, True, True, True, False, True]
    assert part.means[4].tolist() == [0] * 5


def test_fixed_part_adjusted_means_are_even_over_what_is_adjusted_for():
    part = fixed_part(GRID, ("method",), ("variety", "block"), interaction=True)
    assert part.columns.shape == (6, 2 + 2 + 1)
    assert part.means.tolist() == [[1, 0, 0, 0, 0], [0, 1, 0, 0, 0]]


def test_averaging_weighs_levels_evenly():
    part = fixed_part(GRID, ("method", "variety"), interaction=True)
    cells = np.arange(6.0)
    assert (averaging(part, [True, False]) @ cells).tolist() == pytest.approx([1, 4])
    assert (averaging(part, [False, True]) @ cells).tolist() == pytest.approx([1.5, 2.5, 3.5])
    assert (averaging(part, [True, True]) @ cells).tolist() == cells.tolist()


def test_contrasts_are_zero_for_means_without_the_effect():
    part = fixed_part(GRID, ("method", "variety"), interaction=True)
    additive = np.add.outer([1.0, 5.0], [0.0, 2.0, 7.0]).ravel()
    assert contrasts(part, [True, True]) @ additive == pytest.approx([0, 0])
    assert np.abs(contrasts(part, [True, False]) @ additive).max() > 1
    assert contrasts(part, [True, False]) @ np.tile([1.0, 2, 3], 2) == pytest.approx([0])


def test_group_codes_keep_levels_apart_that_only_look_alike():
    plots = PlotTable([1, 2, 3.0], {"study": ("a:b", "a", "a"), "block": ("c", "b:c", "b:c")})
    codes, groups = group_codes(plots, ("study", "block"))
    assert codes.tolist() == [0, 1, 1]
    assert groups == (("a:b", "c"), ("a", "b:c"))
