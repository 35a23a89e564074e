"""Fitted curves, against a public laboratory series and known curves."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, quantity, substrate
from scenariokit.errors import ArgumentError, RangeError, UnitError, ValidityWarning
from scenariokit.substrate import Hydraulics

# Raw humus of a drained peatland, read in the soil files of a public peatland model.
HUMUS_KPA = quantity([0.01, 0.3, 0.981, 4.905, 9.81, 33, 98.1], "kPa")
HUMUS_WATER = quantity([94.69, 49.42, 29.61, 21.56, 20.05, 17.83, 16.54], "percent")


def test_fit_retention_humus_matches_computed_curve():
    # Computed with a least-squares fit: 0.1706, 0.9521, 0.9313 1/cm, 1.7885, rmse 0.006.
    fit = substrate.fit_retention(substrate.suction_from_pressure(HUMUS_KPA), HUMUS_WATER)
    np.testing.assert_allclose(fit.medium.curve, [0.1706, 0.9521, 0.9313, 1.7885], rtol=0.02)
    assert fit.rmse == pytest.approx(0.006, abs=5e-4)
    assert (fit.points, fit.fitted, fit.bounds_hit) == (7, 4, ())


@pytest.mark.parametrize(
    ("medium", "water"),
    [("white_peat", (0.72, 0.42, 0.35)), ("coir_pith", (0.75, 0.48, 0.40)),
     ("coarse_perlite", (0.37, 0.24, 0.21)), ("pine_bark", (0.48, 0.36, 0.33)),
     ("vermiculite", (0.55, 0.42, 0.38))],
)  # fmt: skip
def test_fit_retention_illustrative_media_give_catalogue_curve(medium, water):
    # Water at 10, 50 and 100 cm: typical values from memory; the curve computed from them.
    row = catalog.media()[medium]
    fit = substrate.fit_retention(["10 cm", "50 cm", "100 cm"], list(water), row.total_porosity)
    np.testing.assert_allclose(fit.medium.curve, Hydraulics.of_row(row).curve, rtol=1e-3)
    assert fit.rmse < 1e-9
    assert fit.fitted == fit.points == 3


@given(
    residual=st.floats(0.02, 0.3), full=st.floats(0.5, 0.97), alpha=st.floats(0.02, 0.5),
    n=st.floats(1.3, 3.5),
)  # fmt: skip
@settings(max_examples=25, deadline=None)
def test_fit_retention_points_of_a_curve_are_met(residual, full, alpha, n):
    suctions = np.array([0.0, 2, 5, 10, 20, 50, 100, 300, 1000])
    water = substrate.water_content.floats(suctions, residual, full, alpha, n)
    fit = substrate.fit_retention.floats(suctions, water)
    assert fit.rmse < 1e-5
    again = substrate.water_content.floats(30.0, *fit.medium.curve)
    assert again == pytest.approx(
        substrate.water_content.floats(30.0, residual, full, alpha, n), abs=1e-3
    )


def test_fit_retention_other_units_same_curve():
    cm = substrate.fit_retention(["10 cm", "50 cm", "100 cm"], [0.72, 0.42, 0.35], 0.95)
    mm = substrate.fit_retention(
        quantity([100, 500, 1000], "mm"), quantity([72, 42, 35], "percent"), "95 %"
    )
    np.testing.assert_allclose(mm.medium.curve, cm.medium.curve, rtol=1e-6)


def test_fit_retention_edge_of_range_is_named():
    with pytest.warns(ValidityWarning, match="vg_n ended on the edge") as caught:
        fit = substrate.fit_retention(["0 cm", "10 cm", "11 cm", "100 cm"], [0.9, 0.9, 0.1, 0.1])
    assert "vg_n" in fit.bounds_hit
    assert caught[0].filename == __file__


def test_fit_retention_poor_fit_warns():
    with pytest.warns(ValidityWarning, match="rmse is 0"):
        substrate.fit_retention(
            ["0 cm", "5 cm", "10 cm", "50 cm", "100 cm"], [0.9, 0.4, 0.7, 0.3, 0.45]
        )


def test_fit_retention_no_residual_water_is_reported_but_no_warning():
    water = substrate.water_content.floats(np.array([0.0, 10, 50, 100, 500]), 0, 0.9, 0.1, 1.5)
    fit = substrate.fit_retention(quantity([0.0, 10, 50, 100, 500], "cm"), water)
    assert fit.bounds_hit == ("theta_residual",)


@pytest.mark.parametrize(
    ("suctions", "water", "porosity", "message"),
    [
        (["0 cm", "10 cm", "50 cm"], [0.9, 0.7, 0.4], None, "4 or more"),
        (["10 cm", "50 cm"], [0.7, 0.4], 0.9, "3 or more"),
        (["10 cm", "10 cm", "50 cm", "50 cm"], [0.7, 0.7, 0.4, 0.4], None, "too few different"),
        (["0 cm", "10 cm", "50 cm", "99 cm"], [0.9, 0.9, 0.9, 0.9], None, "all are alike"),
        (["10 cm", "50 cm", "99 cm"], [0.9, 0.7, 0.4], 0.8, "lies above it"),
        (["10 cm", "50 cm", "99 cm", "200 cm"], [0.9], None, "as long as"),
        ("10 cm", 0.9, None, "as long as"),
    ],
)  # fmt: skip
def test_fit_retention_unusable_points_say_why(suctions, water, porosity, message):
    with pytest.raises(RangeError, match=message):
        substrate.fit_retention(suctions, water, porosity)


def test_fit_retention_no_unit_raises():
    with pytest.raises(UnitError, match="suctions"):
        substrate.fit_retention([10, 50, 100, 200], [0.7, 0.5, 0.4, 0.3])


def media(*names):
    return [Hydraulics.of_row(catalog.media()[name]) for name in names]


def test_mixed_hydraulics_stands_between_its_parts():
    peat, perlite = media("white_peat", "coarse_perlite")
    fit = substrate.mixed_hydraulics([peat, perlite], [0.6, 0.4])
    # Worked by hand: 0.6 x 0.95 + 0.4 x 0.75 = 0.87 when full; at 10 cm 0.6 x 0.72 + 0.4 x 0.37.
    assert fit.medium.theta_saturated.m == pytest.approx(0.87)
    found = substrate.water_content.floats(10.0, *fit.medium.curve)
    assert found == pytest.approx(0.58, abs=0.01)
    assert fit.rmse < 0.01
    assert fit.medium.illustrative


def test_mixed_hydraulics_one_part_alone_is_itself():
    (peat,) = media("white_peat")
    found = substrate.mixed_hydraulics([peat], [1.0]).medium.curve
    np.testing.assert_allclose(found, peat.curve, rtol=1e-5)


def test_mixed_hydraulics_wrong_shares_raise():
    parts = media("white_peat", "coarse_perlite")
    with pytest.raises(RangeError, match="not to 1"):
        substrate.mixed_hydraulics(parts, [0.6, 0.3])
    with pytest.raises(RangeError, match="1 shares for 2 media"):
        substrate.mixed_hydraulics(parts, [1.0])
    with pytest.raises(ArgumentError, match="one value for each"):
        substrate.mixed_hydraulics([], [])
