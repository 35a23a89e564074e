"""The first page of a room."""

from __future__ import annotations

import re

import pytest

from scenariokit.language import language_as
from scenariokit.serve.lobby import lobby_html
from scenariokit.serve.offers import OFFERS
from scenariokit.serve.page_words import page_words
from scenariokit.serve.pages import full_page

ADDRESS = "http://192.168.7.5:8866/?token=abc"


def test_lobby_html_has_landmarks_offers_code_and_address() -> None:
    with language_as("en"):
        page = lobby_html(OFFERS, 3, 40, "", ADDRESS)
    for part in ('<html lang="en">', "<main>", "<header>", "<footer>", "<h1>", "<svg", ADDRESS):
        assert part in page
    assert page.count("<h1") == 1
    assert page.count('class="button"') == len(OFFERS) == 3
    assert "3 of 40 boards are in use." in page
    assert "http-equiv" not in page
    assert not re.search(r"(src|href)=\"https?:", page)


def test_lobby_html_full_has_no_start_and_asks_again() -> None:
    with language_as("en"):
        page = lobby_html(OFFERS, 40, 40, "people", ADDRESS)
    assert 'class="button"' not in page
    assert 'http-equiv="refresh"' in page
    assert "all 40 boards are in use" in page


@pytest.mark.parametrize("why", ["people", "memory", "stopping"])
def test_full_page_says_why_and_asks_again(why: str) -> None:
    with language_as("en"):
        page = full_page(why, 40)
    assert 'http-equiv="refresh"' in page
    assert ("40 boards" in page) == (why == "people")


def test_lobby_html_language_goes_on_to_what_is_opened() -> None:
    with language_as("es"):
        page = lobby_html(OFFERS, 0, 5, "", ADDRESS)
    assert '<html lang="es">' in page
    assert 'href="board?language=es"' in page
    assert '<option value="es" lang="es" selected>' in page


def test_page_words_are_plain_text() -> None:
    with language_as("en"):
        words = page_words()
    assert all(words.values())
    assert "%n" in words["place"]
