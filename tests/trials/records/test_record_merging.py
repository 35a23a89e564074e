"""From plot records to experimental units."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import RecordError
from scenariokit.trials.records import plots_of
from scenariokit.units import quantity


def row(plot, **changes):
    return {
        "study_id": "S", "plot_id": plot, "rep": "1", "block": "", "row": "", "col": "",
        "reservoir": "", "treatment": "pots", "genotype": "early", "plot_area": 2.0,
        "occupied_area": 4.0, "ttwp": 8.0, "_row": 2, **changes,
    }  # fmt: skip


def test_plots_of_yield_is_weight_by_tank_area_or_by_occupied_area():
    rows = [row("1"), row("2", ttwp=0.0), row("3", ttwp=None)]
    np.testing.assert_equal(plots_of(rows).yields, [4.0, 0.0, np.nan])
    np.testing.assert_equal(plots_of(rows, per="occupied").yields, [2.0, 0.0, np.nan])


def test_plots_of_yield_is_a_tenth_of_the_one_per_hectare():
    # Crop Ontology CO_330:0000324: ttyna [t/ha] = 10 ttwp [kg] / plot_area [m2] (seen-2nd, in a
    # published copy of its trait table)
    plots = plots_of([row("1", ttwp=7.3, plot_area=1.7)])
    assert quantity(plots.yields, "kg/m^2").m_as("t/ha") == pytest.approx(10 * 7.3 / 1.7)


def test_plots_of_occupied_area_missing_raises_with_the_rows():
    rows = [row("1"), row("2", occupied_area=None, _row=3), row("3", occupied_area=None, _row=4)]
    with pytest.raises(RecordError) as caught:
        plots_of(rows, per="occupied")
    assert [one.row for one in caught.value.problems] == [3, 4]


def test_plots_of_unknown_area_raises():
    with pytest.raises(RecordError, match="'tank' or 'occupied'"):
        plots_of([row("1")], per="floor")


def test_plots_of_no_rows_is_an_empty_table():
    plots = plots_of([])
    assert (len(plots), plots.levels("method")) == (0, ())


def test_plots_of_factors_follow_the_columns():
    rows = [
        row("1", block="I", row="1", col="2"),
        row("2", block="II", row="2", col="1", treatment="bags", genotype="late", rep="2"),
    ]
    plots = plots_of(rows)
    assert plots.factors == {
        "method": ("pots", "bags"), "variety": ("early", "late"), "rep": ("1", "2"),
        "study": ("S", "S"), "block": ("I", "II"), "row": ("1", "2"), "column": ("2", "1"),
    }  # fmt: skip
    assert plots.notes == ()


def test_plots_of_block_not_recorded_is_the_replicate_and_noted():
    plots = plots_of([row("1"), row("2", rep="2")])
    assert plots.column("block") == ("1", "2")
    assert plots.notes == ("the replicate stands for the block",)
    assert "row" not in plots.factors
    assert "main" not in plots.factors


def test_plots_of_column_recorded_in_part_is_not_used_and_noted():
    plots = plots_of([row("1", row="1", col="1"), row("2", row="2")])
    assert "column" not in plots.factors
    assert "col is recorded for 1 of 2 plots and was not used" in plots.notes


def test_plots_of_several_studies_keep_their_plots_and_blocks_apart():
    plots = plots_of([row("1"), row("1", study_id="T")])
    assert plots.plot_ids == ("S/1", "T/1")
    assert plots.column("block") == ("S/1", "T/1")
    assert plots.column("method") == ("pots", "pots")


def test_plots_of_shared_reservoir_merges_by_area():
    # by hand: (6 + 8) kg / (1 + 3) m2 = 3.5 kg/m2, not the plain mean of 6 and 2.667
    rows = [
        row("1", reservoir="A", plot_area=1.0, ttwp=6.0),
        row("2", reservoir="A", plot_area=3.0, rep="2"),
        row("3", reservoir="B"),
        row("4"),
    ]
    plots = plots_of(rows)
    assert plots.yields.tolist() == [3.5, 4.0, 4.0]
    assert plots.plot_ids == ("1+2", "3", "4")
    assert plots.column("rep") == ("1+2", "1", "1")
    assert plots.column("main") == ("reservoir S/A", "reservoir S/B", "plot S/4")


def test_plots_of_shared_reservoir_half_harvested_says_so():
    rows = [row("1", reservoir="A"), row("2", reservoir="A", ttwp=None)]
    plots = plots_of(rows)
    assert plots.yields.tolist() == [4.0]
    assert plots.notes[-1].endswith("with the mean by area of the 1 harvested")
    nothing = plots_of([{**one, "ttwp": None} for one in rows])
    assert np.isnan(nothing.yields).all()
    assert nothing.notes[-1].endswith("with the mean by area")


def test_plots_of_treatments_on_one_reservoir_stay_apart_with_it_as_main_plot():
    rows = [row("1", reservoir="A"), row("2", reservoir="A", genotype="late")]
    plots = plots_of(rows)
    assert plots.plot_ids == ("1", "2")
    assert plots.column("main") == ("reservoir S/A", "reservoir S/A")
    assert "feeds 2 treatments or varieties" in plots.notes[-1]


def test_plots_of_same_reservoir_name_in_two_studies_is_two_reservoirs():
    rows = [row("1", reservoir="A"), row("1", reservoir="A", study_id="T")]
    assert len(plots_of(rows)) == 2


@settings(max_examples=60, deadline=None)
@given(
    st.lists(
        st.tuples(st.floats(0, 50), st.floats(0.1, 20), st.sampled_from(["", "A", "B"])),
        min_size=1,
        max_size=8,
    )
)
def test_plots_of_merged_yields_keep_the_whole_harvest(plots):
    rows = [
        row(str(number), ttwp=mass, plot_area=area, reservoir=reservoir)
        for number, (mass, area, reservoir) in enumerate(plots)
    ]
    table = plots_of(rows)
    areas = {
        "+".join(one["plot_id"] for one in group): sum(one["plot_area"] for one in group)
        for key in {one["reservoir"] or one["plot_id"] for one in rows}
        if (group := [one for one in rows if (one["reservoir"] or one["plot_id"]) == key])
    }
    total = sum(
        value * areas[plot] for value, plot in zip(table.yields, table.plot_ids, strict=True)
    )
    assert total == pytest.approx(sum(mass for mass, _, _ in plots), rel=1e-9, abs=1e-9)
