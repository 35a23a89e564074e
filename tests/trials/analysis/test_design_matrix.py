"""Columns for factors, and the spaces that they span."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.trials.analysis.design_matrix import model, pseudo_inverse
from scenariokit.trials.analysis.designs import completely_randomised, split_plot
from scenariokit.trials.plots import PlotTable


def plots(a, b):
    return PlotTable(np.ones(len(a)), {"a": tuple(a), "b": tuple(b)})


def test_model_codes_are_those_of_the_docstring():
    built = model(plots("xyzx", "ppqq"), completely_randomised("a", "b"))
    assert built.columns[("a",)].tolist() == [[1, 0], [0, 1], [-1, -1], [1, 0]]
    assert built.columns[("b",)].tolist() == [[1], [1], [-1], [-1]]
    assert built.columns[("a", "b")].tolist() == [[1, 0], [0, 1], [1, 1], [-1, 0]]


def test_cell_rows_of_one_factor_leave_others_at_zero():
    built = model(plots("xyzx", "ppqq"), completely_randomised("a", "b"))
    rows = built.cell_rows(("a",))
    assert rows.tolist() == [[1, 1, 0, 0, 0, 0], [1, 0, 1, 0, 0, 0], [1, -1, -1, 0, 0, 0]]
    assert built.cells(("a",)) == [("x",), ("y",), ("z",)]


def test_cell_rows_of_all_factors_are_rows_of_the_matrix():
    built = model(plots("xxyy", "pqpq"), completely_randomised("a", "b"))
    np.testing.assert_array_equal(built.cell_rows(("a", "b")), built.matrix)


def test_model_split_plot_has_a_column_for_each_whole_plot():
    table = PlotTable(
        np.ones(8),
        {"block": ("1",) * 4 + ("2",) * 4, "a": tuple("xxyyxxyy"), "b": tuple("pqpqpqpq")},
    )
    built = model(table, split_plot("a", "b"))
    assert built.whole.sum(axis=0).tolist() == [2, 2, 2, 2]


def test_gain_of_nothing_new_is_nothing():
    """a and b are one and the same factor."""
    built = model(plots("xxyy", "ppqq"), completely_randomised("a", "b", interactions=1))
    yields = np.array([1.0, 2.0, 4.0, 5.0])
    assert built.gain(yields, ("b",), ["constant", ("a",)]).df == 0
    left, rank = built.residuals(yields, list(built.places))
    assert rank == 2
    assert left == pytest.approx([-0.5, 0.5, -0.5, 0.5])


def test_gain_takes_away_what_hangs_together_with_something_else():
    """a is perpendicular to the constant, but not to what the constant shares with b."""
    built = model(plots("xxyy", "pqqq"), completely_randomised("a", "b", interactions=1))
    yields = np.array([1.0, 2.0, 4.0, 7.0])
    # By hand: with p taken by its own column, 2 is left against the mean 5.5 of 4 and 7.
    assert built.gain(yields, ("a",), ["constant", ("b",)]).sum_of_squares == pytest.approx(
        (2 - 5.5) ** 2 / (1 + 1 / 2)
    )


@settings(max_examples=100, deadline=None)
@given(st.integers(0, 10**6), st.integers(4, 14))
def test_gain_is_what_the_residual_loses(seed, count):
    """Against least squares by another way, for designs with any holes."""
    rng = np.random.default_rng(seed)
    names = {name: tuple(map(str, rng.integers(0, 3, count))) for name in "abc"}
    yields = rng.normal(0, 1, count)
    built = model(PlotTable(np.ones(count), names), completely_randomised("a", "b", "c"))
    parts = list(built.places)
    for n in range(1, len(parts)):
        given_parts, part = parts[:n], parts[n]

        def residual(chosen):
            columns = np.hstack([built.matrix[:, built.places[one]] for one in chosen])
            fit = columns @ np.linalg.lstsq(columns, yields, rcond=1e-9)[0]
            return ((yields - fit) ** 2).sum(), np.linalg.matrix_rank(columns, tol=1e-7)

        before, after = residual(given_parts), residual([*given_parts, part])
        found = built.gain(yields, part, given_parts)
        assert found.df == after[1] - before[1]
        assert found.sum_of_squares == pytest.approx(before[0] - after[0], abs=1e-9)


def test_pseudo_inverse_of_a_rank_short_matrix_solves_what_can_be_solved():
    matrix = np.array([[2.0, 2.0], [2.0, 2.0]])
    found, rank = pseudo_inverse(matrix)
    np.testing.assert_allclose(matrix @ found @ matrix, matrix, atol=1e-12)
    assert found[0, 0] == pytest.approx(0.125)
    assert rank == 1
    assert pseudo_inverse(np.empty((0, 0)))[1] == 0
