"""Charts of trials: rows are the numbers of the summary, axes say what they are."""

from __future__ import annotations

import dataclasses
import json

import numpy as np
import pytest

from scenariokit.charts.frames import Showing
from scenariokit.charts.marks import METHOD_COLOURS
from scenariokit.charts.trial_studies import (
    ALL,
    APART,
    KIND_COLOURS,
    KIND_SHAPES,
    KINDS,
    NEXT,
    STUDY,
    forest_chart,
    forest_ends,
    forest_rows,
)
from scenariokit.charts.trials import (
    NAMED_RESIDUALS,
    mean_labels,
    mean_rows,
    means_chart,
    means_top,
    residual_rows,
    residual_top,
    residuals_chart,
    score_line,
    scores_chart,
)
from scenariokit.trials.demo import demo_files, demo_records
from scenariokit.trials.over_studies import summarise_studies
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooling import pool
from scenariokit.trials.summary import summarise
from scenariokit.widgets.chart_view import parameter_names, source_names

METRIC, US = Showing("metric"), Showing("us")
PER_FOOT = 0.204816143622  # lb/ft² in a kg/m²: 0.09290304 / 0.45359237


@pytest.fixture(scope="module")
def found():
    return summarise(demo_records().plots)


@pytest.fixture(scope="module")
def studies():
    return summarise_studies(pool(demo_files()).plots(), common="wedge_pots")


@pytest.fixture(scope="module")
def bag(studies):
    return next(one for one in studies.over if one.method == "medium_bag")


def layers(spec):
    """Yield every single chart of a specification."""
    for part in spec.get("layer", []):
        yield from layers(part)
    if "mark" in spec:
        yield spec


def titles(spec, channel):
    return {
        layer["encoding"][channel].get("title")
        for layer in layers(spec)
        if "field" in layer["encoding"].get(channel, {})
    } - {None}


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_trial_charts_are_valid_described_and_titled_with_units(found, bag, showing):
    unit = "lb/ft²" if showing is US else "kg/m²"
    charts = {
        "means": (means_chart(found, showing), f"Yield ({unit})"),
        "residuals": (residuals_chart(showing), f"Fitted yield ({unit})"),
        "scores": (scores_chart(showing), "Normal score (standard deviations)"),
        "forest": (forest_chart(bag, showing), "Times the yield of wedge_pots"),
    }
    for chart, title in charts.values():
        spec = chart.to_dict()  # raises where the schema is broken
        assert len(spec["description"]) > 40
        assert spec["width"] == "container"
        assert title in titles(spec, "x")
        assert "http" not in json.dumps({key: spec[key] for key in spec if key != "$schema"})


@pytest.mark.parametrize(
    ("make", "sources", "parameters"),
    [
        (lambda f, _b: means_chart(f, METRIC), {"means", "plots"}, {"means_top"}),
        (lambda _f, _b: residuals_chart(METRIC), {"residuals"}, {"residual_top", "fitted_top"}),
        (lambda _f, _b: scores_chart(METRIC), {"residuals", "score_line"}, {"residual_top"}),
        (lambda _f, b: forest_chart(b, METRIC), {"forest"}, {"forest_low", "forest_high"}),
    ],
)
def test_trial_charts_read_what_their_description_names(found, bag, make, sources, parameters):
    spec = make(found, bag).to_dict()
    assert set(source_names(spec)) - set(spec.get("datasets", {})) == sources
    assert set(parameter_names(spec)) == parameters


# -- means ---------------------------------------------------------------------------------


@pytest.mark.parametrize(("showing", "factor"), [(METRIC, 1.0), (US, PER_FOOT)])
def test_mean_rows_are_the_summarys_numbers(found, showing, factor):
    means, plots = mean_rows(found, showing)
    for row, one in zip(means, found.means, strict=True):
        numbers = (row["mean"], row["low"], row["high"])
        assert numbers == pytest.approx([factor * part.m for part in (one.mean, one.low, one.high)])
        assert row["text"].endswith(f" {one.letters}")
        assert row["end"] == pytest.approx(factor * max(*one.values, one.high.m))
    assert len(plots) == 23
    assert sum(row["value"] for row in plots) == pytest.approx(
        factor * np.nansum(found.plots.yields)
    )


def test_mean_rows_single_plots_say_so_and_have_no_interval():
    means, plots = mean_rows(summarise(demo_records("single").plots), METRIC)
    assert all(row["text"].endswith("(one plot)") for row in means)
    assert all(row["low"] is None and row["high"] is None for row in means)
    assert len(plots) == 4


def test_mean_rows_repeated_plots_without_an_error_say_no_interval():
    plots = PlotTable([4.0, 4.0, 6.0, 6.0], {"method": tuple("AABB")})
    means, _ = mean_rows(summarise(plots), METRIC)
    assert means[0]["text"] == "6.00 (no interval)"


def test_mean_rows_interval_below_zero_is_drawn_from_zero():
    plots = PlotTable([0.1, 0.9, 4.0, 7.0], {"method": tuple("AABB")})
    found = summarise(plots)
    assert found.means[1].low.m < 0
    means, _ = mean_rows(found, METRIC)
    assert means[1]["low"] == 0


def test_means_top_leaves_room_for_the_text(found):
    means, _ = mean_rows(found, METRIC)
    assert means_top(means) >= 1.3 * max(row["end"] for row in means)
    assert means_top([]) == 1.0


def test_means_chart_colour_and_shape_say_the_same(found):
    points = next(
        layer for layer in layers(means_chart(found, METRIC).to_dict())
        if layer["mark"]["type"] == "point"
    )  # fmt: skip
    colour, shape = points["encoding"]["color"]["scale"], points["encoding"]["shape"]["scale"]
    assert colour["domain"] == shape["domain"] == sorted(mean_labels(found))
    assert len(set(colour["range"])) == len(set(shape["range"])) == 4


def test_means_chart_more_levels_than_colours_look_alike():
    levels = tuple("ABCDEFGHIJ") * 2
    plots = PlotTable(np.linspace(3, 6, 20), {"method": levels})
    spec = means_chart(summarise(plots), METRIC).to_dict()
    points = next(layer for layer in layers(spec) if layer["mark"]["type"] == "point")
    assert points["encoding"]["color"] == {"value": METHOD_COLOURS[0]}
    assert spec["height"] > 10 * 40


# -- residuals -----------------------------------------------------------------------------


@pytest.mark.parametrize(("showing", "factor"), [(METRIC, 1.0), (US, PER_FOOT)])
def test_residual_rows_fitted_and_residual_make_the_yield(found, showing, factor):
    rows = residual_rows(found.analysis, found.checks, showing)
    known = found.plots.known()
    assert [row["plot"] for row in rows] == list(known.plot_ids)
    sums = [row["fitted"] + row["residual"] for row in rows]
    np.testing.assert_allclose(sums, factor * known.yields, rtol=1e-9)


def test_residual_rows_largest_bear_their_plots_name(found):
    rows = residual_rows(found.analysis, found.checks, METRIC)
    named = [row for row in rows if row["text"]]
    assert len(named) == NAMED_RESIDUALS
    assert min(abs(row["residual"]) for row in named) >= max(
        abs(row["residual"]) for row in rows if not row["text"]
    )


def test_score_line_has_the_slope_of_the_residuals_spread(found):
    rows = residual_rows(found.analysis, found.checks, METRIC)
    first, last = score_line(rows)
    slope = (last["residual"] - first["residual"]) / (last["score"] - first["score"])
    assert slope == pytest.approx(np.std(found.checks.residuals, ddof=1))


def test_residual_top_holds_every_residual(found):
    rows = residual_rows(found.analysis, found.checks, METRIC)
    assert residual_top(rows) > max(abs(row["residual"]) for row in rows)


# -- forest --------------------------------------------------------------------------------


def test_forest_rows_studies_first_then_apart_then_all_then_the_next(bag):
    rows = forest_rows(bag, METRIC)
    assert [row["kind"] for row in rows] == [STUDY] * 3 + [APART, ALL, NEXT]
    assert [row["order"] for row in rows] == list(range(6))
    for row, one in zip(rows[:3], bag.rows, strict=True):
        assert row["estimate"] == pytest.approx(one.estimate.m)
        assert row["weight"] == one.weight
        assert f"{one.estimate.m:.2f} ({one.low.m:.2f} to {one.high.m:.2f})" in row["text"]
    assert rows[3]["low"] is None
    assert rows[3]["text"].endswith("not pooled")
    assert f"I² {100 * bag.pool.i_squared:.0f} %" in rows[4]["text"]
    assert rows[5]["estimate"] is None


def test_forest_rows_study_that_nothing_is_pooled_with_says_so(studies):
    sheet = next(one for one in studies.over if one.method == "sheet_wick_tray")
    rows = forest_rows(sheet, METRIC)
    assert [row["kind"] for row in rows] == [STUDY, APART]
    assert rows[0]["text"].endswith("not pooled")


def test_forest_rows_differences_are_in_the_readers_unit():
    plots = pool(demo_files()).plots()
    found = summarise_studies(plots, common="wedge_pots", scale="difference")
    one = next(row for row in found.over if row.method == "medium_bag")
    rows = forest_rows(one, US)
    assert rows[0]["estimate"] == pytest.approx(PER_FOOT * one.rows[0].estimate.m)
    low, high = forest_ends(one, rows)
    assert low == -high
    spec = forest_chart(one, US).to_dict()
    assert "Yield beside wedge_pots (lb/ft²)" in titles(spec, "x")


def test_forest_ends_hold_every_estimate_and_cut_long_intervals(bag):
    rows = forest_rows(bag, METRIC)
    low, high = forest_ends(bag, rows)
    assert low < 1 < high
    assert all(low < row["estimate"] < high for row in rows if row["estimate"] is not None)
    long = [{**rows[0], "low": 1e-6, "high": 1e6}]
    low, high = forest_ends(bag, long)
    assert low == pytest.approx(0.1 / 1.05)
    assert high == pytest.approx(10.5)


def test_forest_ends_of_equal_yields_are_not_one_point():
    plots = pool(demo_files()).plots()
    found = summarise_studies(plots, common="wedge_pots", scale="difference")
    rows = [{"estimate": 0.0, "low": None, "high": None}]
    assert forest_ends(found.over[0], rows) == (-1.0, 1.0)


def test_forest_chart_height_follows_the_studies(bag):
    fewer = dataclasses.replace(bag, rows=bag.rows[:1])
    assert (
        forest_chart(fewer, METRIC).to_dict()["height"]
        < forest_chart(bag, METRIC).to_dict()["height"]
    )


def test_forest_kinds_have_a_colour_and_a_shape_each():
    assert len(KINDS) == len(set(KIND_COLOURS)) == len(set(KIND_SHAPES)) == 4
    assert set(KIND_COLOURS) <= set(METHOD_COLOURS)
