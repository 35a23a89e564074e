from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.nutrients.composition.species import SPECIES
from scenariokit.nutrients.water.water_reading import PARAMETERS, Reading, as_given, read_analysis


def read(name, value, bare_unit=""):
    found, problems = read_analysis([(name, value, None)], bare_unit)
    assert problems == []
    return found


def refused(name, value, bare_unit=""):
    found, problems = read_analysis([(name, value, 7)], bare_unit)
    assert found == ((), None, None)
    assert problems[0].row == 7
    return problems[0]


@pytest.mark.parametrize(
    ("name", "value", "key", "milligrams"),
    [
        # Computed by hand from atomic weights: 62.004 mg NO3 hold 14.007 mg N, and so on.
        ("NO3", "62.004 mg/L", "N_nitrate", 14.007),
        ("N_nitrate", "14.007 mg/L", "N_nitrate", 14.007),
        ("NO3-N", "14.007 mg/L", "N_nitrate", 14.007),
        ("NH4", "18.039 mg/L", "N_ammonium", 14.007),
        ("SO4", "96.056 mg/L", "S", 32.06),
        ("S", "32.06 mg/L", "S", 32.06),
        ("SO4", "2 meq/L", "S", 32.06),
        ("Ca", ("2", "meq/L"), "Ca", 40.078),
        ("Ca", "1 mmol/L", "Ca", 40.078),
        ("Ca", "0.040078 kg/m^3", "Ca", 40.078),
        ("H2PO4", "1 mmol/L", "P", 30.974),
        ("PO4", "94.97 mg/L", "P", 30.974),
        ("HCO3", "61.016 mg/L", "HCO3", 61.016),
        ("alkalinity", "50.043 mg/L", "HCO3", 61.016),
        ("alkalinity_CaCO3", (1, "meq/L"), "HCO3", 61.016),
        ("Fe", "100 ug/L", "Fe", 0.1),
        ("b", "0.3 mg/L", "B", 0.3),
        (" Mn ", (0.5, "mg/L"), "Mn", 0.5),
        ("Na", "1 mval/L", "Na", 22.99),
        ("Na", "1 meq L-1", "Na", 22.99),
    ],
)  # fmt: skip
def test_read_analysis_line_becomes_milligrams_of_the_content(name, value, key, milligrams):
    (reading,) = read(name, value).readings
    assert reading.key == key
    assert reading.milligrams == pytest.approx(milligrams, rel=1e-5)


def test_read_analysis_bare_number_takes_the_unit_of_all():
    for value in (2, "2", quantity(2, ""), (2, ""), (2, None)):
        (reading,) = read("Ca", value, "meq/L").readings
        assert reading[2:] == (2.0, "meq/L")
    assert read("Ca", "2 mg/L", "meq/L").readings[0].unit == "mg/L"


@pytest.mark.parametrize(
    ("value", "ec"),
    [("0.7 dS/m", 0.7), ("700 uS/cm", 0.7), ((0.7, "mS/cm"), 0.7), (("0.7", "dS/m"), 0.7)],
)
def test_read_analysis_ec_in_any_unit(value, ec):
    assert read("EC", value).ec == pytest.approx(ec)


@pytest.mark.parametrize("value", [7.4, "7.4", (7.4, ""), ("7.4", None)])
def test_read_analysis_ph_is_a_plain_number(value):
    assert read("ph", value).ph == 7.4


@pytest.mark.parametrize(
    ("name", "value", "words"),
    [
        ("Ca", 80, "bare number"), ("Ca", "80", "bare number"), ("Ca", (80, ""), "bare number"),
        ("Ca", "<0.5 mg/L", "below detection"), ("Ca", ("<0.5", "mg/L"), "below detection"),
        ("Ca", "80 ppm", "ppm is no unit here, write mg/L"), ("Ca", "80 g", "of another kind"),
        ("Ca", (80, "ppm"), "ppm"), ("Ca", "80 mgl", "the unit 'mgl' is not known"),
        ("Ca", (80, "mgl"), "the unit 'mgl' is not known"), ("Ca", "much", "does not begin"),
        ("Ca", ("much", "mg/L"), "is no number"), ("Ca", (80, "mg/"), "cannot be read"),
        ("Ca", "-1 mg/L", "outside its range"), ("Ca", "2e6 mg/L", "outside its range"),
        ("Ca", ("-1", "meq/L"), "outside its range"), ("Ca", ("nan", "mg/L"), "NaN"),
        ("Ca", None, "is missing"), ("Ca", True, "is no number"), ("Ca", [1, 2], "one number"),
        ("Ca", quantity(np.array([1.0, 2.0]), "mg/L"), "one number"),
        ("Ca", ("1", "mg/L", "x"), "pair of number and unit"), ("Ca", object(), "is no number"),
        ("Fe", ("1", "meq/L"), "no one charge"), ("PO4", "1 meq/L", "no one charge"),
        ("alkalinity", "2 mmol/L", "may mean CaCO3 or charge"),
        ("N", "5 mg/L", "write N_nitrate or N_ammonium"), ("Pb", "5 mg/L", "not a known"),
        ("EC", 0.7, "bare number"), ("EC", "700 mg/L", "of another dimension"),
        ("EC", ("x", "dS/m"), "is no number"), ("pH", 15, "above the allowed range"),
        ("pH", "x", "is no number"), ("EC", quantity(np.array([1.0, 2.0]), "dS/m"), "one number"),
    ],
)  # fmt: skip
def test_read_analysis_what_cannot_be_read_is_said(name, value, words):
    problem = refused(name, value)
    assert words in problem.reason
    assert problem.field == name


@pytest.mark.parametrize(
    ("first", "second", "words"),
    [
        ("Ca", "ca", "is given twice"), ("NO3", "NO3-N", "as NO3 and as NO3-N"),
        ("S", "SO4", "as S and as SO4"), ("alkalinity", "alkalinity_CaCO3", "given twice"),
    ],
)  # fmt: skip
def test_read_analysis_one_thing_given_twice_is_refused(first, second, words):
    _, problems = read_analysis([(first, "5 mg/L", None), (second, "5 mg/L", None)])
    assert words in problems[0].reason


def test_read_analysis_all_bad_lines_are_listed_and_good_ones_kept():
    lines = [("Ca", 5, 2), ("Mg", "5 mg/L", 3), ("X", "5 mg/L", 4), ("pH", 20, 5)]
    found, problems = read_analysis(lines)
    assert [one.row for one in problems] == [2, 4, 5]
    assert [one.name for one in found.readings] == ["Mg"]


def test_reading_charge_has_its_sign_and_none_where_it_is_not_known():
    assert Reading("Ca", "Ca", 40.078, "mg/L").charge_as("mg/L") == pytest.approx(2)
    assert Reading("SO4", "SO4", 3.0, "mg/L").charge_as("meq/L") == pytest.approx(-3)
    assert Reading("alkalinity", "CaCO3", 50.043, "mg/L").charge_as("mg/L") == pytest.approx(-1)
    assert Reading("Fe", "Fe", 5.0, "mg/L").charge_as("mg/L") == 0


def test_as_given_keeps_numbers_and_units():
    lines = [("Ca", "5 mg/L", None), ("HCO3", "2 meq/L", None), ("pH", 7, None)]
    assert as_given(read_analysis(lines)[0].readings) == {
        "Ca": (5.0, "mg/L"), "HCO3": (2.0, "meq/L")
    }  # fmt: skip


@given(
    st.sampled_from([name for name, key in PARAMETERS.items() if SPECIES[key].charge]),
    st.floats(0.001, 100),
)
def test_reading_meq_and_milligrams_say_the_same(name, charge):
    species = SPECIES[PARAMETERS[name]]
    mass = charge * species.molar_mass / abs(species.charge)
    as_charge = read(name, (charge, "meq/L")).readings[0]
    as_mass = read(name, quantity(mass, "mg/L")).readings[0]
    assert as_charge.milligrams == pytest.approx(as_mass.milligrams)
