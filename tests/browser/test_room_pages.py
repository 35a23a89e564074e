"""A room in a real browser: lobby, board, and the bar that says how the connection stands."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from conftest import OpenPage, give_up, watch

pytestmark = pytest.mark.browser
PATIENCE_MS = 120_000
CHART = ".sk-charts figure"
BAR = "#scenariokit-status:not([hidden])"


@pytest.fixture(scope="module")
def room() -> Iterator[Any]:
    """A room for a few people."""
    from scenariokit.serve import BoardServer, RoomWish, ServeError

    try:
        server = BoardServer(port=0, room=RoomWish(people=4, ready=1))
    except ServeError as error:
        give_up(str(error))
    with server:
        yield server


@pytest.fixture
def visit(chromium: Any, room: Any) -> Iterator[Callable[..., OpenPage]]:
    """A function that opens a page of the room in a browser of its own."""
    contexts = []

    def go(path: str = "", **context: Any) -> OpenPage:
        made = chromium.new_context(**{"viewport": {"width": 1280, "height": 900}, **context})
        made.set_default_timeout(PATIENCE_MS)
        contexts.append(made)
        opened = OpenPage(made.new_page(), room.url + path)
        watch(made, opened)
        opened.page.goto(opened.url, timeout=PATIENCE_MS, wait_until="domcontentloaded")
        return opened

    yield go
    for one in contexts:
        one.close()


def kernels_of(process: int) -> list[int]:
    """Return the forked kernels of a server."""

    def below(parent: int) -> list[int]:
        listed = Path(f"/proc/{parent}/task/{parent}/children")
        return [int(one) for one in listed.read_text().split()] if listed.exists() else []

    return [kernel for child in below(process) for kernel in below(child)]


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


def test_language_goes_from_browser_and_choice_to_the_page(visit: Callable[..., OpenPage]) -> None:
    opened = visit("", locale="es-MX")
    assert opened.page.evaluate("document.documentElement.lang") == "es-MX"
    opened.page.select_option("#language", "fr")
    opened.page.locator("form button").click()
    opened.page.wait_for_function("document.documentElement.lang === 'fr'")
    opened.page.locator("a.button").first.click()
    opened.page.wait_for_selector(CHART)
    assert opened.page.evaluate("document.documentElement.lang") == "fr"


@pytest.mark.skipif(not Path("/proc/self/task").exists(), reason="finds kernels under /proc")
def test_killed_kernel_shows_a_message_and_a_new_board_on_reload(
    visit: Callable[..., OpenPage], room: Any
) -> None:
    opened = visit("board?language=en")
    page = opened.page
    page.wait_for_selector(CHART)
    for kernel in kernels_of(room.process_id):
        os.kill(kernel, signal.SIGKILL)
    page.wait_for_selector(BAR)
    assert "ended by a fault" in page.inner_text(BAR)
    opened.screenshot("room_kernel_died")
    page.get_by_role("button", name="Load the page again").click()
    page.wait_for_selector(CHART)
    assert page.locator(BAR).count() == 0


def test_two_tabs_and_the_back_button_give_boards_of_their_own(
    visit: Callable[..., OpenPage],
) -> None:
    opened = visit("?language=en")
    first = opened.page
    first.locator("a.button").first.click()
    first.wait_for_selector(CHART)
    second = first.context.new_page()
    second.goto(opened.url.partition("?")[0] + "board?language=en", timeout=PATIENCE_MS)
    second.wait_for_selector(CHART)

    def kernel(page: Any) -> str:
        return str(
            page.evaluate(
                "JSON.parse(document.getElementById('jupyter-config-data').textContent).kernelId"
            )
        )

    before = kernel(first)
    assert before != kernel(second)
    first.go_back()
    first.wait_for_selector("#state")
    first.go_forward()
    first.wait_for_selector(CHART)
    assert kernel(first) != before
    assert second.locator(BAR).count() == 0


def test_stopped_server_is_told_and_a_new_one_is_found(chromium: Any) -> None:
    from scenariokit.serve import BoardServer, RoomWish

    wish = RoomWish(people=2, ready=0, token="openSesame42")  # noqa: S106 - for this test only
    server = BoardServer(port=0, room=wish)
    server.start()
    again: Any = None
    context = chromium.new_context()
    context.set_default_timeout(PATIENCE_MS)
    try:
        page = context.new_page()
        page.goto(server.url)
        page.goto(f"http://127.0.0.1:{server.port}/board?language=en", timeout=PATIENCE_MS)
        page.wait_for_selector(CHART)
        server.stop()
        page.wait_for_selector(f"{BAR}[data-state=stopped]")
        again = BoardServer(port=server.port, room=wish)
        again.start()
        page.wait_for_selector(f"{BAR}[data-state=back]")
        page.get_by_role("button", name="Load the page again").click()
        page.wait_for_selector(CHART)
        assert page.locator(BAR).count() == 0
    finally:
        context.close()
        server.stop()
        if again is not None:
            again.stop()
