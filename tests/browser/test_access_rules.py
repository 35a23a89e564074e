"""Every page against the rules of WCAG 2.2 AA that a program can test, by axe-core.

No finding of any weight is let through. One is excepted: the three sentences for one
who finds no place ask again by themselves every 20 seconds, and say so; nothing on that
page can be lost, and waiting is all that it is for.
"""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest
from open_page import TOKEN

pytestmark = pytest.mark.browser

TAGS = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
OFFERED = Path(__file__).parent.parent.parent / "scenariokit" / "serve"
LESSON = Path(__file__).parent.parent.parent / "notebooks" / "01_yield.ipynb"
PAGES = {"board": None, "trial": OFFERED / "trial.ipynb", "planner": OFFERED / "planner.ipynb"}


def findings(page: Any) -> list[str]:
    """Return each finding with the places it was found at."""
    from axe_playwright_python.sync_playwright import Axe

    found = Axe().run(page, options={"runOnly": {"type": "tag", "values": TAGS}}).response
    return [
        f"{one['impact']} {one['id']}: {one['help']} at {node['target']} {node['html'][:160]}"
        for one in found["violations"]
        for node in one["nodes"][:4]
    ]


def ready(page: Any) -> None:
    """Wait until the charts in sight are drawn."""
    page.wait_for_function(
        "() => { const all = [...document.querySelectorAll('figure.sk-figure')]"
        ".filter(one => one.offsetParent); return all.length > 0"
        " && all.every(one => +(one.dataset.updates ?? 0) > 0); }",
        timeout=60_000,
    )


def findings_at_both_sizes(opened: Any, name: str) -> dict[int, list[str]]:
    """Return the findings of a page on a wide screen and on a narrow one."""
    ready(opened.page)
    found = {}
    for width in (1280, 320):
        opened.page.set_viewport_size({"width": width, "height": 800})
        opened.page.wait_for_timeout(1000)
        opened.screenshot(f"access-{name}-{width}")
        found[width] = findings(opened.page)
    return found


@pytest.mark.parametrize("name", [*PAGES, "lesson"])
def test_page_has_no_finding(voila_page: Any, name: str) -> None:
    opened = voila_page(PAGES.get(name, LESSON))
    assert findings_at_both_sizes(opened, name) == {1280: [], 320: []}


def test_board_that_opens_on_a_phone_has_no_finding(voila_page: Any) -> None:
    opened = voila_page(viewport={"width": 320, "height": 640})
    ready(opened.page)
    assert findings(opened.page) == []


def test_other_views_of_the_board_have_no_finding(voila_page: Any) -> None:
    page = voila_page().page
    ready(page)
    for view in ("choice", "water", "feed"):
        page.locator(f"input[type=radio][value={view}]").first.check(force=True)
        page.wait_for_timeout(1500)
        ready(page)
        assert (view, findings(page)) == (view, [])


def test_results_wall_has_no_finding(
    voila_page: Any, notebook_of: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from scenariokit.environment import WALL_VARIABLE
    from scenariokit.trials.demo_rooms import demo_rooms

    for name, content in demo_rooms():
        (tmp_path / name).write_bytes(content)
    monkeypatch.setenv(WALL_VARIABLE, str(tmp_path))
    wall = "from scenariokit.widgets import open_wall\nopen_wall(seconds=1)"
    opened = voila_page(notebook_of("wall_access", wall))
    opened.page.wait_for_selector(".sk-wall-chart figure svg", timeout=90_000)
    opened.page.wait_for_timeout(2000)
    assert findings(opened.page) == []


def test_lobby_and_plain_pages_of_a_room_have_no_finding(chromium: Any) -> None:
    from scenariokit.serve import BoardServer, RoomWish

    wish = RoomWish(people=2, ready=0, token=TOKEN, forks=False)
    with BoardServer(port=0, room=wish) as server:
        context = chromium.new_context(viewport={"width": 320, "height": 640})
        page = context.new_page()
        page.goto(f"http://127.0.0.1:{server.port}/?token=wrong&language=en")
        assert page.get_by_role("heading", level=1).count() == 1
        assert findings(page) == []
        page.goto(server.url)
        assert page.locator("#state").count() == 1
        assert findings(page) == []
        context.close()


@pytest.mark.parametrize("why", ["full", "memory", "stopping"])
def test_page_for_one_who_finds_no_place_has_no_finding(chromium: Any, why: str) -> None:
    from scenariokit.serve.pages import full_page

    (found,) = findings_of_text(chromium, full_page(why, 20))
    assert found.startswith("critical meta-refresh")


def findings_of_text(chromium: Any, text: str) -> list[str]:
    """Return the findings of a page that is handed out as a file."""
    context = chromium.new_context(viewport={"width": 1280, "height": 900})
    page = context.new_page()
    page.set_content(text)
    page.wait_for_timeout(1500)
    found = findings(page)
    context.close()
    return found


@pytest.mark.parametrize("kind", ["standalone", "sheet", "worksheet"])
def test_file_that_is_handed_out_has_no_finding(chromium: Any, kind: str) -> None:
    assert findings_of_text(chromium, handed_out(kind)) == []


def handed_out(kind: str) -> str:
    """Return the text of a page that is saved or printed."""
    from scenariokit.report.worksheet import worksheet
    from scenariokit.widgets.board import Board

    if kind == "worksheet":
        return worksheet()
    exports = Board().files.exports
    content = exports.page() if kind == "standalone" else exports.sheet()
    return content.decode() if isinstance(content, bytes) else str(content)
