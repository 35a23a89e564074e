"""Charts for choosing: valid, titled with units, and fed with what they name."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.charts.choice import (
    BEATEN,
    HIGH_END,
    LOW_END,
    ON_FRONT,
    RULED_OUT,
    axis_span,
    crossing_chart,
    front_chart,
    share_chart,
    swing_chart,
    winner_map_chart,
)
from scenariokit.charts.choice_rows import (
    best_rows,
    crossing_rows,
    front_rows,
    parameter_title,
    swing_rows,
    weighing_rows,
    winner_rows,
)
from scenariokit.charts.frames import Showing
from scenariokit.decide import (
    advise,
    break_even,
    swing,
    usual_criteria,
    weigh,
    win_map,
)
from scenariokit.decide.over_range import parameter_at
from scenariokit.glossary import parameter
from scenariokit.scenario import compare, scenario_for
from scenariokit.uncertainty import ensemble, usual_uncertainty
from scenariokit.widgets.chart_view import parameter_names, plain_rows, source_names

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.1)
IDS = ("medium_bag", "wedge_pots", "suspended_pot")
SCENARIOS = [scenario_for(one) for one in IDS]
LABELS = {one.method.id: one.method.label for one in SCENARIOS}
METHODS = list(LABELS.items())
DRAWN = ensemble(SCENARIOS, usual_uncertainty(SCENARIOS), 256)
COMPARED = compare(SCENARIOS)
FACTOR, LABOUR = parameter("price_factor"), parameter("labour_price")

CHARTS = {
    "front": lambda showing: front_chart(METHODS, showing, "yield_per_area", "margin_per_area"),
    "best": lambda _showing: share_chart(METHODS, "best", "Best (%)", "How often."),
    "swing": lambda showing: swing_chart(showing.title("margin_per_area"), 5),
    "crossing": lambda showing: crossing_chart(
        parameter_title(LABOUR, showing), showing.title("margin_per_area"), ["a", "b"]
    ),
    "winners": lambda showing: winner_map_chart(
        METHODS, parameter_title(FACTOR, showing), parameter_title(LABOUR, showing)
    ),
}


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
@pytest.mark.parametrize("name", CHARTS)
def test_choice_chart_is_valid_described_and_named(name, showing):
    chart = CHARTS[name](showing)
    spec = chart.to_dict()
    assert len(spec["description"]) > 5
    assert any(source.startswith(name.rstrip("s")) for source in source_names(spec))


@pytest.mark.parametrize(("showing", "unit"), [(METRIC, "EUR/m²"), (US, "USD/ft²")])
def test_choice_chart_axes_carry_units(showing, unit):
    for name in ("front", "crossing"):
        assert unit in str(CHARTS[name](showing).to_dict())


@pytest.mark.parametrize(
    ("values", "ends"),
    [
        ([], (0.0, 1.0)), ([None], (0.0, 1.0)), ([0.0], (0.0, 1.0)), ([-0.7, 3.9], (-0.8, 4.0)),
        ([-2.0, -1.0], (-2.5, 0.0)), ([5.0], (0.0, 6.0)),
    ],
)  # fmt: skip
def test_axis_span_holds_zero_and_is_round(values, ends):
    assert axis_span(values) == ends


@settings(max_examples=60, deadline=None)
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=8))
def test_axis_span_holds_every_value(values):
    low, high = axis_span(values)
    assert low <= min(0.0, *values) + 1e-99
    assert high >= max(0.0, *values) - 1e-99
    assert low < high


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_front_rows_are_medians_with_their_ranges(showing):
    advice = advise(DRAWN, tuple(COMPARED), {"most_medium": "20 L/m^2"})
    rows, ends = front_rows(advice, DRAWN, showing, "yield_per_area", "margin_per_area")
    plain_rows("rows", rows)
    assert [row["method"] for row in rows] == list(IDS)
    factor = 1 if showing is METRIC else 0.20481614
    median = np.quantile(DRAWN.floats("yield_per_area"), 0.5, axis=1)
    assert [row["x"] for row in rows] == pytest.approx(list(median * factor), rel=1e-6)
    assert all(row["x_low"] <= row["x"] <= row["x_high"] for row in rows)
    assert rows[0]["place"] == RULED_OUT
    assert "Growing medium at most" in rows[0]["why"]
    assert {row["place"] for row in rows[1:]} <= {ON_FRONT, BEATEN}
    assert set(ends) <= set(parameter_names(CHARTS["front"](showing).to_dict()))


def test_best_and_weighing_rows_add_to_a_hundred():
    advice = advise(DRAWN, tuple(COMPARED))
    assert sum(row["value"] for row in best_rows(advice)) == pytest.approx(100)
    criteria = usual_criteria()
    table = np.column_stack([COMPARED.values(one.name) for one in criteria])
    rows = weighing_rows(weigh(table, criteria, [1] * len(criteria)), METHODS)
    assert sum(row["value"] for row in rows) == pytest.approx(100)
    assert all(row["text"] == "never" for row in rows if row["value"] == 0)


def test_swing_rows_are_two_an_input_the_widest_first():
    found = swing(SCENARIOS[:2], DRAWN.uncertainty, "margin_per_area")
    described = {row.path: parameter_at(SCENARIOS, row.path) for row in found.rows}
    rows, ends = swing_rows(found, described, US)
    plain_rows("rows", rows)
    assert [row["end"] for row in rows[:4]] == [LOW_END, HIGH_END] * 2
    widths = [abs(a["value"] - b["value"]) for a, b in zip(rows[::2], rows[1::2], strict=True)]
    assert widths == sorted(widths, reverse=True)
    assert all(ends["swing_left"] <= row["value"] <= ends["swing_right"] for row in rows)
    by_input = {(row["input"], row["end"]): row["text"] for row in rows}
    assert by_input[("Price of the produce", LOW_END)].endswith("USD/lb")


def test_crossing_rows_mark_where_both_are_equal_and_today():
    found = break_even(*SCENARIOS[::2], "prices.medium_factor", "margin_per_area")
    sources, ends = crossing_rows(found, FACTOR, 1.0, LABELS, METRIC)
    for rows in sources.values():
        plain_rows("rows", rows)
    (point,) = sources["crossing_points"]
    assert point["x"] == pytest.approx(1.0221610976)
    assert point["text"] == "equal at 1.02"
    assert sources["crossing_today"] == [{"x": 1.0, "text": "now 1"}]
    lines = {row["series"] for row in sources["crossing"]}
    assert lines == {LABELS[IDS[0]], LABELS[IDS[2]]}
    assert all(
        ends["crossing_bottom"] <= row["y"] <= ends["crossing_top"] for row in sources["crossing"]
    )


def test_winner_rows_tile_the_map_and_name_the_best():
    found = win_map(SCENARIOS, "prices.medium_factor", "prices.labour_price", cells=(5, 4))
    sources, ends = winner_rows(
        found, "margin_per_area", (FACTOR, LABOUR), (1.0, 4.0), LABELS, METRIC
    )
    rows = sources["winners"]
    plain_rows("rows", rows)
    assert len(rows) == 20
    area = sum((row["x2"] - row["x"]) * (row["y2"] - row["y"]) for row in rows)
    whole = (ends["winners_right"] - ends["winners_left"]) * (
        ends["winners_top"] - ends["winners_bottom"]
    )
    assert area == pytest.approx(whole)
    assert all(0 <= row["lead"] <= 1 for row in rows)
    assert {row["label"] for row in sources["winner_names"]} <= set(LABELS.values())
    assert sources["winner_today"] == [{"x": 1.0, "y": 4.0}]


def test_winner_rows_of_one_method_alone_have_no_lead():
    found = win_map(SCENARIOS[:1], "prices.medium_factor", "prices.labour_price", cells=(3, 3))
    sources, _ = winner_rows(found, "margin_per_area", (FACTOR, LABOUR), (1.0, 4.0), LABELS, METRIC)
    assert {row["text"] for row in sources["winners"]} == {"alone"}


def test_winner_rows_leave_cells_out_where_none_has_the_outcome():
    found = win_map(SCENARIOS, "prices.medium_factor", "prices.labour_price", cells=(3, 3))
    empty = dataclasses.replace(found, best=np.full((3, 3), -1))
    sources, _ = winner_rows(empty, "margin_per_area", (FACTOR, LABOUR), (1.0, 4.0), LABELS, METRIC)
    assert sources["winners"] == sources["winner_names"] == []
