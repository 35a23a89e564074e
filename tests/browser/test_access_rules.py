"""Every page against the rules of WCAG 2.2 AA that a program can test, by axe-core."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.browser

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SERIOUS = ("serious", "critical")
OFFERED = Path(__file__).parent.parent.parent / "scenariokit" / "serve"
PAGES = {"board": None, "trial": OFFERED / "trial.ipynb", "planner": OFFERED / "planner.ipynb"}


def findings(page: Any) -> list[str]:
    """Return each serious finding with the places it was found at."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}}).response
    return [
        f"{one['impact']} {one['id']}: {one['help']} at {node['target']} {node['html'][:160]}"
        for one in found["violations"]
        for node in one["nodes"][:4]
        if one["impact"] in SERIOUS
    ]


def ready(page: Any) -> None:
    """Wait until the charts in sight are drawn."""
    page.wait_for_function(
        "() => { const all = [...document.querySelectorAll('figure.sk-figure')]"
        ".filter(one => one.offsetParent); return all.length > 0"
        " && all.every(one => +(one.dataset.updates ?? 0) > 0); }",
        timeout=60_000,
    )


@pytest.mark.parametrize("width", [1280, 320])
@pytest.mark.parametrize("name", list(PAGES))
def test_page_has_no_serious_finding(voila_page: Any, name: str, width: int) -> None:
    opened = voila_page(PAGES[name], viewport={"width": width, "height": 800})
    ready(opened.page)
    opened.screenshot(f"access-{name}-{width}")
    assert findings(opened.page) == []


@pytest.mark.parametrize("view", ["choice", "water", "feed"])
def test_view_of_the_board_has_no_serious_finding(voila_page: Any, view: str) -> None:
    opened = voila_page()
    ready(opened.page)
    opened.page.locator(f"input[type=radio][value={view}]").first.check(force=True)
    opened.page.wait_for_timeout(1500)
    ready(opened.page)
    assert findings(opened.page) == []
