"""Summaries without a file: those of the draws, told as they come, in stretches as in one piece."""

from __future__ import annotations

import dataclasses

import numpy as np
import pandas as pd
import pytest

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.scale import Grid, fold, folding
from scenariokit.uncertainty import ensemble, usual_uncertainty
from scenariokit.uncertainty.running import PANEL

GRID = Grid(
    ("medium_bag", "wedge_pots"), planting_months=(4, 9), draws=3 * PANEL + 5, seed=5,
    outcomes=("yield_per_area", "fullest_depth"),
)  # fmt: skip


def test_fold_agrees_with_the_draws():
    found = fold(GRID, (0.1, 0.9))
    assert list(found.columns[:6]) == [
        "site", "planting_month", "price_list", "currency", "method", "draws",
    ]  # fmt: skip
    assert "fullest_depth_share_best" not in found.columns
    scenarios = GRID.scenarios(GRID.cells()[1])
    drawn = ensemble(scenarios, usual_uncertainty(scenarios), GRID.draws, 5, ["yield_per_area"])
    values, rows = drawn.floats("yield_per_area"), found[found["planting_month"] == 9]
    np.testing.assert_allclose(rows["yield_per_area_mean_kg_per_m2"], values.mean(axis=1), 1e-12)
    within = 2 * np.ptp(values, axis=1) / 2700
    for level, column in ((0.1, "p10"), (0.9, "p90")):
        off = rows[f"yield_per_area_{column}_kg_per_m2"] - np.quantile(values, level, axis=1)
        assert (abs(off) < within).all()
    np.testing.assert_allclose(
        rows["yield_per_area_share_best"], drawn.share_best("yield_per_area"), atol=1e-15
    )
    assert rows["yield_per_area_undefined"].tolist() == [0, 0]


def test_fold_tells_how_far_it_is():
    told = []
    fold(GRID, progress=lambda done, total: told.append((done, total)))
    assert told == sorted(told)
    assert told[-1] == (2 * GRID.draws, 2 * GRID.draws)


def test_fold_is_stopped_by_what_progress_raises():
    def stop(_done, _total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        fold(GRID, progress=stop)


def test_fold_refuses_levels_that_are_none():
    with pytest.raises(RangeError, match="levels"):
        fold(GRID, (0.5, 1.5))


@pytest.mark.parametrize("stretch", [PANEL, 2 * PANEL, 2**20])
def test_fold_in_stretches_by_workers_equals_the_whole_to_the_bit(monkeypatch, stretch):
    """The workers' part, done in this process: one cell in stretches, or both cells in one task."""
    monkeypatch.setattr(folding, "STRETCH", stretch)
    monkeypatch.setattr(folding, "checked_cluster", lambda _cluster: None)
    monkeypatch.setattr(
        folding, "on_cluster", lambda _cluster, work, tasks: (work(*task) for task in tasks)
    )
    told = []
    there = fold(GRID, cluster=1, progress=lambda *numbers: told.append(numbers))
    pd.testing.assert_frame_equal(there, fold(GRID), check_exact=True)
    assert told[-1] == (2 * GRID.draws, 2 * GRID.draws)
    assert len(told) == {PANEL: 8, 2 * PANEL: 4, 2**20: 1}[stretch]


def test_fold_batch_refuses_another_scenariokit():
    (batch,) = folding._batches(GRID)
    other = dataclasses.replace(folding.origin(), catalogue="none")
    with pytest.raises(InfeasibleError, match="with catalogue none; install the same"):
        folding.fold_batch(GRID, batch, (0.5,), other)


def test_batches_of_many_small_cells_are_few():
    grid = dataclasses.replace(GRID, planting_months=tuple(range(1, 13)), draws=2**18)
    assert [len(one) for one in folding._batches(grid)] == [4, 4, 4]
    large = dataclasses.replace(GRID, draws=2**20 + 1)
    found = list(folding._batches(large))
    assert [one[0].rows for one in found] == [2**20, 1, 2**20, 1]
    assert all(one[0].start % PANEL == 0 for one in found)
