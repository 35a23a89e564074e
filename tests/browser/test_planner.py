"""The planner of trials as a person meets it: in a browser, by keyboard, on a phone."""

from __future__ import annotations

import csv
import io
import json
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

CELL = """
from scenariokit.widgets.plan_desk import open_planner

open_planner()
"""
MAP = ".sk-map"


def ready(page):
    page.wait_for_function(
        "() => document.querySelectorAll('.sk-charts figure').length === 3 &&"
        " [...document.querySelectorAll('.sk-charts figure')].every(one => +one.dataset.updates > 0)",
        timeout=60_000,
    )


def box(page, key):
    """Return the box or list of a control."""
    return page.locator(f".sk-field[data-key='{key}']").locator(
        "select, textarea, input[type=number], input[type=text], input[type=date]"
    )


def letters(page):
    """Return what is written on the map, one text for each plot."""
    found = page.locator(f"{MAP} svg text").all_text_contents()
    return [text for text in found if text in ("A", "B", "C", "D")]


def until(page, holds):
    """Wait until `holds()` is true; a slow machine is given time, a wrong page is not."""
    for _ in range(100):
        if holds():
            return
        page.wait_for_timeout(100)
    assert holds()


def says(page):
    return page.locator(".sk-says").first.inner_text()


@pytest.fixture(scope="module")
def opened(voila_page, notebook_of):
    planner = voila_page(notebook_of("planner", CELL))
    ready(planner.page)
    return planner


def test_planner_opens_with_map_curves_and_budget(opened):
    page = opened.page
    assert len(letters(page)) == 20
    assert "With 5 replicates a difference of 25 %" in says(page)
    assert page.locator(".sk-table tbody tr").count() == 5
    opened.screenshot("planner-1280")
    assert opened.outside_requests == []
    assert opened.console_errors == []


def test_planner_by_keyboard_draws_again_and_asks_for_more(opened):
    page = opened.page
    first = letters(page)
    page.get_by_role("button", name="Draw again").focus()
    opened.after_update(MAP, lambda: page.keyboard.press("Enter"))
    until(page, lambda: letters(page) != first)
    assert box(page, "seed").input_value() == "2"
    slider = page.locator(".sk-field[data-key='difference'] input[type=range]")
    slider.focus()
    for _ in range(3):
        page.keyboard.press("ArrowLeft")
    until(page, lambda: "difference of 22 %" in says(page))
    until(page, lambda: len(letters(page)) == 24)


def test_planner_too_few_tanks_are_explained_and_hide_the_map(opened):
    page = opened.page
    box(page, "tank_count").fill("6")
    box(page, "tank_count").press("Enter")
    until(page, lambda: "Possible: 8 tanks" in page.locator(".sk-status").inner_text())
    until(page, lambda: not page.locator(f"{MAP} svg").is_visible())
    box(page, "tank_count").fill("24")
    box(page, "tank_count").press("Enter")
    until(page, lambda: page.locator(f"{MAP} svg").is_visible())


def test_planner_varieties_are_typed_and_saved_with_the_field_book(opened, tmp_path):
    page = opened.page
    box(page, "varieties").fill("early white\nlate red")
    box(page, "varieties").press("Tab")
    until(page, lambda: "Behind each of the compared means" in says(page))
    files = {}
    for label in ("Field book (CSV)", "Save this plan (JSON)"):
        with page.expect_download() as waiting:
            page.get_by_role("button", name=label).click()
        path = tmp_path / waiting.value.suggested_filename
        waiting.value.save_as(path)
        files[label] = path
    rows = list(csv.DictReader(io.StringIO(files["Field book (CSV)"].read_text("utf-8"))))
    assert {row["genotype"] for row in rows} == {"early white", "late red"}
    saved = json.loads(Path(files["Save this plan (JSON)"]).read_text("utf-8"))
    assert [row[0] for row in saved["plots"]] == [row["plot_id"] for row in rows]
    box(page, "seed").fill("9")
    box(page, "seed").press("Enter")
    until(page, lambda: "Seed 9" in says(page))
    page.locator("input[type=file]").set_input_files(files["Save this plan (JSON)"])
    until(page, lambda: "Seed 2" in says(page))


def test_planner_fits_a_phone(voila_page, notebook_of):
    planner = voila_page(
        notebook_of("planner_phone", CELL), viewport={"width": 390, "height": 844}
    )  # fmt: skip
    ready(planner.page)
    assert planner.page.evaluate("document.documentElement.scrollWidth") <= 390
    figure = planner.page.locator(f"{MAP} figure").bounding_box()
    assert figure["x"] >= 0
    assert figure["x"] + figure["width"] <= 390
    assert len(letters(planner.page)) == 20
    planner.screenshot("planner-390")
