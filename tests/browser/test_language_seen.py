"""Every word and number of the board in another language, as it stands on the page."""

from __future__ import annotations

import re

import pytest

pytestmark = pytest.mark.browser

VIEWS = ("methods", "choice", "water", "feed")
POINT = re.compile(r"\d\.\d+")
THOUSANDS = re.compile(r"\d{1,3}(?:\.\d{3})+(?:,\d+)?(?![\d.])")
ALLOWED = ("punto: 1.5", "3.8.6", "IPHREEQC 3.8.6")
"""The sign that a person picks for files; versions of programs in citations."""
TEXTS = """() => {
  const walker = document.createTreeWalker(document.querySelector('.sk-board'), NodeFilter.SHOW_TEXT);
  const found = [];
  const hidden = (one) => one && (getComputedStyle(one).display === 'none' || hidden(one.parentElement));
  while (walker.nextNode()) {
    const text = walker.currentNode.textContent.trim();
    if (text && !walker.currentNode.parentElement.closest('style, script')
      && !hidden(walker.currentNode.parentElement)) found.push(text);
  }
  return found;
}"""
SPOKEN = """() => [...document.querySelectorAll('.sk-board [aria-label], .sk-board [title]')]
  .filter(one => one.checkVisibility() && !one.closest("[aria-hidden=true]"))
  .map(one => one.getAttribute('aria-label') ?? one.getAttribute('title'))"""


def settled(page):
    """Return all texts of the page once they have stopped changing."""
    before = None
    for _ in range(60):
        now = page.evaluate(TEXTS)
        if now == before:
            return now
        before = now
        page.wait_for_timeout(700)
    raise AssertionError("the page does not come to rest")


def open_view(page, view):
    page.locator(f"input[type=radio][value={view}]").first.check(force=True)
    page.wait_for_timeout(700)
    return settled(page)


def pick(page, code):
    page.locator("#sk-tool-language").select_option(code)
    page.wait_for_function(f"() => document.documentElement.lang === '{code}'", timeout=90_000)


def with_points(texts):
    found = []
    for text in texts:
        plain = text
        for one in ALLOWED:
            plain = plain.replace(one, "")
        if POINT.search(THOUSANDS.sub("", plain)):
            found.append(text)
    return found


def test_board_in_spanish_has_no_point_in_a_number_and_goes_back_to_english(voila_page):
    board = voila_page()
    page = board.page
    page.wait_for_selector(".sk-view-methods figure[data-updates] svg", timeout=90_000)
    english = {view: open_view(page, view) for view in (*VIEWS, VIEWS[0])}
    assert with_points(english["methods"])  # else the test would see nothing

    pick(page, "es")
    for view in (*VIEWS, VIEWS[0]):
        texts = open_view(page, view)
        assert with_points(texts) == []
        assert with_points(page.evaluate(SPOKEN)) == []
        board.screenshot(f"board-es-{view}")
        same = {one for one in texts if re.search(r"[a-z]{4,} [a-z]{3,} [a-z]{3,}", one)}
        assert {one for one in same & {*english[view]} if not re.search(r"\d", one)} == set()

    pick(page, "en")
    assert open_view(page, VIEWS[0]) == english[VIEWS[0]]
    assert board.console_errors == []


def test_board_opens_in_the_language_of_its_address(voila_page):
    board = voila_page(query="?language=es")
    page = board.page
    page.wait_for_function("() => document.documentElement.lang === 'es'", timeout=90_000)
    page.wait_for_function(
        "() => document.querySelector('.sk-board h1')?.innerText.startsWith('¿Qué')", timeout=60_000
    )
    assert page.locator("#sk-tool-language").input_value() == "es"
