"""Servers, a chromium, and pages in it that several tests use."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import nbformat
import pytest
from open_page import OpenPage, chromium_path, give_up, watch

CHROMIUM_ARGUMENTS = [
    "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
    "--disable-background-networking", "--disable-component-update", "--disable-sync",
]  # fmt: skip
START_MS = 90_000
ROOM_PATIENCE_MS = 120_000
MOST_PAGES = 40


@pytest.fixture(scope="module")
def chromium() -> Iterator[Any]:
    """A running chromium; with it ends the event loop that would forbid later tests their own."""
    try:
        from playwright.sync_api import Error, sync_playwright
    except ImportError:
        give_up("playwright is not installed")
    with sync_playwright() as playwright:
        try:
            browser = playwright.chromium.launch(
                executable_path=chromium_path(), args=CHROMIUM_ARGUMENTS
            )
        except Error as error:
            give_up(f"chromium cannot be started: {str(error).splitlines()[0]}")
        yield browser
        browser.close()


@pytest.fixture(scope="session")
def served() -> Iterator[Callable[[Path | None], str]]:
    """A function that serves a notebook and returns its address: the board of a room for None."""
    from scenariokit.serve import BoardServer, RoomWish, ServeError

    servers: dict[Path | None, Any] = {}

    def address(notebook: Path | None) -> str:
        if notebook not in servers:
            try:
                if notebook is None:
                    server = BoardServer(port=0, room=RoomWish(people=MOST_PAGES, ready=0))
                else:
                    server = BoardServer(notebook, port=0)
                    # One person's server takes twelve; a file of tests opens more, one by one.
                    server.limits = replace(server.limits, people=MOST_PAGES)
            except ServeError as error:
                give_up(str(error))
            server.start()
            servers[notebook] = server
        return servers[notebook].url + ("board" if notebook is None else "")

    yield address
    for server in servers.values():
        server.stop()


@pytest.fixture(scope="module")
def voila_page(
    chromium: Any, served: Callable[[Path | None], str]
) -> Iterator[Callable[..., OpenPage]]:
    """A function that opens a notebook as a page, cut off from every other host."""
    contexts = []

    def open_page(notebook: Path | None = None, query: str = "", **context: Any) -> OpenPage:
        made = chromium.new_context(
            **{"viewport": {"width": 1280, "height": 900}, "accept_downloads": True, **context}
        )
        made.set_default_timeout(20_000)
        contexts.append(made)
        opened = OpenPage(made.new_page(), served(notebook) + query)
        watch(made, opened)
        opened.page.goto(opened.url, timeout=START_MS, wait_until="domcontentloaded")
        opened.page.wait_for_selector("#rendered_cells", state="visible", timeout=START_MS)
        return opened

    yield open_page
    for one in contexts:
        for page in one.pages:
            page.goto("about:blank")  # the page says goodbye, and its board is given back
        one.close()


@pytest.fixture(scope="module")
def room() -> Iterator[Any]:
    """A room for a few people."""
    from scenariokit.serve import BoardServer, RoomWish, ServeError

    try:
        server = BoardServer(port=0, room=RoomWish(people=8, ready=1))
    except ServeError as error:
        give_up(str(error))
    with server:
        yield server


@pytest.fixture
def visit(chromium: Any, room: Any) -> Iterator[Callable[..., OpenPage]]:
    """A function that opens a page of the room in a browser of its own."""
    contexts = []

    def go(path: str = "", address: str = "", **context: Any) -> OpenPage:
        made = chromium.new_context(**{"viewport": {"width": 1280, "height": 900}, **context})
        made.set_default_timeout(ROOM_PATIENCE_MS)
        contexts.append(made)
        opened = OpenPage(made.new_page(), (address or room.url) + path)
        watch(made, opened)
        opened.page.goto(opened.url, wait_until="domcontentloaded")
        return opened

    yield go
    for one in contexts:
        for page in one.pages:
            page.goto("about:blank")  # says goodbye, so that its board ends
        one.close()


def write_notebook(path: Path, *cells: str) -> Path:
    """Write a notebook of code cells."""
    book = nbformat.v4.new_notebook(
        cells=[nbformat.v4.new_code_cell(cell) for cell in cells],
        metadata={
            "kernelspec": {"display_name": "Python 3", "language": "python", "name": "python3"},
            "title": path.stem,
        },
    )
    nbformat.write(book, path)
    return path


@pytest.fixture(scope="session")
def notebook_of(tmp_path_factory: pytest.TempPathFactory) -> Callable[..., Path]:
    """A function that writes code cells into a new notebook and returns its path."""

    def write(name: str, *cells: str) -> Path:
        return write_notebook(tmp_path_factory.mktemp(name) / f"{name}.ipynb", *cells)

    return write
