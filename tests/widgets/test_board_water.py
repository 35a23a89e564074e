"""The water panel at the level of its traits: one tank, its medium, a mishap to try."""

from __future__ import annotations

import json
import warnings
from html.parser import HTMLParser

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog
from scenariokit.charts.water import AIR, MISHAP, PLANNED
from scenariokit.scenario import leaves, scenario_for, tank_season, thirstiest_day
from scenariokit.widgets.board import Board
from scenariokit.widgets.board_paths import METHOD_PATHS, paths_of
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.chart_view import parameter_names, source_names

FAULT = "Something went wrong inside scenariokit"
METHODS = [key for key, row in catalog.methods().items() if "potato" in row["yields"]]
TANKS = [key for key in METHODS if catalog.methods()[key]["level_regime"] != "none"]
NEW_LEAVES = {
    "feed.top_up_strength": 0.35, "feed.uptake_factor": 1.15, "site.rain_share": 0.4,
}  # fmt: skip


def board_of(method="medium_bag", crop="potato", **state):
    board = Board(BoardState(crop=crop, chosen=[method], focus=method, **state))
    board.views.open_view("water")
    return board


@pytest.fixture
def board():
    return board_of()


def move(panel, **values):
    """Move controls, as the page does it: the whole mapping is sent anew."""
    panel.values = {**panel.values, **values}


def at(panel, path, value):
    move(panel, **{path: value})


def sent(water):
    """Everything that the panel shows, as text."""
    views = (water.depth, water.ec, water.profile)
    return {
        "charts": [json.dumps(view.datasets, sort_keys=True) for view in views],
        "says": water.says.value,
        "title": water.title.value,
        "tried": dict(water.what_if.values),
    }


def series(view, name, source):
    return [row["value"] for row in view.datasets[source] if row["series"] == name]


def options(water):
    (kind,) = [field for field in water.what_if.fields if field["key"] == "kind"]
    return [value for value, _ in kind["options"]]


def hidden(part):
    return part.layout.display == "none"


def download(water):
    """Press the button as the page does; return what it sends back."""
    answers = []
    water.saver.send = lambda content, buffers=None: answers.append((content, buffers))
    water.saver._received(water.saver, {"kind": "want", "view": "v1"}, [])
    ((content, buffers),) = answers
    return content, bytes(buffers[0]).decode("utf-8")


class Text(HTMLParser):
    def __init__(self):
        super().__init__()
        self.tags = []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)


# -- what is shown -------------------------------------------------------------------------


@pytest.mark.parametrize("method", TANKS)
def test_board_water_shows_the_season_of_the_method_in_focus(method):
    water = board_of(method).water
    found = tank_season(scenario_for(method))
    np.testing.assert_allclose(
        series(water.depth, PLANNED, "depth"), found.season.depth.m_as("cm"), rtol=1e-12
    )
    np.testing.assert_allclose(series(water.ec, PLANNED, "ec"), found.ec.m_as("dS/m"), rtol=1e-12)
    assert not series(water.depth, MISHAP, "depth")
    assert found.scenario.method.label in water.title.value


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("method", TANKS)
def test_board_water_charts_get_what_they_name(method, system):
    water = board_of(method, system=system).water
    for view in (water.depth, water.ec, water.profile):
        assert set(view.datasets) == set(source_names(view.spec)), view.heading
        assert set(view.signals) == set(parameter_names(view.spec)), view.heading
        assert sum(len(rows) for rows in view.datasets.values()) < 5_000
        assert view.table_columns
        assert all(len(row) == len(view.table_columns) for row in view.table_rows)
    assert ("(in)" if system == "us" else "(cm)") in water.depth.table_columns[2]


def test_board_water_axes_hold_every_value():
    board = board_of("suspended_pot")
    move(board.water.what_if, kind="valve", day=50)
    for view, name in ((board.water.depth, "depth"), (board.water.ec, "ec")):
        rows = view.datasets[name]
        top = max(row["value"] for row in rows if row["value"] is not None)
        assert top <= view.signals[f"{name}_top"]
        assert max(row["day"] for row in rows) == view.signals[f"{name}_days"] == 130


def test_board_water_tables_have_the_same_days_for_both_series(board):
    move(board.water.what_if, kind="valve", day=50)
    rows = board.water.depth.table_rows
    days = {name: [row[1] for row in rows if row[0] == name] for name in (PLANNED, MISHAP)}
    assert days[PLANNED] == days[MISHAP] == [str(day) for day in range(0, 131, 5)]
    heights = [row[1] for row in board.profile.chart.table_rows]
    assert heights[: len(heights) // 2] == heights[len(heights) // 2 :]


def test_board_water_us_units_reach_charts_and_sentences(board):
    depth = series(board.water.depth, PLANNED, "depth")
    move(board.toolbar, system="us")
    water = board.water
    np.testing.assert_allclose(
        series(water.depth, PLANNED, "depth"), np.array(depth) / 2.54, rtol=1e-12
    )
    for word in ("gal/ft²", "°F", " in, at most"):
        assert word in water.says.value
    for word in ("L/m²", "°C", " cm,", "mm a day"):
        assert word not in water.says.value


@pytest.mark.parametrize("system", ["metric", "us"])
def test_board_water_says_are_plain_words_in_a_list(board, system):
    move(board.toolbar, system=system)
    read = Text()
    read.feed(board.water.says.value)
    assert set(read.tags) == {"div", "ul", "li", "p", "small"}
    assert read.tags.count("li") >= 8
    assert board.water.says.value.count("<li data-spoken>") == 1


def test_board_water_usual_ec_of_potato_is_marked_for_potato_only():
    assert len(board_of().water.ec.datasets["ec_marks"]) == 2
    assert board_of("deep_litre", "lettuce").water.ec.datasets["ec_marks"] == []


# -- methods without a tank, without a medium ----------------------------------------------


def test_board_water_no_tank_says_so_and_hides_the_charts(board):
    move(board.toolbar, chosen=["medium_bag", "field_soil"])
    move(board.toolbar, focus="field_soil")
    water = board.water
    assert "This method has no tank." in water.says.value
    parts = (water.depth, water.ec, water.profile, water.what_if, water.saver)
    assert all(hidden(part) for part in parts)
    assert board.status.value == ""
    move(board.toolbar, focus="medium_bag")
    assert not any(hidden(part) for part in parts)
    assert "never runs dry" in water.says.value


def test_board_water_no_medium_hides_its_chart_only():
    water = board_of("paper_wrap").water
    assert hidden(water.profile)
    assert not hidden(water.depth)
    assert "nothing is said of it" in water.says.value


def test_board_water_water_level_is_marked_where_it_stands_in_the_medium():
    marks = board_of("medium_bag").water.profile.datasets["profile_marks"]
    assert [(mark["height"], mark["text"]) for mark in marks] == [(4, "water level")]
    assert board_of("suspended_pot").water.profile.datasets["profile_marks"] == []


# -- sliders -------------------------------------------------------------------------------


def test_board_level_slider_moves_section_profile_and_depth(board):
    def air():
        rows = board.profile.chart.datasets["profile"]
        return sum(row["value"] for row in rows if row["series"] == AIR)

    before = sent(board.water), json.dumps(board.charts.section.datasets), air()
    at(board.method, "method.level.high", 7.0)
    assert json.dumps(board.charts.section.datasets) != before[1]
    after = sent(board.water)
    assert after["charts"][0] != before[0]["charts"][0]
    assert after["charts"][2] != before[0]["charts"][2]
    assert after["says"] != before[0]["says"]
    assert air() < before[2]
    assert max(series(board.water.depth, PLANNED, "depth")) >= 7.0


@pytest.mark.parametrize(
    ("path", "value"),
    [
        ("feed.top_up_strength", 0.4),
        ("feed.uptake_factor", 0.3),
        ("feed.ec", 2.3),
        ("site.climate_factor", 1.7),
    ],
)
def test_board_common_slider_moves_the_ec(board, path, value):
    before = series(board.water.ec, PLANNED, "ec")
    at(board.common, path, value)
    assert series(board.water.ec, PLANNED, "ec") != before
    assert board.status.value == ""


def test_board_fill_interval_slider_changes_the_calendar():
    board = board_of("paper_wrap")
    _, usual = download(board.water)
    at(board.method, "method.level.fill_interval", 5.0)
    _, seldom = download(board.water)
    assert "64 fillings" in usual
    assert "25 fillings" in seldom  # floor(129 / 5)


@pytest.mark.parametrize("method", METHODS)
def test_paths_of_level_sliders_are_those_that_the_regime_has(method):
    one = scenario_for(method)
    regime = one.method.level.regime
    shown = {path for path, _, _ in paths_of(one) if path.startswith("method.level")}
    every = {path for path, _, _ in METHOD_PATHS if path.startswith("method.level")}
    if regime == "none":
        assert shown == set()
        return
    left_out = set()
    if not regime.startswith("falling"):
        left_out.add("method.level.start")
    if regime != "hand-filled":
        left_out.add("method.level.fill_interval")
    assert shown == every - left_out


@settings(max_examples=6, deadline=None)
@given(data=st.data())
@pytest.mark.parametrize("method", TANKS)
def test_board_any_slider_position_stays_free_of_errors(method, data):
    """Each position is taken over or refused in words; nothing warns and nothing breaks."""
    board = board_of(method)
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        move(board.water.what_if, kind=data.draw(st.sampled_from(options(board.water))))
        for panel in (board.common, board.method, board.water.what_if):
            slides = [field for field in panel.fields if field["kind"] == "range"]
            field = data.draw(st.sampled_from(slides))
            share = data.draw(st.floats(0, 1))
            value = field["low"] + share * (field["high"] - field["low"])
            at(panel, field["key"], round(value, field["digits"]))
    assert FAULT not in board.status.value
    assert board.status.value == ""


# -- mishaps -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("method", "crop", "offered"),
    [
        ("medium_bag", "potato", ["none", "valve"]),
        ("suspended_pot", "potato", ["none", "valve"]),
        ("paper_wrap", "potato", ["none", "fill"]),
        ("deep_litre", "lettuce", ["none"]),
    ],
)
def test_board_water_offers_the_mishaps_that_the_regime_can_have(method, crop, offered):
    water = board_of(method, crop).water
    assert options(water) == offered
    assert water.what_if.values["kind"] == "none"


@pytest.mark.parametrize(
    ("method", "kind", "mishap"),
    [("medium_bag", "valve", "valve_fails_on"), ("paper_wrap", "fill", "missed_fill")],
)
def test_board_water_mishap_adds_its_series_and_sentence(method, kind, mishap):
    board = board_of(method)
    before = sent(board.water)
    move(board.water.what_if, kind=kind, day=61)
    wanted = tank_season(scenario_for(method), **{mishap: 61})
    np.testing.assert_allclose(
        series(board.water.depth, MISHAP, "depth"), wanted.season.depth.m_as("cm"), rtol=1e-12
    )
    assert len(series(board.water.ec, MISHAP, "ec")) == 131
    assert "With the mishap" in board.water.says.value
    move(board.water.what_if, kind="none", day=before["tried"]["day"])
    assert sent(board.water) == before


def test_board_water_day_begins_at_the_thirstiest_and_stays_in_the_season(board):
    assert board.water.what_if.values["day"] == thirstiest_day(scenario_for("medium_bag"))
    move(board.water.what_if, kind="valve", day=130)
    move(board.toolbar, crop="lettuce")
    days = board.water.what_if.values["day"]
    assert days == max(row["day"] for row in board.water.depth.datasets["depth"]) < 130
    (field,) = [one for one in board.water.what_if.fields if one["key"] == "day"]
    assert (field["low"], field["high"]) == (2, days)


def test_board_water_mishap_that_the_next_method_cannot_have_is_dropped(board):
    move(board.toolbar, chosen=["medium_bag", "wedge_pots", "paper_wrap"])
    move(board.water.what_if, kind="valve")
    move(board.toolbar, focus="wedge_pots")
    assert board.water.what_if.values["kind"] == "valve"
    move(board.toolbar, focus="paper_wrap")
    assert board.water.what_if.values["kind"] == "none"
    assert not series(board.water.depth, MISHAP, "depth")
    assert board.status.value == ""


# -- download, file, two boards ------------------------------------------------------------


def test_board_water_calendar_download_is_the_calendar_in_the_readers_units():
    board = board_of("paper_wrap")
    content, text = download(board.water)
    assert content == {
        "kind": "content", "view": "v1", "filename": "refill_calendar.txt", "mime": "text/plain",
    }  # fmt: skip
    found = tank_season(board.state.focused)
    assert text.count("\n") >= len(found.calendar) + 5
    assert f"{len(found.calendar)} fillings" in text
    assert "litres" in text
    assert "children" in text
    move(board.toolbar, system="us")
    _, text = download(board.water)
    assert "gallons" in text


def test_board_water_calendar_of_a_held_level_needs_no_fills(board):
    _, text = download(board.water)
    assert "A float valve holds the level" in text


def test_saved_board_keeps_the_leaves_of_the_water():
    board = board_of("paper_wrap")
    for path, value in NEW_LEAVES.items():
        at(board.common, path, value)
    at(board.method, "method.level.fill_interval", 4.0)
    fresh = Board()
    fresh.views.open_view("water")
    fresh.state.load(board.state.save().encode(), "board.json")
    fresh.rebuild()
    for path, _, value in leaves(board.state.focused):
        kept = {name: found for name, _, found in leaves(fresh.state.focused)}[path]
        np.testing.assert_array_equal(kept.magnitude, value.magnitude, err_msg=path)
    assert fresh.state.focused.feed.top_up_strength.m == 0.35
    assert fresh.state.focused.method.level.fill_interval.m_as("day") == 4
    assert sent(fresh.water) == sent(board.water)


def test_two_boards_water_does_not_touch():
    one, other = board_of(), board_of()
    before = sent(other.water)
    move(one.water.what_if, kind="valve", day=44)
    at(one.common, "feed.uptake_factor", 0.2)
    at(one.method, "method.level.high", 6.5)
    assert sent(other.water) == before
    assert sent(one.water) != before
