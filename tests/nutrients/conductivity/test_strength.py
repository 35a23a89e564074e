from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.nutrients.composition.contents import IONS
from scenariokit.nutrients.conductivity.ions import electrical_conductivity
from scenariokit.nutrients.conductivity.strength import (
    StrengthCurve,
    strength_curve,
    strength_for_ec,
)

HOAGLAND = {"K": 6.0, "Ca": 5.0, "Mg": 2.0, "NO3": 15.0, "H2PO4": 1.0, "SO4": 2.0}
STEINER = {"K": 7.0, "Ca": 4.5, "Mg": 2.0, "NO3": 12.0, "H2PO4": 1.0, "SO4": 3.5}
HARD = {"Ca": 2.0, "Mg": 0.5, "Na": 1.0, "HCO3": 4.0, "Cl": 1.0, "SO4": 0.5}
WATERS = {
    "pure": {},
    "rain": {"Na": 0.05, "Cl": 0.05},
    "traces": {"Na": 1e-6, "Cl": 1e-6},
    "hard": HARD,
}


def quantities(ions):
    return {ion: quantity(amount, "mmol/L") for ion, amount in ions.items()}


def mixture(ions, water, strength):
    return {ion: water.get(ion, 0.0) + strength * ions.get(ion, 0.0) for ion in {**ions, **water}}


@pytest.mark.parametrize("water", WATERS.values(), ids=WATERS)
@pytest.mark.parametrize("ions", [HOAGLAND, STEINER], ids=["hoagland", "steiner"])
def test_strength_for_ec_solution_made_so_has_that_ec(ions, water):
    wanted = np.linspace(0.7, 6.0, 107)
    found = strength_for_ec(quantity(wanted, "dS/m"), quantities(ions), quantities(water))
    made = electrical_conductivity.floats(mixture(ions, water, found.m_as("")))
    assert made == pytest.approx(wanted, rel=1e-8)


def test_strength_for_ec_own_ec_is_full_strength():
    ec = electrical_conductivity(quantities(HOAGLAND))
    assert strength_for_ec(ec, quantities(HOAGLAND)).m_as("") == pytest.approx(1, rel=1e-9)


def test_strength_for_ec_half_hoagland_published_ec():
    # Computed with IPHREEQC 3.8.6: half strength has 1.1391 dS/m.
    found = strength_for_ec("1.1391 dS/m", quantities(HOAGLAND)).m_as("")
    assert found == pytest.approx(0.5, rel=0.03)


def test_strength_for_ec_other_unit_same_result():
    ions = quantities(HOAGLAND)
    one, other = strength_for_ec("1.2 dS/m", ions), strength_for_ec("1200 uS/cm", ions)
    assert one.m_as("") == pytest.approx(other.m_as(""))


def test_strength_for_ec_array_keeps_its_shape():
    wanted = np.array([[1.0, 2.0, 3.0], [1.5, 2.5, 3.5]])
    found = strength_for_ec(quantity(wanted, "dS/m"), quantities(HOAGLAND)).m_as("")
    assert found.shape == (2, 3)
    one = strength_for_ec("2.5 dS/m", quantities(HOAGLAND)).m_as("")
    assert found[1, 1] == pytest.approx(one)


def test_strength_for_ec_of_the_water_is_zero():
    water = quantities(HARD)
    ec = electrical_conductivity(water)
    assert strength_for_ec(ec, quantities(HOAGLAND), water).m_as("") == pytest.approx(0, abs=1e-9)
    assert strength_for_ec("0 dS/m", quantities(HOAGLAND)).m_as("") == pytest.approx(0, abs=1e-12)


def test_strength_for_ec_below_the_water_refused():
    with pytest.raises(InfeasibleError, match=r"EC of 0\.2 dS/m is below that of the water itself"):
        strength_for_ec("0.2 dS/m", quantities(HOAGLAND), quantities(HARD))


def test_strength_for_ec_above_the_model_refused():
    with pytest.raises(InfeasibleError, match=r"EC of 12 dS/m is above what the model of EC"):
        strength_for_ec("12 dS/m", quantities(HOAGLAND))


def test_strength_for_ec_array_says_how_many_are_outside():
    wanted = quantity([0.1, 0.2, 1.0, 20.0], "dS/m")
    with pytest.raises(InfeasibleError, match=r"\(2 of 4 values\).*\(1 of 4 values\)"):
        strength_for_ec(wanted, quantities(HOAGLAND), quantities(HARD))


def test_strength_for_ec_reaches_six_for_usual_recipes():
    for ions in (HOAGLAND, STEINER):
        assert strength_for_ec("6 dS/m", quantities(ions)).m_as("") > 2.5


@pytest.mark.parametrize("ions", [{}, {"K": 0.0}])
def test_strength_for_ec_recipe_without_ions_refused(ions):
    with pytest.raises(InfeasibleError, match="no ions"):
        strength_for_ec("1 dS/m", quantities(ions), quantities(HARD))


def test_strength_for_ec_array_of_ions_refused():
    with pytest.raises(ArgumentError, match=r"ions\[K\].*one recipe"):
        strength_for_ec("1 dS/m", {"K": quantity([1, 2], "mmol/L")})


def test_strength_for_ec_bad_arguments_raise():
    ions = quantities(HOAGLAND)
    with pytest.raises(UnitError, match="ec"):
        strength_for_ec("2 mg/L", ions)
    with pytest.raises(RangeError, match="ec"):
        strength_for_ec("-1 dS/m", ions)
    with pytest.raises(UnitError, match=r"ions\[K\]"):
        strength_for_ec("2 dS/m", {"K": "200 mg/L"})
    with pytest.raises(ArgumentError, match=r"water_ions\[Sr\]"):
        strength_for_ec("2 dS/m", ions, {"Sr": "1 mmol/L"})


def test_strength_curve_ec_same_as_the_ions_themselves():
    curve = StrengthCurve(HOAGLAND, HARD)
    strengths = np.linspace(0, curve.highest_strength, 501)
    exact = electrical_conductivity.floats(mixture(HOAGLAND, HARD, strengths))
    assert curve.ec(strengths) == pytest.approx(exact, rel=1e-9)
    assert curve.water_ec == pytest.approx(electrical_conductivity.floats(HARD))
    assert curve.highest_ec == pytest.approx(exact[-1], rel=1e-9)


def test_strength_curve_scalar_in_float_out():
    curve = StrengthCurve(HOAGLAND, {})
    assert type(curve.ec(1.0)) is float
    assert type(curve.strength(1.0)) is float


def test_strength_curve_traces_in_the_water_still_exact():
    curve = StrengthCurve(HOAGLAND, WATERS["traces"])
    wanted = np.linspace(0.2, 6, 301)
    made = electrical_conductivity.floats(mixture(HOAGLAND, curve.water, curve.strength(wanted)))
    assert made == pytest.approx(wanted, rel=1e-8)


def test_strength_curve_many_values_same_as_few():
    curve = StrengthCurve(HOAGLAND, HARD)
    wanted = np.linspace(1, 6, 20_001).reshape(3, -1)
    found = curve.strength(wanted)
    assert found.shape == wanted.shape
    assert found[2, 100] == pytest.approx(curve.strength(float(wanted[2, 100])), rel=1e-12)


def test_strength_curve_plain_water_has_one_ec():
    curve = StrengthCurve({}, HARD)
    assert curve.ec(0.0) == curve.ec(7.0) == curve.water_ec == curve.highest_ec
    assert curve.ec(np.array([0.0, 1.0])) == pytest.approx(curve.water_ec)
    assert curve.highest_strength == float("inf")


@pytest.mark.parametrize("strength", [-0.1, 50.0, float("nan")])
def test_strength_curve_ec_of_an_impossible_strength_refused(strength):
    with pytest.raises(InfeasibleError, match="strength"):
        StrengthCurve(HOAGLAND, HARD).ec(strength)


def test_strength_curve_strength_for_a_missing_ec_refused():
    with pytest.raises(InfeasibleError, match=r"EC is NaN.*\(1 of 2 values\)"):
        StrengthCurve(HOAGLAND, HARD).strength(np.array([1.0, np.nan]))


def test_strength_curve_water_too_concentrated_refused():
    with pytest.raises(InfeasibleError, match="too concentrated"):
        StrengthCurve(HOAGLAND, {"Na": 200.0, "Cl": 200.0})


@pytest.mark.parametrize("bad", [{"K": -1.0}, {"K": float("nan")}, {"K": np.ones(2)}, {"Q": 1.0}])
def test_strength_curve_bad_ions_refused(bad):
    with pytest.raises(ArgumentError):
        StrengthCurve(bad, {})
    with pytest.raises(ArgumentError):
        StrengthCurve(HOAGLAND, bad)


def test_strength_curve_function_keeps_curves():
    items = tuple(sorted(HOAGLAND.items()))
    assert strength_curve(items) is strength_curve(items)
    assert strength_curve(items) is not strength_curve(items, (("Na", 1.0), ("Cl", 1.0)))


SALTS = {
    "KNO3": {"K": 1, "NO3": 1}, "Ca(NO3)2": {"Ca": 1, "NO3": 2}, "MgSO4": {"Mg": 1, "SO4": 1},
    "KH2PO4": {"K": 1, "H2PO4": 1}, "K2SO4": {"K": 2, "SO4": 1}, "NH4NO3": {"NH4": 1, "NO3": 1},
    "(NH4)2SO4": {"NH4": 2, "SO4": 1}, "NaCl": {"Na": 1, "Cl": 1}, "CaCl2": {"Ca": 1, "Cl": 2},
    "KHCO3": {"K": 1, "HCO3": 1}, "Ca(HCO3)2": {"Ca": 1, "HCO3": 2},
}  # fmt: skip
amount = st.one_of(st.just(0.0), st.floats(1e-3, 4))
salts = st.fixed_dictionaries(dict.fromkeys(SALTS, amount))


def dissolved(given, share=1.0):
    """Ions of salts; charges balance, as they do in every solution there is."""
    ions = dict.fromkeys((ion for ion in IONS if ion != "H"), 0.0)
    for salt, mmol in given.items():
        for ion, count in SALTS[salt].items():
            ions[ion] += share * count * mmol
    return ions


@given(recipe=salts.filter(lambda given: sum(given.values()) > 0.1), water=salts)
@settings(max_examples=60, deadline=None)
def test_strength_curve_any_recipe_rises_and_comes_back(recipe, water):
    ions, thin = dissolved(recipe), dissolved(water, 0.2)
    curve = StrengthCurve(ions, thin)
    wanted = np.linspace(curve.water_ec, curve.highest_ec, 60)
    found = curve.strength(wanted)
    assert np.all(np.diff(found) > 0)
    assert curve.ec(found) == pytest.approx(wanted, rel=1e-7, abs=1e-7)
    top = np.minimum(found, curve.highest_strength)
    exact = electrical_conductivity.floats(mixture(ions, thin, top))
    assert exact == pytest.approx(wanted, rel=1e-7, abs=1e-7)
