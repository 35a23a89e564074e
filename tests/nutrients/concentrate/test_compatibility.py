from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.nutrients.composition.fertilisers import fertiliser_from_label, shelf
from scenariokit.nutrients.concentrate.compatibility import (
    incompatible,
    incompatible_content,
    is_micronutrient,
    require_compatible,
)

TABLE = Path(__file__).parents[2] / "published" / "stock_amounts.csv"
with TABLE.open(newline="", encoding="utf-8") as file:
    PUBLISHED = {row["quantity"]: float(row["value"]) for row in csv.DictReader(file)}


def recipe(name, factor=1.0):
    return {
        salt: quantity(rate * factor, "g/L") for salt, rate in catalog.recipes()[name].salts.items()
    }


def settled(found):
    return {row.settles: row.at_most.m_as("g/L") for row in found if row.refused}


@pytest.mark.parametrize("name", sorted(catalog.recipes()))
def test_incompatible_ready_solution_is_clear(name):
    assert incompatible(recipe(name)) == []


def test_incompatible_hoagland_all_in_one_hundredfold_is_gypsum():
    # 200 mmol/L of sulfate x 172.164 g/mol = 34.43 g/L, and 0.02 g/L by zinc and copper sulfate;
    # what IPHREEQC lets settle is less, for 4 % of the sulfate stays dissolved.
    found = settled(incompatible(recipe("hoagland_1", 100)))
    assert found["gypsum"] == pytest.approx(PUBLISHED["gypsum at most"], abs=0.1)
    assert 0.95 * found["gypsum"] < PUBLISHED["gypsum at equilibrium"] < found["gypsum"]
    # 100 mmol/L of phosphate x 172.086 g/mol.
    assert found["calcium phosphate"] == pytest.approx(17.21, abs=0.01)


@pytest.mark.parametrize(
    ("factor", "expected"),
    [(3.1, set()), (3.2, {"calcium phosphate"}), (4.6, {"calcium phosphate", "gypsum"})],
)
def test_incompatible_all_in_one_refused_from_the_documented_strength(factor, expected):
    assert set(settled(incompatible(recipe("hoagland_1", factor)))) == expected


def test_incompatible_scarcer_ion_limits_what_settles():
    # 1 g/L of gypsum-forming calcium: 10 g/L tetrahydrate = 42.35 mmol/L against 405.7 of sulfate.
    found = settled(incompatible({"calcium_nitrate": "10 g/L", "magnesium_sulfate": "100 g/L"}))
    assert found["gypsum"] == pytest.approx(10 / 236.146 * 172.164, rel=1e-4)


def test_incompatible_rate_unit_does_not_matter():
    one = incompatible({"calcium_nitrate": "118 g/L", "magnesium_sulfate": "49.3 g/L"})
    two = incompatible({"calcium_nitrate": "118 kg/m^3", "magnesium_sulfate": "0.0493 kg/L"})
    assert settled(one)["gypsum"] == pytest.approx(settled(two)["gypsum"])


def test_incompatible_names_main_carriers_only():
    [gypsum, _] = incompatible(recipe("hoagland_1", 100))[:2]
    assert gypsum.first == "Calcium nitrate tetrahydrate"
    assert gypsum.second == "Magnesium sulfate heptahydrate"
    assert str(gypsum).startswith(f"{gypsum.first} with {gypsum.second}: calcium and sulfate")
    assert "at most 34.5 g/L of gypsum" in str(gypsum)


def test_incompatible_plain_iron_with_phosphate_is_refused_chelate_is_not():
    plain = {"iron_sulfate": "1.5 g/L", "monopotassium_phosphate": "13.6 g/L"}
    [found] = incompatible(plain)
    # 1.5 / 278.006 mol/L of iron x FePO4.2H2O, 186.85 g/mol.
    assert found.settles == "iron phosphate"
    assert found.at_most.m_as("g/L") == pytest.approx(1.5 / 278.006 * 186.847, rel=1e-3)
    assert incompatible({"iron_edta": "2.2 g/L", "monopotassium_phosphate": "13.6 g/L"}) == []


def test_incompatible_iron_of_unknown_formula_counts_as_chelated():
    shelved = shelf() | {
        "bag": fertiliser_from_label(
            "0-0-1", micronutrients={"Fe": "6 %"}, id="bag", stock="either"
        )
    }
    assert incompatible({"bag": "5 g/L", "monopotassium_phosphate": "13.6 g/L"}, shelved) == []


def test_incompatible_magnesium_ammonium_phosphate_is_a_note():
    [found] = incompatible({"monoammonium_phosphate": "11.5 g/L", "magnesium_sulfate": "49.3 g/L"})
    assert not found.refused
    assert "pH 7" in found.reason
    assert found.at_most.m_as("g/L") == pytest.approx(11.5 / 115.025 * 245.405, rel=1e-3)


def test_incompatible_common_ion_is_a_note_that_cold_brings():
    both = {"potassium_nitrate": "80 g/L", "magnesium_sulfate": "60 g/L"}
    assert incompatible(both, coldest="25 degC") == []
    [found] = incompatible(both, coldest="5 degC")
    assert found.settles == "potassium sulfate"
    assert not found.refused
    # Sulfate is the scarcer: 60 / 246.466 mol/L x 174.252 g/mol.
    assert found.at_most.m_as("g/L") == pytest.approx(60 / 246.466 * 174.252, rel=1e-4)


def test_incompatible_one_salt_near_saturation_is_no_matter_of_common_ions():
    assert incompatible({"potassium_sulfate": "80 g/L"}) == []


def test_incompatible_one_product_with_both_names_it_once():
    product = fertiliser_from_label(
        "10-10-10", calcium="5 %", sulfur="4 %", stated_as="element", id="bag", stock="either"
    )
    found = incompatible({"bag": "100 g/L"}, {"bag": product})
    assert [row.first for row in found] == ["10-10-10", "10-10-10"]
    assert str(found[0]).startswith("10-10-10: calcium and sulfate")


def test_incompatible_content_gives_the_same_grams():
    content = {"Ca": quantity(500 * 40.078, "mg/L"), "S": quantity(200 * 32.06, "mg/L")}
    [found] = incompatible_content(content | {"Fe": "900 mg/L"})
    assert found.at_most.m_as("g/L") == pytest.approx(34.433, abs=0.001)
    assert incompatible_content({"Ca": "200 mg/L", "S": "64 mg/L", "P": "31 mg/L"}) == []


def test_incompatible_content_unknown_key_raises():
    with pytest.raises(ArgumentError, match="Calcium"):
        incompatible_content({"Calcium": "1 g/L"})
    with pytest.raises(RangeError, match="one number"):
        incompatible_content({"Ca": quantity([1.0, 2.0], "g/L"), "S": "1 g/L"})


@pytest.mark.parametrize("strengths", [None, {}, "KNO3", [("potassium_nitrate", "1 g/L")]])
def test_incompatible_no_mapping_raises(strengths):
    with pytest.raises(ArgumentError, match="map fertilisers to g/L"):
        incompatible(strengths)


def test_incompatible_every_bad_argument_in_one_message():
    bad = {
        "potash": "1 g/L", "potassium_nitrate": "-1 g/L", "calcium_nitrate": 3,
    }  # fmt: skip
    with pytest.raises(ArgumentError) as caught:
        incompatible(bad, coldest="30 degC")
    fields = {problem.field for problem in caught.value.problems}
    assert fields == {
        "strengths[potash]", "strengths[potassium_nitrate]", "strengths[calcium_nitrate]",
        "coldest",
    }  # fmt: skip


def test_incompatible_bare_number_and_array_raise():
    with pytest.raises(UnitError, match="potassium_nitrate"):
        incompatible({"potassium_nitrate": 1})
    with pytest.raises(RangeError, match="one number"):
        incompatible({"potassium_nitrate": quantity([1.0, 2.0], "g/L")})


def test_incompatible_no_room_for_water_is_infeasible():
    with pytest.raises(InfeasibleError, match="no room"):
        incompatible({"potassium_nitrate": "2100 g/L"})


def test_require_compatible_returns_notes_or_says_what_settles():
    notes = require_compatible(
        {"monoammonium_phosphate": "11.5 g/L", "magnesium_sulfate": "49.3 g/L"}
    )
    assert [note.refused for note in notes] == [False]
    with pytest.raises(InfeasibleError, match=r"^stock A cannot hold .*settle as gypsum; at most"):
        require_compatible(recipe("hoagland_1", 100), place="stock A")


def test_is_micronutrient_of_the_shelf():
    found = {name for name, fertiliser in shelf().items() if is_micronutrient(fertiliser)}
    assert found == {
        "iron_edta", "iron_dtpa", "iron_sulfate", "boric_acid", "borax", "manganese_sulfate",
        "manganese_chloride", "zinc_sulfate", "copper_sulfate", "sodium_molybdate",
        "ammonium_heptamolybdate",
    }  # fmt: skip


@given(
    calcium=st.floats(0, 300), sulfate=st.floats(0, 300), phosphate=st.floats(0, 100),
    factor=st.floats(1, 3),
)  # fmt: skip
@settings(max_examples=80)
def test_incompatible_stronger_never_becomes_compatible(calcium, sulfate, phosphate, factor):
    amounts = {
        "calcium_nitrate": calcium, "magnesium_sulfate": sulfate,
        "monopotassium_phosphate": phosphate,
    }  # fmt: skip

    def found(times):
        given_now = {name: quantity(times * value, "g/L") for name, value in amounts.items()}
        return settled(incompatible(given_now))

    weak, strong = found(1.0), found(factor)
    for name, grams in weak.items():
        assert strong[name] >= grams * (1 - 1e-12)


SOLUTION = """SOLUTION_MASTER_SPECIES
Nit Nit- 0 62.004 62.004
SOLUTION_SPECIES
Nit- = Nit-
 log_k 0
 -gamma 3 0
PHASES
Brushite
 CaHPO4:2H2O = Ca+2 + HPO4-2 + 2H2O
 log_k -6.59
SOLUTION 1
 units mmol/kgw
 temp 25
 pH 5.5
 K {K}
 Ca {Ca}
 Mg {Mg}
 Nit {N} charge
 P {P}
 S(6) {S}
SELECTED_OUTPUT
 -reset false
 -si Gypsum Brushite
 -equilibrium_phases Gypsum
EQUILIBRIUM_PHASES 1
 Gypsum 0 0
END
"""


def test_incompatible_catches_all_that_iphreeqc_calls_supersaturated():
    phreeqc = pytest.importorskip("phreeqc")
    random = np.random.default_rng(11)
    engine = phreeqc.Phreeqc()
    engine.LoadBuiltInDatabase("phreeqc.dat")
    over = 0
    for _ in range(60):
        factor = 10 ** random.uniform(0, 2)
        ca, mg, k, p = random.uniform([3, 1, 3, 0.5], [6, 3, 8, 2]) * factor
        amounts = {"K": k + p, "Ca": ca, "Mg": mg, "N": k + 2 * ca, "P": p, "S": mg}
        assert engine.RunString(SOLUTION.format(**amounts)) == 0
        output = engine.GetSelectedOutput()
        strengths = {
            "calcium_nitrate": ca * 0.236146, "potassium_nitrate": k * 0.101102,
            "magnesium_sulfate": mg * 0.246466, "monopotassium_phosphate": p * 0.136084,
        }  # fmt: skip
        found = settled(incompatible({n: quantity(v, "g/L") for n, v in strengths.items()}))
        if output["si_Gypsum"][0] > 0:
            over += 1
            dropped = output["Gypsum"][-1] * 172.164
            assert dropped <= found["gypsum"]
        if output["si_Brushite"][0] > 0:
            assert "calcium phosphate" in found
    assert over > 10
