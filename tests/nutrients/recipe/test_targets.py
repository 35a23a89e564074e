from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from scenariokit import catalog, quantity
from scenariokit.catalog import entries
from scenariokit.catalog.tables import Table
from scenariokit.errors import ArgumentError, RangeError, RecordError, UnitError
from scenariokit.nutrients.recipe.targets import Band, TargetSet, scaled, target_set, targets_from


def numbers(band):
    return [
        None if part is None else part.m_as("mg/L") for part in (band.low, band.target, band.high)
    ]


# By hand from IUPAC masses and the amounts in mmol/L of the two publications.
MACROS = {
    "hoagland_1": {"N": 15 * 14.007, "P": 30.974, "K": 6 * 39.098, "Ca": 5 * 40.078,
                   "Mg": 2 * 24.305, "S": 2 * 32.06},
    "hoagland_2": {"N": 15 * 14.007, "P": 30.974, "K": 6 * 39.098, "Ca": 4 * 40.078,
                   "Mg": 2 * 24.305, "S": 2 * 32.06},
    "steiner": {"N": 12 * 14.007, "P": 30.974, "K": 7 * 39.098, "Ca": 4.5 * 40.078,
                "Mg": 2 * 24.305, "S": 3.5 * 32.06},
}  # fmt: skip
TRACES = {"Fe": 2.9, "Mn": 0.5, "Zn": 0.05, "B": 0.5, "Cu": 0.02, "Mo": 0.011}


@pytest.mark.parametrize("name", MACROS)
def test_target_set_published_solution_has_its_amounts_and_ten_percent_bands(name):
    found = target_set(name)
    assert found.id == name
    wanted = MACROS[name] | TRACES
    for element, value in wanted.items():
        low, target, high = numbers(found.bands[element])
        assert target == pytest.approx(value, rel=5e-6)
        assert low == pytest.approx(0.9 * value, rel=5e-6)
        assert high == pytest.approx(1.1 * value, rel=5e-6)
    assert set(found.bands) - set(wanted) <= {"N_ammonium"}


def test_target_set_hoagland_2_ammonium_is_a_ceiling_above_its_own():
    low, target, high = numbers(target_set("hoagland_2").bands["N_ammonium"])
    assert (low, target) == (0, 0)
    assert high == pytest.approx(1.1 * 14.007, rel=5e-6)


def test_target_set_potato_window_runs_from_half_to_whole_hoagland_1():
    window, whole = target_set("potato_window"), target_set("hoagland_1")
    for element, band in whole.bands.items():
        full = band.target.m_as("mg/L")
        assert numbers(window.bands[element]) == pytest.approx(
            [full / 2, full * 7 / 12, full], rel=1e-5
        )
    ceiling = window.bands["N_ammonium"].high / window.bands["N"].target
    assert ceiling.m_as("") == pytest.approx(0.15, rel=1e-5)


def test_target_set_every_shipped_set_loads():
    for name, row in catalog.targets().items():
        assert target_set(name).label == row.label
        assert len(target_set(name).bands) == len(row.bands) >= 12


@pytest.mark.parametrize("name", ["hoagland", 3, None])
def test_target_set_unknown_lists_the_known(name):
    with pytest.raises(ArgumentError, match="potato_window"):
        target_set(name)


def test_targets_from_one_number_leaves_the_band_open():
    found = targets_from({"N": "210 mg/L"}, id="mine", label="Mine")
    assert (found.id, found.label) == ("mine", "Mine")
    assert numbers(found.bands["N"]) == [None, 210, None]


def test_targets_from_three_numbers_and_a_band_agree():
    three = targets_from({"Ca": ("80 mg/L", "100 mg/L", "120 mg/L")})
    band = Band(quantity(80, "mg/L"), quantity(0.1, "g/L"), quantity(120, "mg/L"))
    assert numbers(three.bands["Ca"]) == pytest.approx(
        numbers(targets_from({"Ca": band}).bands["Ca"])
    )


def test_targets_from_only_high_is_a_ceiling():
    assert numbers(targets_from({"Cl": (None, None, "50 mg/L")}).bands["Cl"]) == [None, 0, 50]


def test_targets_from_other_unit_same_numbers():
    one, two = targets_from({"K": "0.2 g/L"}), targets_from({"K": quantity(200, "mg/L")})
    assert numbers(one.bands["K"]) == pytest.approx(numbers(two.bands["K"]))


def test_targets_from_reports_everything_at_once():
    with pytest.raises(ArgumentError) as caught:
        targets_from(
            {
                "N": 210,
                "Xx": "1 mg/L",
                "P": "-1 mg/L",
                "K": ("3 mg/L", "2 mg/L", None),
                "Ca": ("1 mg/L", "2 mg/L"),
                "Mg": (None, None, None),
                "S": quantity([1.0, 2.0], "mg/L"),
                "Fe": (1, "2 mg/L", None),
                "HCO3": "50 mg/L",
            }
        )
    text = str(caught.value)
    for words in (
        "targets[N] = 210: is a bare number",
        "targets[Xx] = 1 mg/L: is not a known key",
        "targets[P] = '-1 mg/L': is below the allowed range",
        "targets[K] = 3, 2 mg/L: low, target and high do not rise",
        "targets[Ca]",
        "targets[Mg]",
        "targets[S]",
        "not an array",
        "targets[Fe].low = 1: is a bare number",
        "targets[HCO3]",
    ):
        assert words in text


@pytest.mark.parametrize("given", [{}, None, ["N"], 3])
def test_targets_from_no_mapping_raises(given):
    with pytest.raises(ArgumentError, match="must map elements"):
        targets_from(given)


def test_targets_from_wrong_unit_is_a_unit_error():
    with pytest.raises(UnitError, match=r"targets\[N\]"):
        targets_from({"N": "210 mmol"})


def test_scaled_halves_every_number_and_keeps_open_ends():
    own = targets_from({"N": "100 mg/L", "Ca": ("80 mg/L", "100 mg/L", "120 mg/L")}, label="Mine")
    half = scaled(own, "50 %")
    assert half.label == "Mine"
    assert numbers(half.bands["N"]) == [None, 50, None]
    assert numbers(half.bands["Ca"]) == [40, 50, 60]


def test_scaled_takes_an_id_or_a_mapping():
    assert scaled("steiner", 2).bands["P"].target.m_as("mg/L") == pytest.approx(61.948)
    assert numbers(scaled({"P": "10 mg/L"}, 2).bands["P"]) == [None, 20, None]


@pytest.mark.parametrize("factor", [0, -1, 21])
def test_scaled_impossible_factor_raises(factor):
    with pytest.raises(RangeError, match="factor"):
        scaled("hoagland_1", factor)


def test_scaled_damaged_set_raises():
    with pytest.raises(ArgumentError, match="must map elements"):
        scaled(TargetSet("x", "X", {}), 1)


@given(st.floats(0.01, 10), st.floats(0.01, 2))
def test_scaled_twice_is_scaled_by_the_product(one, two):
    twice = scaled(scaled("hoagland_1", one), two)
    once = scaled("hoagland_1", one * two)
    for element, band in once.bands.items():
        assert numbers(twice.bands[element]) == pytest.approx(numbers(band), rel=1e-12)


def test_load_targets_band_that_does_not_rise_is_refused(monkeypatch):
    real = entries.shipped_table

    def fake(asked, table=""):
        found = real(asked, table)
        rows = [{**found.rows[0], "low": 500.0}, *found.rows[1:]]
        return Table(found.name, rows, [], found.columns)

    monkeypatch.setattr(entries, "shipped_table", fake)
    with pytest.raises(RecordError, match=r"targets\.csv, row 2.*do not rise"):
        entries._LOADERS["targets"]()
