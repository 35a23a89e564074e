"""Exports as a person opens them: printed by a browser, and as a page without any network."""

from __future__ import annotations

import dataclasses
import os
import re
import shutil
import subprocess
from pathlib import Path

import pytest

from scenariokit.scenario import compare
from scenariokit.widgets.board import Board

pytestmark = pytest.mark.browser

HOSTILE = "</script><script>window.harmed=1</script><img src=x onerror=window.harmed=1>"
SIZES = {"A4": (595, 842), "Letter": (612, 792)}


@pytest.fixture(scope="module")
def board():
    made = Board()
    made.state.choose([*made.state.chosen, "field_soil"])
    made.rebuild()
    return made


@pytest.fixture
def offline(chromium, tmp_path):
    """A function that opens a document from the disk in a browser that is cut off."""
    contexts = []

    def open_file(document, **options):
        path = tmp_path / "document.html"
        path.write_text(document, encoding="utf-8")
        context = chromium.new_context(
            offline=True, **{"viewport": {"width": 1280, "height": 900}, **options}
        )
        contexts.append(context)
        page = context.new_page()
        page.asked, page.wrong = [], []
        page.on("request", lambda one: page.asked.append(one.url))
        page.on(
            "console",
            lambda one: page.wrong.append(one.text) if one.type in ("error", "warning") else None,
        )
        page.on("pageerror", lambda error: page.wrong.append(str(error)))
        page.goto(path.as_uri())
        return page

    yield open_file
    for one in contexts:
        one.close()


def keep(page, name):
    """Keep a picture where the environment says so."""
    folder = os.environ.get("SCENARIOKIT_SCREENSHOTS")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(folder) / f"{name}.png"), full_page=True)


def tool(name):
    found = shutil.which(name)
    if found is None:
        pytest.skip(f"{name} (poppler) is not installed")
    return found


def written(pdf):
    """The text of each page of a PDF."""
    made = subprocess.run([tool("pdftotext"), "-layout", pdf, "-"], check=True, capture_output=True)
    return made.stdout.decode().split("\f")[:-1]


# -- sheets to print -----------------------------------------------------------------------


@pytest.mark.parametrize("size", SIZES)
def test_print_sheet_prints_whole_on_paper_of_both_sizes(board, offline, tmp_path, size):
    state = board.state
    page = offline(board.files.exports.sheet())
    pdf = tmp_path / f"sheet_{size}.pdf"
    page.pdf(path=str(pdf), format=size)
    pages = written(pdf)
    said = " ".join(" ".join(pages).split())
    assert 5 <= len(pages) <= 11
    label = state.focused.method.label
    for place, text in enumerate(pages, start=1):
        assert label in text.splitlines()[0]
        assert "Made on" in text.splitlines()[0]
        assert re.search(rf"{place}\s*/\s*{len(pages)}\s*$", text)
    for caution in compare([state.focused]).evaluations[0].cautions:
        for sentence in caution.text.split(". "):
            assert sentence.split()[0] in said
    info = subprocess.run([tool("pdfinfo"), pdf], check=True, capture_output=True).stdout.decode()
    width, height = (
        float(one) for one in re.search(r"Page size:\s+([\d.]+) x ([\d.]+)", info).groups()
    )
    assert (width, height) == pytest.approx(SIZES[size], abs=1)
    assert page.asked[1:] == [one for one in page.asked[1:] if one.startswith("data:")]
    assert page.wrong == []


def test_print_sheet_no_heading_ends_a_page_and_nothing_is_wider_than_the_paper(
    board, offline, tmp_path
):
    page = offline(board.files.exports.sheets(), viewport={"width": 703, "height": 1000})
    page.emulate_media(media="print")
    wide = page.evaluate(
        "() => [...document.querySelectorAll('body *')].filter((one) =>"
        " one.getBoundingClientRect().right > document.body.getBoundingClientRect().right + 1"
        " && one.getBoundingClientRect().width > 0).map((one) => one.outerHTML.slice(0, 120))"
    )
    assert wide == []
    headings = set(page.locator("h2, h3").all_inner_texts()) - {"Your own notes"}  # lines follow
    pdf = tmp_path / "sheets.pdf"
    page.pdf(path=str(pdf), format="A4")
    pages = written(pdf)
    for text in pages:
        last = [line.strip() for line in text.splitlines() if line.strip()][-2]
        assert last not in headings
    starts = [text for text in pages if "Demo data is invented" in text]
    assert len(starts) == len(board.state.chosen)


def test_print_sheet_hostile_name_prints_as_text_and_runs_nothing(offline, tmp_path):
    board = Board()
    focus = board.state.focus
    one = board.state.scenarios[focus]
    method = dataclasses.replace(one.method, label=HOSTILE)
    board.state.scenarios[focus] = dataclasses.replace(one, method=method)
    page = offline(board.files.exports.sheet())
    assert page.evaluate("() => window.harmed") is None
    assert page.locator("h1").inner_text() == HOSTILE
    pdf = tmp_path / "hostile.pdf"
    page.pdf(path=str(pdf), format="A4")
    assert "onerror" in written(pdf)[0]


# -- the page that stands alone --------------------------------------------------------------


def ready(page):
    page.wait_for_selector("body[data-ready]", timeout=60_000)
    assert page.locator(".sk-problem:not([hidden])").count() == 0


def faint(page, chart):
    return page.locator(f"figure[data-chart='{chart}'] svg [opacity='0.22']").count()


LINKED = (0, 1, 2, 4, 5)
"""Charts in which a method is marked; the cross-section shows one method only."""


@pytest.fixture
def alone(board, offline):
    page = offline(board.files.exports.page())
    ready(page)
    yield page
    assert page.asked[1:] == []
    assert page.wrong == []


def test_standalone_page_click_on_a_mark_marks_it_in_all_charts(alone):
    assert [faint(alone, chart) for chart in LINKED] == [0] * 5
    bar = alone.locator("figure[data-chart='1'] svg [aria-label*='Shallow perforated tray']").first
    bar.click(force=True)
    alone.wait_for_function(
        "() => document.querySelectorAll(\"[aria-pressed='true']\").length === 1"
    )
    alone.wait_for_function(
        "() => [0, 1, 2, 4, 5].every((one) => document.querySelector("
        "`figure[data-chart='${one}'] svg [opacity='0.22']`))"
    )
    assert "Shallow perforated tray" in alone.locator("#sk-marked").inner_text()
    keep(alone, "standalone-marked")
    bar.click(force=True)
    alone.wait_for_function("() => !document.querySelector(\"svg [opacity='0.22']\")")


def test_standalone_page_shows_what_is_under_the_pointer(alone):
    alone.locator("figure[data-chart='1'] svg [aria-label*='Shallow perforated tray']").first.hover(
        force=True
    )
    tip = alone.locator("#vg-tooltip-element.visible")
    tip.wait_for()
    assert "Shallow perforated tray" in tip.inner_text()


def test_standalone_page_is_worked_by_keyboard_alone(alone):
    for _ in range(30):
        alone.keyboard.press("Tab")
        if alone.evaluate("() => document.activeElement.dataset.method") == "wedge_pots":
            break
    alone.keyboard.press("Space")
    alone.wait_for_function("() => document.querySelector(\"svg [opacity='0.22']\")")
    assert alone.locator("[data-method='wedge_pots']").get_attribute("aria-pressed") == "true"
    summary = alone.locator("figure[data-chart='0'] summary")
    summary.focus()
    alone.keyboard.press("Enter")
    table = alone.locator("figure[data-chart='0'] table")
    assert table.locator("tbody tr").count() == 7
    assert "Nested pots" in table.inner_text()


def test_standalone_page_on_a_narrow_screen_stays_within_it(board, offline):
    page = offline(board.files.exports.page(), viewport={"width": 380, "height": 800})
    ready(page)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 380
    keep(page, "standalone-380")
    page.set_viewport_size({"width": 700, "height": 800})
    page.wait_for_function("() => document.querySelector('figure svg').clientWidth > 500")
    assert page.wrong == []


def test_standalone_page_hostile_names_are_shown_and_run_nothing(offline):
    board = Board()
    for key, one in board.state.scenarios.items():
        method = dataclasses.replace(one.method, label=f"{HOSTILE} {key} {'X' * 200}")
        board.state.scenarios[key] = dataclasses.replace(one, method=method)
    board.rebuild()
    page = offline(board.files.exports.page())
    ready(page)
    assert page.evaluate("() => window.harmed") is None
    assert page.locator("script").count() == 2
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 1280
    page.locator("[data-method]").first.click()
    page.wait_for_function("() => document.querySelector(\"svg [opacity='0.22']\")")
    assert "<script>" in page.locator("#sk-marked").inner_text()
    # What the tools of a browser run may evaluate text; what the page runs later may not.
    page.evaluate(
        "() => setTimeout(() => { try { eval('window.harmed = 2'); }"
        " catch (error) { window.kept = error.name; } })"
    )
    page.wait_for_function("() => window.kept === 'EvalError'")
    assert page.evaluate("() => window.harmed") is None
    keep(page, "standalone-hostile")


# -- the buttons ---------------------------------------------------------------------------


def test_board_downloads_hand_over_a_picture_and_a_page(voila_page):
    opened = voila_page()
    page = opened.page
    page.wait_for_selector(".sk-view-methods figure[data-updates]", timeout=60_000)
    for label, name, begin in (
        ("Save this chart", "yield_cost.png", b"\x89PNG"),
        ("Workbook with numbers", "comparison.xlsx", b"PK"),
        ("Interactive page", "comparison.html", b"<!DOCTYPE html>"),
    ):
        with page.expect_download(timeout=60_000) as waiting:
            page.get_by_role("button", name=label).click()
        assert waiting.value.suggested_filename == name
        assert Path(waiting.value.path()).read_bytes().startswith(begin)
    page.locator("#sk-export-chart").select_option("costs")
    page.locator("#sk-export-kind").select_option("pdf")
    with page.expect_download(timeout=60_000) as waiting:
        page.get_by_role("button", name="Save this chart").click()
    assert waiting.value.suggested_filename == "costs.pdf"
    opened.screenshot("board-downloads", ".sk-controls")
    assert opened.outside_requests == []
    assert opened.console_errors == []
