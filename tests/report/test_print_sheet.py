"""Sheets to print: complete, in words, harmless, and alone."""

from __future__ import annotations

import dataclasses
import datetime
import html
import re
from html.parser import HTMLParser

import pytest
from hostile import HOSTILE, labelled

from scenariokit import catalog
from scenariokit.charts.frames import Showing
from scenariokit.report.nutrients import ACID
from scenariokit.report.print_feed import FeedSetup
from scenariokit.report.print_sheet import ASSUMPTIONS, figures, print_sheets
from scenariokit.scenario import (
    COST_PARTS,
    OUTCOMES,
    FeedPlan,
    MixingRoom,
    compare,
    mixing_for,
    part_label,
    plan_feed,
    scenario_for,
    shipped_store,
    tank_season,
    with_feed,
    with_values,
)

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.08)
TODAY = datetime.date(2026, 5, 3)
METHODS = [key for key, row in catalog.methods().items() if "potato" in row["yields"]]
STORE = shipped_store()
VOID = {"meta", "img", "br", "hr"}


def setup(scenario, acid="", water="pure_water"):
    prices = scenario.prices.unit_prices
    planned = plan_feed(FeedPlan(acid=acid, water=water), scenario.feed.ec, STORE, prices)
    return FeedSetup(planned, STORE.fertilisers, MixingRoom())


def printed(*scenarios, showing=METRIC, **feed):
    made = setup(scenarios[0], **feed)
    fed = [with_feed(one, made.planned) for one in scenarios]
    return print_sheets(compare(fed), showing, made, TODAY)


def flat(document):
    """The text of a document as a reader has it."""
    body = re.sub(r"(?s)<(style|title)>.*?</\1>", "", document)
    return " ".join(html.unescape(re.sub(r"<[^>]+>", " ", body)).split())


class Strict(HTMLParser):
    """Notes tags, attributes and what is not closed in order."""

    def __init__(self):
        super().__init__()
        self.open, self.tags, self.attributes, self.ids = [], set(), set(), []

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.attributes |= {name for name, _ in attrs}
        self.ids += [value for name, value in attrs if name == "id"]
        if tag not in VOID:
            self.open.append(tag)

    def handle_endtag(self, tag):
        assert self.open.pop() == tag


def read(document):
    found = Strict()
    found.feed(document)
    assert found.open == []
    return found


@pytest.mark.parametrize("showing", [METRIC, US], ids=["metric", "us"])
@pytest.mark.parametrize("key", METHODS)
def test_print_sheets_each_method_has_its_numbers_costs_and_cautions(key, showing):
    scenario = scenario_for(key)
    document = printed(scenario, showing=showing)
    said = flat(document)
    (found,) = compare([with_feed(scenario, setup(scenario).planned)])
    for caution in found.cautions:
        assert " ".join(caution.text.split()) in said
        assert f"Source: {caution.source}." in said
    for part in COST_PARTS:
        assert part_label(part) in said
    for name, described in OUTCOMES.items():
        if not name.startswith("cost_") and not name.endswith(("_low", "_high")):
            assert described.label in said, name
    for line in ASSUMPTIONS:
        assert line in said
    assert "invented" in said
    read(document)


def test_print_sheets_caution_stands_below_the_number_that_raises_it():
    document = printed(scenario_for("medium_bag"))
    for name in ("fullest_depth", "water_load", "n_left", "fertiliser_mass", "cost_equipment"):
        (found,) = compare([scenario_for("medium_bag")])
        label = OUTCOMES[name].label
        part = next(one for one in document.split("<tbody>") if f">{label}<" in one)
        wanted = [one for one in found.cautions if one.outcome == name]
        assert wanted
        assert part.count('class="caution ') == len(wanted)


def test_print_sheets_mixing_sheet_has_both_stocks_order_ec_and_acid():
    scenario = scenario_for("medium_bag")
    said = flat(printed(scenario, acid="nitric_60", water="hard_tap"))
    made = setup(scenario, acid="nitric_60", water="hard_tap")
    mixing = mixing_for(with_feed(scenario, made.planned), STORE.fertilisers, MixingRoom())
    for stock in mixing.stocks.stocks:
        assert f"Stock {stock.letter}: {stock.name}" in said
        for key in stock.grams:
            assert STORE.fertilisers[key].label in said
    assert f"EC {float(scenario.feed.ec.m):.2f} dS/m" in said
    assert "Acid for the water" in said
    assert " ".join(ACID.split()) in said
    assert all(" ".join(line.split()) in said for line in mixing.stocks.cautions)


def test_print_sheets_refill_calendar_has_each_filling():
    scenario = scenario_for("paper_wrap")
    fills = tank_season(scenario).calendar
    document = printed(scenario)
    part = document[document.index(">Refill calendar<") :]
    days = [int(day) for day in re.findall(r'<th scope="row">(\d+)</th>', part)]
    assert days[: len(fills)] == [fill.day for fill in fills]
    assert len(fills) > 10


def test_print_sheets_method_without_a_tank_has_no_mixing_sheet_and_no_weight():
    said = flat(printed(scenario_for("field_soil")))
    assert "Mixing sheet" not in said
    assert "Refill calendar" not in said
    assert "Your own measurements" in said


def test_print_sheets_solution_that_cannot_be_mixed_says_why():
    # Stocks of a hundredth of the tank's volume cannot dissolve a recipe fifty times as strong.
    scenario = with_values(scenario_for("medium_bag"), {"feed.dilution": 1000})
    said = flat(printed(scenario))
    assert "No stocks can be made:" in said


def test_print_sheets_several_methods_have_pages_and_ids_of_their_own():
    document = printed(scenario_for("medium_bag"), scenario_for("wedge_pots"))
    assert document.count('<article class="method"') == 2
    assert "@page sheet0" in document
    assert "@page sheet1" in document
    ids = read(document).ids
    assert len(set(ids)) == len(ids)


def test_print_sheets_loads_nothing_and_says_so_in_its_policy():
    document = printed(scenario_for("medium_bag"))
    assert "default-src 'none'" in document
    assert not re.search(r"(?i)https?://|url\(|@import|<script|<link|<iframe", document)


@pytest.mark.parametrize("label", HOSTILE.values(), ids=HOSTILE)
def test_print_sheets_hostile_text_changes_no_tag_and_no_rule(label):
    plain, hostile = read(printed(labelled("pots"))), read(printed(labelled(label)))
    assert hostile.tags <= plain.tags
    assert hostile.attributes <= plain.attributes
    style = re.search(r"(?s)<style>(.*?)</style>", printed(labelled(label))).group(1)
    assert style.count("{") == style.count("}")
    assert "onerror" not in style.replace("\\", "") or "<" not in style


def test_print_sheets_one_plot_has_no_range():
    one = scenario_for("medium_bag")
    single = dataclasses.replace(one, harvest=dataclasses.replace(one.harvest, interval=False))
    assert "4.90 to 8.10" in flat(printed(one))
    assert "4.90 to 8.10" not in flat(printed(single))


@pytest.mark.parametrize(
    ("value", "text"),
    [(0, "0"), (1, "1"), (2.5, "2.5"), (1234567, "1,234,567"), (0.11364, "0.1136"), (8e-5, "0.00008"),
     (-3.25, "-3.25"), (100, "100"), (2000.5, "2,000")],
)  # fmt: skip
def test_figures_four_digits_without_exponent(value, text):
    assert figures(value) == text
