from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit import catalog
from scenariokit.nutrients.water.source_water import SourceWater, source_water, water_from_row
from scenariokit.nutrients.water.water_checks import (
    ChargeSums,
    charge_sums,
    ec_of_ions,
    other_reading,
    water_limits,
    water_problems,
)

WATERS = {name: water_from_row(row) for name, row in catalog.waters().items()}
HARD = WATERS["hard_tap"]
SEA = {"Na": 10800.0, "Cl": 19400.0, "Mg": 1290.0, "S": 900.0, "Ca": 410.0, "K": 400.0}


def with_content(water, **changes):
    return dataclasses.replace(water, content={**water.content, **changes})


def about(findings):
    return [finding.about for finding in findings]


@pytest.mark.parametrize("name", WATERS)
def test_water_problems_catalogue_waters_have_none(name):
    assert water_problems(WATERS[name]) == ()


def test_charge_sums_hand_worked_case():
    # Computed by hand: Ca 2 x 40.078/40.078 + Na 1 = 3; Cl 1 + S 2 x 1 = 3 meq/L.
    content = {"Ca": 40.078, "Na": 22.99, "Cl": 35.45, "S": 32.06, "B": 1.0}
    assert charge_sums(content) == pytest.approx((3, 3))


def test_charge_sums_share_is_of_the_mean():
    assert ChargeSums(11, 9).share == pytest.approx(0.2)
    assert ChargeSums(0, 0).share == 0
    assert not ChargeSums(0.15, 0).beyond(0.25)
    assert ChargeSums(0.25, 0).beyond(0.25)


def test_water_problems_charges_ten_percent_apart_are_noted():
    # Computed by hand: 25 mg/L of Na more make cations 7.391 + 1.087 = 8.479 against
    # anions of 7.6049 meq/L: 10.9 % of their mean; 20 mg/L more make 8.3 %.
    found = water_problems(with_content(HARD, Na=50.0))
    assert about(found) == ["charge balance"]
    assert "cations 8.48 and anions 7.60 meq/L differ by 11 %" in found[0].text
    assert (round(found[0].value, 1), found[0].limit) == (10.9, 10)
    assert water_problems(with_content(HARD, Na=45.0)) == ()


def test_water_problems_missing_anion_is_likely_named():
    # Computed by hand: without chloride the anions fall from 7.60 to 6.31 meq/L.
    found = water_problems(dataclasses.replace(with_content(HARD, Cl=0.0), ec=None))
    assert about(found) == ["charge balance"]
    assert found[0].value > 10
    assert "an anion is missing (not given, or 0: Cl)" in found[0].text
    assert "cations 7.39" in found[0].text


def test_water_problems_nothing_absent_leaves_the_unit():
    found = water_problems(dataclasses.replace(with_content(HARD, Cl=400.0), ec=None))
    assert "a cation is missing, or a number is in another unit" in found[0].text


@pytest.mark.parametrize(("ec", "side"), [(1.0, "more"), (0.5, "less")])
def test_water_problems_ec_far_from_the_ions_is_noted(ec, side):
    found = water_problems(dataclasses.replace(HARD, ec=ec))
    assert about(found) == ["EC"]
    assert f"is {side} than the 0.7" in found[0].text
    assert found[0].value == ec


@pytest.mark.parametrize("ec", [0.62, 0.85, None])
def test_water_problems_ec_near_the_ions_is_let_pass(ec):
    assert water_problems(dataclasses.replace(HARD, ec=ec)) == ()


def test_water_problems_nearly_pure_water_ec_is_let_pass():
    assert water_problems(dataclasses.replace(WATERS["rain_water"], ec=0.06)) == ()


def test_water_problems_sea_water_is_too_salty_to_compute():
    found = water_problems(SourceWater("sea", "Sea", SEA, ec=25.0))
    assert about(found) == ["EC"]
    assert "too many" in found[0].text


@pytest.mark.parametrize(("ph", "words"), [(9.0, "partly carbonate"), (4.0, "cannot be there")])
def test_water_problems_ph_without_bicarbonate_is_noted(ph, words):
    found = water_problems(dataclasses.replace(HARD, ph=ph))
    assert about(found) == ["alkalinity"]
    assert words in found[0].text


def test_water_problems_ph_without_alkalinity_says_nothing():
    assert water_problems(SourceWater("pure", "Pure", {}, ph=4.0)) == ()


def test_water_problems_numbers_that_balance_as_meq_say_exactly_that():
    charges = {"Ca": 40.0, "Mg": 10.0, "HCO3": 40.0, "Cl": 10.0}
    analysis = {name: f"{value} mg/L" for name, value in charges.items()}
    water = source_water(analysis, accept_imbalance=True)
    (finding,) = water_problems(water)
    assert "the numbers balance if they are meq/L: give the unit" in finding.text


def test_other_reading_meq_that_are_milligrams():
    # Hard water in mg/L, said to be meq/L.
    given_ = {"Ca": (80.156, "meq/L"), "HCO3": (244.064, "meq/L")}
    assert other_reading(given_) == "mg/L"


def test_other_reading_milligrams_that_are_millimoles():
    # 2 mmol of Ca carry the charge of 4 mmol of HCO3.
    assert other_reading({"Ca": (20.0, "mg/L"), "HCO3": (40.0, "mg/L")}) == "mmol/L"


def test_other_reading_alkalinity_stands_for_bicarbonate_once():
    given_ = {"Ca": (40.0, "mg/L"), "HCO3": (40.0, "mg/L"), "alkalinity": (40.0, "mg/L")}
    assert other_reading(given_) == "meq/L"


@pytest.mark.parametrize(
    "given_",
    [
        {}, {"Ca": (4.0, "mg/L")}, {"Ca": (4.0, "mg/L"), "HCO3": (4.0, "mmol/L")},
        {"Fe": (4.0, "mg/L")}, {"Ca": (80.0, "mg/L"), "HCO3": (500.0, "mg/L")},
    ],
)  # fmt: skip
def test_other_reading_without_balance_there_is_none(given_):
    assert other_reading(given_) == ""


def test_ec_of_ions_hard_tap_is_near_the_stated():
    assert ec_of_ions(HARD.content) == pytest.approx(0.73, rel=0.05)


@pytest.mark.parametrize(
    ("content", "expected", "limit"),
    [
        ({"Na": 49.0}, [], None), ({"Na": 51.0}, ["Na"], 50), ({"Ca": 151.0}, ["Ca"], 150),
        ({"Cl": 71.0}, ["Cl"], 70), ({"Cl": 141.0}, ["Cl"], 140), ({"B": 0.71}, ["B"], 0.7),
        # 100 mg/L of SO4 are 33.4 mg/L of S, computed by hand.
        ({"S": 33.3}, [], None), ({"S": 33.5}, ["SO4"], 100),
    ],
)  # fmt: skip
def test_water_limits_published_limits_are_found(content, expected, limit):
    found = water_limits(SourceWater("own", "Own", content))
    assert about(found) == expected
    if expected:
        assert found[0].limit == limit
        assert f"over {limit:g} mg/L" in found[0].text
        assert found[0].source


@pytest.mark.parametrize(("ec", "limit"), [(0.7, None), (0.8, 0.7), (3.0, 0.7), (3.2, 3.0)])
def test_water_limits_ec_as_measured(ec, limit):
    found = water_limits(SourceWater("own", "Own", {}, ec=ec))
    assert [finding.limit for finding in found] == ([] if limit is None else [limit])


def test_water_limits_ec_of_the_ions_where_none_was_measured():
    found = water_limits(
        SourceWater("own", "Own", {"Na": 40.0, "Cl": 60.0, "Ca": 140.0, "HCO3": 420.0})
    )
    assert about(found) == ["EC"]
    sea = water_limits(SourceWater("sea", "Sea", SEA))
    assert sea[-1].about == "EC"
    assert sea[-1].value == float("inf")


@pytest.mark.parametrize(("ph", "expected"), [(6.5, []), (8.4, []), (6.4, [6.5]), (8.5, [8.4])])
def test_water_limits_ph_outside_the_usual(ph, expected):
    found = water_limits(SourceWater("own", "Own", {}, ph=ph))
    assert [finding.limit for finding in found] == expected


def test_water_limits_soft_water_has_none_and_hard_only_ec():
    assert water_limits(WATERS["soft_tap"]) == ()
    assert about(water_limits(HARD)) == ["EC"]


@given(st.floats(0, 1000), st.floats(0, 1000))
def test_water_limits_more_salt_is_never_found_better(less, more):
    low, high = sorted((less, more))
    found = [
        set(about(water_limits(SourceWater("own", "Own", {"Na": value, "Cl": value}))))
        for value in (low, high)
    ]
    assert found[0] <= found[1]
