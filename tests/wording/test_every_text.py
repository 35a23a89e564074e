"""No text that a person meets is outside the catalogues: shown in a language of brackets."""

from __future__ import annotations

import csv
import re
from collections.abc import Iterator

import pytest
from pseudo_language import bare_words, bracketed, shown_texts

from scenariokit.glossary import PARAMETERS
from scenariokit.wording.collecting import TABLES

UNITS = {
    "cwt", "acre", "gal", "mol", "mmol", "meq", "kPa", "day", "hour", "min", "max", "EUR", "USD",
    "money", "plants", "mph", "quart", "ppm", "mg", "degC", "degF",
}  # fmt: skip
"""Symbols of units and currencies, and unit names that stand in files."""
CITED = re.compile(r"\d")


@pytest.fixture(scope="module")
def citations() -> list[str]:
    """Sources that stay as they were read: bibliographic, with a year or a number."""
    rows = [row.source for row in PARAMETERS.values()]
    for path in sorted(TABLES.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as text:
            rows += [row["source"] for row in csv.DictReader(text)]
    return sorted({one for one in rows if CITED.search(one)}, key=len, reverse=True)


@pytest.fixture
def brackets(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with bracketed(monkeypatch):
        yield


def bare(widget: object, citations: list[str]) -> list[tuple[str, list[str], str]]:
    found = []
    for place, text in shown_texts(widget):
        words = [word for word in bare_words(text, citations) if word not in UNITS]
        if words:
            found.append((place, words, text[:200]))
    return found


@pytest.mark.parametrize("view", ["methods", "choice", "water", "feed"])
def test_board_shows_no_text_outside_the_catalogues(
    brackets: None, citations: list[str], view: str
) -> None:
    from scenariokit.widgets import open_board

    board = open_board(view=view)
    assert bare(board.widget, citations) == []
