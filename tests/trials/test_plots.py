"""The table of plots that every analysis takes."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import RecordError
from scenariokit.trials.plots import PlotTable

NAN = float("nan")


def table(**changes):
    values = {
        "yields": [4.0, NAN, 0.0, 5.5],
        "factors": {"method": ("B", "A", "B", "None"), "block": ("1", "1", "2", "NA")},
        "plot_ids": ("w", "x", "y", "z"),
        "notes": ("invented",),
    }
    return PlotTable(**{**values, **changes})


def test_levels_stand_in_the_order_of_first_use():
    assert table().levels("method") == ("B", "A", "None")
    assert table().levels("block") == ("1", "2", "NA")


def test_column_and_codes_agree_with_levels():
    plots = table()
    levels = plots.levels("method")
    assert tuple(levels[code] for code in plots.codes("method")) == plots.column("method")


def test_known_leaves_out_only_what_was_not_harvested():
    known = table().known()
    assert known.plot_ids == ("w", "y", "z")
    assert known.yields.tolist() == [4.0, 0.0, 5.5]
    assert known.factors["method"] == ("B", "B", "None")
    assert known.notes == ("invented",)


def test_where_none_gives_an_empty_table_with_its_factors():
    none = table().where(np.zeros(4, dtype=bool))
    assert (len(none), none.levels("block"), none.notes) == (0, (), ("invented",))


def test_plot_ids_left_out_are_numbers():
    assert table(plot_ids=()).plot_ids == ("1", "2", "3", "4")


def test_yields_cannot_be_written_to():
    with pytest.raises(ValueError, match="read-only"):
        table().yields[0] = 1.0


def test_plot_table_does_not_change_with_the_array_it_was_given():
    given_array = np.array([1.0, 2.0])
    plots = PlotTable(given_array, {})
    given_array[0] = 9.0
    assert plots.yields.tolist() == [1.0, 2.0]


@pytest.mark.parametrize("mask", [[True, False], [1, 0, 1, 0], [[True] * 4]])
def test_where_wrong_mask_raises(mask):
    with pytest.raises(RecordError, match="one truth value for each plot"):
        table().where(mask)


def test_unknown_factor_raises_with_the_known_ones():
    with pytest.raises(RecordError, match="method, block"):
        table().levels("variety")


def test_plot_table_lists_all_problems_at_once():
    with pytest.raises(RecordError) as caught:
        PlotTable(
            [-1.0, float("inf"), float("-inf")],
            {"method": ("A", "B"), "block": (1, "1", None)},
            ("p", "p", "q"),
        )
    fields = [problem.field for problem in caught.value.problems]
    assert fields == ["method", "yields", "yields", "yields", "block", "block", "plot_ids"]


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.floats(0, 30) | st.just(NAN), st.sampled_from("ABC")), max_size=20))
def test_known_and_unknown_plots_make_up_the_table(rows):
    plots = PlotTable([y for y, _ in rows], {"method": tuple(m for _, m in rows)})
    unknown = plots.where(np.isnan(plots.yields))
    assert len(plots.known()) + len(unknown) == len(plots)
    assert set(plots.known().plot_ids) | set(unknown.plot_ids) == set(plots.plot_ids)
    assert not np.isnan(plots.known().yields).any()
