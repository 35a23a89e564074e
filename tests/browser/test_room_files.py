"""Files that are too large, packed to burst, or named to do harm, given to a board of a room."""

from __future__ import annotations

import csv
import io
import json
import zipfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from open_page import OpenPage

from scenariokit import catalog
from scenariokit.widgets.board_state import BoardState

pytestmark = pytest.mark.browser

MARKUP = "<img src=x onerror=alert(1)>"
FORMULA = "=cmd|' /C calc'!A0"
NAMES = (MARKUP, FORMULA, "../../etc/passwd", "{0.__class__}")
PRICES = "Load my prices (CSV or XLSX)"
HARVEST = "Load my harvest weights (CSV or XLSX)"
METHODS = "Load my own methods (CSV or XLSX)"
BOARD = "Open a saved board (JSON)"
NUMBERS = "[aria-label='Numbers of all methods']"
TRADEOFF = ".sk-view-methods > .sk-charts > :nth-child(1)"
SLIDER = "[id='sk-common-prices-labour_price-slider']"
BAR = "#scenariokit-status:not([hidden])"
BOMB_BYTES = 200_000_000


@pytest.fixture
def board(visit: Callable[..., OpenPage]) -> Iterator[OpenPage]:
    """A board that opens no dialog, asks nothing outside, and lives to the end."""
    opened = visit("board?language=en", accept_downloads=True)
    dialogs: list[str] = []
    opened.page.on("dialog", lambda one: (dialogs.append(one.message), one.dismiss()))
    opened.page.wait_for_selector(f"{TRADEOFF} figure[data-updates]")
    opened.page.wait_for_selector(f"{NUMBERS} tbody td")
    opened.page.get_by_label(BOARD).wait_for(state="attached")
    yield opened
    for key in ("ArrowRight", "ArrowLeft"):
        opened.after_update(TRADEOFF, lambda key=key: opened.page.locator(SLIDER).press(key))
    assert dialogs == []
    assert opened.page.locator("img[src=x]").count() == 0
    assert opened.page.locator(BAR).count() == 0
    assert opened.outside_requests == []
    assert opened.console_errors == []


def load(opened: OpenPage, label: str, file: Any, answer: str) -> str:
    """Give a file to a picker; return what is said below it once that holds `answer`."""
    opened.page.get_by_label(label).set_input_files(file)
    told = opened.page.locator(".sk-file", has_text=label).locator("[role=status]")
    told.filter(has_text=answer).wait_for()
    return str(told.inner_text())


def payload(name: str, content: bytes) -> dict[str, Any]:
    """Return a file as a browser is given it, under whatever name."""
    return {"name": name, "mimeType": "text/csv", "buffer": content}


def download(opened: OpenPage, label: str) -> bytes:
    """Press a button for a file and return what arrives."""
    with opened.page.expect_download() as coming:
        opened.page.get_by_role("button", name=label).click()
    return Path(coming.value.path()).read_bytes()


def bomb(path: Path) -> Path:
    """Write a small workbook whose sheet is huge once unpacked."""
    book = openpyxl.Workbook()
    book.active.append(["item", "price"])
    held = io.BytesIO()
    book.save(held)
    with zipfile.ZipFile(held) as whole, zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as made:
        for part in whole.namelist():
            if "sheet1" not in part:
                made.writestr(part, whole.read(part))
        with made.open("xl/worksheets/sheet1.xml", "w") as sheet:
            for _ in range(BOMB_BYTES // 1_000_000):
                sheet.write(b" " * 1_000_000)
    return path


def prices() -> bytes:
    """Return a whole price list whose notes are the names."""
    lines = catalog.template(catalog.price_list("tern_hollow"), sources=True).splitlines()
    rows = list(csv.DictReader(lines))
    for row, name in zip(rows, NAMES, strict=False):
        row["note"] = row["source"] = name
    held = io.StringIO()
    writer = csv.DictWriter(held, list(rows[0]))
    writer.writeheader()
    writer.writerows(rows)
    return held.getvalue().encode()


def methods() -> bytes:
    """Return methods with the names as labels."""
    row = {
        "summary": MARKUP, "container_shape": "round", "container_length": 10,
        "container_width": 10, "container_height": 20, "plants_per_container": 1,
        "plants_per_area": 20, "base_height": 0, "medium_height": 10, "mix": "coir_pith",
        "volume_per_plant": 0.5, "crops_per_filling": 2, "top_up_fraction": 0, "sheet": "",
        "sheet_area_per_area": 0, "level_regime": "constant", "level_low": 1, "level_high": 3,
        "level_start": 3, "rim_height": 10, "displaced_fraction": 0.1, "open_fraction": 0.1,
        "labour_per_plant": 0.05, "crop": "potato", "yield_low": 2, "yield_typical": 3,
        "yield_high": 4, "supplies_like": "medium_bag", "note": FORMULA,
    }  # fmt: skip
    rows = [{**row, "id": f"own_{at}", "label": name} for at, name in enumerate(NAMES)]
    return catalog.write_csv(rows, "own_methods").encode()


def harvest() -> bytes:
    """Return plots with the names, and for each name one of a method of that name."""
    rows = [["plot", "method", "crop", "tank_area [m^2]", "harvest_mass [kg]"]]
    rows += [[name, "medium_bag", "potato", "1", "3.1"] for name in NAMES]
    rows += [[f"plot {at}", name, "potato", "1", "3.1"] for at, name in enumerate(NAMES)]
    held = io.StringIO()
    csv.writer(held).writerows(rows)
    return held.getvalue().encode()


def saved_board() -> bytes:
    """Return a saved board in which everything that has a name has one of the names."""
    document = json.loads(BoardState().save())
    for at, one in enumerate(document["scenarios"]):
        scenario, name = one["scenario"], NAMES[at % len(NAMES)]
        scenario["method"]["label"] = scenario["method"]["summary"] = name
        scenario["crop"]["label"] = scenario["site"]["label"] = MARKUP
        scenario["name"] = scenario["notes"] = name
    return json.dumps(document).encode()


def test_file_of_fifty_megabytes_is_refused_in_the_page(board: OpenPage, tmp_path: Path) -> None:
    large = tmp_path / "large.csv"
    with large.open("wb") as file:
        file.truncate(50_000_000)
    told = load(board, PRICES, str(large), "too large")
    assert told == "large.csv is too large: 50 MB; at most 5 MB are read."


def test_workbook_that_would_burst_is_refused_and_the_board_goes_on(
    board: OpenPage, tmp_path: Path
) -> None:
    packed = bomb(tmp_path / "bomb.xlsx")
    assert packed.stat().st_size < 1_000_000
    before = board.page.locator(NUMBERS).inner_text()
    for label in (PRICES, HARVEST, METHODS):
        told = load(board, label, str(packed), "would unpack to")
        assert "50 MB or less" in told
    assert "would unpack to" in board.page.locator(".sk-status").first.inner_text()
    assert board.page.locator(NUMBERS).inner_text() == before
    board.screenshot("room_bomb")


def test_names_that_would_do_harm_are_text_on_the_page_of_their_person_only(
    board: OpenPage, visit: Callable[..., OpenPage]
) -> None:
    page = board.page
    status = page.locator(".sk-status").first
    for name in NAMES:
        assert name in load(board, PRICES, payload(name, prices()), "done")
        assert name in status.inner_text()
    load(board, HARVEST, payload(MARKUP, harvest()), "done")
    refused = status.inner_text()
    assert "left out" in refused
    load(board, METHODS, payload(FORMULA, methods()), "done")
    assert FORMULA in status.inner_text()
    load(board, HARVEST, payload(MARKUP, harvest()), f"{MARKUP}: done")
    status.filter(has_text=f"{FORMULA}, potato").wait_for()
    taken = status.inner_text()
    for name in NAMES:
        assert name in refused
        assert name in taken
        # Only so many can be compared at one time: each takes the place of one of the catalogue's.
        page.locator(".sk-many-item input:checked").first.uncheck()
        page.locator(".sk-many-item", has_text=name).locator("input").check()
        page.locator(f"{NUMBERS} thead th").filter(has_text=name).wait_for()
    board.screenshot("room_hostile_names")
    check_exports(board)
    other = visit("board?language=en").page
    other.wait_for_selector(f"{NUMBERS} tbody td")
    assert not [name for name in NAMES if name in other.locator("body").inner_text()]


def test_saved_board_with_names_that_would_do_harm_opens_as_text_and_is_saved_as_it_came(
    board: OpenPage,
) -> None:
    load(board, BOARD, payload(MARKUP, saved_board()), "done")
    for name in NAMES:
        board.page.locator(f"{NUMBERS} thead th").filter(has_text=name).first.wait_for()
    check_exports(board)
    again = json.loads(download(board, "Save this board"))
    labels = {one["scenario"]["method"]["label"] for one in again["scenarios"]}
    assert set(NAMES) <= labels


def check_exports(opened: OpenPage) -> None:
    """Assert that no spreadsheet would take a name in an export for a formula."""
    text = download(opened, "Download the numbers (CSV)").decode("utf-8-sig")
    cells = [cell for row in csv.reader(io.StringIO(text)) for cell in row]
    assert any(FORMULA in cell for cell in cells)
    assert not [cell for cell in cells if cell.lstrip().startswith(("=", "+", "@"))]
    content = download(opened, "Workbook with numbers, inputs and sources (XLSX)")
    book = openpyxl.load_workbook(io.BytesIO(content))
    found = [cell for sheet in book for row in sheet.iter_rows() for cell in row]
    assert any(FORMULA in str(cell.value) for cell in found)
    assert not [cell.coordinate for cell in found if cell.data_type == "f"]
