"""The board on small pages, with wide letters, by touch, in a person's own colours, and on paper."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

import pytest

pytestmark = pytest.mark.browser

VIEWS = ("methods", "choice", "water", "feed")
TRIALS = """() => {
  const width = document.documentElement.clientWidth;
  const shown = [...document.querySelectorAll(".sk-board *")]
    .filter((one) => one.checkVisibility() && !one.closest("svg, .sk-guide"));
  const scrolls = (one) => {
    for (let box = one.parentElement; box && !box.classList.contains("sk-board"); box = box.parentElement) {
      if (["auto", "scroll"].includes(getComputedStyle(box).overflowX)) return true;
    }
    return false;
  };
  const named = (one) => `${one.tagName}.${one.className} ${one.textContent.slice(0, 40)}`;
  const clips = (one) => ["hidden", "clip"].includes(getComputedStyle(one).overflowX);
  const bigger = (one) => one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1;
  const target = (one) => (["checkbox", "radio"].includes(one.type) ? one.closest("label") : one);
  return {
    page: document.documentElement.scrollWidth - width,
    outside: shown.filter((one) => one.getBoundingClientRect().right > width + 1 && !scrolls(one)).map(named),
    cut: shown.filter((one) => clips(one) && bigger(one) && !one.matches(".sk-unseen, table")).map(named),
    words: [...document.querySelectorAll(".sk-board figure svg")].filter((one) => one.checkVisibility())
      .flatMap((svg) => [...svg.querySelectorAll("text")].filter((text) => text.textContent &&
        text.getAttribute("opacity") !== "0" &&
        text.getBoundingClientRect().right > svg.getBoundingClientRect().right + 1.5))
      .map((text) => text.textContent),
    small: shown.filter((one) => one.matches("button, input, select, textarea, summary, a[href]"))
      .filter((one) => { const box = target(one).getBoundingClientRect(); return box.width < 24 || box.height < 24; })
      .map(named),
    cells: shown.filter((one) => one.matches("button, label, summary") && bigger(one)).map(named),
  };
}"""
NOTHING: dict[str, Any] = {
    "page": 0, "outside": [], "cut": [], "words": [], "small": [], "cells": [],
}  # fmt: skip
WIDE_LETTERS = """* { line-height: 1.5 !important; letter-spacing: 0.12em !important;
  word-spacing: 0.16em !important; } p { margin-bottom: 2em !important; }"""


def open_view(page: Any, view: str) -> None:
    """Open a view of the board and wait for its charts."""
    page.locator(f"input[type=radio][value={view}]").check()
    page.wait_for_selector(f".sk-view-{view} figure[data-updates]", timeout=90_000)


def settled(page: Any, width: int) -> None:
    """Give the page a width and time to follow it."""
    page.set_viewport_size({"width": width, "height": 800})
    page.wait_for_timeout(1500)


@pytest.fixture
def board(voila_page: Callable[..., Any]) -> Callable[..., Any]:
    """A function that opens the board in a language."""

    def open_board(code: str = "en", **context: Any) -> Any:
        opened = voila_page(None, f"?language={code}", **context)
        opened.page.wait_for_selector("figure[data-updates]", timeout=90_000)
        return opened

    return open_board


@pytest.mark.parametrize("code", ["fr", "es"])
def test_views_fit_a_page_of_640_and_of_320_pixels(board: Any, code: str) -> None:
    opened = board(code)
    page = opened.page
    for view in VIEWS:
        open_view(page, view)
        for width in (640, 320):
            settled(page, width)
            assert {**page.evaluate(TRIALS), "view": view, "width": width} == {
                **NOTHING, "view": view, "width": width,
            }  # fmt: skip
        settled(page, 1280)


def test_wide_letters_and_lines_cut_nothing(board: Any) -> None:
    page = board("fr").page
    page.add_style_tag(content=WIDE_LETTERS)
    for width in (1280, 320):
        settled(page, width)
        found = page.evaluate(TRIALS)
        expected = {key: NOTHING[key] for key in ("page", "outside", "cut", "cells")}
        assert {"width": width, **{key: found[key] for key in expected}} == {
            "width": width, **expected,
        }  # fmt: skip


def test_slider_follows_a_finger_across_and_lets_the_page_scroll_down(board: Any) -> None:
    page = board(has_touch=True, viewport={"width": 390, "height": 800}).page
    slider = page.locator("[id='sk-common-prices-labour_price-slider']")
    slider.scroll_into_view_if_needed()
    page.evaluate(
        "() => document.querySelector('[id=\"sk-common-prices-labour_price-slider\"]').scrollIntoView({block: 'center'})"
    )
    page.wait_for_timeout(500)
    protocol = page.context.new_cdp_session(page)

    def swipe(across: int, down: int) -> None:
        box = slider.bounding_box()
        x, y = box["x"] + box["width"] * 0.5, box["y"] + box["height"] / 2
        protocol.send(
            "Input.dispatchTouchEvent", {"type": "touchStart", "touchPoints": [{"x": x, "y": y}]}
        )
        for part in range(1, 11):
            point = {"x": x + across * part / 10, "y": y + down * part / 10}
            protocol.send("Input.dispatchTouchEvent", {"type": "touchMove", "touchPoints": [point]})
        protocol.send("Input.dispatchTouchEvent", {"type": "touchEnd", "touchPoints": []})
        page.wait_for_timeout(600)

    top = slider.bounding_box()["y"]
    swipe(60, 0)
    moved = float(slider.input_value())
    assert moved > 0
    assert abs(slider.bounding_box()["y"] - top) < 2
    swipe(0, -250)
    assert slider.bounding_box()["y"] < top - 100
    assert float(slider.input_value()) == moved
    assert slider.evaluate("one => getComputedStyle(one).touchAction") == "pan-y"


def test_own_colours_less_motion_and_dark_wishes_leave_the_page_readable(board: Any) -> None:
    page = board(forced_colors="active", reduced_motion="reduce", color_scheme="dark").page
    assert page.evaluate("document.getAnimations().length") == 0
    assert page.evaluate("matchMedia('(forced-colors: active)').matches")
    plot = page.locator(".sk-plot").first
    assert plot.evaluate("one => getComputedStyle(one).backgroundColor") == "rgb(255, 255, 255)"
    tab = page.locator(".sk-tab:has(input:checked)").first
    assert tab.evaluate("one => getComputedStyle(one).outlineStyle") == "solid"
    page.emulate_media(forced_colors="none")
    colours = page.evaluate(
        "() => ['.sk-board', '.sk-panel select'].map(name => {"
        " const style = getComputedStyle(document.querySelector(name));"
        " return [style.color, style.backgroundColor, style.colorScheme]; })"
    )
    assert [one[:2] for one in colours] == [["rgb(29, 43, 42)", "rgb(255, 255, 255)"]] * 2
    assert colours[0][2] == "light"


def test_page_prints_whole_and_without_its_controls(board: Any) -> None:
    page = board().page
    printed = page.pdf(format="A4")
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) >= 3
    page.emulate_media(media="print")
    assert not page.locator(".sk-controls").is_visible()
    assert not page.locator(".sk-toolbar").is_visible()
    assert page.locator(".sk-view-methods .sk-table").first.is_visible()
