from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.errors import (
    ArgumentError,
    InfeasibleError,
    RangeError,
    UnitError,
    ValidityWarning,
)
from scenariokit.nutrients.composition.chemistry import formula_mass
from scenariokit.nutrients.composition.contents import IONS
from scenariokit.nutrients.conductivity.charge import ionic_strength
from scenariokit.nutrients.conductivity.ions import (
    LIMITING,
    STRENGTH_LIMIT,
    cation_rule,
    electrical_conductivity,
)

PUBLISHED = Path(__file__).parents[2] / "published"


def rows(name):
    return list(csv.DictReader((PUBLISHED / name).read_text(encoding="utf-8").splitlines()))


CASES = rows("conductivity.csv")
STANDARDS = [row for row in rows("potassium_chloride_standards.csv") if row["temperature"] == "25"]
HOAGLAND = {"K": 6.0, "Ca": 5.0, "Mg": 2.0, "NO3": 15.0, "H2PO4": 1.0, "SO4": 2.0}


def of_kind(*kinds):
    return [pytest.param(row, id=row["case"]) for row in CASES if row["kind"] in kinds]


def floats_of(text):
    return {ion: float(amount) for ion, amount in (part.split(":") for part in text.split())}


def quantities(ions):
    return {ion: quantity(amount, "mmol/L") for ion, amount in ions.items()}


def scaled(ions, factor):
    return {ion: factor * amount for ion, amount in ions.items()}


def within(row):
    return pytest.approx(float(row["value"]), rel=float(row["tolerance_percent"]) / 100)


@pytest.mark.parametrize("row", of_kind("feed", "molal"))
def test_electrical_conductivity_published_solution_within_tolerance(row):
    found = electrical_conductivity(quantities(floats_of(row["ions"])))
    assert found.m_as("dS/m") == within(row)


@pytest.mark.parametrize("row", of_kind("gram_per_litre"))
def test_electrical_conductivity_gram_of_a_salt_within_tolerance(row):
    ions = scaled(floats_of(row["ions"]), 1000 / formula_mass(row["case"]))
    assert electrical_conductivity(quantities(ions)).m_as("dS/m") == within(row)


@pytest.mark.parametrize("row", of_kind("equivalent"))
def test_electrical_conductivity_measured_salt_within_one_percent(row):
    # EC [dS/m] = equivalent conductivity [S cm²/mol] x charge [mmol/L] / 1000.
    charge = 1000 * float(row["case"].split()[1])
    found = electrical_conductivity(quantities(floats_of(row["ions"]))).m_as("dS/m")
    assert found / charge * 1000 == within(row)


@pytest.mark.parametrize("row", STANDARDS, ids=lambda row: row["molality"])
def test_electrical_conductivity_potassium_chloride_standard_within_one_percent(row):
    amount = quantity(float(row["amount_mmol_per_L"]), "mmol/L")
    found = electrical_conductivity({"K": amount, "Cl": amount}).m_as("uS/cm")
    assert found == pytest.approx(float(row["value"]), rel=0.01)


@pytest.mark.parametrize("row", of_kind("at_temperature"))
def test_electrical_conductivity_at_a_temperature_within_three_percent(row):
    temperature = quantity(float(row["case"].split()[-2]), "degC")
    found = electrical_conductivity(quantities(floats_of(row["ions"])), temperature=temperature)
    assert found.m_as("dS/m") == pytest.approx(float(row["value"]), rel=0.03)


def test_electrical_conductivity_single_salt_equals_equation_worked_by_hand():
    # KNO3, 10 mmol/L: I = 0.01, root 0.1, l0 = 144.90, q = 1/2 but for a little,
    # w = 0.7852 x 0.5 / 1.7071 = 0.2300; (0.2300 x 144.90 + 60.64) x 0.1 / 1.13164 = 8.304;
    # 136.60 x 0.01 = 1.3660 dS/m.
    ions = {"K": "10 mmol/L", "NO3": "10 mmol/L"}
    assert electrical_conductivity(ions).m_as("dS/m") == pytest.approx(1.3660, abs=2e-4)


def test_electrical_conductivity_very_dilute_is_sum_of_limiting_values():
    ions = {"Ca": 1e-7, "Cl": 2e-7}
    expected = 2e-7 * (LIMITING["Ca"] + LIMITING["Cl"]) / 1000
    assert electrical_conductivity.floats(ions) == pytest.approx(expected, rel=1e-3)


def test_electrical_conductivity_acid_conducts_most():
    acid = electrical_conductivity({"H": "1 mmol/L", "NO3": "1 mmol/L"})
    assert acid.m_as("dS/m") == pytest.approx(0.4158, rel=0.005)


@pytest.mark.parametrize("ions", [{}, {"K": 0.0, "NO3": 0.0}, {"SO4": 0.0, "Mg": 0.0}])
def test_electrical_conductivity_pure_water_is_zero(ions):
    assert electrical_conductivity.floats(ions) == 0


def test_electrical_conductivity_ions_of_one_sign_finite():
    found = electrical_conductivity({"K": "2 mmol/L", "Ca": "1 mmol/L"}).m_as("dS/m")
    assert 0 < found < 0.3


def test_electrical_conductivity_other_units_same_result():
    given = {ion: quantity(amount / 1000, "mol/L") for ion, amount in HOAGLAND.items()}
    expected = electrical_conductivity(quantities(HOAGLAND))
    assert electrical_conductivity(given).m_as("mS/cm") == pytest.approx(expected.m_as("dS/m"))


def test_electrical_conductivity_array_equals_scalars():
    rng = np.random.default_rng(0)
    ions = {ion: rng.uniform(0, 5, (30, 4)) for ion in IONS if ion != "H"}
    found = electrical_conductivity(quantities(ions)).m_as("dS/m")
    assert found.shape == (30, 4)
    for place in np.ndindex(found.shape):
        one = {ion: float(amount[place]) for ion, amount in ions.items()}
        assert found[place] == pytest.approx(electrical_conductivity.floats(one), rel=1e-9)


def test_electrical_conductivity_shapes_broadcast():
    ions = {**HOAGLAND, "K": np.array([[4.0], [6.0]]), "NO3": np.array([13.0, 15.0, 17.0])}
    found = electrical_conductivity(quantities(ions)).m_as("dS/m")
    assert found.shape == (2, 3)
    one = {**HOAGLAND, "NO3": 15.0}
    assert found[1, 1] == pytest.approx(electrical_conductivity.floats(one), rel=1e-9)


def test_electrical_conductivity_more_members_than_a_chunk_same_values():
    strengths = np.linspace(0.1, 3, 20_001)
    ions = scaled(HOAGLAND, strengths)
    found = electrical_conductivity.floats(ions)
    for place in (0, 8191, 8192, 20_000):
        one = scaled(HOAGLAND, float(strengths[place]))
        assert found[place] == pytest.approx(electrical_conductivity.floats(one), rel=1e-9)
    assert np.all(np.diff(found) > 0)


def test_electrical_conductivity_does_not_change_what_it_was_given():
    ions = {ion: np.full(3, amount) for ion, amount in HOAGLAND.items()}
    electrical_conductivity.floats(ions)
    assert all(np.all(ions[ion] == amount) for ion, amount in HOAGLAND.items())


def test_electrical_conductivity_at_25_by_name_equals_default():
    ions = quantities(HOAGLAND)
    default = electrical_conductivity(ions).m_as("dS/m")
    found = electrical_conductivity(ions, temperature=quantity(25, "degC")).m_as("dS/m")
    assert found == pytest.approx(default, rel=1e-12)


def test_electrical_conductivity_outside_validity_warns():
    with pytest.warns(ValidityWarning, match="5 to 35"):
        electrical_conductivity(quantities(HOAGLAND), temperature="40 degC")


def test_electrical_conductivity_concentrate_refused_with_dilution():
    stock = quantities(scaled(HOAGLAND, 100))
    with pytest.raises(InfeasibleError, match=r"2\.9 mol/L; allowed: at most 0\.11.*26\.4-fold"):
        electrical_conductivity(stock)
    thinned = scaled(HOAGLAND, 100 / 26.4)
    assert electrical_conductivity(quantities(thinned)).m_as("dS/m") > 6


def test_electrical_conductivity_concentrates_in_an_array_counted():
    ions = quantities(scaled(HOAGLAND, np.array([1.0, 10.0, 50.0])))
    with pytest.raises(InfeasibleError, match="in 2 of 3 solutions"):
        electrical_conductivity(ions)


def test_electrical_conductivity_floats_nan_for_concentrates_on_request():
    found = electrical_conductivity.floats(scaled(HOAGLAND, np.array([1.0, 50.0])), outside="nan")
    assert np.isnan(found).tolist() == [False, True]
    assert np.isnan(electrical_conductivity.floats(scaled(HOAGLAND, 50), outside="nan"))


def test_electrical_conductivity_floats_on_request_keep_the_others_of_a_wild_ensemble():
    ions = {**HOAGLAND, "K": np.array([6.0, 1e5, 6.0]), "SO4": np.array([2.0, 1e5, 2.0])}
    found = electrical_conductivity.floats(ions, outside="nan")
    assert np.isnan(found).tolist() == [False, True, False]
    assert found[0] == pytest.approx(electrical_conductivity.floats(HOAGLAND), rel=1e-9)
    assert np.all(np.isnan(electrical_conductivity.floats({"K": np.full(2, 1e4)}, outside="nan")))


def test_electrical_conductivity_mass_instead_of_amount_is_a_unit_error():
    with pytest.raises(UnitError, match=r"ions\[K\].*mmol/L"):
        electrical_conductivity({"K": "235 mg/L", "NO3": "6 mmol/L"})


def test_electrical_conductivity_bare_number_is_a_unit_error():
    with pytest.raises(UnitError, match="bare number"):
        electrical_conductivity({"K": 6.0})


def test_electrical_conductivity_negative_is_a_range_error():
    with pytest.raises(RangeError, match=r"ions\[NO3\]"):
        electrical_conductivity({"K": "6 mmol/L", "NO3": "-6 mmol/L"})


def test_electrical_conductivity_nan_is_a_range_error():
    with pytest.raises(RangeError, match="NaN"):
        electrical_conductivity({"K": quantity(float("nan"), "mmol/L")})


def test_electrical_conductivity_unknown_ion_named_with_known_ones():
    with pytest.raises(ArgumentError, match=r"ions\[PO4\].*H2PO4"):
        electrical_conductivity({"PO4": "1 mmol/L"})


def test_electrical_conductivity_shapes_that_do_not_fit_refused():
    ions = {"K": quantity([1, 2], "mmol/L"), "NO3": quantity([1, 2, 3], "mmol/L")}
    with pytest.raises(ArgumentError, match="broadcast"):
        electrical_conductivity(ions)


@given(order=st.permutations(list(HOAGLAND)))
@settings(max_examples=30, deadline=None)
def test_electrical_conductivity_order_of_ions_does_not_matter(order):
    found = electrical_conductivity.floats({ion: HOAGLAND[ion] for ion in order})
    assert found == pytest.approx(electrical_conductivity.floats(HOAGLAND), rel=1e-12)


amount = st.floats(0.01, 8)


@given(
    ions=st.fixed_dictionaries({ion: amount for ion in IONS if ion != "H"}),
    stronger=st.floats(1.001, 2),
)
@settings(max_examples=100, deadline=None)
def test_electrical_conductivity_rises_with_strength_but_less_than_in_proportion(ions, stronger):
    top = STRENGTH_LIMIT / ionic_strength.floats(ions) / 2.001
    weak = electrical_conductivity.floats(scaled(ions, top))
    strong = electrical_conductivity.floats(scaled(ions, top * stronger))
    assert weak < strong < stronger * weak


def test_cation_rule_hoagland_worked_case():
    # 6 + 2 x 5 + 2 x 2 = 20 mmol/L of charge, so 2.00 dS/m.
    found = cation_rule(quantities(HOAGLAND))
    assert found.rule.m_as("dS/m") == pytest.approx(2.0)
    assert found.model.m_as("dS/m") == pytest.approx(2.166, rel=0.01)
    assert found.error.m_as("") == pytest.approx(2.0 / found.model.m_as("dS/m") - 1)
    assert -0.12 < found.error.m_as("") < -0.06


def test_cation_rule_array_equals_scalars():
    found = cation_rule(quantities(scaled(HOAGLAND, np.array([0.5, 1.0]))))
    one = cation_rule(quantities(scaled(HOAGLAND, 0.5)))
    assert found.error.m[0] == pytest.approx(one.error.m)


def test_cation_rule_no_ions_refused():
    with pytest.raises(ArgumentError, match="no ions"):
        cation_rule({"K": "0 mmol/L"})


def test_cation_rule_concentrate_refused():
    with pytest.raises(InfeasibleError, match="Dilute"):
        cation_rule(quantities(scaled(HOAGLAND, 100)))
