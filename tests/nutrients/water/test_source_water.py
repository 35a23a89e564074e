from __future__ import annotations

import copy
import pickle

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog
from scenariokit.errors import ArgumentError, RecordError, UnitError
from scenariokit.nutrients.water.hardness import hardness
from scenariokit.nutrients.water.source_water import (
    SourceWater,
    source_water,
    water_from_row,
    water_from_rows,
)
from scenariokit.nutrients.water.water_checks import charge_sums

# Computed by hand: Ca 4, Mg 1, Na 1 against HCO3 4, SO4 1, Cl 0.9, NO3 0.1 meq/L.
MILLIGRAMS = {
    "Ca": "80.156 mg/L", "Mg": "12.1525 mg/L", "Na": "22.99 mg/L", "HCO3": "244.064 mg/L",
    "SO4": "48.028 mg/L", "Cl": "31.905 mg/L", "NO3": "6.2004 mg/L",
}  # fmt: skip
CHARGES = {"Ca": 4, "Mg": 1, "Na": 1, "HCO3": 4, "SO4": 1, "Cl": 0.9, "NO3": 0.1}


def test_source_water_content_counts_elements():
    water = source_water(MILLIGRAMS | {"EC": "0.6 dS/m", "pH": 7.4}, label="Tap")
    assert water.content["S"] == pytest.approx(16.03)
    assert water.content["N_nitrate"] == water.content["N"] == pytest.approx(1.4007)
    assert water.alkalinity == pytest.approx(200.172)
    assert (water.ec, water.ph, water.label, water.id) == (0.6, 7.4, "Tap", "own")


@pytest.mark.parametrize(
    "analysis",
    [
        {name: (value, "meq/L") for name, value in CHARGES.items()},
        {name: f"{value} meq/L" for name, value in CHARGES.items()},
    ],
)
def test_source_water_charges_and_milligrams_give_the_same(analysis):
    expected, found = source_water(MILLIGRAMS).content, source_water(analysis).content
    assert set(found) == set(expected)
    for key, value in expected.items():
        assert found[key] == pytest.approx(value, rel=1e-5), key


def test_source_water_bare_numbers_as_equivalents_when_told():
    found = source_water(CHARGES, equivalents=True).content
    assert found["Ca"] == pytest.approx(80.156)


def test_source_water_millimoles_count_half_the_charge_of_calcium():
    analysis = {"Ca": "2 mmol/L", "HCO3": "4 mmol/L"}
    assert source_water(analysis).content["Ca"] == pytest.approx(80.156)


def test_source_water_bare_numbers_that_balance_as_meq_say_so():
    with pytest.raises(ArgumentError, match="the numbers balance if they are meq/L: give the unit"):
        source_water(CHARGES)


@pytest.mark.parametrize(
    "analysis",
    [
        {"Ca": 80, "HCO3": 244}, {"Ca": 4, "Mg": "1 mmol/L", "HCO3": 5}, {"Ca": 4, "X": 4},
        {"Ca": 4},
    ],
)  # fmt: skip
def test_source_water_other_bare_numbers_are_only_refused(analysis):
    with pytest.raises(ArgumentError, match="bare number") as caught:
        source_water(analysis)
    assert "balance" not in str(caught.value)


def test_source_water_milligrams_that_balance_as_meq_say_so():
    # Numbers of meq/L under the heading mg/L: cations 0.33, anions 0.12 meq/L.
    analysis = {name: f"{10 * value} mg/L" for name, value in CHARGES.items()}
    with pytest.raises(
        ArgumentError, match="the numbers balance if they are meq/L: give the unit"
    ) as caught:
        source_water(analysis)
    assert "cations" in str(caught.value)
    assert "accept_imbalance=True" in str(caught.value)


def test_source_water_incomplete_analysis_is_taken_when_told():
    analysis = {"Ca": "80 mg/L", "Cl": "10 mg/L"}
    with pytest.raises(ArgumentError, match="likely an anion is missing"):
        source_water(analysis)
    assert source_water(analysis, accept_imbalance=True).content["Ca"] == 80


def test_source_water_missing_cation_is_named():
    analysis = {"Ca": "20 mg/L", "HCO3": "244 mg/L"}
    with pytest.raises(ArgumentError, match=r"a cation is missing \(not given, or 0: Mg, Na, K\)"):
        source_water(analysis)


def test_source_water_alkalinity_is_bicarbonate():
    by_alkalinity = source_water({"Ca": "40.078 mg/L", "alkalinity": "100.086 mg/L"})
    by_bicarbonate = source_water({"Ca": "40.078 mg/L", "HCO3": "122.032 mg/L"})
    assert by_alkalinity.content["HCO3"] == pytest.approx(by_bicarbonate.content["HCO3"])
    assert by_bicarbonate.alkalinity == pytest.approx(100.086)


@pytest.mark.parametrize("names", [("HCO3", "alkalinity"), ("alkalinity", "HCO3")])
def test_source_water_alkalinity_and_bicarbonate_that_agree_are_both_kept(names):
    values = {"HCO3": "118 mg/L", "alkalinity": "100 mg/L"}
    water = source_water({"Ca": "40 mg/L"} | {name: values[name] for name in names})
    assert water.content["HCO3"] == pytest.approx(118)
    assert water.alkalinity == pytest.approx(100)


@pytest.mark.parametrize(
    ("alkalinity", "bicarbonate"), [("100 mg/L", "90 mg/L"), ("0 mg/L", "120 mg/L")]
)
def test_source_water_alkalinity_against_bicarbonate_is_refused(alkalinity, bicarbonate):
    with pytest.raises(ArgumentError, match="but HCO3 says"):
        source_water(
            {"Ca": "30 mg/L", "alkalinity": alkalinity, "HCO3": bicarbonate}, accept_imbalance=True
        )


@pytest.mark.parametrize("analysis", [{}, None, 5, [("Ca", "5 mg/L")]])
def test_source_water_no_analysis_is_refused(analysis):
    with pytest.raises(ArgumentError, match="must map parameters to values"):
        source_water(analysis)


def test_source_water_all_bad_lines_at_once():
    with pytest.raises(ArgumentError, match=r"(?s)Ca = 80 g.*Pb.*EC.*pH"):
        source_water({"Ca": "80 g", "Pb": "1 mg/L", "EC": "3 L", "pH": 20})
    with pytest.raises(UnitError):
        source_water({"Ca": "80 g"})


def test_source_water_concentrations_are_quantities():
    found = source_water(MILLIGRAMS).concentrations
    assert found["Ca"].m_as("mg/L") == pytest.approx(80.156)
    assert next(iter(found)) == "N"


def test_source_water_nearly_pure_water_need_not_balance():
    water = source_water({"Ca": "1 mg/L", "pH": 5.8})
    assert water.content["Ca"] == 1


def test_source_water_can_be_a_key_copied_and_stored():
    water = source_water(MILLIGRAMS)
    assert {water: 1}[source_water(MILLIGRAMS)] == 1
    assert pickle.loads(pickle.dumps(water)) == water  # noqa: S301
    assert copy.deepcopy(water) == water


@pytest.mark.parametrize(
    ("content", "words"),
    [({"NO3": 5.0}, "content.NO3"), ({"Ca": -1.0}, "is no amount"),
     ({"Ca": float("nan")}, "is no amount"), (5, "must map")],
)  # fmt: skip
def test_source_water_object_refuses_what_is_no_content(content, words):
    with pytest.raises(ArgumentError, match=words):
        SourceWater("own", "Own", content)


@pytest.mark.parametrize("row", catalog.waters().values(), ids=lambda row: row.id)
def test_water_from_row_catalogue_waters_balance_and_say_invented(row):
    water = water_from_row(row)
    assert water.status == "invented"
    assert charge_sums(water.content).share < 0.05
    assert water.alkalinity == pytest.approx(row.HCO3 * 50.043 / 61.016)
    assert water.ec == row.ec


def test_water_from_row_waters_rise_in_hardness():
    found = [
        hardness(water.concentrations["Ca"], water.concentrations["Mg"]).m_as("mg/L")
        for water in map(water_from_row, catalog.waters().values())
    ]
    assert found == sorted(found)
    assert found[0] < 5
    assert found[2] > 180


def test_water_from_row_of_a_person_may_leave_things_out():
    water = water_from_row({"id": "mine", "label": "Mine", "Ca": 40, "HCO3": None})
    assert water.content == {"Ca": 40.0}
    assert (water.alkalinity, water.ec, water.status) == (0, None, "own")


ROWS = [("Ca", 4, "meq/L"), ("alkalinity", "200", "mg/L"), ("EC", 380, "uS/cm"), ("pH", 7.2, "")]


def test_water_from_rows_reads_what_a_file_says():
    water = water_from_rows("Well", ROWS, "well.csv", id="well")
    assert water.content["Ca"] == pytest.approx(80.156)
    assert (water.id, water.label, water.ph) == ("well", "Well", 7.2)
    assert water.ec == pytest.approx(0.38)


def test_water_from_rows_of_the_reader_of_files():
    text = "water,parameter,value,unit\nwell,Ca,80,mg/L\nwell,alkalinity_CaCO3,200,mg/L\n"
    from scenariokit.catalog.own_feed import read_water

    entry = read_water(text).entries["well"]
    assert water_from_rows(entry["label"], entry["rows"]).content["Ca"] == 80


def test_water_from_rows_bad_rows_are_named_with_file_and_row():
    rows = [("Ca", 80, "g", 2), ("Mg", None, "mg/L", 3), ("Na",), ("pH", 7, None, 5)]
    with pytest.raises(RecordError) as caught:
        water_from_rows("Well", rows, "well.csv")
    text = str(caught.value)
    for words in ("well.csv, row 2: Ca", "well.csv, row 3: Mg", "well.csv: row = ('Na',)"):
        assert words in text
    assert len(caught.value.problems) == 3


def test_water_from_rows_without_rows_is_refused():
    with pytest.raises(RecordError, match="hold no parameter"):
        water_from_rows("Well", [], "well.csv")


def test_water_from_rows_out_of_balance_is_refused_unless_accepted():
    rows = [("Ca", 80, "mg/L")]
    with pytest.raises(RecordError, match=r"well.csv: charge balance: cations 3\.99"):
        water_from_rows("Well", rows, "well.csv")
    assert water_from_rows("Well", rows, accept_imbalance=True).content["Ca"] == 80


@given(st.permutations(sorted(MILLIGRAMS)))
@settings(max_examples=30)
def test_source_water_order_of_lines_does_not_matter(names):
    expected, found = source_water(MILLIGRAMS), source_water({n: MILLIGRAMS[n] for n in names})
    assert found.content == expected.content


@given(st.floats(0.5, 20), st.floats(0.1, 20))
@settings(max_examples=60)
def test_source_water_balance_decides_between_taken_and_refused(cations, anions):
    analysis = {"Ca": (cations, "meq/L"), "Cl": (anions, "meq/L")}
    apart = abs(cations - anions)
    refused = apart > 0.25 * (cations + anions) / 2 * (1 + 1e-9) and apart > 0.2 * (1 + 1e-9)
    if refused:
        with pytest.raises(ArgumentError, match="charge balance"):
            source_water(analysis)
    elif apart < 0.2499 * (cations + anions) / 2:
        sums = charge_sums(source_water(analysis).content)
        assert sums.cations == pytest.approx(cations)
        assert sums.anions == pytest.approx(anions)
