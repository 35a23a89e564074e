"""One view of the board is open at a time, and only that one is made and computed."""

from __future__ import annotations

import pytest

from scenariokit.errors import InfeasibleError
from scenariokit.language import use_language
from scenariokit.widgets import ChartView, open_board


@pytest.fixture
def board():
    return open_board()


def press(board, name):
    board.views.bar.values = {"view": name}


def hidden(board, name):
    return board.views._boxes[name].layout.display == "none"


def test_board_views_first_one_is_open_and_the_others_wait(board):
    assert board.views.open == "methods"
    assert [name for name in board.views.views if not hidden(board, name)] == ["methods"]
    assert board.table.value
    assert board.water.says.value == ""
    assert board.nutrients.elements.spec == {}


def charts_below(widget):
    own = [widget] if isinstance(widget, ChartView) else []
    return own + [one for child in getattr(widget, "children", ()) for one in charts_below(child)]


@pytest.mark.parametrize(("name", "charts"), [("choice", 6), ("water", 4), ("feed", 2)])
def test_board_views_one_is_made_when_it_is_first_opened(board, name, charts):
    box = board.views._boxes[name]
    assert box.children == ()
    press(board, name)
    parts = box.children
    assert len(charts_below(box)) == charts
    press(board, "methods")
    press(board, name)
    assert box.children is parts


@pytest.fixture
def english_again():
    yield
    use_language("en")


@pytest.mark.usefixtures("english_again")
def test_board_views_chart_saved_before_its_view_was_opened_speaks_the_language_of_then(board):
    board.fill_view("water")
    board.set_language("fr")
    press(board, "water")
    words = board.water.depth.words
    assert words["lang"] == "fr"
    assert words["numbers"] != ChartView.WORDS["numbers"]
    assert board.water.widget in board.views._boxes["water"].children


def test_board_views_fault_while_a_view_is_first_filled_leaves_its_controls(board, monkeypatch):
    monkeypatch.setattr(board.water, "refresh", lambda: 1 / 0)
    press(board, "water")
    assert board.water.widget in board.views._boxes["water"].children
    assert "Something went wrong" in board.status.value


@pytest.mark.parametrize("name", ["water", "feed", "methods"])
def test_board_views_press_shows_one_and_fills_it(board, name):
    press(board, name)
    assert [key for key in board.views.views if not hidden(board, key)] == [name]
    filled = {"methods": board.says, "water": board.water.says, "feed": board.nutrients.says}
    assert filled[name].value


def test_board_views_a_view_opened_later_shows_what_was_set_meanwhile(board):
    press(board, "water")
    before = board.water.ec.datasets
    press(board, "methods")
    board.common.values = {**board.common.values, "feed.ec": 2.1}
    assert board.water.ec.datasets == before
    press(board, "water")
    assert board.water.ec.datasets != before
    assert board.water.ec.datasets["ec"][0]["value"] == pytest.approx(2.1)


def test_board_views_another_method_is_followed_by_every_view(board):
    for name in board.views.views:
        press(board, name)
    board.toolbar.values = {**board.toolbar.values, "focus": "suspended_pot"}
    press(board, "water")
    assert board.state.focused.method.label in board.water.title.value
    assert board.charts.section.heading.endswith(board.state.focused.method.label)


def test_board_views_units_follow_into_views_that_were_closed(board):
    press(board, "water")
    press(board, "methods")
    board.toolbar.values = {**board.toolbar.values, "system": "us"}
    press(board, "water")
    assert "in" in str(board.water.depth.table_columns)
    assert "cm" not in str(board.water.depth.table_columns)


def test_board_views_unknown_name_is_refused_with_those_there_are(board):
    with pytest.raises(InfeasibleError, match="'attic'; there are methods, "):
        board.views.open_view("attic")
    assert board.views.open == "methods"


def test_open_board_opens_the_view_that_is_asked_for():
    board = open_board(view="feed")
    assert board.views.open == "feed"
    assert board.nutrients.says.value
    with pytest.raises(InfeasibleError, match="'attic'"):
        open_board(view="attic")


def test_two_boards_views_do_not_touch(board):
    other = open_board()
    press(board, "feed")
    assert other.views.open == "methods"
    assert not hidden(other, "methods")


def test_board_views_fault_in_a_view_is_said_on_the_page(board, monkeypatch, caplog):
    def broken(_scenario):
        raise RuntimeError("no such day")

    monkeypatch.setattr("scenariokit.widgets.board_water.tank_season", broken)
    press(board, "water")
    assert "Something went wrong inside scenariokit" in board.status.value
    assert "no such day" in caplog.text
