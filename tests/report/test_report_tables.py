"""Tables are well formed, harmless whatever a person wrote, and hold the comparison's numbers."""

from __future__ import annotations

import dataclasses
import io
from html.parser import HTMLParser
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest

from scenariokit import catalog
from scenariokit.charts.frames import Showing
from scenariokit.errors import Problem
from scenariokit.report import (
    SUMMARY,
    comparison_csv,
    comparison_table,
    method_sheet,
    problems_list,
)
from scenariokit.report.tables import GROUPS, MAX_PROBLEMS
from scenariokit.scenario import OUTCOMES, column_name, compare, scenario_for, with_values

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.08)
HOSTILE = [
    "<img src=x onerror=alert(1)>",
    "=cmd|' /C calc'!A0",
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1+1",
    " =1+1",
    "</td></table><script>alert(1)</script>",
    '" onmouseover="alert(1)',
    "'quoted'",
    "{{constructor.constructor('alert(1)')()}}",
    "Ünïcode & <b>bold</b>",
]
ALLOWED = {
    "section", "h3", "h4", "p", "dl", "dt", "dd", "div", "span", "strong", "small", "table",
    "thead", "tbody", "tr", "th", "td", "ul", "li", "details", "summary",
}  # fmt: skip
METHODS = [key for key, row in catalog.methods().items() if "potato" in row["yields"]]


def labelled(label, key="wedge_pots"):
    one = scenario_for(key)
    method = dataclasses.replace(one.method, label=label, summary=label)
    harvest = dataclasses.replace(one.harvest, basis=label)
    return dataclasses.replace(one, name=label, method=method, harvest=harvest)


def tree(html):
    """Parse strictly; a tag that is not closed or a bare < is an error."""
    return ElementTree.fromstring(f"<root>{html}</root>")  # noqa: S314  our own text


class Tags(HTMLParser):
    """Collects what a lenient reader, as a browser is, takes for tags and attributes."""

    def __init__(self):
        super().__init__()
        self.tags, self.attributes, self.text = [], [], []

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += [name for name, _ in attrs]

    def handle_data(self, data):
        self.text.append(data)


def read(html):
    found = Tags()
    found.feed(html)
    found.close()
    return found


def both(label):
    comparison = compare([labelled(label), scenario_for("paper_wrap")])
    return [comparison_table(comparison, METRIC), method_sheet(next(iter(comparison)), METRIC)]


# -- HTML ----------------------------------------------------------------------------------


@pytest.mark.parametrize("label", HOSTILE)
def test_tables_hostile_label_stays_text(label):
    for html in both(label):
        tree(html)
        found = read(html)
        assert set(found.tags) <= ALLOWED
        assert not [name for name in found.attributes if name.startswith("on")]
        assert label.strip() in "".join(found.text)


@pytest.mark.parametrize("label", HOSTILE)
def test_problems_list_hostile_cell_stays_text(label):
    html = problems_list([Problem("mass", label, "is no number", label, file=label, row=2)])
    tree(html)
    assert set(read(html).tags) == {"ul", "li"}


def test_problems_list_counts_what_it_does_not_show():
    rows = [Problem("mass", str(number), "is no number") for number in range(MAX_PROBLEMS + 7)]
    items = tree(problems_list(rows)).findall(".//li")
    assert len(items) == MAX_PROBLEMS + 1
    assert items[-1].text == "and 7 more"
    assert problems_list([]) == ""


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_comparison_table_has_headings_for_rows_and_columns(showing):
    comparison = compare([scenario_for(key) for key in METHODS])
    root = tree(comparison_table(comparison, showing))
    columns = root.findall(".//thead//th")
    rows = root.findall(".//tbody/tr")
    assert [cell.text for cell in columns[1:]] == [row.scenario.method.label for row in comparison]
    assert all(cell.get("scope") == "col" for cell in columns)
    assert [row.find("th").text for row in rows] == [showing.title(name) for name in SUMMARY]
    assert all(row.find("th").get("scope") == "row" for row in rows)
    assert all(len(row.findall("td")) == len(METHODS) for row in rows)


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_comparison_table_cells_are_the_outcomes(showing):
    comparison = compare([scenario_for(key) for key in METHODS])
    rows = tree(comparison_table(comparison, showing)).findall(".//tbody/tr")
    for name, row in zip(SUMMARY, rows, strict=True):
        for found, cell in zip(comparison, row.findall("td"), strict=True):
            value = showing.number(found, name)
            if value is None:
                assert cell.text == "–"
                assert cell.get("title") == found.undefined[name]
            else:
                places = len(cell.text.partition(".")[2])
                assert float(cell.text.replace(",", "")) == pytest.approx(
                    value, abs=0.5001 * 10**-places
                )
                assert value == 0 or float(cell.text.replace(",", "")) != 0 or abs(value) < 5e-4


def test_method_sheet_shows_every_outcome_once():
    found = next(iter(compare([scenario_for("sheet_wick_tray")])))
    terms = [one.text for one in tree(method_sheet(found, METRIC)).findall(".//dt")]
    assert sorted(terms) == sorted(described.label for described in OUTCOMES.values())
    assert {described.group for described in OUTCOMES.values()} == {group for group, _ in GROUPS}


def with_every_caution(key):
    """A scenario pushed to raise as many cautions as it can."""
    one = scenario_for(key)
    changes = {"feed.ec": "3 dS/m", "harvest.typical": "14 kg/m^2", "harvest.high": "15 kg/m^2"}
    if one.method.level.regime == "constant":
        rim = one.method.level.rim
        changes |= {"method.level.high": rim, "method.level.start": rim}
    return with_values(one, changes)


@pytest.mark.parametrize("make", [scenario_for, with_every_caution], ids=["usual", "pushed"])
@pytest.mark.parametrize("key", METHODS)
def test_method_sheet_each_caution_stands_once_beside_its_number(key, make):
    found = next(iter(compare([make(key)])))
    root = tree(method_sheet(found, METRIC))
    blocks = {block.find("dt").text: block for block in root.findall(".//div[@class='sk-outcome']")}
    shown = root.findall(".//p[strong]")
    assert len(shown) == len(found.cautions) > 0
    for caution in found.cautions:
        texts = [
            "".join(note.itertext())
            for note in blocks[OUTCOMES[caution.outcome].label].findall(".//p[strong]")
        ]
        (mine,) = [text for text in texts if caution.text in text]
        assert f"Source: {caution.source}." in mine
        assert "".join(root.itertext()).count(caution.text) == 1


def test_method_sheet_danger_is_said_in_words_not_only_colour():
    found = next(iter(compare([scenario_for("medium_bag")])))
    html = method_sheet(found, METRIC)
    assert any(caution.severity == "danger" for caution in found.cautions)
    assert "<strong>Danger:</strong>" in html


def test_method_sheet_missing_outcome_says_why():
    zero = with_values(
        scenario_for("wedge_pots"),
        {f"harvest.{end}": "0 kg/m^2" for end in ("low", "typical", "high")},
    )
    text = "".join(read(method_sheet(next(iter(compare([zero]))), METRIC)).text)
    assert "– (the yield is zero, so there is no cost per kilogram)" in text
    assert "nan" not in text.lower()


# -- CSV -----------------------------------------------------------------------------------


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
def test_comparison_csv_reads_back_to_the_numbers(showing):
    comparison = compare([scenario_for(key) for key in METHODS])
    frame = pd.read_csv(io.StringIO(comparison_csv(comparison, showing)))
    assert list(frame["method"]) == METHODS
    assert set(frame["currency"]) == {showing.currency}
    for name, described in OUTCOMES.items():
        wanted = [showing.number(found, name) for found in comparison]
        np.testing.assert_allclose(
            frame[column_name(described, showing.system)].astype(float),
            [np.nan if value is None else value for value in wanted],
            rtol=1e-5,
        )


def test_comparison_csv_rate_multiplies_money_alone():
    comparison = compare([scenario_for("wedge_pots")])
    one, two = (
        pd.read_csv(io.StringIO(comparison_csv(comparison, Showing("metric", "USD", rate)))).iloc[0]
        for rate in (1.0, 2.0)
    )
    for name, described in OUTCOMES.items():
        column = column_name(described, "metric")
        factor = 2 if "money" in described.unit else 1
        assert two[column] == pytest.approx(factor * one[column], nan_ok=True, rel=1e-5), name


@pytest.mark.parametrize("label", HOSTILE)
def test_comparison_csv_no_cell_begins_a_formula(label):
    text = comparison_csv(compare([labelled(label)]), METRIC)
    frame = pd.read_csv(io.StringIO(text), dtype=str, keep_default_na=False)
    for cell in frame.iloc[0]:
        number = cell.lstrip("-").replace(".", "", 1).replace("e", "", 1).replace("-", "").isdigit()
        assert number or cell.lstrip()[:1] not in ("=", "+", "-", "@")
    assert label in frame["scenario"][0]


def test_comparison_table_cautions_stand_in_the_row_of_their_outcome():
    comparison = compare([scenario_for(key) for key in METHODS])
    rows = tree(comparison_table(comparison, METRIC)).findall(".//tbody/tr")
    for name, row in zip(SUMMARY, rows, strict=True):
        wanted = {one.id for found in comparison for one in found.cautions if one.outcome == name}
        notes = ["".join(note.itertext()) for note in row.findall("th//p")]
        assert len(notes) == len(wanted)
        said = [one.text for found in comparison for one in found.cautions if one.outcome == name]
        assert all(any(text in note for text in said) for note in notes)
