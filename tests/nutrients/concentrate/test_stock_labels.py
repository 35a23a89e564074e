from __future__ import annotations

import datetime

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, quantity
from scenariokit.errors import ArgumentError
from scenariokit.nutrients.composition.fertilisers import Fertiliser, shelf
from scenariokit.nutrients.concentrate.concentrates import plan_stocks
from scenariokit.nutrients.concentrate.stock_labels import making_lines, mass_text, stock_label
from scenariokit.nutrients.concentrate.stock_plan import in_sentence

DAY = datetime.date(2026, 3, 1)


def plan_of(name="hoagland_1", **options):
    salts = catalog.recipes()[name].salts
    return plan_stocks({salt: quantity(rate, "g/L") for salt, rate in salts.items()}, **options)


def label_of(plan, letter, system="metric"):
    return stock_label(plan.stock(letter), plan, made_on=DAY, system=system)


def flat(text):
    return " ".join(text.split())


def test_stock_label_says_content_dilution_date_and_volume():
    text = label_of(plan_of(), "A")
    assert "STOCK A: CALCIUM STOCK" in text
    assert "  118.1 g  Calcium nitrate tetrahydrate" in text
    assert "Made on 2026-03-01" in text
    words = flat(text)
    assert "1 part in 100 parts in all, that is 10 mL in each litre" in words
    assert "makes 1000 L" in words


def test_stock_label_warns_of_the_other_stock():
    assert "Use with the same amount of stock B. NEVER MIX" in flat(label_of(plan_of(), "A"))
    three = flat(label_of(plan_of(stocks=3), "C"))
    assert "stock A and B. NEVER MIX THE STOCKS UNDILUTED" in three


def test_stock_label_single_stock_still_says_dilute():
    plan = plan_stocks({"potassium_nitrate": "0.5 g/L"}, stocks=1)
    assert "DILUTE BEFORE USE" in label_of(plan, "A")


def test_stock_label_carries_hazards_first_aid_and_keeping():
    words = flat(label_of(plan_of(), "B"))
    assert "Potassium nitrate: oxidiser: keep from straw" in words
    assert "Boric acid: may harm fertility" in words
    for part in ("rinse with much clean water for several minutes", "do not make the person vomit",
                 "poison centre or the local emergency number", "Show this label and the safety",
                 "LOCKED AWAY FROM CHILDREN", "Never in a food or drink bottle"):  # fmt: skip
        assert part in words


def test_stock_label_without_hazard_words_points_to_the_sheet():
    own = Fertiliser("own", "Own bag", {"K": 0.4}, "either")
    plan = plan_stocks({"own": "0.5 g/L"}, {"own": own})
    assert "Own bag: not stated here: see the maker's safety data sheet" in flat(
        label_of(plan, "B")
    )


def test_stock_label_us_units():
    words = flat(label_of(plan_of(dilution=128), "A", "us"))
    # 151.13 g/L x 3.785412 L / 28.349523 g = 20.18 oz in a US gallon; 128 / 128 = 1 fl oz.
    assert "Each US gallon holds:" in words
    assert "20.18 oz Calcium nitrate" in words
    assert "1 US fl oz in each US gallon" in words
    assert "Volume made: 2.642 US gal" in words


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("name", sorted(catalog.recipes()))
def test_stock_label_lines_are_under_78_signs(name, system):
    plan = plan_of(name, stocks=3)
    for stock in plan.stocks:
        lines = stock_label(stock, plan, made_on=DAY, system=system).splitlines()
        assert max(map(len, lines)) < 78


def test_stock_label_long_name_is_broken_not_cut():
    own = Fertiliser("own", "x" * 200, {"K": 0.4}, "either")
    plan = plan_stocks({"own": "0.5 g/L"}, {"own": own})
    text = label_of(plan, "B")
    assert max(map(len, text.splitlines())) < 78
    assert "".join(text.split()).count("x" * 200) >= 2


def test_stock_label_bad_arguments_in_one_message():
    plan, other = plan_of(), plan_of(dilution=50)
    with pytest.raises(ArgumentError) as caught:
        stock_label(other.stock("A"), plan, made_on="today", system="imperial")
    assert {problem.field for problem in caught.value.problems} == {"stock", "made_on", "system"}
    with pytest.raises(ArgumentError, match="A, B"):
        stock_label("A", plan, made_on=DAY)


def test_making_lines_heavy_stock_begins_with_less_water():
    # 1000 g/L leaves half a litre a litre: 0.9 x 0.5 x 10 L.
    lines = making_lines("A", {"calcium_nitrate": 1000.0}, 10, shelf())
    assert lines[0] == "1. Fill 4.5 L of warm water, 30 to 40 °C, into a clean container."
    assert lines[1] == "2. Stir in 10 kg of calcium nitrate tetrahydrate until all is clear."
    assert len(lines) == 4


@pytest.mark.parametrize(
    ("grams", "text"),
    [(0.00008, "0.08 mg"), (0.0999, "99.9 mg"), (0.1, "0.1 g"), (1180.73, "1181 g"),
     (9999.0, "9999 g"), (23615.0, "23.61 kg")],
)  # fmt: skip
def test_mass_text_fits_its_size(grams, text):
    assert mass_text(grams) == text


@given(st.floats(1e-6, 1e6))
@settings(max_examples=60)
def test_mass_text_reads_back_to_four_digits(grams):
    number, unit = mass_text(grams).split()
    assert "e" not in number
    factor = {"mg": 1e-3, "g": 1.0, "kg": 1e3}[unit]
    assert float(number) * factor == pytest.approx(grams, rel=6e-4)


def test_in_sentence_keeps_abbreviations():
    assert in_sentence("Potassium nitrate") == "potassium nitrate"
    assert in_sentence("KNO3") == "KNO3"
    assert in_sentence("") == ""
