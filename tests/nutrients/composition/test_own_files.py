from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog
from scenariokit.errors import ArgumentError
from scenariokit.nutrients.composition.fertilisers import fertiliser_from_label, fertiliser_from_row
from scenariokit.nutrients.composition.own_files import (
    own_fertilisers,
    own_targets,
    percents_of_row,
)

SALT = {"id": "my_salt", "label": "My salt", "formula": "Ca(NO3)2.4H2O"}
BAG = {
    "id": "my_feed", "label": "My feed", "grade": "15.5-0-0", "calcium": 19,
    "stated_as": "element", "nitrate": 14.4, "ammonium": 1.1,
}  # fmt: skip


def feeds(*rows):
    return catalog.write_csv(rows, "own_fertilisers")


def test_own_fertilisers_formula_fills_percents_and_mass():
    salt = own_fertilisers(feeds(SALT)).entries["my_salt"]
    shipped = catalog.salts()["calcium_nitrate"]
    for key in ("molar_mass", "N_nitrate", "Ca", "K", "Mo"):
        assert salt[key] == pytest.approx(shipped[key], rel=1e-4)
    assert (salt.stock, salt.N_urea) == ("calcium", 0)


def test_own_fertilisers_grade_fills_percents():
    merged = own_fertilisers(feeds(BAG))
    bag = merged.entries["my_feed"]
    assert merged.problems == ()
    assert (bag.N, bag.N_nitrate, bag.N_ammonium, bag.Ca, bag.K) == pytest.approx(
        (15.5, 14.4, 1.1, 19, 0)
    )
    assert (bag.molar_mass, bag.stock) == (None, "calcium")


def test_own_fertilisers_grade_without_split_fills_total_only():
    row = {"id": "plain", "label": "Plain", "grade": "15-5-30"}
    merged = own_fertilisers(feeds(row))
    plain = merged.entries["plain"]
    assert (plain.N, plain.N_nitrate, plain.N_ammonium) == pytest.approx((15, 0, 0))
    assert fertiliser_from_row(plain).unknown_nitrogen == pytest.approx(0.15)


def test_own_fertilisers_entry_makes_the_same_fertiliser_as_the_label():
    made = fertiliser_from_row(own_fertilisers(feeds(BAG), name="mine.csv").entries["my_feed"])
    told = fertiliser_from_label(
        "15.5-0-0", calcium="19 %", stated_as="element", nitrate="14.4 %", ammonium="1.1 %"
    )
    assert dict(made.shares) == pytest.approx(dict(told.shares))
    assert (made.kind, made.stock, made.source, made.status) == (
        "labelled", "calcium", "mine.csv", "own",
    )  # fmt: skip
    assert "not stated" in made.hazard


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"formula": "Xx2", "grade": "", "calcium": None, "nitrate": None, "ammonium": None},
         "Xx2"),
        ({"nitrate": 10.0}, "makes 11.1 % N, but the grade says 15.5"),
        ({"grade": "60-30-5", "nitrate": 60.0, "ammonium": 0.0}, "add to 114"),
        ({"grade": "0.155-0-0", "nitrate": None, "ammonium": None}, "looks like fractions"),
        ({"grade": "15.5-5-0"}, "stock: must be told"),
    ],
)  # fmt: skip
def test_own_fertilisers_what_cannot_be_true_is_listed_with_its_place(change, words):
    merged = own_fertilisers(feeds(SALT, {**BAG, **change}), name="mine.csv")
    assert merged.own == ("my_salt",)
    (problem,) = merged.problems
    assert words in str(problem)
    assert (problem.file, problem.row) == ("mine.csv", 3)


def test_own_fertilisers_adds_to_a_given_base():
    first = own_fertilisers(feeds(SALT))
    second = own_fertilisers(feeds(BAG), first.entries)
    assert {"my_salt", "my_feed", "borax"} <= set(second.entries)


def test_percents_of_row_empty_row_raises():
    with pytest.raises(ArgumentError, match="neither mass percents"):
        percents_of_row({"id": "x"})


@given(grade=st.tuples(st.integers(1, 30), st.integers(0, 30), st.integers(0, 30)))
@settings(max_examples=30)
def test_percents_of_row_elements_never_exceed_the_grade(grade):
    found = percents_of_row({"id": "x", "grade": "-".join(map(str, grade))})
    assert found["N"] == pytest.approx(grade[0])
    assert found["P"] <= grade[1]
    assert found["K"] <= grade[2]


def test_own_targets_amounts_become_milligrams():
    # Steiner 1961, ratios from memory: Ca 4.5 and K 7 mmol/L are 180.35 and 273.69 mg/L.
    found = own_targets(
        "id,element,low,target,high,unit\n"
        "mine,Ca,4,4.5,5,mmol/L\nmine,K,,7,,mmol/L\nmine,B,,46,,umol/L\nmine,N,90,100,110,mg/L\n"
    )
    bands = found.entries["mine"].bands
    assert found.problems == ()
    assert bands["Ca"].target == pytest.approx(180.35, abs=5e-3)
    assert bands["Ca"].low == pytest.approx(4 * 40.078)
    assert bands["K"].target == pytest.approx(273.69, abs=5e-3)
    assert bands["K"].high is None
    # Computed by hand: 0.046 mmol/L x 10.81 g/mol.
    assert bands["B"].target == pytest.approx(0.49726)
    assert (bands["N"].low, bands["N"].target, bands["N"].high) == (90, 100, 110)
    assert {band.unit for band in bands.values()} == {"mg/L"}


def test_own_targets_bad_row_is_listed():
    found = own_targets(
        "id,element,target,unit\nmine,Ca,5,mmol/L\nmine,Xx,5,mmol/L\n", name="a.csv"
    )
    assert [problem.row for problem in found.problems] == [3]
    assert list(found.entries["mine"].bands) == ["Ca"]
