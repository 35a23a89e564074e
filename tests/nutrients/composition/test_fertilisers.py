from __future__ import annotations

import csv
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog
from scenariokit.errors import ArgumentError, RangeError
from scenariokit.nutrients.composition.fertilisers import (
    fertiliser_from_formula,
    fertiliser_from_label,
    fertiliser_from_row,
    shelf,
)

PUBLISHED = Path(__file__).parents[2] / "published" / "salts.csv"


def shares_of_salts():
    with PUBLISHED.open(newline="", encoding="utf-8") as file:
        return [
            row for row in csv.DictReader(file)
            if row["unit"] == "percent" and "C" not in row["formula"].replace("Ca", "")
            .replace("Cl", "").replace("Cu", "")
        ]  # fmt: skip


@pytest.mark.parametrize(
    "row", shares_of_salts(), ids=lambda row: f"{row['formula']}-{row['element']}"
)
def test_fertiliser_from_formula_published_mass_percents(row):
    found = fertiliser_from_formula(row["formula"]).shares.get(row["element"], 0.0)
    assert 100 * found == pytest.approx(float(row["value"]), rel=5e-4)


@pytest.mark.parametrize("salt", catalog.salts().values(), ids=lambda row: row.id)
def test_fertiliser_from_formula_agrees_with_the_shipped_row(salt):
    shipped, computed = fertiliser_from_row(salt), fertiliser_from_formula(salt.formula)
    assert dict(computed.shares) == pytest.approx(dict(shipped.shares), rel=2e-5)
    assert computed.stock == shipped.stock
    assert computed.kind == shipped.kind == "salt"


def test_fertiliser_from_formula_double_salt_splits_nitrogen():
    # Computed: 5Ca(NO3)2.NH4NO3.10H2O holds 14.258 % nitrate N and 1.296 % ammonium N.
    shares = fertiliser_from_formula("5Ca(NO3)2.NH4NO3.10H2O").shares
    assert shares["N_nitrate"] == pytest.approx(0.14258, abs=5e-6)
    assert shares["N_ammonium"] == pytest.approx(0.01296, abs=5e-6)
    # Computed: it brings more nitrogen per calcium, 0.839, than the tetrahydrate, 0.699.
    assert shares["N"] / shares["Ca"] == pytest.approx(0.839, abs=5e-4)
    plain = fertiliser_from_formula("Ca(NO3)2.4H2O").shares
    assert plain["N"] / plain["Ca"] == pytest.approx(0.699, abs=5e-4)


def test_fertiliser_from_formula_urea_is_its_own_form():
    shares = fertiliser_from_formula("CO(NH2)2").shares
    # Computed: 46.646 % N.
    assert dict(shares) == pytest.approx({"N": 0.46646, "N_urea": 0.46646}, abs=5e-6)


def test_fertiliser_from_formula_nitrogen_of_a_chelate_is_not_counted():
    shares = fertiliser_from_formula("C10H12FeN2NaO8.3H2O").shares
    assert set(shares) == {"Fe", "Na"}


def test_fertiliser_from_formula_other_nitrogen_is_of_unknown_form():
    nitrite = fertiliser_from_formula("KNO2")
    assert nitrite.unknown_nitrogen == pytest.approx(14.007 / 85.103, rel=1e-4)


@pytest.mark.parametrize(
    ("formula", "percent"),
    [("HNO3", {"N": 22.229, "N_nitrate": 22.229}), ("H3PO4", {"P": 31.608}),
     ("H2SO4", {"S": 32.690})],
)  # fmt: skip
def test_fertiliser_from_formula_acids_are_of_kind_acid(formula, percent):
    # Computed from IUPAC abridged masses.
    acid = fertiliser_from_formula(formula)
    assert acid.kind == "acid"
    assert {key: 100 * share for key, share in acid.shares.items()} == pytest.approx(
        percent, abs=5e-4
    )


@pytest.mark.parametrize(
    ("formula", "stock"),
    [("Ca(NO3)2", "calcium"), ("CaSO4.2H2O", "calcium"), ("K2SO4", "sulfate_phosphate"),
     ("H3PO4", "sulfate_phosphate"), ("KNO3", "either"), ("HNO3", "either")],
)  # fmt: skip
def test_fertiliser_from_formula_stock_by_what_it_holds(formula, stock):
    assert fertiliser_from_formula(formula).stock == stock
    assert fertiliser_from_formula(formula, stock="either").stock == "either"


def test_fertiliser_from_formula_names_and_words_are_kept():
    plain = fertiliser_from_formula("KCl")
    assert (plain.id, plain.label, plain.formula, plain.status) == ("KCl", "KCl", "KCl", "computed")
    named = fertiliser_from_formula("KCl", id="mine", label="Mine", hazard="low hazard")
    assert (named.id, named.label, named.hazard) == ("mine", "Mine", "low hazard")


def test_fertiliser_from_formula_without_nutrient_raises():
    with pytest.raises(ArgumentError, match="nothing that is counted"):
        fertiliser_from_formula("SiO2")


def test_fertiliser_from_formula_unreadable_raises():
    with pytest.raises(ArgumentError, match="Xx"):
        fertiliser_from_formula("XxNO3")


def test_fertiliser_from_label_double_salt_split():
    # Label read in a grower's forum: 14.4 % nitrate N + 1.1 % ammonium N = 15.5 % N.
    one = fertiliser_from_label(
        "15.5-0-0", calcium="19 %", stated_as="element", nitrate="14.4 %", ammonium="1.1 %",
        id="mine", label="Mine", hazard="eye damage",
    )  # fmt: skip
    assert dict(one.shares) == pytest.approx(
        {"N": 0.155, "N_nitrate": 0.144, "N_ammonium": 0.011, "Ca": 0.19}
    )
    assert (one.id, one.label, one.stock, one.kind) == ("mine", "Mine", "calcium", "labelled")
    assert (one.hazard, one.unknown_nitrogen) == ("eye damage", 0)


def test_fertiliser_from_label_without_split_form_is_unknown():
    one = fertiliser_from_label("15-5-30")
    assert one.unknown_nitrogen == pytest.approx(0.15)
    assert (one.id, one.label, one.stock) == ("15-5-30", "15-5-30", "sulfate_phosphate")


@pytest.mark.parametrize(
    ("grade", "declared", "stock"),
    [("13-0-46", {}, "either"), ("0-0-50", {"sulfur": "17 %"}, "sulfate_phosphate"),
     ((15.5, 0, 0), {"calcium": "19 %"}, "calcium")],
)  # fmt: skip
def test_fertiliser_from_label_stock_by_what_it_declares(grade, declared, stock):
    stated = {"stated_as": "element"} if declared else {}
    one = fertiliser_from_label(grade, **declared, **stated)
    assert one.stock == stock


def test_fertiliser_from_label_sequence_of_numbers_is_named_like_a_grade():
    assert fertiliser_from_label((15.5, 0, 0)).id == "15.5-0-0"


def test_fertiliser_from_label_calcium_with_phosphate_must_tell_the_stock():
    with pytest.raises(ArgumentError, match="calcium beside phosphate or sulfur"):
        fertiliser_from_label("10-10-10", calcium="5 %", stated_as="element")
    told = fertiliser_from_label(
        "10-10-10", calcium="5 %", stated_as="element", stock="sulfate_phosphate"
    )
    assert told.stock == "sulfate_phosphate"


def test_fertiliser_from_label_bad_label_raises():
    with pytest.raises(RangeError, match="add to 101"):
        fertiliser_from_label("40-31-30")


def test_fertiliser_from_row_keeps_hazard_source_and_status():
    salt = catalog.salts()["calcium_nitrate"]
    one = fertiliser_from_row(salt)
    assert (one.id, one.label, one.formula) == (salt.id, salt.label, salt.formula)
    assert (one.hazard, one.source, one.status) == (salt.hazard, salt.source, salt.status)
    assert one.shares["Ca"] == pytest.approx(0.169717)


def test_fertiliser_from_row_without_percents_uses_the_formula():
    one = fertiliser_from_row({"id": "mine", "formula": "KNO3", "K": None})
    assert one.shares["K"] == pytest.approx(0.38672, abs=5e-6)
    assert (one.label, one.stock, one.status) == ("mine", "either", "computed")


def test_fertiliser_from_row_grade_with_what_it_declares():
    row = {
        "id": "mine", "label": "Mine", "grade": "10-10-30", "nitrate": 7.0, "ammonium": 2.0,
        "urea": 1.0, "magnesium": 5.0, "stated_as": "oxide", "iron": 0.1, "sodium": 0.5,
        "hazard": "", "source": "bag", "status": "own",
    }  # fmt: skip
    one = fertiliser_from_row(row)
    assert one.shares["N_urea"] == pytest.approx(0.01)
    # Factor computed from IUPAC abridged masses: MgO 0.60304.
    assert one.shares["Mg"] == pytest.approx(0.05 * 0.60304, abs=5e-6)
    assert (one.shares["Fe"], one.shares["Na"]) == pytest.approx((0.001, 0.005))
    assert (one.kind, one.source, one.status) == ("labelled", "bag", "own")


def test_fertiliser_from_row_source_alone_keeps_the_computed_status():
    one = fertiliser_from_row({"id": "mine", "formula": "KNO3", "source": "bag"})
    assert (one.source, one.status) == ("bag", "computed")


def test_fertiliser_from_row_percents_tell_kind_and_stock():
    acid = fertiliser_from_row({"id": "acid", "formula": "HNO3", "N_nitrate": 13.3})
    assert (acid.kind, acid.stock) == ("acid", "either")
    bag = fertiliser_from_row({"id": "bag", "grade": "0-10-0", "P": 4.36})
    assert (bag.kind, bag.stock) == ("labelled", "sulfate_phosphate")


def test_fertiliser_from_row_empty_raises():
    with pytest.raises(ArgumentError, match="neither mass percents, nor a grade, nor a formula"):
        fertiliser_from_row({"id": "mine", "formula": "", "grade": ""})


def test_shelf_all_and_some():
    assert list(shelf()) == list(catalog.salts())
    assert list(shelf(["iron_edta", "borax"])) == ["iron_edta", "borax"]
    assert shelf([]) == {}


def test_shelf_unknown_ids_are_all_named():
    with pytest.raises(ArgumentError) as caught:
        shelf(["guano", "borax", "ash"])
    assert [problem.value for problem in caught.value.problems] == ["guano", "ash"]


def test_shelf_one_text_is_refused():
    with pytest.raises(ArgumentError, match="give a list"):
        shelf("borax")


ATOMS = st.sampled_from(["KNO3", "KH2PO4", "MgSO4", "Ca(NO3)2", "NH4NO3", "KCl", "H3BO3"])


@given(formula=ATOMS, water=st.integers(1, 12))
@settings(max_examples=40)
def test_fertiliser_from_formula_water_of_crystallisation_dilutes_all_alike(formula, water):
    dry = fertiliser_from_formula(formula).shares
    wet = fertiliser_from_formula(f"{formula}.{water}H2O").shares
    ratios = [wet[key] / dry[key] for key in dry]
    assert set(wet) == set(dry)
    assert max(ratios) < 1
    assert max(ratios) == pytest.approx(min(ratios), rel=1e-12)
