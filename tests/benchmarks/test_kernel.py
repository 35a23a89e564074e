"""What the kernel needs for a slider move, and for an ensemble, beside hand-written NumPy.

Run with ``python -m pytest -o addopts="" tests/benchmarks``; compare inside a group.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from scenariokit import quantity, substrate
from scenariokit.scenario import compare, evaluate, scenario_for, with_values
from scenariokit.widgets import open_board
from scenariokit.widgets.board_state import DEFAULT_METHODS

DRAWS = 100_000


@pytest.fixture(scope="module")
def draws():
    rng = np.random.default_rng(0)
    return {
        "price": rng.uniform(0.05, 0.2, DRAWS),
        "volume": rng.uniform(0.2, 3.0, DRAWS),
        "plants": rng.uniform(10, 32, DRAWS),
        "harvest": rng.uniform(2, 8, DRAWS),
    }


@pytest.mark.benchmark(group="cost of medium, 100,000 draws")
def test_cost_per_yield_of_quantities(benchmark, draws):
    arguments = (
        quantity(draws["price"], "money/L"),
        quantity(draws["volume"], "L/plant"),
        quantity(draws["plants"], "plant/m^2"),
        quantity(draws["harvest"], "kg/m^2"),
    )
    found = benchmark(substrate.cost_per_yield, *arguments)
    assert found.shape == (DRAWS,)


@pytest.mark.benchmark(group="cost of medium, 100,000 draws")
def test_cost_per_yield_by_hand(benchmark, draws):
    found = benchmark(lambda: draws["price"] * draws["volume"] * draws["plants"] / draws["harvest"])
    assert found.shape == (DRAWS,)


@pytest.mark.benchmark(group="six methods")
def test_compare_six_methods(benchmark):
    scenarios = [scenario_for(method) for method in DEFAULT_METHODS]
    assert len(benchmark(compare, scenarios)) == 6


@pytest.mark.benchmark(group="six methods")
def test_compare_six_methods_plain_season_only(benchmark):
    """The largest array work of a comparison, bare: six seasons of daily water."""
    kc, reference = np.linspace(0.2, 1.1, 130), np.linspace(2, 5, 130)
    benchmark(lambda: [float((kc * reference * factor).sum()) for factor in range(6)])


@pytest.mark.benchmark(group="six methods")
def test_board_move_of_a_common_slider(benchmark):
    """Everything that the kernel does for one move: six methods, six charts, words, tables."""
    board = open_board()
    values = itertools.cycle(np.linspace(1.2, 2.0, 17).round(2))

    def move():
        board.common.values = {**board.common.values, "feed.ec": float(next(values))}

    benchmark(move)
    assert not board.common.errors


@pytest.mark.parametrize("view", ["water", "feed", "choice"])
@pytest.mark.benchmark(group="six methods")
def test_board_move_in_another_view(benchmark, view):
    """One move with another view open; the choice has 2,048 draws of six methods in it."""
    board = open_board(view=view)
    values = itertools.cycle(np.linspace(1.2, 2.0, 17).round(2))

    def move():
        board.common.values = {**board.common.values, "feed.ec": float(next(values))}

    benchmark(move)
    assert not board.common.errors
    assert not board.status.value


@pytest.mark.benchmark(group="one method, 100,000 draws")
def test_evaluate_ensemble(benchmark, draws):
    one = with_values(
        scenario_for("medium_bag"), {"harvest.typical": quantity(draws["harvest"], "kg/m^2")}
    )
    found = benchmark(evaluate, one)
    assert found["cost_per_kilogram"].shape == (DRAWS,)


@pytest.mark.benchmark(group="one method, 100,000 draws")
def test_evaluate_ensemble_by_hand(benchmark, draws):
    """The cost stack of one method in plain NumPy, parts per area known beforehand."""
    found = evaluate(scenario_for("medium_bag"))
    area = found["cost_per_area"].m_as("money/m^2")
    benchmark(lambda: area / draws["harvest"])
