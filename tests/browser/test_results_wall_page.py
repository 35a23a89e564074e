"""The results wall on a projector and on a telephone: files come in, nobody touches the page."""

from __future__ import annotations

import os

import pytest

from scenariokit.environment import WALL_VARIABLE
from scenariokit.trials.demo_rooms import demo_rooms

pytestmark = pytest.mark.browser

WALL = "from scenariokit.widgets import open_wall\nopen_wall(seconds=1)"
DROP = "from scenariokit.widgets import open_drop\nopen_drop()"
CHART = ".sk-wall-chart"
PROJECTOR = {"width": 1280, "height": 720}


def counts(page):
    return page.locator(".sk-wall-counts").inner_text()


def wait_for(page, selector, words):
    page.wait_for_function(
        "([selector, words]) => document.querySelector(selector)?.innerText.includes(words)",
        arg=[selector, words],
        timeout=60_000,
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """The folder of a wall, named to every server that starts in here."""
    path = tmp_path_factory.mktemp("wall")
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv(WALL_VARIABLE, str(path))
        yield path


@pytest.fixture(scope="module")
def opened(voila_page, notebook_of, folder):
    name, content = demo_rooms()[0]
    (folder / name).write_bytes(content)
    wall = voila_page(notebook_of("wall", WALL), viewport=PROJECTOR)
    wait_for(wall.page, ".sk-wall-counts", "1 room on the wall")
    wall.page.wait_for_selector(f"{CHART} figure svg", timeout=60_000)
    return wall


def test_wall_takes_new_files_by_itself(opened, folder):
    page = opened.page
    for name, content in demo_rooms()[1:]:
        (folder / name).write_bytes(content)
    (folder / "bad.csv").write_text("<img src=x onerror=document.title='pwned'>,b\n1,2\n")
    wait_for(page, ".sk-wall-counts", "8 rooms on the wall")
    wait_for(page, ".sk-wall-says", "as the mean of 5 rooms")
    assert "1 file could not be used" in counts(page)
    assert page.title() != "pwned"
    assert page.locator(".sk-wall-files img").count() == 0
    assert opened.outside_requests == []
    assert opened.console_errors == []
    opened.screenshot("wall-1280")


def test_wall_letters_are_large_and_fit_a_projector(opened):
    page = opened.page
    sizes = page.evaluate(
        "selector => [...document.querySelectorAll(`${selector} svg text`)]"
        ".filter(one => one.textContent && one.getAttribute('opacity') !== '0')"
        ".map(one => parseFloat(getComputedStyle(one).fontSize))",
        CHART,
    )
    assert min(sizes) >= 20
    assert page.evaluate("document.documentElement.scrollWidth") <= PROJECTOR["width"]
    axis = page.locator(f"{CHART} figure").bounding_box()
    assert axis["y"] < 250
    assert axis["width"] > 1100


def test_wall_looks_at_once_when_asked(opened):
    page = opened.page
    before = counts(page)
    page.get_by_role("button", name="Look now").press("Enter")
    page.wait_for_function(
        "before => document.querySelector('.sk-wall-counts').innerText !== before",
        arg=before.strip(), timeout=30_000,
    )  # fmt: skip


def test_wall_loads_a_file_at_the_page_and_keeps_it(opened, folder, tmp_path):
    page = opened.page
    name, content = demo_rooms()[0]
    path = tmp_path / "late.csv"
    path.write_bytes(content.replace(b"Blue table", b"Late table"))
    page.locator("input[type=file]").set_input_files(path)
    wait_for(page, ".sk-wall-tools", "On the wall: late.csv")
    wait_for(page, ".sk-wall-counts", "9 rooms on the wall")
    assert any(one.startswith("late kept-") for one in os.listdir(folder))
    assert name in os.listdir(folder)


def test_drop_sends_a_file_that_appears_on_the_wall(
    opened, folder, voila_page, notebook_of, tmp_path
):
    drop = voila_page(notebook_of("drop", DROP), viewport={"width": 390, "height": 844})
    page = drop.page
    button = page.get_by_role("button", name="Send our records to the wall")
    button.wait_for(timeout=60_000)
    assert "Nothing is sent before you press" in page.locator(".sk-board").inner_text()
    path = tmp_path / "ours.csv"
    path.write_bytes(demo_rooms()[2][1])
    page.locator("input[type=file]").set_input_files(path)
    wait_for(page, ".sk-board", "12 plots are ready to be sent.")
    field = page.locator("[data-key='group'] input")
    field.fill("Gärtner 7")
    field.press("Tab")
    before = set(os.listdir(folder))
    button.click()
    wait_for(page, ".sk-board", "Sent as Gärtner 7: 12 plots")
    (sent,) = set(os.listdir(folder)) - before
    assert sent.startswith("Gärtner 7 wall-")
    wait_for(opened.page, ".sk-wall-files", "Gärtner 7")
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
    assert drop.outside_requests == []
    drop.screenshot("drop-390")


def test_wall_fits_a_phone(voila_page, notebook_of, folder):
    wall = voila_page(
        notebook_of("wall_phone", WALL), viewport={"width": 390, "height": 844}
    )  # fmt: skip
    wall.page.wait_for_selector(f"{CHART} figure svg", timeout=60_000)
    assert wall.page.evaluate("document.documentElement.scrollWidth") <= 390
    wall.screenshot("wall-390")
