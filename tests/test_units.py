from __future__ import annotations

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity, registry, units


def test_registry_called_twice_is_the_same():
    assert registry() is registry()


def test_registry_money_is_its_own_dimension():
    assert quantity("3 money").dimensionality == {"[currency]": 1}
    with pytest.raises(pint.DimensionalityError):
        quantity("3 money", "kg")


def test_registry_plants_and_crops_are_counts():
    assert quantity("3 plants/m^2").m_as("1/m^2") == 3
    assert quantity("2 crops/year").m_as("1/year") == 2


def test_registry_cwt_is_the_us_hundredweight():
    # Exact: 100 lb of 0.45359237 kg.
    assert quantity("1 cwt").m_as("kg") == pytest.approx(45.359237, rel=1e-12)
    assert str(units.unit_of("cwt")) == "cwt_US"


def test_registry_acre_is_the_international_acre():
    # Exact: 43560 ft² of 0.3048 m; NIST retired the survey foot at the end of 2022.
    assert quantity("1 acre").m_as("m^2") == pytest.approx(4046.8564224, rel=1e-12)


@pytest.mark.parametrize(
    ("text", "factor", "unit"),
    [  # exact by definition, or printed to the digits given
        ("1 lb/ft^2", 4.8824276, "kg/m^2"), ("1 cwt/acre", 0.0112085116, "kg/m^2"),
        ("1 ft^3", 28.316847, "L"), ("1 US_dry_quart", 1.1012209, "L"),
        ("1 gal", 3.7854118, "L"), ("1 t/ha", 0.1, "kg/m^2"), ("1 mm", 1, "L/m^2"),
    ],
)  # fmt: skip
def test_quantity_us_units_convert_exactly(text, factor, unit):
    assert quantity(text).m_as(units.unit_of(unit)) == pytest.approx(factor, rel=6e-8)


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("5 cm", 5), ("5cm", 5), ("+5 cm", 5), ("-.5 cm", -0.5), ("5. cm", 5), ("1e1 cm", 10),
        ("1.5E-1 cm", 0.15), ("  5\n cm ", 5), ("2 inch", 5.08),
    ],
)  # fmt: skip
def test_parse_numbers_in_many_forms_read(text, expected):
    assert units.parse(text).m_as("cm") == pytest.approx(expected)


@pytest.mark.parametrize(
    ("text", "unit", "expected"),
    [
        ("12 %", "", 0.12), ("12 percent", "", 0.12), ("5 kg/m²", "kg/m^2", 5),
        ("2 m³", "L", 2000), ("3 N·m", "J", 3), ("7 /m^2", "1/m^2", 7), ("7 1/m^2", "1/m^2", 7),
        ("4", "", 4), ("3.2 g/kg", "", 0.0032),
    ],
)  # fmt: skip
def test_parse_signs_people_write_read(text, unit, expected):
    assert units.parse(text).m_as(units.unit_of(unit)) == pytest.approx(expected)


@pytest.mark.parametrize("text", ["", "cm", "five cm", "nan cm", "inf cm", "- 5 cm"])
def test_parse_no_number_raises(text):
    with pytest.raises(ValueError, match="does not begin with a number"):
        units.parse(text)


@pytest.mark.parametrize("text", ["1,5 cm", "1,500 L", "-1,5 cm", "1.500,5 cm"])
def test_parse_decimal_comma_is_not_guessed(text):
    with pytest.raises(ValueError, match="decimal comma"):
        units.parse(text)


@pytest.mark.parametrize(
    "text",
    ["5 m)", "5 (m", "5 m^", "5 $", "5 '", "5 @", "5 cm/", "5 ()", "5 cm**", "5 #cm", "5 cm + 3 cm",
     "5 cm^cm", "5 3 cm", "5 m^9999", "5 9**9**9", "5 m**(999)", "5 m^2^3"],
)  # fmt: skip
def test_parse_unreadable_unit_raises_value_error(text):
    with pytest.raises(ValueError, match="cannot be read"):
        units.parse(text)


def test_parse_unknown_unit_names_it():
    with pytest.raises(pint.UndefinedUnitError, match="furlongs_of_peat"):
        units.parse("5 furlongs_of_peat")


@given(st.text(max_size=12) | st.text("cmkgLd0129/*^()+-.%· ", max_size=10))
@settings(max_examples=200)
def test_parse_any_text_reads_or_raises_known_error(text):
    try:
        found = units.parse(f"5 {text}")
    except (ValueError, pint.UndefinedUnitError):
        return
    assert found.magnitude == 5


def test_quantity_string_with_unit_is_converted():
    assert str(quantity("50 mm", "cm")) == "5.0 centimeter"


def test_quantity_number_gets_unit():
    assert quantity(5, "cm").m_as("mm") == pytest.approx(50)
    assert quantity(5).dimensionless


def test_quantity_own_quantity_is_returned_as_it_is():
    own = quantity(5, "cm")
    assert quantity(own) is own
    assert quantity(own, "mm").magnitude == pytest.approx(50)


def test_quantity_other_registry_is_adopted():
    other = pint.UnitRegistry().Quantity(np.array([1.0, 2.0]), "m")
    found = quantity(other, "cm")
    assert found._REGISTRY is registry()
    np.testing.assert_allclose(found.magnitude, [100, 200])
    assert (found + quantity(1, "cm")).m_as("cm")[0] == pytest.approx(101)


def test_quantity_other_registry_temperature_is_adopted():
    other = pint.UnitRegistry().Quantity(20.0, "degC")
    assert quantity(other).m_as("degF") == pytest.approx(68)


def test_quantity_other_dimension_raises():
    with pytest.raises(pint.DimensionalityError):
        quantity("5 cm", "kg")


@pytest.mark.parametrize(
    ("unit", "ratio", "plain"),
    [("", True, True), ("plant", True, True), ("percent", True, False), ("g/kg", True, False),
     ("kg", False, False), ("degC", False, False)],
)  # fmt: skip
def test_is_dimensionless_and_plain_number_told_apart(unit, ratio, plain):
    assert units.is_dimensionless(unit) is ratio
    assert units.is_plain_number(unit) is plain


def test_magnitude_array_is_converted():
    np.testing.assert_allclose(units.magnitude(quantity([1, 2], "m"), "cm"), [100, 200])


def test_as_float_array_float64_is_not_copied():
    array = np.zeros(3)
    assert units.as_float_array(array) is array
    assert units.as_float_array([1, 2]).dtype == np.float64


@pytest.mark.parametrize(
    ("unit", "currency", "label"),
    [
        ("money/kg", "EUR", "EUR/kg"), ("kg/m^2", "EUR", "kg/m²"), ("money/m^2", "USD", "USD/m²"),
        ("percent", "EUR", "%"), ("", "EUR", ""), ("dS/m", "EUR", "dS/m"), ("money", "EUR", "EUR"),
    ],
)  # fmt: skip
def test_unit_label_reads_as_people_write(unit, currency, label):
    assert units.unit_label(unit, currency) == label


@given(st.floats(-1e6, 1e6), st.sampled_from(["cm", "inch", "ft", "m"]))
@settings(max_examples=50)
def test_quantity_any_length_there_and_back_is_the_same(value, unit):
    there = quantity(value, unit)
    assert quantity(there.to("mm"), unit).magnitude == pytest.approx(value, rel=1e-12, abs=1e-12)
