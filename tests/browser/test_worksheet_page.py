"""The worksheet as paper: two pages, nothing cut off, in every language that is shipped."""

from __future__ import annotations

import re

import pytest

from scenariokit import catalog
from scenariokit.language import language_as, languages
from scenariokit.report.worksheet import worksheet

pytestmark = pytest.mark.browser

PAPERS = {"a4": (182, 275), "letter": (188, 257)}
"""Inside of the margins, in millimetres."""
PIXELS = 96 / 25.4
METHODS = [row["label"] for row in list(catalog.methods().values())[:4]]


@pytest.fixture(scope="module")
def page(chromium):
    context = chromium.new_context()
    yield context.new_page()
    context.close()


@pytest.mark.parametrize("code", sorted(languages()))
@pytest.mark.parametrize("paper", sorted(PAPERS))
def test_worksheet_prints_on_two_pages_without_overflow(page, paper, code):
    with language_as(code):
        text = worksheet(paper=paper, system="us" if paper == "letter" else "metric",
                         methods=METHODS)  # fmt: skip
    page.set_content(text)
    printed = page.pdf(prefer_css_page_size=True)
    assert len(re.findall(rb"/Type\s*/Page\b(?!s)", printed)) == 2
    width, height = (round(side * PIXELS) for side in PAPERS[paper])
    page.emulate_media(media="print")
    page.set_viewport_size({"width": width, "height": height})
    sizes = page.evaluate(
        "() => [...document.querySelectorAll('.page')].map(one => one.getBoundingClientRect().height)"
    )
    assert len(sizes) == 2
    assert max(sizes) <= height
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    cut = page.evaluate(
        "() => [...document.querySelectorAll('th, .box, .who div')]"
        ".filter(one => one.scrollWidth > one.clientWidth + 1 || one.scrollHeight > one.clientHeight + 1)"
        ".map(one => one.textContent)"
    )
    assert cut == []


def test_worksheet_on_a_telephone_can_be_read(page):
    page.emulate_media(media="screen")
    page.set_viewport_size({"width": 390, "height": 844})
    page.set_content(worksheet())
    assert page.evaluate("document.documentElement.scrollWidth") <= 390
