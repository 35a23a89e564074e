"""Charts of one feed: their rows are the numbers of the solution, their axes say what they are."""

from __future__ import annotations

import json

import numpy as np
import pytest

from scenariokit import quantity
from scenariokit.charts import balance_chart, balance_rows, element_chart, element_rows
from scenariokit.charts.nutrients import (
    DASHES,
    DRAWN_DAYS,
    ELEMENTS,
    MOST_SHARE,
    ROOM,
    SALTS,
    WATER,
    element_name,
)
from scenariokit.scenario import (
    ElementSupply,
    FeedPlan,
    element_supply,
    feed_season,
    plan_feed,
    scenario_for,
    with_feed,
    with_values,
)
from scenariokit.widgets.chart_view import parameter_names, source_names

POTASSIUM = ElementSupply("K", 20.0, 80.0, 95.0, 125.0, 160.0)


@pytest.fixture(scope="module")
def supply():
    planned = plan_feed(FeedPlan("potato_window", True, water="hard_tap"), "1.6 dS/m")
    one = with_feed(scenario_for("medium_bag"), planned)
    return element_supply(one, planned.targets, planned.share)


@pytest.fixture(scope="module")
def season():
    return feed_season(scenario_for("medium_bag"))


def charts(supply):
    return {"elements": element_chart(supply), "balance": balance_chart()}


def layers(spec):
    """Yield every single chart of a specification."""
    for part in spec.get("layer", []):
        yield from layers(part)
    if "mark" in spec:
        yield spec


def marked(spec, mark):
    return [layer for layer in layers(spec) if layer["mark"]["type"] == mark]


def reading(spec, source):
    return [layer for layer in layers(spec) if layer["data"]["name"] == source]


# -- rows of elements ----------------------------------------------------------------------


def test_element_rows_worked_by_hand():
    """20 of 125 mg/L are 16 %, 80 more end at 80 %; allowed are 76 to 128 %."""
    parts, bands = element_rows([POTASSIUM])
    assert parts == [
        {"element": "Potassium", "source": WATER, "begin": 0.0, "end": 16.0, "amount": 20.0},
        {"element": "Potassium", "source": SALTS, "begin": 16.0, "end": 80.0, "amount": 80.0},
    ]
    assert bands == [{"element": "Potassium", "low": 76.0, "high": 128.0, "text": "100 mg/L"}]


@pytest.mark.parametrize(
    ("salts", "text"), [(70.0, "90 mg/L – too little"), (150.0, "170 mg/L – too much")]
)
def test_element_rows_outside_the_band_says_so_in_words(salts, text):
    _, (band,) = element_rows([ElementSupply("K", 20.0, salts, 95.0, 125.0, 160.0)])
    assert band["text"] == text


def test_element_rows_long_bar_is_cut_and_its_number_is_not():
    parts, (band,) = element_rows([ElementSupply("Ca", 300.0, 30.0, 90.0, 100.0, 250.0)])
    assert [row["end"] for row in parts] == [MOST_SHARE, MOST_SHARE]
    assert [row["amount"] for row in parts] == [300.0, 30.0]
    assert band["high"] == MOST_SHARE
    assert band["text"] == "330 mg/L – too much"


def test_element_rows_ceiling_without_an_aim_is_left_out():
    ceiling = ElementSupply("N_ammonium", 0.0, 5.0, 0.0, 0.0, 18.0)
    assert element_rows([ceiling]) == ([], [])
    assert element_rows([ceiling, POTASSIUM]) == element_rows([POTASSIUM])


def test_element_rows_are_the_solutions_numbers(supply):
    parts, bands = element_rows(supply)
    aimed = [one for one in supply if one.target > 0]
    assert len(bands) == len(aimed) == 12
    assert len(parts) == 24
    for one, water, salts, band in zip(aimed, parts[::2], parts[1::2], bands, strict=True):
        assert (water["source"], salts["source"]) == (WATER, SALTS)
        assert (water["amount"], salts["amount"]) == (one.from_water, one.from_salts)
        assert water["begin"] == 0
        assert water["end"] == salts["begin"]
        end = 100 * (one.from_water + one.from_salts) / one.target
        assert salts["end"] == pytest.approx(min(end, MOST_SHARE))
        assert ("too" in band["text"]) == (not one.inside)
    json.dumps([parts, bands], allow_nan=False)


@pytest.mark.parametrize(("symbol", "name"), [("N", "Nitrogen"), ("Mo", "Molybdenum"), ("X", "X")])
def test_element_name_is_a_word_where_there_is_one(symbol, name):
    assert element_name(symbol) == name


# -- rows of the balance -------------------------------------------------------------------


def test_balance_rows_are_the_seasons_numbers(season):
    rows = balance_rows(season)
    days = season.day.m_as("day")
    for symbol, found in season.elements.items():
        mine = [row for row in rows if row["element"] == element_name(symbol)]
        drawn = [int(row["day"]) for row in mine]
        assert drawn == sorted({*range(0, int(days[-1]) + 1, DRAWN_DAYS), int(days[-1])})
        values = found.concentration.m_as("mg/L")
        np.testing.assert_array_equal([row["amount"] for row in mine], values[drawn])
        np.testing.assert_allclose(
            [row["share"] for row in mine], 100 * values[drawn] / values[0], rtol=1e-12
        )
        assert mine[0]["share"] == pytest.approx(100)


def test_balance_rows_last_day_is_drawn_though_it_is_odd():
    days = {f"crop.days_{stage}": "20 day" for stage in ("initial", "development", "mid")}
    one = with_values(scenario_for("medium_bag"), {**days, "crop.days_late": "21 day"})
    assert max(row["day"] for row in balance_rows(feed_season(one))) == 81


def test_balance_rows_dry_tank_has_a_gap_and_no_number_that_is_none():
    dry = {"site.rain_share": 0, "site.climate_factor": 3.0}
    found = feed_season(with_values(scenario_for("deep_litre", "lettuce"), dry))
    rows = balance_rows(found)
    gaps = [row["day"] for row in rows if row["amount"] is None]
    empty = np.flatnonzero(np.isnan(found.elements["N"].concentration.m))
    assert empty.size
    assert set(gaps) == {day for day in empty if day % DRAWN_DAYS == 0 or day == empty[-1]}
    assert all((row["share"] is None) == (row["amount"] is None) for row in rows)
    json.dumps(rows, allow_nan=False)


def test_balance_rows_element_that_is_not_there_has_none():
    one = scenario_for("medium_bag")
    one.feed.content["S"] = 0.0
    names = {row["element"] for row in balance_rows(feed_season(one))}
    assert names == set(ELEMENTS) - {"Sulfur"}


def test_balance_rows_ec_of_the_feed_moves_amounts_and_not_the_first_share():
    weak, strong = (
        balance_rows(
            feed_season(with_values(scenario_for("medium_bag"), {"feed.ec": quantity(ec, "dS/m")}))
        )
        for ec in (1.2, 1.8)
    )
    assert weak[0]["amount"] < strong[0]["amount"]
    assert [weak[0]["share"], strong[0]["share"]] == pytest.approx([100, 100])


# -- specifications ------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["elements", "balance"])
def test_nutrient_chart_is_valid_described_and_without_numbers(name, supply):
    spec = charts(supply)[name].to_dict()  # raises where the schema is broken
    assert len(spec["description"]) > 60
    assert spec["width"] == "container"
    assert spec["height"] > 0
    assert not spec.get("datasets")
    assert "http" not in json.dumps({key: spec[key] for key in spec if key != "$schema"})


def test_element_chart_reads_its_two_sources_and_has_fixed_ends(supply):
    spec = element_chart(supply).to_dict()
    assert set(source_names(spec)) == {"elements", "bands"}
    assert not list(parameter_names(spec))
    for layer in layers(spec):
        assert layer["encoding"]["x"]["scale"]["domain"] == [0, ROOM]
        assert layer["encoding"]["x"]["title"] == "Percent of what is aimed at"


def test_element_chart_lists_elements_in_the_order_of_the_aim(supply):
    spec = element_chart(supply).to_dict()
    names = [element_name(one.element) for one in supply if one.target > 0]
    assert names[:3] == ["Nitrogen", "Phosphorus", "Potassium"]
    assert all(layer["encoding"]["y"]["sort"] == names for layer in layers(spec))


def test_element_chart_grows_with_its_elements(supply):
    few, many = (element_chart(rows).to_dict()["height"] for rows in (supply[:1], supply))
    assert few < many


def test_element_chart_fields_are_those_of_the_rows(supply):
    spec = element_chart(supply).to_dict()
    parts, bands = element_rows(supply)
    (bars,) = reading(spec, "elements")
    encoding = bars["encoding"]
    fields = {one["field"] for one in (*encoding["tooltip"], encoding["x"], encoding["x2"])}
    assert fields == set(parts[0])
    assert encoding["color"]["scale"]["domain"] == [WATER, SALTS]
    (words,) = marked(spec, "text")
    assert words["encoding"]["text"]["field"] in bands[0]
    (behind,) = [layer for layer in reading(spec, "bands") if layer["mark"]["type"] == "bar"]
    assert {behind["encoding"][end]["field"] for end in ("x", "x2")} == {"low", "high"}
    (tick,) = marked(spec, "tick")
    assert tick["transform"] == [{"calculate": "100", "as": "aim"}]


def test_balance_chart_reads_its_source_and_ends_its_axes_by_parameters():
    spec = balance_chart().to_dict()
    assert set(source_names(spec)) == {"balance"}
    assert set(parameter_names(spec)) == {"balance_days", "balance_top"}
    text = json.dumps(spec)
    assert '"expr": "balance_days"' in text
    assert '"expr": "balance_top"' in text


def test_balance_chart_axes_say_what_they_are(season):
    (line,) = marked(balance_chart().to_dict(), "line")
    encoding = line["encoding"]
    assert encoding["x"]["title"] == "Days from planting"
    assert encoding["y"]["title"] == "In the tank (% of the first filling)"
    fields = {one["field"] for one in (encoding["x"], encoding["y"], *encoding["tooltip"])}
    assert fields == set(balance_rows(season)[0])


def test_balance_chart_elements_differ_by_dash_as_by_colour(season):
    (line,) = marked(balance_chart().to_dict(), "line")
    colour, dash = line["encoding"]["color"], line["encoding"]["strokeDash"]
    assert colour["scale"]["domain"] == dash["scale"]["domain"] == list(ELEMENTS)
    assert {row["element"] for row in balance_rows(season)} == set(ELEMENTS)
    assert len({json.dumps(one) for one in dash["scale"]["range"]}) == len(ELEMENTS) == len(DASHES)
    assert len(set(colour["scale"]["range"])) == len(ELEMENTS)
