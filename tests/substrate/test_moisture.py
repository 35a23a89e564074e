"""A medium over water: its profile, and whether it stays moist, airy and supplied."""

from __future__ import annotations

import dataclasses
import warnings

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from scenariokit import catalog, quantity, substrate
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.substrate import Hydraulics, SheetWick, Standing, capillary_check, mualem

SAND = Hydraulics(0.045, 0.43, "0.145 1/cm", 2.68, "712.8 cm/day")
LOAM = Hydraulics(0.078, 0.43, "0.036 1/cm", 1.56, "24.96 cm/day")
FLEECE = SheetWick("1000 cm/day", "2 mm", "18 cm", "2 m/m^2", "5 cm")


@pytest.fixture(autouse=True)
def _no_warning():
    """Let no warning pass: what is doubtful is listed in the result."""
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        yield


def test_moisture_profile_worked_case():
    # Water content of this sand at 10 cm over water: 0.21434 (computed).
    found = substrate.moisture_profile(SAND, "15 cm", "5 cm", points=4)
    np.testing.assert_allclose(found.height.m_as("cm"), [0, 5, 10, 15])
    assert found.water_content.m[:2].tolist() == [0.43, 0.43]
    assert found.water_content.m[3] == pytest.approx(0.21434, abs=5e-6)


def test_moisture_profile_level_below_base_begins_drier():
    found = substrate.moisture_profile(SAND, "10 cm", "-10 cm", points=2)
    np.testing.assert_allclose(found.water_content.m, [0.21434, 0.10714], atol=5e-6)


def test_moisture_profile_row_of_table_is_taken():
    found = substrate.moisture_profile(catalog.media()["white_peat"], "12 cm", "2 cm")
    assert found.water_content.m.shape == (41,)
    assert found.water_content.m[0] == pytest.approx(0.95)


def test_moisture_profile_arrays_stand_on_later_axes():
    both = substrate.moisture_profile(SAND, quantity([10.0, 20], "cm"), "2 cm", points=5)
    one = substrate.moisture_profile(SAND, "20 cm", "2 cm", points=5)
    assert both.air_content.m.shape == (5, 2)
    np.testing.assert_allclose(both.air_content.m[:, 1], one.air_content.m)
    np.testing.assert_allclose(both.height.m[:, 1], one.height.m)


def test_moisture_profile_floats_equals_quantities():
    plain = substrate.moisture_profile.floats(SAND, 15.0, 5.0)
    found = substrate.moisture_profile(SAND, "15 cm", "50 mm")
    np.testing.assert_allclose(plain.water_content, found.water_content.m)


@given(height=st.floats(1, 40), level=st.floats(-30, 50))
@settings(max_examples=50)
def test_moisture_profile_mean_is_that_of_the_slice_and_falls(height, level):
    found = substrate.moisture_profile.floats(LOAM, height, level, 801)
    mean = substrate.mean_water_content.floats(-level, height - level, *LOAM.curve)
    assert np.trapezoid(found.water_content, found.height) / height == pytest.approx(mean, abs=1e-4)
    assert (np.diff(found.water_content) <= 0).all()
    np.testing.assert_allclose(found.water_content + found.air_content, 0.43)


@pytest.mark.parametrize("points", [1, 0, 2.5, True])
def test_moisture_profile_too_few_points_raises(points):
    with pytest.raises(RangeError, match="points"):
        substrate.moisture_profile(SAND, "10 cm", "2 cm", points)


def test_moisture_profile_no_medium_or_no_unit_raises():
    with pytest.raises(RangeError, match="there is no medium"):
        substrate.moisture_profile(SAND, "0 cm", "2 cm")
    with pytest.raises(UnitError) as caught:
        substrate.moisture_profile(SAND, 10, "2 kg")
    assert [p.field for p in caught.value.problems] == ["medium_height", "level"]


def test_capillary_check_sand_standing_in_water_worked_case():
    # Top 10 cm over water. Computed: mean air 5 cm under and 10 cm over water 10/15 x 0.0871;
    # limit at 10 cm 169.6 mm/day.
    found = capillary_check(SAND, Standing("15 cm", "2 cm", "7 cm"), "10 mm/day")
    assert found.connected is True
    assert found.top_suction.m_as("cm") == pytest.approx(10)
    assert found.mean_air_filled_porosity.m == pytest.approx(0.0871 * 10 / 15, abs=5e-5)
    assert found.mean_water_content.m + found.mean_air_filled_porosity.m == pytest.approx(0.43)
    assert found.delivery_limit.m_as("mm/day") == pytest.approx(169.6, rel=0.001)
    assert found.margin.m == pytest.approx(16.96, rel=0.001)
    assert (found.moist, found.airy, found.delivers) == (True, False, True)
    assert found.cautions == ()
    assert [line.split(":")[0] for line in found.verdicts] == [
        "stays moist", "lacks air", "can deliver the peak",
    ]  # fmt: skip


def test_capillary_check_tall_sand_fails_on_water():
    found = capillary_check(
        SAND, Standing("35 cm", "0 cm", "2 cm"), "6 mm/day", most_suction="30 cm"
    )
    assert (found.moist, found.airy, found.delivers) == (False, True, False)
    assert found.verdicts[0].startswith("does not stay moist")
    assert found.verdicts[2].startswith("cannot deliver the peak")


def test_capillary_check_medium_on_part_of_tank_carries_less():
    whole = capillary_check(SAND, Standing("12 cm", "0 cm", "2 cm"), "5 mm/day")
    third = capillary_check(SAND, Standing("12 cm", "0 cm", "2 cm", 1 / 3), "5 mm/day")
    assert third.delivery_limit.m == pytest.approx(whole.delivery_limit.m / 3)


def test_capillary_check_drowned_medium_has_no_limit_and_no_air():
    found = capillary_check(SAND, Standing("5 cm", "0 cm", "8 cm"), "5 mm/day")
    assert found.mean_air_filled_porosity.m == pytest.approx(0)
    assert found.top_suction.m == 0
    assert np.isinf(found.delivery_limit.m)
    assert found.delivers is True
    assert found.airy is False


def test_capillary_check_gap_without_wick_is_not_connected():
    found = capillary_check(SAND, Standing("10 cm", "12 cm", "5 cm"), "5 mm/day")
    assert found.connected is False
    assert (found.moist, found.delivers) == (False, False)
    assert found.delivery_limit.m == 0
    # as a pot that has drained: mean air of 0..10 cm is 0.0871 (computed)
    assert found.mean_air_filled_porosity.m == pytest.approx(0.0871, abs=5e-5)
    assert "only roots in the water drink" in found.cautions[0]


def test_capillary_check_wick_out_of_reach_is_not_connected():
    found = capillary_check(SAND, Standing("2 cm", "25 cm", "5 cm"), "5 mm/day", FLEECE)
    assert (found.connected, found.delivery_limit.m) == (False, 0)


def test_capillary_check_wick_alone_limit_worked_case():
    # By hand: 1000 cm/day x 0.02 1/cm x 0.2 cm x (18 - 3) / (3 + 5) = 7.5 cm/day; the medium's
    # own conductivity is not given.
    peat = catalog.media()["white_peat"]
    found = capillary_check(peat, Standing("1 cm", "8 cm", "5 cm"), "5 mm/day", FLEECE)
    assert found.delivery_limit.m_as("mm/day") == pytest.approx(75)
    assert found.margin.m == pytest.approx(15)
    assert found.top_suction.m_as("cm") == pytest.approx(4)
    assert "illustrative" in found.cautions[0]
    assert "wick's alone" in found.cautions[1]


def test_capillary_check_wick_under_medium_satisfies_both_laws():
    # At the limit q the wick's end stands at the suction s0 that q asks of it, and the
    # medium's integral from s0 to the driest suction is the medium's height.
    thin = dataclasses.replace(FLEECE, conductivity="60 cm/day")
    found = capillary_check(SAND, Standing("4 cm", "8 cm", "5 cm", 0.5), "5 mm/day", thin)
    q = found.delivery_limit.m_as("cm/day") / 0.5
    start = 3 + q * 0.5 * (3 + 5) / (60 * 0.02 * 0.2)
    assert start < 18
    values = (712.8, 0.145, 2.68, 0.5)

    def slope(h):
        k = float(mualem.conductivity_at(h, *values))
        return k / (k + q)

    height = sum(quad(slope, a, b, limit=300)[0] for a, b in [(start, 60), (60, 15000)])
    assert height == pytest.approx(4, rel=1e-6)


def test_capillary_check_wick_limit_stands_where_medium_carries_more():
    weak = dataclasses.replace(FLEECE, conductivity="10 cm/day")
    fine = Hydraulics(0.1, 0.9, "0.005 1/cm", 2.5, "500 cm/day")
    found = capillary_check(fine, Standing("1 cm", "8 cm", "5 cm"), "5 mm/day", weak)
    # By hand: 10 x 0.02 x 0.2 x 15 / 8 = 0.075 cm/day
    assert found.delivery_limit.m_as("mm/day") == pytest.approx(0.75, rel=1e-6)


def test_capillary_check_standing_in_water_does_not_need_the_wick():
    place = Standing("10 cm", "4 cm", "5 cm")
    with_wick = capillary_check(SAND, place, "5 mm/day", FLEECE)
    without = capillary_check(SAND, place, "5 mm/day")
    assert with_wick.delivery_limit.m == pytest.approx(without.delivery_limit.m)


def test_capillary_check_no_conductivity_says_not_known():
    found = capillary_check(
        catalog.media()["coir_pith"], Standing("12 cm", "0 cm", "2 cm"), "5 mm/day"
    )
    assert found.delivery_limit is found.margin is found.delivers is None
    assert found.verdicts[2] == "delivery not known: the medium's conductivity is not given"


def test_capillary_check_low_n_is_cautioned():
    peat = Hydraulics(0.0864, 0.9079, "0.0452 1/cm", 1.3623, "48.5 cm/day")
    found = capillary_check(peat, Standing("10 cm", "0 cm", "2 cm"), "6 mm/day")
    assert any("order of magnitude" in line for line in found.cautions)


def test_capillary_check_arrays_equal_their_scalars():
    levels = quantity([2.0, 8.0, 12.0], "cm")
    many = capillary_check(SAND, Standing("5 cm", "8 cm", levels), "6 mm/day", FLEECE)
    for k, level in enumerate(levels):
        one = capillary_check(SAND, Standing("5 cm", "8 cm", level), "6 mm/day", FLEECE)
        for name in ("top_suction", "mean_water_content", "delivery_limit", "margin"):
            assert getattr(many, name).m[k] == pytest.approx(getattr(one, name).m, rel=1e-9)
        for name in ("connected", "moist", "airy", "delivers"):
            assert bool(getattr(many, name)[k]) == getattr(one, name)
    assert "of the draws" in many.verdicts[1]


@given(level=st.floats(0, 12), height=st.floats(1, 20), more=st.floats(0.1, 5))
@settings(max_examples=50)
def test_capillary_check_higher_level_is_wetter_and_gives_more(level, height, more):
    low = capillary_check(
        LOAM, Standing(quantity(height, "cm"), "0 cm", quantity(level, "cm")), "5 mm/day"
    )
    high = capillary_check(
        LOAM, Standing(quantity(height, "cm"), "0 cm", quantity(level + more, "cm")), "5 mm/day"
    )
    assert high.mean_air_filled_porosity.m <= low.mean_air_filled_porosity.m + 1e-9
    assert high.delivery_limit.m >= low.delivery_limit.m
    assert high.top_suction.m <= low.top_suction.m


def test_capillary_check_other_units_same_result():
    cm = capillary_check(SAND, Standing("12 cm", "8 cm", "5 cm"), "5 mm/day", FLEECE)
    wick = SheetWick("10 m/day", "0.2 cm", "180 mm", "2 1/m", "50 mm")
    inch = capillary_check(
        SAND, Standing(quantity("12 cm").to("inch"), "80 mm", "0.05 m"), "0.5 cm/day", wick,
        "10 %", "500 mm",
    )  # fmt: skip
    assert inch.delivery_limit.m == pytest.approx(cm.delivery_limit.m, rel=1e-9)
    assert inch.verdicts == cm.verdicts


def test_capillary_check_bad_arguments_all_named():
    with pytest.raises(ArgumentError) as caught:
        capillary_check(SAND, Standing("12 cm", "0 cm", "2 cm"), "0 mm/day", least_air=2)
    assert [p.field for p in caught.value.problems] == ["peak_demand", "least_air"]
    with pytest.raises(ArgumentError) as caught:
        Standing("0 cm", "5 kg", "2 cm")
    assert [p.field for p in caught.value.problems] == ["medium_height", "base_height"]
    with pytest.raises(RangeError, match="maximum_rise"):
        SheetWick("1000 cm/day", "2 mm", "0 cm", "1 m/m^2")


def test_capillary_check_connectivity_too_low_raises():
    wrong = dataclasses.replace(SAND, connectivity=-4)
    with pytest.raises(InfeasibleError, match="rises as the medium dries"):
        capillary_check(wrong, Standing("12 cm", "0 cm", "2 cm"), "5 mm/day")
