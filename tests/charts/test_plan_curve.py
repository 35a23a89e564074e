"""The curves of a plan: chance and smallest difference at every size, the plan among them."""

from __future__ import annotations

import json

import pytest

from scenariokit.charts.plan_curve import (
    AS_SET,
    HIGH,
    LOW,
    MOST,
    SERIES,
    curve_end,
    curve_points,
    curve_rows,
    curve_signals,
    curve_table,
    plan_curve_chart,
)
from scenariokit.trials.planning.aim import TrialAim, chance_of_finding, smallest_difference
from scenariokit.trials.planning.proposal import propose
from scenariokit.trials.planning.tanks import equal_tanks
from scenariokit.widgets.chart_view import parameter_names, plain_rows, source_names

FOUR = ["bag", "pots", "wick", "tray"]
SOUGHT = ["power", "smallest"]
PLAN = propose(TrialAim(FOUR, difference=0.25), equal_tanks(24, "1 m", "1 m"), seed=1)
each = pytest.mark.parametrize("sought", SOUGHT)


@each
def test_curve_rows_are_what_trials_of_that_size_find(sought):
    rows = [
        row
        for row in curve_rows(PLAN, curve_points(PLAN), sought)[sought]
        if row["series"] == AS_SET
    ]
    function = chance_of_finding if sought == "power" else smallest_difference
    assert [row["replicates"] for row in rows] == list(range(2, curve_end(PLAN) + 1))
    for row in rows:
        assert row["value"] == pytest.approx(100 * function(PLAN.aim, row["replicates"]))
        assert row["plots"] == 4 * row["replicates"]


@each
def test_curve_rows_mark_the_plan_and_what_is_wanted(sought):
    rows = curve_rows(PLAN, curve_points(PLAN), sought)
    (here,), (wanted,) = rows[f"{sought}_here"], rows[f"{sought}_wanted"]
    found = PLAN.power if sought == "power" else PLAN.smallest
    assert (here["replicates"], here["value"]) == (5, pytest.approx(100 * found))
    assert wanted["value"] == pytest.approx(80 if sought == "power" else 25)
    assert "%" in here["text"]
    assert "%" in wanted["text"]


@pytest.mark.parametrize(
    ("cv", "series"),
    [(0.12, {AS_SET, LOW, HIGH}), (0.05, {AS_SET, HIGH}), (0.35, {AS_SET, LOW})],
)
def test_curve_rows_show_a_low_and_a_high_cv_beside_the_one_set(cv, series):
    plan = propose(TrialAim(FOUR, cv=cv), equal_tanks(24, "1 m", "1 m"), seed=1)
    assert {
        row["series"] for row in curve_rows(plan, curve_points(plan), "power")["power"]
    } == series


def test_curve_rows_without_a_finding_have_no_mark():
    plan = propose(
        TrialAim(FOUR[:2]), equal_tanks(1, "4 m", "1 m", sections=12), seed=1, replicates=6
    )
    assert curve_rows(plan, curve_points(plan), "power")["power_here"] == []
    assert curve_signals(plan, "smallest")["smallest_top"] > 0


@pytest.mark.parametrize(("tanks", "difference", "end"), [(8, 1.0, 8), (120, 0.08, MOST)])
def test_curve_end_holds_the_plan_and_stays_readable(tanks, difference, end):
    plan = propose(TrialAim(FOUR, difference=difference), equal_tanks(tanks, "1 m", "1 m"), seed=1)
    assert curve_end(plan) == end >= plan.replicates
    latin = propose(
        TrialAim(FOUR, design="latin_square", difference=1), equal_tanks(16, "1 m", "1 m"), seed=1
    )
    assert curve_end(latin) >= 12


@each
def test_curve_chart_reads_what_it_is_given(sought):
    spec = plan_curve_chart(sought).to_dict()
    rows, signals = curve_rows(PLAN, curve_points(PLAN), sought), curve_signals(PLAN, sought)
    assert set(source_names(spec)) == set(rows)
    assert set(parameter_names(spec)) == set(signals)
    for name, part in rows.items():
        plain_rows(name, part)
    assert signals[f"{sought}_end"] > PLAN.replicates
    here = rows[f"{sought}_here"][0]["value"]
    assert 0 < here <= signals[f"{sought}_top"]
    assert "diamond" in spec["description"]


@each
def test_curve_chart_series_differ_by_dash_as_by_colour(sought):
    spec = plan_curve_chart(sought).to_dict()
    (line,) = [layer for layer in spec["layer"] if layer["mark"]["type"] == "line"]
    colour, dash = line["encoding"]["color"], line["encoding"]["strokeDash"]
    assert colour["scale"]["domain"] == dash["scale"]["domain"] == list(SERIES)
    assert len({json.dumps(one) for one in dash["scale"]["range"]}) == 3
    assert len(set(colour["scale"]["range"])) == 3


def test_curve_table_has_both_curves():
    head, *rows = curve_table(curve_points(PLAN))
    assert len(head) == 5
    assert all(len(row) == 5 for row in rows)
    five = next(row for row in rows if row[:3] == ["5", "20", "0.12"])
    assert five[3:] == [f"{100 * PLAN.power:.0f}", f"{100 * PLAN.smallest:.0f}"]
