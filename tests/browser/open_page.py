"""A page in a browser: what it asked for, what went wrong, and what to do without a browser."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import urlsplit

import pytest

TOKEN = "openSesame42"  # noqa: S105 - of a room that lives as long as the tests
INSIDE = ("127.0.0.1", "localhost", "::1", "")


@dataclass
class OpenPage:
    """A page and what it did."""

    page: Any
    url: str
    outside_requests: list[str] = field(default_factory=list)
    console_errors: list[str] = field(default_factory=list)

    def screenshot(self, name: str, part: str = "") -> None:
        """Keep a picture of the page, or of a part of it, where the environment says so."""
        folder = os.environ.get("SCENARIOKIT_SCREENSHOTS")
        if folder:
            Path(folder).mkdir(parents=True, exist_ok=True)
            path = str(Path(folder) / f"{name}.png")
            if part:  # the page scrolls in a box of its own: only what is in the window is drawn
                shown, box = self.page.viewport_size, self.page.locator(part).bounding_box()
                self.page.set_viewport_size({**shown, "height": 2 * int(box["height"])})
                self.page.locator(part).screenshot(path=path)
                self.page.set_viewport_size(shown)
            else:
                self.page.screenshot(path=path, full_page=True)

    def updates(self, chart: str) -> int:
        """Return how often the chart inside `chart` was brought up to date."""
        return int(self.page.locator(f"{chart} figure").get_attribute("data-updates") or 0)

    def after_update(self, chart: str, act: Callable[[], Any]) -> None:
        """Do `act` and wait until the chart inside `chart` shows its consequence."""
        before = self.updates(chart)
        act()
        self.wait_for_update(chart, before)

    def wait_for_update(self, chart: str, before: int) -> None:
        """Wait until the chart inside `chart` was brought up to date more often than `before`."""
        self.page.wait_for_function(
            "([chart, before]) =>"
            " Number(document.querySelector(`${chart} figure`).dataset.updates) > before",
            arg=[chart, before],
        )


def watch(context: Any, opened: OpenPage) -> None:
    """Block and note what goes outside; note what goes wrong."""

    def inside(address: str) -> bool:
        parts = urlsplit(address)
        return parts.scheme in ("data", "blob") or (parts.hostname or "") in INSIDE

    def route(one: Any) -> None:
        if inside(one.request.url):
            one.continue_()
        else:
            opened.outside_requests.append(one.request.url)
            one.abort()

    def socket(one: Any) -> None:
        if not inside(one.url):
            opened.outside_requests.append(one.url)

    def console(message: Any) -> None:
        if message.type == "error":
            opened.console_errors.append(message.text)

    context.route("**/*", route)
    opened.page.on("websocket", socket)
    opened.page.on("console", console)
    opened.page.on("pageerror", lambda error: opened.console_errors.append(str(error)))


def chromium_path() -> str | None:
    """Return where chromium is, if anywhere."""
    named = os.environ.get("SCENARIOKIT_CHROMIUM")
    names = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable")
    return named or next((path for name in names if (path := shutil.which(name))), None)


def give_up(reason: str) -> None:
    """Skip, or fail where a missing browser means that nothing was tested."""
    if os.environ.get("CI", "").lower() in ("1", "true"):
        pytest.fail(f"{reason}; browser tests must run here")
    pytest.skip(reason)
