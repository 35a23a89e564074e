"""Every chart is valid, described, titled with units, and takes the rows that are sent."""

from __future__ import annotations

import json

import pytest

from scenariokit import catalog
from scenariokit.charts import (
    cost_stack_chart,
    fate_chart,
    resource_chart,
    section_chart,
    tradeoff_chart,
)
from scenariokit.charts.curve import curve_chart
from scenariokit.charts.frames import Showing
from scenariokit.charts.marks import METHOD_SHAPES
from scenariokit.scenario import compare, scenario_for, with_values
from scenariokit.widgets.board_charts import RESOURCES, BoardCharts
from scenariokit.widgets.chart_view import parameter_names, source_names

SHOWINGS = {
    "metric": Showing("metric", "EUR", 1.0),
    "us": Showing("us", "USD", 1.08),
    "third currency": Showing("metric", "NOK", 11.5),
}
EIGHT = [key for key, row in catalog.methods().items() if "potato" in row["yields"]]
EIGHT = [*EIGHT, *EIGHT][:8]
METHODS = [(f"m{number}", f"Method {number}") for number in range(8)]

CHARTS = {
    "tradeoff": lambda showing: tradeoff_chart(METHODS, showing),
    "costs": lambda showing: cost_stack_chart(METHODS, showing),
    "fate": lambda showing: fate_chart(METHODS, showing),
    **{
        source: lambda showing, name=name, source=source: resource_chart(
            METHODS, showing, name, source
        )
        for source, name, _ in RESOURCES
    },
    "section": section_chart,
    "curve": lambda _showing: curve_chart("Depth (cm)", "Days (days)"),
}

WANTED_UNITS = {
    "tradeoff": {
        "x.yield": ("kg/m²", "lb/ft²"),
        "y.cost": ("{}/kg", "{}/lb"),
        "tooltip.yield": ("kg/m²", "lb/ft²"),
        "tooltip.yield_low": ("kg/m²", "lb/ft²"),
        "tooltip.yield_high": ("kg/m²", "lb/ft²"),
        "tooltip.cost": ("{}/kg", "{}/lb"),
    },
    "costs": {"x.value": ("{}/kg", "{}/lb"), "tooltip.value": ("{}/kg", "{}/lb")},
    "fate": {
        "x.share": ("%", "%"),
        "tooltip.share": ("%", "%"),
        "tooltip.supplied": ("g/m²", "oz/ft²"),
        "tooltip.removed": ("g/m²", "oz/ft²"),
    },
    "water": {"x.value": ("L/kg", "gal/lb"), "tooltip.text": ("L/kg", "gal/lb")},
    "days": {"x.value": ("days", "days"), "tooltip.text": ("days", "days")},
    "section": {"y.y": ("cm", "in")},
    "curve": {
        "x.x": ("cm", "cm"), "y.y": ("days", "days"),
        "tooltip.x": ("cm", "cm"), "tooltip.y": ("days", "days"),
    },
}  # fmt: skip
UNITLESS = {"label", "part", "element", "order", "text", "total"}
"""Words, ranks, and the sum that stands on the axis of its parts."""


def layers(spec):
    """Yield every single chart of a specification."""
    for part in spec.get("layer", []):
        yield from layers(part)
    if "mark" in spec:
        yield spec


def named(spec):
    """Return the data sources whose rows the board must send."""
    return set(source_names(spec)) - set(spec.get("datasets", {}))


def encodings(spec):
    """Yield channel, field and title of all encodings that have a field."""
    for layer in layers(spec):
        for channel, found in layer.get("encoding", {}).items():
            for one in found if isinstance(found, list) else [found]:
                if isinstance(one, dict) and "field" in one:
                    yield channel, one["field"], one.get("title")


@pytest.mark.parametrize("showing", SHOWINGS)
@pytest.mark.parametrize("name", CHARTS)
def test_chart_is_valid_described_and_without_numbers(name, showing):
    spec = CHARTS[name](SHOWINGS[showing]).to_dict()  # raises where the schema is broken
    assert len(spec["description"]) > 20
    assert spec["width"] == "container"
    assert spec["height"] > 0
    assert "http" not in json.dumps({key: spec[key] for key in spec if key != "$schema"})
    assert named(spec)
    assert sum(len(rows) for rows in spec.get("datasets", {}).values()) <= 1  # a line at 100 %


@pytest.mark.parametrize("showing", SHOWINGS)
@pytest.mark.parametrize("name", CHARTS)
def test_chart_title_shows_the_unit(name, showing):
    shown = SHOWINGS[showing]
    titles = {
        f"{channel}.{field}": title
        for channel, field, title in encodings(CHARTS[name](shown).to_dict())
        if title
    }
    for place, pair in WANTED_UNITS[name].items():
        unit = pair[shown.system == "us"].format(shown.currency)
        assert unit in titles[place], place


@pytest.mark.parametrize("name", CHARTS)
def test_chart_no_other_title_lacks_a_unit(name):
    """What is not listed with a unit above is a word or a rank."""
    for channel, field, title in encodings(CHARTS[name](SHOWINGS["metric"]).to_dict()):
        if title and field not in UNITLESS:
            same = [place for place in WANTED_UNITS[name] if place.startswith(channel)]
            fields = {place.split(".")[1] for place in same}
            assert field in fields or field in {"share", "end"}, (channel, field)


@pytest.mark.parametrize("name", ["tradeoff", "fate"])
def test_chart_points_tell_by_shape_what_they_tell_by_colour(name):
    spec = CHARTS[name](SHOWINGS["metric"]).to_dict()
    points = [layer for layer in layers(spec) if layer["mark"]["type"] == "point"]
    assert points
    for layer in points:
        colour, shape = layer["encoding"]["color"], layer["encoding"]["shape"]
        assert colour["field"] == shape["field"]
        assert colour["scale"]["domain"] == shape["scale"]["domain"]
        assert len(set(shape["scale"]["range"])) == len(shape["scale"]["domain"])


def test_tradeoff_chart_eight_methods_have_eight_shapes():
    spec = CHARTS["tradeoff"](SHOWINGS["metric"]).to_dict()
    point = next(layer for layer in layers(spec) if layer["mark"]["type"] == "point")
    assert point["encoding"]["shape"]["scale"]["range"] == list(METHOD_SHAPES)


@pytest.mark.parametrize("name", ["costs", "water", "days", "fate"])
def test_chart_rows_are_named_with_words(name):
    """No colour is needed to find a method: its name stands above its row."""
    spec = CHARTS[name](SHOWINGS["metric"]).to_dict()
    words = [layer for layer in layers(spec) if layer["mark"]["type"] == "text"]
    assert any(layer["encoding"]["text"].get("field") == "label" for layer in words)


@pytest.mark.parametrize("field", ["low", "text"])
def test_chart_marks_without_a_value_are_still_drawn(field):
    """A cost without upper end runs out of the chart; a missing outcome is said in a word."""
    if field == "low":
        spec, wanted = CHARTS["tradeoff"](SHOWINGS["metric"]).to_dict(), "cost_top"
    else:
        spec, wanted = CHARTS["days"](SHOWINGS["metric"]).to_dict(), "? 0 :"
    made = [
        one["calculate"]
        for layer in layers(spec)
        for one in layer.get("transform", [])
        if "calculate" in one
    ]
    assert any("== null" in one and wanted in one for one in made)


# -- what the board sends ------------------------------------------------------------------


@pytest.fixture(scope="module")
def drawn():
    """The board's charts after one update, with eight methods."""
    comparison = compare([scenario_for(key) for key in EIGHT])
    charts, showing = BoardCharts(lambda _method: None), SHOWINGS["us"]
    methods = [(one.scenario.method.id, one.scenario.method.label) for one in comparison]
    charts.rebuild(methods, showing)
    charts.update(comparison, showing, EIGHT[0])
    return charts


def test_board_charts_names_fit_in_every_view(drawn):
    for view in drawn.widgets:
        assert set(view.datasets) == named(view.spec), view.heading
        sent, known = set(view.signals), set(parameter_names(view.spec))
        assert known - sent <= {"marked"}, view.heading
        assert sent <= known, view.heading


def test_board_charts_fields_exist_in_the_rows(drawn):
    for view in drawn.widgets:
        for layer in layers(view.spec):
            rows = view.datasets.get(layer.get("data", {}).get("name", ""), [])
            made = {one["as"] for one in layer.get("transform", []) if "as" in one}
            for _, field, _ in encodings(layer):
                assert all(field in row or field in made for row in rows), (view.heading, field)


def test_board_charts_stay_under_five_thousand_rows(drawn):
    for view in drawn.widgets:
        count = sum(len(rows) for rows in view.datasets.values())
        assert 0 < count < 5_000, view.heading


def test_board_charts_have_a_table_twin_with_units(drawn):
    for view in drawn.widgets:
        assert view.table_columns
        assert view.table_rows
        assert all(len(row) == len(view.table_columns) for row in view.table_rows)
    assert any("(USD/lb)" in heading for heading in drawn.costs.table_columns)
    assert sum("(lb/ft²)" in heading for heading in drawn.tradeoff.table_columns) == 3
    assert any("(oz/ft²)" in heading for heading in drawn.fate.table_columns)


def test_board_charts_axis_holds_a_cost_without_upper_end():
    """A low yield of zero has no cost; the axis still reaches the usual cost."""
    open_end = with_values(
        scenario_for("paper_wrap"), {"harvest.low": "0 kg/m^2", "harvest.typical": "0.3 kg/m^2"}
    )
    comparison = compare([open_end, scenario_for("wedge_pots")])
    charts, showing = BoardCharts(lambda _method: None), SHOWINGS["metric"]
    charts.rebuild([("paper_wrap", "a"), ("wedge_pots", "b")], showing)
    charts.update(comparison, showing, "paper_wrap")
    row = charts.tradeoff.datasets["tradeoff"][0]
    assert row["cost_high"] is None
    assert charts.tradeoff.signals["cost_top"] > row["cost"]
