"""The choice of a language as a person meets it: words, numbers and what the page says of itself."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

DRAWN = ".sk-view-methods > .sk-charts figure[data-updates]"
COMMA = "() => /\\d,\\d\\d EUR/.test(document.querySelector('.sk-says').innerText)"
POINT = "() => /\\d\\.\\d\\d EUR/.test(document.querySelector('.sk-says').innerText)"


def spoken(page):
    """Return the language of the document, of the board and of its parts."""
    return page.evaluate(
        "() => [document.documentElement.lang, document.querySelector('.sk-board').lang,"
        " ...new Set([...document.querySelectorAll('.sk-panel, .sk-chart, .sk-file')]"
        ".map(one => one.lang))]"
    )


def test_page_language_picked_in_the_toolbar_changes_the_page_and_back(voila_page):
    board = voila_page()
    page = board.page
    page.wait_for_selector(DRAWN, timeout=90_000)
    page.wait_for_function(POINT, timeout=60_000)
    slider = page.locator("[id='sk-common-prices-labour_price']")
    labour = slider.input_value()

    options = (
        "() => [...document.querySelectorAll('#sk-tool-language option')].map(one => one.lang)"
    )
    assert page.evaluate(options) == ["en", "es", "fr", "pt"]
    page.locator("#sk-tool-language").select_option("es")
    page.wait_for_function(COMMA, timeout=90_000)
    page.wait_for_function("() => document.documentElement.lang === 'es'", timeout=60_000)
    assert set(spoken(page)) == {"es"}
    assert slider.input_value() == labour
    assert page.evaluate("document.title") == page.locator("h1").first.inner_text()

    page.locator("#sk-tool-language").select_option("en")
    page.wait_for_function(POINT, timeout=90_000)
    page.wait_for_function("() => document.documentElement.lang === 'en'", timeout=60_000)
    assert set(spoken(page)) == {"en"}
    assert slider.input_value() == labour
    assert board.console_errors == []
