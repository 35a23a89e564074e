from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.nutrients.water.hardness import (
    PER_CARBONATE,
    alkalinity_equivalents,
    alkalinity_from_bicarbonate,
    alkalinity_from_equivalents,
    bicarbonate_from_alkalinity,
    hardness,
    hardness_as_carbonate,
)

PUBLISHED = Path(__file__).parents[2] / "published" / "water_hardness.csv"
ROWS = list(csv.DictReader(PUBLISHED.read_text(encoding="utf-8").splitlines()))
AMOUNT = st.floats(0, 1000)


def computed(check, one):
    if check == "alkalinity_of_one_equivalent":
        return alkalinity_from_equivalents(quantity(one, "mmol/L")).m_as("mg/L")
    if check == "bicarbonate_of_one_equivalent":
        found = alkalinity_from_equivalents(quantity(one, "mmol/L"))
        return bicarbonate_from_alkalinity(found).m_as("mg/L")
    if check == "equivalents":
        return alkalinity_equivalents(quantity(one, "mg/L")).m_as("mmol/L")
    if check == "millimoles_of_dH":
        carbonate = hardness_as_carbonate(one, "dH").m_as("mg/L")
        return carbonate * PER_CARBONATE["mmol/L"]
    if check.startswith("from_"):
        return hardness_as_carbonate(one, check.removeprefix("from_")).m_as("mg/L")
    calcium, magnesium = (one, 0) if check == "of_calcium" else (0, one)
    return hardness(quantity(calcium, "mg/L"), quantity(magnesium, "mg/L")).m_as("mg/L")


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["check"])
def test_hardness_and_alkalinity_conversions_give_the_known_values(row):
    tolerance = 0.51 * 10 ** -int(row["printed_digits"])
    found = computed(row["check"], float(row["given"]))
    assert found == pytest.approx(float(row["value"]), abs=tolerance)


def test_hardness_of_hard_tap_on_every_scale():
    # Computed by hand: 2.4973 x 105 + 4.1179 x 12 = 311.6 mg/L of CaCO3; / 17.848 dH;
    # / 10 fH; / 17.118 grains; / 100.086 mmol.
    expected = {"CaCO3 mg/L": 311.6, "mmol/L": 3.1136, "dH": 17.46, "fH": 31.16, "gpg": 18.20}
    for scale, value in expected.items():
        assert hardness("105 mg/L", "12 mg/L", scale).m == pytest.approx(value, rel=5e-4), scale


def test_hardness_degrees_are_plain_numbers():
    assert hardness("105 mg/L", "12 mg/L", "dH").dimensionless
    assert hardness("105 mg/L", "12 mg/L", "mmol/L").check("[substance] / [length] ** 3")


def test_hardness_grams_per_cubic_metre_and_arrays_agree_with_scalars():
    together = hardness(quantity(np.array([0.02, 0.105]), "kg/m^3"), "12 mg/L").m_as("mg/L")
    for value, found in zip(("20 mg/L", "105 mg/L"), together, strict=True):
        assert hardness(value, "12 mg/L").m_as("mg/L") == pytest.approx(found)


@pytest.mark.parametrize("function", [hardness, hardness_as_carbonate])
def test_hardness_unknown_scale_lists_those_there_are(function):
    given = (1, "clark") if function is hardness_as_carbonate else ("1 mg/L", "1 mg/L", "clark")
    with pytest.raises(ArgumentError, match=r"scale = clark: is not a known scale.*dH.*gpg"):
        function(*given)


def test_hardness_no_text_as_scale_is_refused():
    with pytest.raises(ArgumentError, match="not a known scale"):
        hardness("1 mg/L", "1 mg/L", ["dH"])


def test_hardness_all_bad_values_are_named_at_once():
    with pytest.raises(ArgumentError, match=r"(?s)calcium.*magnesium"):
        hardness("-1 mg/L", "5 cm")
    with pytest.raises(UnitError, match="bare number"):
        hardness(5, "5 mg/L")


def test_hardness_as_carbonate_needs_the_unit_of_its_scale():
    assert hardness_as_carbonate("2 mmol/L", "mmol/L").m_as("mg/L") == pytest.approx(200.172)
    assert hardness_as_carbonate("90 mg/L", "CaCO3 mg/L").m_as("mg/L") == pytest.approx(90)
    with pytest.raises(UnitError):
        hardness_as_carbonate(90, "CaCO3 mg/L")
    with pytest.raises(RangeError):
        hardness_as_carbonate(-1, "dH")


@given(AMOUNT, AMOUNT, st.sampled_from(sorted(PER_CARBONATE)))
@settings(max_examples=60)
def test_hardness_any_scale_comes_back_as_carbonate(calcium, magnesium, scale):
    waters = quantity(calcium, "mg/L"), quantity(magnesium, "mg/L")
    there = hardness(*waters, scale)
    back = hardness_as_carbonate(there, scale).m_as("mg/L")
    assert back == pytest.approx(hardness(*waters).m_as("mg/L"), abs=1e-9)


@given(AMOUNT)
def test_alkalinity_conversions_are_each_others_inverse(value):
    given_ = quantity(value, "mg/L")
    equivalents = alkalinity_equivalents(given_)
    assert alkalinity_from_equivalents(equivalents).m_as("mg/L") == pytest.approx(value, abs=1e-9)
    bicarbonate = bicarbonate_from_alkalinity(given_)
    assert alkalinity_from_bicarbonate(bicarbonate).m_as("mg/L") == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("function", "bad"),
    [
        (alkalinity_equivalents, "3 mmol/L"), (alkalinity_from_equivalents, "3 mg/L"),
        (bicarbonate_from_alkalinity, "3 L"), (alkalinity_from_bicarbonate, 3),
    ],
)  # fmt: skip
def test_alkalinity_wrong_unit_or_below_zero_is_refused(function, bad):
    with pytest.raises(UnitError):
        function(bad)
    unit = "mmol/L" if function is alkalinity_from_equivalents else "mg/L"
    with pytest.raises(RangeError, match="below"):
        function(f"-1 {unit}")
    assert function(f"0 {unit}").m == 0
