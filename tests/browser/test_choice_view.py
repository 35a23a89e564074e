"""The choice view as a person meets it: limits, charts, sentences, and a closer look."""

from __future__ import annotations

import pytest

pytestmark = pytest.mark.browser

CHOICE = ".sk-choice"
CHARTS = f"{CHOICE} .sk-charts figure"


def open_choice(board):
    page = board.page
    page.wait_for_selector(".sk-view-methods figure[data-updates]", timeout=60_000)
    page.get_by_role("radio", name="Which to choose").check()
    page.wait_for_function(
        "where => { const all = [...document.querySelectorAll(where)];"
        " return all.length === 6 && all.every(one => +one.dataset.updates > 0); }",
        arg=CHARTS,
        timeout=60_000,
    )
    return page


def test_choice_view_recommends_and_draws_six_charts(voila_page):
    board = voila_page()
    page = open_choice(board)
    said = page.locator(f"{CHOICE} .sk-says").first.inner_text()
    assert "comes first" in said
    assert "these numbers do not tell the two apart" in said
    assert "All yields are invented examples" in said
    assert page.locator(f"{CHARTS} svg").count() == 6
    board.screenshot("choice-1280", CHOICE)
    assert board.console_errors == []
    assert board.outside_requests == []


def test_choice_view_limit_rules_a_method_out_and_a_slider_moves_the_choice(voila_page):
    board = voila_page()
    page = open_choice(board)
    page.get_by_label("Growing medium at most", exact=True).check()
    page.locator(CHOICE, has_text="Ruled out: Sub-irrigated medium bag").wait_for()
    assert "growing medium at most 10 L/m², and it has 43.2" in page.locator(CHOICE).inner_text()
    slider = page.locator("[id='sk-limits-most_medium-slider']")
    slider.focus()
    board.after_update(f"{CHOICE} .sk-wide", lambda: page.keyboard.press("End"))
    page.wait_for_function(
        "() => !document.querySelector('.sk-choice').innerText.includes('Ruled out')"
    )
    page.locator("#sk-picks-turning").select_option("prices.labour_price")
    page.locator(CHOICE, has_text="cost of an hour of labour").first.wait_for()
    assert board.console_errors == []


def test_choice_view_closer_look_says_what_would_change_it(voila_page):
    board = voila_page()
    page = open_choice(board)
    page.get_by_role("button", name="Take a closer look").click()
    page.locator(CHOICE, has_text="What would change the choice of").wait_for(timeout=60_000)
    said = page.locator(CHOICE).inner_text()
    assert "Partial budget" in said
    assert "Worth the most to find out before choosing" in said
    assert page.get_by_role("button", name="Take a closer look").is_enabled()
    board.screenshot("choice-closer-1280", CHOICE)
    assert board.console_errors == []


def test_choice_view_on_a_phone_stays_within_its_width(voila_page):
    phone = voila_page(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    page = open_choice(phone)
    assert page.evaluate("() => document.documentElement.scrollWidth") <= 391
    phone.screenshot("choice-390", CHOICE)
    assert phone.console_errors == []
