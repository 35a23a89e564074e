"""The board at the level of its traits: what a page would send, and what it would be sent."""

from __future__ import annotations

import json

import pytest
from own_files import HARVEST, methods_file, prices_file

from scenariokit import catalog
from scenariokit.glossary import parameter
from scenariokit.scenario import evaluate, value_at
from scenariokit.widgets.board import Board, open_board
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver

FAULT = "Something went wrong inside scenariokit"


@pytest.fixture
def board():
    return Board()


def move(panel, **values):
    """Move controls, as the page does it: the whole mapping is sent anew."""
    panel.values = {**panel.values, **values}


def at(panel, path, value):
    move(panel, **{path: value})


def sent(board):
    """Everything that changes with numbers, as text."""
    return {
        "charts": [json.dumps(view.datasets, sort_keys=True) for view in board.charts.widgets],
        "words": board.says.value,
        "table": board.table.value,
        "sheet": board.sheet.value,
    }


def picker(board, word):
    (found,) = [
        one for one in board.files.widgets if isinstance(one, FilePicker) and word in one.label
    ]
    return found


def bring(board, word, content, name="mine.csv"):
    """Hand a file to a picker as the page does; return what it says."""
    found = picker(board, word)
    found._received(found, {"kind": "file", "name": name}, [memoryview(content)])
    return found


def rows(board):
    return {row["method"]: row for row in board.charts.tradeoff.datasets["tradeoff"]}


# -- sliders -------------------------------------------------------------------------------


def test_board_common_slider_moves_every_chart_table_and_sentence(board):
    before = sent(board)
    at(board.common, "feed.ec", 2.6)
    after = sent(board)
    changed = sum(
        one != other for one, other in zip(before["charts"], after["charts"], strict=True)
    )
    assert changed >= 3
    assert all(before[part] != after[part] for part in ("words", "table", "sheet"))
    assert {one.feed.ec.m_as("dS/m") for one in board.state.scenarios.values()} == {2.6}


def test_board_method_slider_moves_only_that_method(board):
    before = rows(board)
    focus = board.state.focus
    at(board.method, "harvest.typical", 3.0)
    after = rows(board)
    assert after[focus]["yield"] == pytest.approx(3.0)
    assert {key: row for key, row in after.items() if key != focus} == {
        key: row for key, row in before.items() if key != focus
    }


def test_board_shows_what_evaluate_gives(board):
    at(board.common, "prices.labour_price", 11.0)
    for key, row in rows(board).items():
        found = evaluate(board.state.scenarios[key])
        assert row["cost"] == pytest.approx(found["cost_per_kilogram"].magnitude)


@pytest.mark.parametrize("system", ["metric", "us"])
def test_board_every_slider_begins_at_its_scenarios_value(board, system):
    move(board.toolbar, system=system)
    for panel in (board.common, board.method):
        assert [field["key"] for field in panel.fields] == list(panel.values)
        for field in panel.fields:
            assert field["minimum"] <= panel.values[field["key"]] <= field["maximum"]


def test_board_refused_value_is_said_beside_the_field_and_nothing_changes(board):
    before, state = sent(board), board.state.save()
    at(board.method, "method.plants_per_area", 4000.0)
    assert set(board.method.errors) == {"method.plants_per_area"}
    assert "footprint" in board.method.errors["method.plants_per_area"]
    assert sent(board) == before
    assert board.state.save() == state


def test_board_refused_value_stays_marked_until_there_is_room(board):
    move(board.toolbar, focus="suspended_pot")
    level = board.state.focused.method.level
    start, high = level.start.m_as("cm"), level.high.m_as("cm")
    at(board.method, "method.level.high", start + 1)  # a falling level that would have to rise
    assert set(board.method.errors) == {"method.level.high"}
    at(board.method, "method.level.open_fraction", 0.5)
    assert set(board.method.errors) == {"method.level.high"}
    assert board.state.focused.method.level.open_fraction.magnitude == 0.5
    assert board.state.focused.method.level.high.m_as("cm") == high
    at(board.method, "method.level.start", start + 2)
    assert board.method.errors == {}
    assert board.state.focused.method.level.high.m_as("cm") == start + 1


def test_board_us_slider_sets_the_metric_value(board):
    move(board.toolbar, system="us")
    at(board.common, "tank.area", 50.0)
    assert board.state.focused.tank.area.m_as("m^2") == pytest.approx(50 * 0.3048**2)
    at(board.method, "method.level.high", 1.5)
    assert board.state.focused.method.level.high.m_as("cm") == pytest.approx(1.5 * 2.54)
    at(board.method, "harvest.typical", 1.0)
    wanted = 0.45359237 / 0.3048**2
    assert board.state.focused.harvest.typical.m_as("kg/m^2") == pytest.approx(wanted)


# -- toolbar -------------------------------------------------------------------------------


def test_board_units_switch_changes_titles_fields_and_rows_alike(board):
    metric = rows(board)
    move(board.toolbar, system="us")
    units = {field["key"]: field["unit"] for field in board.common.fields}
    assert units["tank.area"] == "ft²"
    assert "lb/ft²" in json.dumps(board.charts.tradeoff.spec, ensure_ascii=False)
    assert "lb/ft²" in board.table.value
    for key, row in rows(board).items():
        assert row["yield"] == pytest.approx(metric[key]["yield"] * 0.2048161436)


def test_board_units_there_and_back_change_nothing(board):
    before, state = sent(board), board.state.save()
    move(board.toolbar, system="us")
    move(board.toolbar, system="metric")
    assert sent(board) == before
    assert board.state.save() == state


def test_board_currency_switch_takes_the_stated_rate_and_lets_it_be_changed(board):
    before = rows(board)
    move(board.toolbar, currency="USD")
    shipped = catalog.exchange_rates()["EUR", "USD"]["rate"]
    assert board.toolbar.values["rate"] == shipped
    (field,) = [one for one in board.toolbar.fields if one["key"] == "rate"]
    assert field["label"] == "USD for one EUR"
    move(board.toolbar, rate=2.0)
    for key, row in rows(board).items():
        assert row["cost"] == pytest.approx(2 * before[key]["cost"])
    assert "USD/kg" in board.table.value
    units = {one["key"]: one["unit"] for one in board.common.fields}
    assert units["prices.labour_price"] == "EUR/h"  # sliders stay in the list's own money


def test_board_impossible_rate_is_said_beside_it(board):
    move(board.toolbar, currency="USD")
    before = board.state.save()
    move(board.toolbar, rate=0.0)
    assert "more than zero" in board.toolbar.errors["rate"]
    assert board.state.save() == before


def test_board_currency_without_a_shipped_rate_asks_for_one(board):
    bring(board, "prices", prices_file(factor=11, currency="NOK"))
    move(board.toolbar, currency="EUR")
    assert "state your own" in board.toolbar.errors["rate"]
    move(board.toolbar, rate=0.09)
    assert board.toolbar.errors == {}


@pytest.mark.parametrize("crop", sorted(catalog.crops()))
def test_board_every_crop_can_be_picked(board, crop):
    assert crop in [
        value
        for value, _ in next(one for one in board.toolbar.fields if one["key"] == "crop")["options"]
    ]
    move(board.toolbar, crop=crop)
    assert board.toolbar.values["crop"] == crop
    assert board.toolbar.errors == {}
    assert list(rows(board)) == board.state.chosen == board.toolbar.values["chosen"]


@pytest.mark.parametrize(
    ("key", "value"),
    [("site", "dunmarrow"), ("price_list", "dunmarrow"), ("focus", "paper_wrap"),
     ("chosen", ["wedge_pots", "field_soil"])],
)  # fmt: skip
def test_board_pick_shows_in_state_and_page(board, key, value):
    before = sent(board)
    move(board.toolbar, **{key: value})
    assert getattr(board.state, key) == value
    assert board.toolbar.values[key] == value
    assert sent(board) != before


def test_board_method_that_is_no_longer_compared_is_not_opened(board):
    first = board.state.focus
    move(board.toolbar, chosen=[one for one in board.state.chosen if one != first])
    follower = board.state.focus
    move(board.toolbar, focus=first)
    assert "tick it first" in board.toolbar.errors["focus"]
    assert board.state.focus == board.toolbar.values["focus"] == follower != first


def test_board_no_method_ticked_is_refused_beside_the_list(board):
    chosen = list(board.state.chosen)
    move(board.toolbar, chosen=[])
    assert "at least one" in board.toolbar.errors["chosen"]
    assert board.toolbar.values["chosen"] == board.state.chosen == chosen


# -- marking in charts ---------------------------------------------------------------------


@pytest.mark.parametrize("name", ["tradeoff", "costs", "fate"])
def test_board_click_in_a_chart_marks_all_and_opens_its_sliders(board, name):
    view = getattr(board.charts, name)
    view.selected = ["paper_wrap"]
    marking = [one for one in board.charts.widgets if one.selection_field]
    assert len(marking) == 5
    assert all(one.selected == ["paper_wrap"] for one in marking)
    assert board.state.focus == board.toolbar.values["focus"] == "paper_wrap"
    label = catalog.methods()["paper_wrap"]["label"]
    assert label in board.method_title.value
    assert label in board.sheet.value
    assert label in board.charts.section.heading
    described = parameter("yield_per_area")
    assert board.method.values["harvest.typical"] == pytest.approx(
        value_at(board.state.focused, "harvest.typical").m_as(described.unit)
    )


def test_board_click_beside_the_marks_clears_and_keeps_the_sliders(board):
    board.charts.costs.selected = ["paper_wrap"]
    board.charts.tradeoff.selected = []
    assert all(one.selected == [] for one in board.charts.widgets)
    assert board.state.focus == "paper_wrap"


def test_board_method_no_longer_shown_is_no_longer_marked(board):
    board.charts.costs.selected = ["paper_wrap", "wedge_pots"]
    move(board.toolbar, chosen=["wedge_pots", "medium_bag"])
    assert all(one.selected in (["wedge_pots"], []) for one in board.charts.widgets)


# -- files ---------------------------------------------------------------------------------


def test_board_prices_file_is_taken_over_and_named_in_the_picker(board):
    found = bring(board, "prices", prices_file(leave_out=("water",)), "club <b>.csv")
    assert not found.refused
    assert board.toolbar.values["price_list"] == "own"
    options = dict(
        next(one for one in board.toolbar.fields if one["key"] == "price_list")["options"]
    )
    assert options["own"] == "club <b>.csv (yours)"
    assert "still the old price: water" in board.status.value
    assert "<b>" not in board.status.value


def test_board_saved_board_brings_its_own_prices_along(board):
    bring(board, "prices", prices_file(factor=3))
    other = Board()
    found = bring(other, "saved board", board.state.save().encode(), "board.json")
    assert not found.refused
    assert other.toolbar.values == board.toolbar.values
    assert other.files._prices() == board.files._prices()
    assert other.files._prices() != Board().files._prices()
    assert sent(other) == sent(board)


def test_board_decimal_sign_is_the_one_stated(board):
    move(board.files.decimal, decimal=",")
    text = "item;package_size;price;currency\nlabour;1 hour;12,5;EUR\n"
    assert not bring(board, "prices", text.encode()).refused
    assert board.common.values["prices.labour_price"] == pytest.approx(12.5)


def test_board_harvest_file_says_what_was_taken_and_what_was_not(board):
    content = f"{HARVEST}a,wedge_pots,potato,2,8\nb,raft,potato,2,8\nc,paper_wrap,potato,1,2\nd,paper_wrap,potato,1,3\n"
    assert not bring(board, "harvest", content.encode()).refused
    said = board.status.value
    assert "4.00 kg/m² (one plot, so no interval exists)" in said
    assert "2.50 kg/m² (2 plots, 95 % interval" in said
    assert "row 3" in said
    assert rows(board)["wedge_pots"]["yield"] == pytest.approx(4)


def test_board_methods_file_adds_a_method_everywhere(board):
    assert not bring(board, "methods", methods_file({"label": "<i>Mine</i>"})).refused
    assert "my_bag" in rows(board)
    assert "<i>Mine" not in board.table.value
    board.charts.costs.selected = ["my_bag"]
    assert "<i>Mine" not in board.method_title.value + board.sheet.value


def test_board_weather_file_says_its_months_few_days_and_gaps(board):
    days = [f"2024-06-{day:02d},5,0\n" for day in range(1, 31) if day != 12]
    days += [f"2024-07-{day:02d},5,0\n" for day in range(1, 6)]
    text = "date,reference_evapotranspiration [mm/day],rain [mm]\n" + "".join(days)
    before = rows(board)
    assert not bring(board, "weather", text.encode(), "<b>.csv").refused
    said = board.status.value
    assert "own weather for June" in said
    assert "Fewer than ten days in July" in said
    assert "2024-06-12" in said
    assert "<b>" not in said
    assert board.state.focused.site.reference_evapotranspiration.m_as("mm/day")[5] == 5
    assert rows(board) != before


def test_board_media_file_says_what_was_added_and_what_was_not(board):
    text = "id,label\nrice_hulls,Rice hulls\nwhite_peat,Mine\n"
    assert not bring(board, "growing media", text.encode()).refused
    said = board.status.value
    assert "added rice_hulls. Price them in your price list" in said
    assert "row 3" in said
    assert "rice_hulls" in board.state.media


@pytest.mark.parametrize(
    "word", ["prices", "harvest", "weather", "growing media", "methods", "saved board"]
)
@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02", b"<script>alert(1)</script>,b\n1,2\n"])
def test_board_bad_file_is_refused_and_nothing_changes(board, word, content):
    before, state = sent(board), board.state.save()
    found = bring(board, word, content)
    assert found.refused
    assert "mine.csv" in found.message
    assert "<script" not in board.status.value
    assert 'role="alert"' in board.status.value
    assert sent(board) == before
    assert board.state.save() == state


def test_board_files_to_fill_in_are_made_when_asked_for(board):
    savers = {one.filename: one for one in board.files.widgets if isinstance(one, FileSaver)}
    made = {name: one._make() for name, one in savers.items()}
    assert json.loads(made["board.json"])["format"] == "scenariokit/comparison"
    assert made["comparison.csv"].count("\n") == len(board.state.chosen) + 1
    assert made["my_prices.csv"] == catalog.template(board.state.prices)
    assert made["my_harvest.csv"].startswith("plot,method")
    assert made["my_methods.csv"].startswith("id,label")


def test_board_reset_button_brings_the_sliders_back(board):
    before = board.common.values
    at(board.common, "feed.ec", 2.6)
    board.files.widgets[-1].click()
    assert board.common.values == before
    assert "back at the catalogue" in board.status.value


# -- guards --------------------------------------------------------------------------------


@pytest.mark.parametrize("part", ["slider", "toolbar", "chart", "button"])
def test_board_unexpected_fault_is_said_plainly_and_logged(board, part, caplog, monkeypatch):
    def broken(*_args, **_options):
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(BoardState, "compute", broken)
    if part == "slider":
        at(board.common, "feed.ec", 2.2)
    elif part == "toolbar":
        move(board.toolbar, system="us")
    elif part == "chart":
        board.charts.costs.selected = ["paper_wrap"]
    else:
        board.files.widgets[-1].click()
    assert FAULT in board.status.value
    assert "a fault of ours" in caplog.text
    assert "ZeroDivisionError" not in board.status.value


def test_board_unexpected_fault_while_reading_a_file_is_said_and_logged(board, caplog, monkeypatch):
    def broken(*_args, **_options):
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(BoardState, "load_prices", broken)
    found = bring(board, "prices", prices_file())
    assert found.refused
    assert "fault in this program" in found.message
    assert "a fault of ours" in caplog.text


def test_two_boards_do_not_touch():
    one, other = open_board(), open_board()
    before, state = sent(other), other.state.save()
    at(one.common, "feed.ec", 2.6)
    move(one.toolbar, system="us", crop="kale")
    one.charts.costs.selected = [one.state.chosen[-1]]
    bring(one, "prices", prices_file(factor=2))
    assert sent(other) == before
    assert other.state.save() == state
    assert all(view.selected == [] for view in other.charts.widgets)
