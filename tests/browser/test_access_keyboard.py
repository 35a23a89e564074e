"""The board without a mouse: what Tab reaches, what keys do, what a screen reader is told."""

from __future__ import annotations

from itertools import pairwise
from typing import Any

import pytest

pytestmark = pytest.mark.browser

DRAWN = "figure.sk-figure[data-updates]"
SPOKEN = ".sk-guide [role=status]"
REACHED = """() => {
  const one = document.activeElement;
  if (!one || one === document.body) return null;
  const box = one.getBoundingClientRect(), style = getComputedStyle(one);
  const x = Math.min(Math.max(box.left + box.width / 2, 1), innerWidth - 2);
  const y = Math.min(Math.max(box.top + Math.min(box.height / 2, 20), 1), innerHeight - 2);
  const hit = document.elementFromPoint(x, y);
  return {
    name: `${one.tagName} ${one.id || one.className} ${one.ariaLabel ?? one.textContent}`.slice(0, 90),
    ring: style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2,
    seen: Boolean(hit) && (one.contains(hit) || hit.contains(one) ||
      [...(one.labels ?? [])].some((label) => label.contains(hit))),
    index: [...document.querySelectorAll("*")].indexOf(one),
  };
}"""
CONTROLS = """() => [...document.querySelectorAll(
    ".sk-board :is(input, select, textarea, button, summary, a[href], [tabindex='0'])")]
  .filter((one) => one.checkVisibility() && !one.disabled && !one.closest("svg"))
  .filter((one) => one.type !== "radio" || one.checked).length"""


@pytest.fixture(scope="module")
def opened(voila_page: Any) -> Any:
    return voila_page().page


@pytest.fixture
def board(opened: Any) -> Any:
    """The one board of this file, loaded anew: Tab starts at the top and nothing is unfolded."""
    opened.set_viewport_size({"width": 1280, "height": 900})
    opened.reload(wait_until="domcontentloaded")
    opened.wait_for_selector(DRAWN, timeout=90_000)
    opened.locator("input[type=radio][value=methods]").check()
    opened.wait_for_selector(f".sk-view-methods {DRAWN}", timeout=60_000)
    opened.wait_for_timeout(1500)  # by then the page knows what to compare with
    return opened


def walked(page: Any) -> list[dict[str, Any]]:
    """Return what Tab reaches from the top of the page to its end."""
    found: list[dict[str, Any]] = []
    for _ in range(400):
        page.keyboard.press("Tab")
        one = page.evaluate(REACHED)
        if one is None:
            return found
        found.append(one)
    raise AssertionError("Tab does not come to an end")


@pytest.mark.parametrize("width", [1280, 320])
def test_tab_reaches_every_control_in_order_with_a_ring_that_is_seen(
    board: Any, width: int
) -> None:
    board.set_viewport_size({"width": width, "height": 800})
    board.wait_for_timeout(1000)
    board.evaluate("document.activeElement.blur()")
    found = walked(board)
    assert found[0]["name"].startswith("A sk-skip")
    assert [one["name"] for one in found if not one["ring"]] == []
    assert [one["name"] for one in found if not one["seen"]] == []
    places = [one["index"] for one in found]
    assert places == sorted(set(places))
    assert len(found) >= board.evaluate(CONTROLS)


def test_skip_link_leads_past_the_controls_and_leaves_the_address(board: Any) -> None:
    board.evaluate("document.activeElement.blur()")
    before = board.url
    board.keyboard.press("Tab")
    board.keyboard.press("Enter")
    assert board.evaluate("document.activeElement.classList.contains('sk-results')")
    assert board.url == before
    board.keyboard.press("Tab")
    assert board.evaluate("document.activeElement.closest('.sk-results') !== null")


def test_arrows_home_end_and_pages_move_sliders_and_views(board: Any) -> None:
    slider = board.locator("[id='sk-common-prices-labour_price-slider']")
    low, high = float(slider.get_attribute("min")), float(slider.get_attribute("max"))
    value = lambda: float(slider.input_value())  # noqa: E731 - asked again after each key
    slider.focus()
    board.keyboard.press("Home")
    assert value() == low
    board.keyboard.press("ArrowRight")
    one = value()
    board.keyboard.press("PageUp")
    assert low < one < value() < high
    board.keyboard.press("End")
    assert value() == high
    board.locator("input[type=radio][value=methods]").focus()
    board.keyboard.press("ArrowRight")
    board.wait_for_selector(".sk-view-choice figure[data-updates]", timeout=60_000)
    assert board.locator("input[type=radio][value=choice]").is_checked()


def test_enter_opens_and_escape_closes(board: Any) -> None:
    more = board.locator("#sk-common .sk-field-more, .sk-controls .sk-field-more").first
    more.focus()
    board.keyboard.press("Enter")
    told = board.locator(f"[id='{more.get_attribute('aria-controls')}']")
    assert told.is_visible()
    assert more.get_attribute("aria-expanded") == "true"
    board.keyboard.press("Escape")
    assert not told.is_visible()
    assert more.get_attribute("aria-expanded") == "false"
    twin = board.locator("details.sk-twin > summary").first
    twin.focus()
    board.keyboard.press("Enter")
    board.locator("details.sk-twin table").first.wait_for(state="visible")


def test_arrow_keys_mark_a_method_in_the_charts(board: Any) -> None:
    plot = board.locator(".sk-plot[tabindex='0']").first
    assert "arrow keys" in plot.get_attribute("aria-label")
    focus = board.locator("#sk-tool-focus")
    before = focus.input_value()
    plot.focus()
    board.keyboard.press("ArrowRight")
    board.keyboard.press("ArrowRight")
    board.wait_for_function(
        "before => document.querySelector('#sk-tool-focus').value !== before", arg=before
    )
    assert board.evaluate("document.activeElement.classList.contains('sk-plot')")


def test_result_is_said_once_after_a_slider_rests(board: Any) -> None:
    board.evaluate(
        "selector => { window.said = []; new MutationObserver(() => window.said.push("
        "document.querySelector(selector).textContent)).observe("
        "document.querySelector(selector), {childList: true, characterData: true}); }",
        SPOKEN,
    )
    slider = board.locator("[id='sk-common-prices-labour_price-slider']")
    slider.focus()
    for _ in range(12):
        board.keyboard.press("ArrowLeft")
        board.wait_for_timeout(60)
    board.keyboard.press("Home")
    board.wait_for_function("selector => document.querySelector(selector).textContent", arg=SPOKEN)
    board.wait_for_timeout(2500)
    (said,) = board.evaluate("window.said")
    assert said == board.locator(".sk-says li").first.inner_text().strip()


def test_page_has_landmarks_headings_in_order_and_names_for_all(board: Any) -> None:
    for view in ("methods", "choice", "water", "feed"):
        board.locator(f"input[type=radio][value={view}]").check()
        board.wait_for_selector(f".sk-view-{view} figure[data-updates]", timeout=60_000)
        levels = board.evaluate(
            "() => [...document.querySelectorAll('h1,h2,h3,h4,h5,h6')]"
            ".filter(one => one.checkVisibility()).map(one => Number(one.tagName[1]))"
        )
        assert [place for place, level in enumerate(levels) if level == 1] == [0]
        assert max(later - earlier for earlier, later in pairwise(levels)) == 1
    assert board.get_by_role("main").count() == 1
    for name in ("Controls", "Results"):
        assert board.get_by_role("region", name=name, exact=True).count() == 1
    live = board.evaluate(
        "() => [...document.querySelectorAll('.sk-results [aria-live], .sk-results [role=status]')]"
        ".filter(one => one.checkVisibility() && !one.closest('.sk-file')).length"
    )
    assert live == 0
    assert board.locator(SPOKEN).count() == 1
    named = board.evaluate(
        "() => [...document.querySelectorAll('figure.sk-figure')].every(one => one.ariaLabel?.length > 20)"
    )
    assert named


def test_error_is_an_alert_tied_to_its_box(board: Any) -> None:
    box = board.locator("[id='sk-common-prices-interest_rate']")
    box.fill("999")
    box.press("Tab")
    error = board.locator("[id='sk-common-prices-interest_rate-error']")
    error.wait_for(state="visible")
    assert error.get_attribute("role") == "alert"
    assert error.inner_text()
    assert error.get_attribute("id") in box.get_attribute("aria-describedby").split()
    assert box.get_attribute("aria-invalid") == "true"
