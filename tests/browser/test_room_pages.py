"""A room in a real browser: the lobby, and the board that it leads to."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pytest
from open_page import OpenPage

pytestmark = pytest.mark.browser
CHART = ".sk-charts figure"
BAR = "#scenariokit-status:not([hidden])"


def test_lobby_at_320_pixels_fits_and_leads_to_a_board(visit: Callable[..., OpenPage]) -> None:
    opened = visit("?language=en", viewport={"width": 320, "height": 640})
    page = opened.page
    assert page.evaluate("document.documentElement.scrollWidth") <= 320
    assert page.get_by_role("main").count() == page.get_by_role("heading", level=1).count() == 1
    assert page.get_by_role("img").get_attribute("aria-label")
    opened.screenshot("room_lobby_320")
    page.set_viewport_size({"width": 1280, "height": 900})
    opened.screenshot("room_lobby")
    page.get_by_role("link", name="Start: Comparison board").click()
    page.wait_for_selector(CHART)
    assert page.evaluate("document.documentElement.lang") == "en"
    assert page.locator(BAR).count() == 0
    assert page.get_by_role("main").count() == 1
    assert opened.outside_requests == []
    assert opened.console_errors == []


@pytest.mark.parametrize(
    ("page", "said"), [("board", "Métodos que se comparan"), ("trial", "Parcelas")]
)
def test_page_is_in_the_language_that_the_browser_prefers(
    visit: Callable[..., OpenPage], page: str, said: str
) -> None:
    opened = visit(page, locale="es-MX")
    opened.page.wait_for_selector("figure svg")
    assert opened.page.evaluate("document.documentElement.lang") == "es-MX"  # said by the kernel
    assert said in opened.page.locator("body").inner_text()
    opened.screenshot(f"room-{page}-es")


def test_language_goes_from_browser_and_choice_to_the_page(visit: Callable[..., OpenPage]) -> None:
    opened = visit("", locale="es-MX")
    assert opened.page.evaluate("document.documentElement.lang") == "es-MX"
    opened.page.select_option("#language", "fr")
    opened.page.locator("form button").click()
    opened.page.wait_for_function("document.documentElement.lang === 'fr'")
    opened.page.locator("a.button").first.click()
    opened.page.wait_for_selector(CHART)
    assert opened.page.evaluate("document.documentElement.lang") == "fr"


def test_page_code_that_does_not_arrive_at_first_is_asked_for_again(
    voila_page: Callable[..., OpenPage],
) -> None:
    opened = voila_page()
    asked: list[str] = []

    def lose(route: Any) -> None:
        asked.append(route.request.url)
        if "again=1" in route.request.url:
            route.continue_()
        else:
            route.abort()

    opened.page.route("**/room/code/**", lose)
    opened.page.reload()
    opened.page.wait_for_selector(f"{CHART}[data-updates]")
    for name in ("engine", "chart_view", "field_panel"):
        assert sum(f"/{name}-" in url and url.endswith("?again=1") for url in asked) == 1, asked
