"""No text of a file that a person takes away is outside the catalogues."""

from __future__ import annotations

import io
import re
from collections.abc import Iterator
from typing import Any

import pytest
from pseudo_language import bare_words, bracketed, citations, column_names

from scenariokit.report.print_sheet import POLICY

MADE_BY = {"scenariokit"}


@pytest.fixture(autouse=True)
def brackets(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with bracketed(monkeypatch):
        yield


@pytest.fixture
def exports() -> Any:
    from scenariokit.widgets import open_board

    return open_board().files.exports


def bare(text: str, *allowed: str) -> list[str]:
    words = bare_words(text, citations())
    return [word for word in words if word not in {*MADE_BY, *allowed}]


def cells(content: bytes) -> dict[str, list[str]]:
    """Return the texts of each sheet of a workbook, and of their tabs."""
    from openpyxl import load_workbook

    book = load_workbook(io.BytesIO(content))
    found = {
        page.title: [str(cell.value) for row in page.iter_rows() for cell in row
                     if isinstance(cell.value, str)]
        for page in book
    }  # fmt: skip
    return {**found, "tabs": [page.title for page in book], "title": [book.properties.title or ""]}


def test_workbook_has_no_cell_outside_the_catalogues(exports: Any) -> None:
    found = cells(exports.workbook())
    assert len(found) == 6
    path = re.compile(r"^[a-z_]+(\.[A-Za-z_0-9]+)+$")  # the name in a scenario file
    wrong = [
        (tab, text) for tab, texts in found.items() for text in texts
        if not path.match(text) and bare(text)
    ]  # fmt: skip
    assert wrong == []


def test_printed_sheets_and_labels_have_no_text_outside_the_catalogues(exports: Any) -> None:
    said = exports.sheets()
    assert len(said) > 20_000
    assert bare(said.replace("width=device-width, initial-scale=1", "").replace(POLICY, "")) == []


def test_standalone_page_has_no_text_outside_the_catalogues(exports: Any) -> None:
    said = re.sub(r"<meta [^>]*>|<pre.*?</pre>", " ", exports.page(), flags=re.DOTALL)
    assert len(said) > 20_000
    assert bare(said) == []


def test_charts_to_save_have_no_text_outside_the_catalogues(exports: Any) -> None:
    exports.picks.values = {"chart": "costs", "kind": "svg"}
    drawn = exports.chart().decode("utf-8")
    assert drawn.count("<text") > 10
    assert bare(drawn) == []


@pytest.mark.parametrize("system", ["metric", "us"])
def test_worksheet_has_no_text_outside_the_catalogues(system: Any) -> None:
    from scenariokit.report.worksheet import worksheet

    assert bare(re.sub(r"<meta [^>]*>", " ", worksheet(system=system))) == []


def test_field_book_has_no_text_outside_the_catalogues() -> None:
    from scenariokit.widgets import open_planner
    from scenariokit.widgets.plan_state import PlanFiles

    desk = open_planner()
    made = {make: desk._making(getattr(PlanFiles, make))() for make in ("sheet", "workbook")}
    ids = {*column_names(), *"_".join(desk.state.chosen).split("_")}
    assert bare(made["sheet"], *ids) == []
    found = cells(made["workbook"])
    assert found.pop("tabs") == ["plots", "lists", "columns"]  # names of parts of a file
    assert [(tab, one) for tab, texts in found.items() for one in texts if bare(one, *ids)] == []


def test_sheets_of_water_and_nutrients_have_no_text_outside_the_catalogues() -> None:
    from scenariokit.widgets import open_board

    board = open_board(view="feed")
    assert bare(board.nutrients.labels()) == []
    assert bare(board.nutrients.sheet()) == []
    board.views.open_view("water")
    assert bare(board.water.calendar()) == []


def test_text_of_a_comparison_is_in_the_catalogues() -> None:
    from scenariokit.charts.frames import Showing
    from scenariokit.report import comparison_text, method_sheet, sentences
    from scenariokit.scenario import compare, scenario_for

    found = compare([scenario_for(key) for key in ("medium_bag", "wedge_pots", "suspended_pot")])
    for showing in (Showing(), Showing("us", "USD", 1.08)):
        said = [comparison_text(found, showing), *sentences(found, showing)]
        said += [method_sheet(one, showing) for one in found]
        ids = "medium_bag wedge_pots suspended_pot".replace(" ", "_").split("_")
        assert [text for text in said if bare(text, *ids)] == []
