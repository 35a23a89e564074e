from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, RangeError
from scenariokit.nutrients.water.build_up import ROOT_ZONE_MAXIMUM, build_up

AMOUNT = st.floats(0, 500)


def test_build_up_ten_top_ups_worked_case():
    # Computed by hand: 60 + 10 x (60 - 23) x 20 / 100 = 134 mg/L; 7.4 mg/L each;
    # (230 - 60) / 7.4 = 22.97 top-ups to 230 mg/L.
    found = build_up("60 mg/L", "23 mg/L", "20 L", "100 L", 10, limit="230 mg/L")
    assert found.concentration.m_as("mg/L") == pytest.approx(134)
    assert found.per_top_up.m_as("mg/L") == pytest.approx(7.4)
    assert found.top_ups_to_limit.m_as("") == pytest.approx(22.97, abs=0.005)
    assert found.grows
    assert "grows for ever" in found.says


def test_build_up_as_much_as_plants_take_stays_for_ever():
    found = build_up("23 mg/L", "23 mg/L", "20 L", "100 L", 500, limit="230 mg/L")
    assert found.concentration.m_as("mg/L") == 23
    assert found.top_ups_to_limit.m == np.inf
    assert not found.grows
    assert "does not build up" in found.says


def test_build_up_less_than_plants_take_falls_to_none():
    # Computed by hand: 10 + 2 x (10 - 20) x 0.2 = 6 mg/L; after 5 nothing is left.
    course = build_up("10 mg/L", "20 mg/L", "20 L", "100 L", np.array([2.0, 5.0, 9.0]))
    assert course.concentration.m_as("mg/L") == pytest.approx([6, 0, 0])
    assert course.per_top_up.m_as("mg/L") == pytest.approx(-2)


def test_build_up_over_the_limit_from_the_start_is_no_top_up_away():
    found = build_up("300 mg/L", "23 mg/L", "20 L", "100 L", limit="230 mg/L")
    assert found.top_ups_to_limit.m == 0
    falling = build_up("300 mg/L", "400 mg/L", "20 L", "100 L", limit="230 mg/L")
    assert falling.top_ups_to_limit.m == 0


def test_build_up_without_limit_none_is_reached():
    assert build_up("60 mg/L", "23 mg/L", "20 L", "100 L").top_ups_to_limit.m == np.inf


def test_build_up_some_of_an_array_grow():
    waters = quantity(np.array([10.0, 60.0]), "mg/L")
    found = build_up(waters, "23 mg/L", "20 L", "100 L", 3)
    assert list(found.grows) == [False, True]
    assert "some of these" in found.says
    for value, one in zip((10, 60), found.concentration.m_as("mg/L"), strict=True):
        single = build_up(quantity(value, "mg/L"), "23 mg/L", "20 L", "100 L", 3)
        assert single.concentration.m_as("mg/L") == pytest.approx(one)


def test_build_up_gallons_give_the_same():
    litres = build_up("60 mg/L", "23 mg/L", "20 L", "100 L", 10).concentration
    gallons = build_up("0.06 kg/m^3", "23 mg/L", "2 gal", "10 gal", 10).concentration
    assert gallons.m_as("mg/L") == pytest.approx(litres.m_as("mg/L"))


def test_build_up_empty_tank_says_why():
    with pytest.raises(RangeError, match="empty tank has no concentration"):
        build_up("60 mg/L", "23 mg/L", "20 L", "0 L")


def test_build_up_bad_values_are_named_at_once():
    with pytest.raises(ArgumentError, match=r"(?s)source.*uptake.*top_ups.*limit"):
        build_up("60 mmol/L", "-1 mg/L", "20 L", "100 L", -1, limit=5)


def test_build_up_root_zone_limits_put_chloride_above_sodium():
    assert all(0 < sodium < chloride for sodium, chloride in ROOT_ZONE_MAXIMUM.values())


@given(AMOUNT, AMOUNT, st.floats(0.01, 1), st.integers(0, 60))
@settings(max_examples=60)
def test_build_up_equals_the_balance_top_up_by_top_up(source, uptake, share, top_ups):
    here = source
    for _ in range(top_ups):
        here = max(here + (source - uptake) * share, 0.0)
    found = build_up(
        quantity(source, "mg/L"), quantity(uptake, "mg/L"), quantity(100 * share, "L"), "100 L",
        top_ups,
    )  # fmt: skip
    assert found.concentration.m_as("mg/L") == pytest.approx(here, abs=1e-6)
