from __future__ import annotations

import csv
from collections import defaultdict
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, nutrients, quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.nutrients.composition.contents import ALWAYS, content_of, with_total_nitrogen
from scenariokit.nutrients.composition.fertilisers import (
    fertiliser_from_formula,
    fertiliser_from_label,
    shelf,
)

PUBLISHED = Path(__file__).parents[2] / "published"
CALCIUM = fertiliser_from_label("15.5-0-0", calcium="19 %", stated_as="element")
PROGRAMMES = {
    "grow_5_11_26": [
        (fertiliser_from_label("5-11-26", magnesium="3.1 %", sulfur="4 %", stated_as="element"),
         "3.68 g/gal"),
        (CALCIUM, "2.54 g/gal"),
    ],
    "grow_8_15_36": [
        (fertiliser_from_label("8-15-36"), "2.25 g/gal"),
        (CALCIUM, "2.25 g/gal"),
        (shelf()["magnesium_sulfate"], "1.4 g/gal"),
    ],
}  # fmt: skip


def published(name, key, value):
    found = defaultdict(dict)
    with (PUBLISHED / name).open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            found[row[key]][row[value]] = (float(row["value"]), int(row["printed_digits"]))
    return found


@pytest.mark.parametrize("name", PROGRAMMES)
def test_content_of_one_bag_programmes_known_concentrations(name):
    parts = PROGRAMMES[name]
    found = content_of({one.id: rate for one, rate in parts}, {one.id: one for one, _ in parts})
    for element, (value, digits) in published("label_programmes.csv", "programme", "element")[
        name
    ].items():
        assert found[element].m_as("mg/L") == pytest.approx(value, abs=0.6 * 10.0**-digits), element


@pytest.mark.parametrize("name", ["hoagland_1", "hoagland_2"])
def test_content_of_shipped_recipes_published_concentrations(name):
    salts = catalog.recipes()[name].salts
    rates = {salt: quantity(rate, "g/L") for salt, rate in salts.items()}
    found = content_of(rates, shelf())
    for element, (value, _) in published("solutions.csv", "solution", "element")[name].items():
        if element in found:
            assert found[element].m_as("mg/L") == pytest.approx(value, rel=5e-3), element


def test_content_of_agrees_with_concentrations_of_formulas():
    rates = {"KNO3": "0.5 g/L", "NH4H2PO4": "0.1 g/L", "MgSO4.7H2O": "0.4 g/L"}
    found = content_of(rates, {formula: fertiliser_from_formula(formula) for formula in rates})
    expected = nutrients.concentrations(rates)
    for key in ALWAYS:
        assert found[key].m_as("mg/L") == pytest.approx(expected[key].m_as("mg/L"), rel=1e-12)


def test_content_of_water_is_added_and_carried():
    found = content_of({"calcium_nitrate": "1 g/L"}, shelf(), {"Ca": "80 mg/L", "HCO3": "200 mg/L"})
    assert found["Ca"].m_as("mg/L") == pytest.approx(80 + 169.717)
    assert found["HCO3"].m_as("mg/L") == 200


def test_content_of_plain_water_fills_total_nitrogen():
    found = content_of({}, {}, {"N_nitrate": "5 mg/L"})
    assert found["N"].m_as("mg/L") == 5
    assert found["K"].m_as("mg/L") == 0


def test_content_of_nothing_is_all_zero():
    assert {key: value.m for key, value in content_of({}, {}).items()} == dict.fromkeys(ALWAYS, 0)


def test_content_of_unknown_form_stays_total_only():
    product = fertiliser_from_label("15-5-30", id="bag")
    found = content_of({"bag": "1 g/L"}, {"bag": product})
    assert found["N"].m_as("mg/L") == pytest.approx(150)
    assert found["N_nitrate"].m_as("mg/L") == 0


def test_content_of_arrays_broadcast_to_one_shape():
    found = content_of(
        {"potassium_nitrate": quantity([0.1, 0.2], "g/L")}, shelf(), {"Na": "10 mg/L"}
    )
    np.testing.assert_allclose(found["K"].m_as("mg/L"), [38.6718, 77.3436])
    np.testing.assert_allclose(found["Na"].m_as("mg/L"), [10, 10])
    assert found["Ca"].m.shape == (2,)


def test_content_of_unit_of_the_rate_does_not_matter():
    grams = content_of({"potassium_nitrate": "1 g/L"}, shelf())
    ounces = content_of({"potassium_nitrate": quantity(1, "g/L").to("oz/gal")}, shelf())
    assert ounces["K"].m == pytest.approx(grams["K"].m)


def test_content_of_every_problem_at_once():
    with pytest.raises(ArgumentError) as caught:
        content_of(
            {"guano": "1 g/L", "potassium_nitrate": 1},
            shelf(),
            {"K2O": "1 mg/L", "Na": "-1 mg/L"},
        )
    fields = [problem.field for problem in caught.value.problems]
    assert fields == ["rates[guano]", "rates[potassium_nitrate]", "water[K2O]", "water[Na]"]


def test_content_of_negative_rate_raises():
    with pytest.raises(RangeError, match=r"rates\[potassium_nitrate\]"):
        content_of({"potassium_nitrate": "-1 g/L"}, shelf())


def test_content_of_bare_rate_raises():
    with pytest.raises(UnitError, match="g/L"):
        content_of({"potassium_nitrate": 1}, shelf())


def test_content_of_rates_that_are_no_mapping_raise():
    with pytest.raises(ArgumentError, match="must map keys"):
        content_of(["potassium_nitrate"], shelf())


def test_content_of_rates_and_water_of_other_shapes_raise():
    with pytest.raises(RangeError, match="do not broadcast"):
        content_of(
            {"potassium_nitrate": quantity([1, 2], "g/L")},
            shelf(),
            {"Na": quantity([1, 2, 3], "mg/L")},
        )


def test_content_of_floats_is_the_plain_body():
    found = content_of.floats({"potassium_nitrate": 1.0}, shelf(), {"Na": 3.0})
    assert found["K"] == pytest.approx(386.718)
    assert found["Na"] == 3


def test_with_total_nitrogen_keeps_what_is_stated():
    assert with_total_nitrogen({"N": 5.0, "N_nitrate": 3.0})["N"] == 5
    assert with_total_nitrogen({"N_nitrate": 3.0, "N_urea": 1.0})["N"] == 4
    assert with_total_nitrogen({"K": 3.0}) == {"K": 3.0}


@given(
    rates=st.dictionaries(st.sampled_from(sorted(shelf())), st.floats(0, 10), min_size=1),
    factor=st.floats(0, 10),
)
@settings(max_examples=40)
def test_content_of_scales_with_the_rates_and_never_exceeds_them(rates, factor):
    known = shelf()
    one = content_of({name: quantity(rate, "g/L") for name, rate in rates.items()}, known)
    more = content_of.floats({name: factor * rate for name, rate in rates.items()}, known)
    for key, value in one.items():
        assert more[key] == pytest.approx(factor * value.m_as("mg/L"), rel=1e-9, abs=1e-9)
    forms = ("N_nitrate", "N_ammonium", "N_urea")
    held = sum(value.m_as("g/L") for key, value in one.items() if key not in forms)
    assert held <= sum(rates.values()) * (1 + 1e-12)
