"""The board's downloads, at the level of their traits."""

from __future__ import annotations

import io

import openpyxl
import pytest

from scenariokit.errors import InfeasibleError
from scenariokit.language import language_as
from scenariokit.report.chart_files import ExportError
from scenariokit.widgets.board import Board, open_board
from scenariokit.widgets.board_exports import CHARTS, KINDS
from scenariokit.widgets.chart_view import ChartView
from scenariokit.widgets.file_saver import FileSaver

BEGIN = {"csv": b"scenario,method", "xlsx": b"PK", "html": b"<!DOCTYPE html>"}


@pytest.fixture(scope="module")
def board():
    return Board()


def pick(board, chart, kind="svg"):
    board.files.exports.picks.values = {"chart": chart, "kind": kind}
    return board.files.exports


def savers(board):
    return [one for one in board.files.exports.widgets if isinstance(one, FileSaver)]


def content(board, saver, monkeypatch):
    """What a page gets after a press on a button."""
    sent = []
    monkeypatch.setattr(saver, "send", lambda said, buffers=None: sent.append((said, buffers)))
    saver._handle_custom_msg({"kind": "want", "view": "a"}, [])
    ((said, buffers),) = sent
    assert said["kind"] == "content", said
    return said, bytes(buffers[0])


def test_board_exports_each_button_hands_out_the_file_of_its_name(board, monkeypatch):
    assert len(savers(board)) == 6
    assert set(savers(board)) <= set(board.files.widgets)
    pick(board, "yield_cost", "png")
    for saver in savers(board):
        said, made = content(board, saver, monkeypatch)
        ending = said["filename"].rpartition(".")[2]
        assert made.startswith(BEGIN.get(ending, b"\x89PNG")), said["filename"]


@pytest.mark.parametrize("chart", CHARTS)
def test_board_exports_every_chart_in_the_list_can_be_saved(board, chart):
    made = pick(board, chart).chart().decode()
    assert made.startswith("<svg")
    assert "invented demo data" in made


def test_board_exports_list_and_page_say_the_same_of_each_chart(board):
    for key, one in CHARTS.items():
        view = one.of(board)
        assert isinstance(view, ChartView)
        assert view.heading.startswith(one.label), key


@pytest.mark.parametrize("kind", [kind for kind, _ in KINDS])
def test_board_exports_file_is_named_after_chart_and_kind(board, kind):
    exports = pick(board, "costs", kind)
    assert exports.chart_saver.filename == f"costs.{kind}"
    assert kind in exports.chart_saver.mime


def test_board_exports_chart_of_a_closed_view_follows_the_sliders():
    board = open_board(view="water")
    before = pick(board, "yield_cost").chart()
    board.state.set_values({"prices.labour_price": "20 money/hour"})
    assert pick(board, "yield_cost").chart() != before
    depth = pick(board, "depth").chart()
    board.state.set_values(
        {"method.level.high": "6 cm", "method.level.start": "6 cm"}, method=board.state.focus
    )
    board.refresh()
    assert pick(board, "depth").chart() != depth


def test_board_exports_chart_that_a_method_lacks_is_refused_in_words():
    board = Board()
    board.state.choose([*board.state.chosen, "field_soil"])
    board.open_method("field_soil")
    with pytest.raises(InfeasibleError, match="nothing is drawn for this method"):
        pick(board, "medium").chart()


def test_board_exports_sheets_are_of_the_focus_or_of_all(board):
    one, all_shown = board.files.exports.sheet(), board.files.exports.sheets()
    assert one.count('<article class="method"') == 1
    assert all_shown.count('<article class="method"') == len(board.state.chosen)
    assert one.count("data:image/svg+xml") == 1


def test_board_exports_without_the_library_only_charts_are_refused(monkeypatch):
    import sys

    monkeypatch.setitem(sys.modules, "vl_convert", None)
    monkeypatch.setattr("scenariokit.widgets.board_exports.can_draw", lambda: False)
    board = Board()
    with pytest.raises(ExportError, match="pip install"):
        pick(board, "costs").chart()
    assert "<img" not in board.files.exports.sheet()


def test_board_exports_workbook_has_the_methods_shown(board):
    book = openpyxl.load_workbook(io.BytesIO(board.files.exports.workbook()))
    head = [cell.value for cell in book.worksheets[0][1]]
    assert head[2:] == [label for _, label in board.state.chosen_labels()]


def test_board_exports_pickers_follow_the_language():
    board = Board()
    english = board.files.exports.picks.fields
    with language_as("es"):
        board.files.exports.say()
        assert [one["key"] for one in board.files.exports.picks.fields] == ["chart", "kind"]
    board.files.exports.say()
    assert board.files.exports.picks.fields == english


def test_board_exports_page_is_small_enough_to_send(board):
    made = board.files.exports.page()
    assert len(made.encode()) < 1_400_000
    assert made.count("<figure ") == len(board.charts.widgets)
