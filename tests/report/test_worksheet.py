"""The worksheet: complete, self-contained, escaped."""

from __future__ import annotations

import re

import pytest

from scenariokit.report.worksheet import PLOT_ROWS, READING_ROWS, cautions, worksheet


def test_worksheet_holds_everything_a_group_writes_down():
    text = worksheet()
    for word in ("Name of the group (no personal names)", "Our guess", "What we changed",
                 "Before", "After", "Weights of our plots", "EC (dS/m)", "Questions",
                 "Take care"):  # fmt: skip
        assert word in text
    first, second = (part for part in text.split('class="page"')[1:])
    assert second.count("<tr>") == PLOT_ROWS + READING_ROWS + 2
    assert first.count("<li>") == 4


def test_worksheet_is_self_contained():
    text = worksheet()
    assert not re.search(r"https?:|//|src=|<link|<script|@import|url\(", text)


@pytest.mark.parametrize(("system", "units"), [("metric", ("kg/m²", "(kg)", "(L)", "°C", "(cm)")),
                                               ("us", ("lb/ft²", "(lb)", "(gal)", "°F", "(in)"))])  # fmt: skip
def test_worksheet_has_the_units_of_the_reader(system, units):
    text = worksheet(system=system)
    assert all(unit in text for unit in units)


def test_worksheet_names_of_methods_are_escaped():
    text = worksheet(methods=["<img src=x onerror=alert(1)>"])
    assert "<img" not in text
    assert "&lt;img" in text


def test_worksheet_unknown_paper_is_refused():
    with pytest.raises(KeyError):
        worksheet(paper="a3")


@pytest.mark.parametrize(
    "word", ["engineer", "drown", "Acid", "nitrates feed a fire", "drain", "Green", "Mosquitoes",
             "Food"]
)  # fmt: skip
def test_cautions_name_every_danger_of_practical_work(word):
    assert sum(word in line for line in cautions()) == 1
