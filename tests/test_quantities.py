from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
import pint
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.glossary import parameter
from scenariokit.quantities import Expect, checked, checked_floats, to_floats, with_unit


class Pair(NamedTuple):
    sum: Any
    ratio: Any


@checked("cm", first="depth", second=Expect("depth", optional=True))
def added(first, second=None):
    """Add two depths."""
    return first + (0 if second is None else second)


@checked({"sum": "cm", "ratio": ""}, first="depth", second=Expect("depth", True, "nothing below"))
def paired(first, second):
    """Return sum and ratio."""
    return Pair(first + second, first / second)


@checked(None, share="harvest_index")
def banded(share, extra="kept"):
    """Return a word and an argument that is not checked."""
    return ("low" if share < 0.5 else "high", extra)


def reason(name, value):
    """Return the numbers and what is wrong with a value, if anything."""
    found, problem = to_floats(name, value, parameter(name))
    return found, problem and problem.reason


def test_checked_units_mixed_are_converted_once():
    assert added("5 cm", quantity(1, "inch")).m_as("cm") == pytest.approx(7.54)


def test_checked_optional_argument_left_out():
    assert str(added("5 cm")) == "5.0 centimeter"
    assert added(first="5 cm", second=None).magnitude == 5


def test_checked_named_tuple_each_field_has_unit():
    found = paired("6 cm", "3 cm")
    assert found.sum.m_as("mm") == pytest.approx(90)
    assert found.ratio.m_as("") == pytest.approx(2)


def test_checked_no_unit_result_comes_as_it_is():
    assert banded(0.2) == ("low", "kept")
    assert banded(0.7, extra=3) == ("high", 3)


def test_checked_name_and_docstring_are_kept():
    assert added.__name__ == "added"
    assert added.__doc__ == "Add two depths."


def test_checked_floats_attribute_is_the_plain_body():
    assert added.floats(5.0, 2.0) == 7.0
    assert added.result_unit == "cm"
    assert added.expectations["first"].name == "depth"


def test_checked_scalar_result_is_a_python_float():
    assert type(added("5 cm").magnitude) is float


def test_checked_unknown_argument_name_fails_at_definition():
    with pytest.raises(TypeError, match="has no argument thrd"):
        checked("cm", thrd="depth")(lambda first: first)


def test_checked_unknown_parameter_fails_at_definition():
    with pytest.raises(KeyError, match="no parameter is called 'nothing'"):
        checked("cm", first="nothing")


def test_checked_every_fault_is_in_one_error():
    with pytest.raises(ArgumentError) as caught:
        added(5, "-1 cm")
    text = str(caught.value)
    assert text.startswith("added: 2 problems")
    assert "first = 5: is a bare number" in text
    assert "second = '-1 cm': is below the allowed range; allowed: 0 to 500 cm" in text


def test_checked_zero_refused_with_reason():
    with pytest.raises(RangeError, match="must be more than zero: nothing below"):
        paired("1 cm", quantity([1, 0], "cm"))


def test_checked_arrays_broadcast():
    found = added(quantity([[1.0], [2.0]], "cm"), quantity([10.0, 20.0], "cm"))
    np.testing.assert_allclose(found.m_as("cm"), [[11, 21], [12, 22]])


def test_checked_shapes_that_do_not_fit_are_named():
    with pytest.raises(RangeError, match=r"first \(2,\), second \(3,\): do not broadcast"):
        added(quantity([1, 2], "cm"), quantity([1, 2, 3], "cm"))


def test_checked_argument_given_is_not_changed():
    mine = quantity(np.array([1.0, 2.0]), "cm")
    added(mine, mine)
    np.testing.assert_array_equal(mine.magnitude, [1, 2])


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        ("5 cm", 5), ("50 mm", 5), (quantity(5, "cm"), 5), (quantity(0.05, "m"), 5),
        (pint.UnitRegistry().Quantity(5, "cm"), 5), (quantity(np.float32(5), "cm"), 5),
        (["5 cm", "1 m"], [5, 100]), ((quantity(5, "cm"), "1 m"), [5, 100]),
        (quantity([5, 6], "cm"), [5, 6]), ([["5 cm"], ["6 cm"]], [[5], [6]]),
        (quantity(np.ma.array([5.0, 6.0]), "cm"), [5, 6]),
    ],
)  # fmt: skip
def test_to_floats_lengths_in_any_form_read(value, expected):
    found, problem = reason("depth", value)
    assert problem is None
    np.testing.assert_allclose(found, expected)
    assert type(found) is float or found.dtype == np.float64


@pytest.mark.parametrize(
    ("value", "expected"),
    [("12 %", 0.12), (0.12, 0.12), (1, 1), ("0.12", 0.12), (np.float64(0.5), 0.5),
     (quantity(12, "percent"), 0.12), ([0.1, "20 %"], [0.1, 0.2]), ([0.1, 0.2], [0.1, 0.2]),
     (np.array([0.1, 0.2], dtype=np.float32), [0.1, 0.2])],
)  # fmt: skip
def test_to_floats_shares_in_any_form_read(value, expected):
    found, problem = reason("harvest_index", value)
    assert problem is None
    np.testing.assert_allclose(found, expected, rtol=1e-6)


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("depth", 5, "bare number; it needs a unit such as cm"),
        ("depth", [5, "6 cm"], "bare number"), ("depth", np.array([1, 2]), "bare number"),
        ("depth", [], "bare number"), ("label_share", 15, "bare number"),
        ("nutrient_removal", 3.2, "bare number"),
        ("depth", "5", "has no unit"), ("depth", "5 kg", "of another dimension than cm"),
        ("harvest_index", "5 kg", "of another dimension than a number"),
        ("depth", "5 foo", "'foo' is not known"), ("depth", "5 foo/bar", "is not known"),
        ("depth", "cm", "does not begin with a number"), ("depth", "1,5 cm", "decimal comma"),
        ("depth", "5 cm/", "cannot be read"), ("depth", None, "is missing"),
        ("depth", ["5 cm", None], "is missing"), ("depth", True, "true or false"),
        ("harvest_index", np.bool_(True), "true or false"), ("harvest_index", [True], "no"),
        ("depth", {"a": 1}, "is not a number"), ("harvest_index", "abc", "does not begin"),
        ("depth", [quantity([5, 6], "cm"), "3 m"], "different shapes"),
        ("harvest_index", np.array([1, None], dtype=object), "is not a number"),
        ("depth", quantity(5 + 1j, "cm"), "complex"),
        ("harvest_index", np.ma.array([0.1, 0.2], mask=[0, 1]), "masked"),
        ("depth", quantity(np.ma.array([1.0, 2.0], mask=[0, 1]), "cm"), "masked"),
    ],
)  # fmt: skip
def test_to_floats_unusable_value_says_why(name, value, words):
    assert words in reason(name, value)[1]
    assert to_floats(name, value, parameter(name))[1].kind == "unit"


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("depth", "-1 cm", "below"), ("depth", "501 cm", "above"), ("depth", "1e400 cm", "finite"),
        ("depth", quantity([1, -1], "cm"), "below"), ("depth", quantity([], "cm"), "no values"),
        ("depth", quantity([1, np.nan], "cm"), "NaN"), ("depth", quantity(-np.inf, "cm"), "finite"),
        ("harvest_index", 12, "write 0.12 or '12 %'"), ("plants", 0, "below"),
    ],
)  # fmt: skip
def test_to_floats_outside_range_says_why(name, value, words):
    assert words in reason(name, value)[1]
    assert to_floats(name, value, parameter(name))[1].kind == "range"


@pytest.mark.parametrize("value", ["120 %", quantity(120, "percent"), 120])
def test_to_floats_share_with_percent_sign_gets_no_hint(value):
    assert reason("harvest_index", value)[1] == "is above the allowed range"


def test_to_floats_ends_of_range_and_rounding_allowed():
    assert reason("depth", "500 cm")[1] is None
    assert reason("depth", "5000 mm")[1] is None
    assert reason("harvest_index", 1 + 1e-13)[1] is None


def test_to_floats_long_value_message_stays_short():
    _, problem = to_floats("depth", quantity(np.arange(5000.0), "kg"), parameter("depth"))
    assert len(str(problem)) < 250


def test_to_floats_message_shows_value_with_unit():
    _, problem = to_floats("depth", quantity(np.array([99.0]), "m"), parameter("depth"))
    assert problem.value == "[99] m"
    _, problem = to_floats("depth", quantity(-2.5, "inch"), parameter("depth"))
    assert problem.value == "-2.5 in"


def test_to_floats_temperature_in_fahrenheit():
    found, problem = reason("water_temperature", "68 degF")
    assert problem is None
    assert found == pytest.approx(20)


def test_checked_floats_good_values_come_back_by_name():
    found = checked_floats("f", {"a[0]": ("5 cm", "depth"), "b": ("12 %", "harvest_index")})
    assert found == {"a[0]": 5.0, "b": pytest.approx(0.12)}


def test_checked_floats_every_fault_is_in_one_error():
    with pytest.raises(UnitError, match=r"f: 2 problems") as caught:
        checked_floats("f", {"a[0]": (5, "depth"), "b": ("5 kg", Expect("depth"))})
    assert [problem.field for problem in caught.value.problems] == ["a[0]", "b"]


def test_checked_floats_shapes_that_do_not_fit_raises():
    with pytest.raises(RangeError, match="broadcast"):
        checked_floats(
            "f", {"a": (quantity([1, 2], "cm"), "depth"), "b": ([0.1, 0.2, 0.3], "harvest_index")}
        )


def test_with_unit_scalar_of_numpy_becomes_python():
    assert type(with_unit(np.float64(2), "cm").magnitude) is float
    assert with_unit(np.array([2.0]), "cm").shape == (1,)


@given(st.floats(0, 500), st.sampled_from(["cm", "mm", "inch", "ft", "m"]))
@settings(max_examples=50)
def test_to_floats_any_length_unit_does_not_matter(value, unit):
    found, problem = to_floats("depth", quantity(value, "cm").to(unit), parameter("depth"))
    assert problem is None
    assert found == pytest.approx(value, rel=1e-9, abs=1e-12)


@pytest.mark.parametrize(
    ("name", "text"), [("latitude", "0.7"), ("label_share", "15"), ("depth", "5")]
)
def test_checked_text_without_a_unit_is_refused_where_one_is_due(name, text):
    @checked(None, value=name)
    def taken(value):
        return value

    with pytest.raises(UnitError, match="has no unit; it needs one such as"):
        taken(text)


def test_checked_text_without_a_unit_is_a_ratio_where_none_is_due():
    @checked(None, value="harvest_index")
    def taken(value):
        return value

    assert taken("0.8") == taken(0.8) == 0.8
