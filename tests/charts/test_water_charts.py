"""Charts of one tank: their rows are the season's numbers, their axes are named with units."""

from __future__ import annotations

import json

import numpy as np
import pytest

from scenariokit.charts import profile_chart, profile_rows, season_chart, season_rows
from scenariokit.charts.frames import Showing
from scenariokit.charts.water import AIR, MISHAP, PLANNED, WATER, depth_unit
from scenariokit.scenario import medium_profile, scenario_for, tank_season
from scenariokit.widgets.chart_view import parameter_names, source_names

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.08)
INCH = 2.54
CHARTS = {
    "depth": lambda _showing: season_chart("depth", "Depth (cm)", "Depth of water day by day."),
    "ec": lambda _showing: season_chart("ec", "EC (dS/m)", "EC of the solution day by day."),
    "profile": profile_chart,
}
every = pytest.mark.parametrize("name", CHARTS)


@pytest.fixture(scope="module")
def season():
    return tank_season(scenario_for("medium_bag"), valve_fails_on=40)


@pytest.fixture(scope="module")
def profile():
    return medium_profile(scenario_for("medium_bag"), 11)


def layers(spec):
    """Yield every single chart of a specification."""
    for part in spec.get("layer", []):
        yield from layers(part)
    if "mark" in spec:
        yield spec


def line(spec):
    (found,) = [layer for layer in layers(spec) if layer["mark"]["type"] == "line"]
    return found


# -- rows ----------------------------------------------------------------------------------


def test_season_rows_are_the_seasons_numbers(season):
    depth, ec = season_rows(PLANNED, season, METRIC)
    assert [row["day"] for row in depth] == list(range(131))
    np.testing.assert_array_equal([row["value"] for row in depth], season.season.depth.m_as("cm"))
    known = [row["value"] for row in ec if row["value"] is not None]
    np.testing.assert_array_equal(known, season.ec.m_as("dS/m")[: len(known)])
    assert {row["series"] for row in (*depth, *ec)} == {PLANNED}


def test_season_rows_of_a_dry_tank_have_a_gap_and_no_number_that_is_none(season):
    _, ec = season_rows(MISHAP, season, METRIC)
    dry = [row["day"] for row in ec if row["value"] is None]
    assert dry == list(range(season.first_dry, 131))
    json.dumps(ec, allow_nan=False)


def test_season_rows_us_depth_is_in_inches_and_ec_as_before(season):
    metric, us = (season_rows(PLANNED, season, showing) for showing in (METRIC, US))
    for here, there in zip(metric[0], us[0], strict=True):
        assert there["value"] == pytest.approx(here["value"] / INCH, rel=1e-12)
    assert us[1] == metric[1]


def test_profile_rows_add_up_to_the_pores(profile):
    rows = profile_rows(profile, METRIC)
    assert len(rows) == 22
    water, air = ([row for row in rows if row["series"] == name] for name in (WATER, AIR))
    # Worked by hand: 0.6 x 95 % of white peat and 0.4 x 75 % of coarse perlite.
    for one, other in zip(water, air, strict=True):
        assert one["height"] == other["height"]
        assert one["value"] + other["value"] == pytest.approx(87)
    assert [row["height"] for row in water] == pytest.approx(np.linspace(0, 12.5, 11))


def test_profile_rows_us_heights_are_in_inches(profile):
    for here, there in zip(profile_rows(profile, METRIC), profile_rows(profile, US), strict=True):
        assert there["height"] == pytest.approx(here["height"] / INCH, rel=1e-12)
        assert there["value"] == here["value"]


@pytest.mark.parametrize(("showing", "unit"), [(METRIC, "cm"), (US, "inch")])
def test_depth_unit_is_the_readers(showing, unit):
    assert depth_unit(showing) == unit


# -- specifications ------------------------------------------------------------------------


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
@every
def test_water_chart_is_valid_described_and_without_numbers(name, showing):
    spec = CHARTS[name](showing).to_dict()  # raises where the schema is broken
    assert len(spec["description"]) > 20
    assert spec["width"] == "container"
    assert spec["height"] > 0
    assert not spec.get("datasets")
    assert "http" not in json.dumps({key: spec[key] for key in spec if key != "$schema"})


@every
def test_water_chart_reads_named_sources_and_ends_its_axes_by_parameters(name):
    spec = CHARTS[name](METRIC).to_dict()
    assert set(source_names(spec)) == {name, f"{name}_marks"}
    wanted = {"profile_top"} if name == "profile" else {f"{name}_days", f"{name}_top"}
    assert set(parameter_names(spec)) == wanted
    text = json.dumps(spec)
    assert all(f'"expr": "{parameter}"' in text for parameter in wanted)


@pytest.mark.parametrize(("showing", "unit"), [(METRIC, "(cm)"), (US, "(in)")])
def test_profile_chart_axes_have_their_units(showing, unit):
    encoding = line(profile_chart(showing).to_dict())["encoding"]
    assert encoding["y"]["title"].endswith(unit)
    assert encoding["x"]["title"].endswith("(%)")
    assert encoding["x"]["scale"]["domain"] == [0, 100]


def test_season_chart_axes_have_their_units():
    encoding = line(CHARTS["ec"](METRIC).to_dict())["encoding"]
    assert encoding["y"]["title"] == "EC (dS/m)"
    assert encoding["x"]["title"] == "Days from planting"
    assert {one["title"] for one in encoding["tooltip"]} == {"Series", "Day", "EC (dS/m)"}


@every
def test_water_chart_series_differ_by_dash_as_by_colour(name):
    encoding = line(CHARTS[name](METRIC).to_dict())["encoding"]
    colour, dash = encoding["color"], encoding["strokeDash"]
    names = [WATER, AIR] if name == "profile" else [PLANNED, MISHAP]
    assert colour["field"] == dash["field"] == "series"
    assert colour["scale"]["domain"] == dash["scale"]["domain"] == names
    assert len({json.dumps(one) for one in dash["scale"]["range"]}) == 2
    assert len(set(colour["scale"]["range"])) == 2


@every
def test_water_chart_marked_levels_are_said_in_words(name):
    spec = CHARTS[name](METRIC).to_dict()
    (words,) = [layer for layer in layers(spec) if layer["mark"]["type"] == "text"]
    assert words["encoding"]["text"]["field"] == "text"
    assert words["data"]["name"] == f"{name}_marks"


@every
def test_water_chart_fields_are_those_of_the_rows(name, season, profile):
    depth, ec = season_rows(PLANNED, season, METRIC)
    rows = {"depth": depth, "ec": ec, "profile": profile_rows(profile, METRIC)}[name]
    encoding = line(CHARTS[name](METRIC).to_dict())["encoding"]
    fields = {one["field"] for one in (encoding["x"], encoding["y"], *encoding["tooltip"])}
    assert fields == set(rows[0])
