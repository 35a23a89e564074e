"""Water and air in the medium of whole scenarios, at the level that is held."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import catalog, quantity
from scenariokit.scenario import (
    evaluate,
    medium_check,
    medium_profile,
    mix_hydraulics,
    moisture,
    scenario_for,
    with_values,
)

MEDIA_METHODS = [
    key for key, row in catalog.methods().items() if row["mix"] and row["level_regime"] != "none"
]
MIXES = [row.components for row in catalog.mixes().values()]


def scenario_of(method, site="tern_hollow"):
    crop = "potato" if "potato" in catalog.methods()[method]["yields"] else "lettuce"
    return scenario_for(method, crop, site)


def with_medium(scenario, *components):
    medium = dataclasses.replace(scenario.method.medium, components=components)
    return dataclasses.replace(scenario, method=dataclasses.replace(scenario.method, medium=medium))


# -- mixes ---------------------------------------------------------------------------------


@pytest.mark.parametrize("row", catalog.media().values(), ids=lambda row: row.id)
def test_mix_hydraulics_of_one_medium_is_that_medium(row):
    found = mix_hydraulics(((row.id, 1.0),))
    curve = (row.theta_residual, row.theta_saturated, row.vg_alpha, row.vg_n)
    assert found.curve == curve
    assert found.conductivity.m_as("cm/day") == pytest.approx(row.conductivity)


def test_mix_hydraulics_conductivity_is_the_geometric_mean_worked_by_hand():
    """0.6 of 300 and 0.4 of 5000 cm/day: exp(0.6 ln 300 + 0.4 ln 5000) = 924.4."""
    found = mix_hydraulics((("white_peat", 0.6), ("coarse_perlite", 0.4)))
    assert found.conductivity.m_as("cm/day") == pytest.approx(924.4, abs=0.1)
    assert found.illustrative
    assert found.theta_saturated.m == pytest.approx(0.6 * 0.95 + 0.4 * 0.75)


@pytest.mark.parametrize("components", MIXES, ids=lambda parts: "+".join(item for item, _ in parts))
def test_mix_hydraulics_lies_between_its_parts(components):
    found = mix_hydraulics(tuple(components))
    parts = [catalog.media()[item] for item, _ in components]
    carried = [row.conductivity for row in parts]
    assert min(carried) <= found.conductivity.m_as("cm/day") * (1 + 1e-9)
    assert found.conductivity.m_as("cm/day") <= max(carried) * (1 + 1e-9)
    full = [row.theta_saturated for row in parts]
    assert min(full) - 1e-9 <= found.theta_saturated.m <= max(full) + 1e-9


def test_mix_hydraulics_is_fitted_once():
    components = (("pine_bark", 0.8), ("sand", 0.2))
    assert mix_hydraulics(components) is mix_hydraulics(components)


def test_mix_hydraulics_medium_that_is_not_in_the_catalogue_is_not_known():
    assert mix_hydraulics((("rice_hulls", 1.0),)) is None
    assert mix_hydraulics((("white_peat", 0.5), ("rice_hulls", 0.5))) is None


@pytest.mark.parametrize(("lacking", "curve"), [("conductivity", True), ("vg_n", False)])
def test_mix_hydraulics_what_a_part_lacks_the_mix_lacks(lacking, curve):
    rows = {
        **catalog.media(),
        "white_peat": catalog.media()["white_peat"].replace(**{lacking: None}),
    }
    for components in (
        (("white_peat", 1.0),), (("white_peat", 0.6), ("coarse_perlite", 0.4)),
    ):  # fmt: skip
        found = mix_hydraulics(components, rows)
        assert (found is not None) == curve
        if found is not None:
            assert found.conductivity is None


# -- profile -------------------------------------------------------------------------------


@pytest.mark.parametrize("method", MEDIA_METHODS)
def test_medium_profile_spans_the_medium_and_adds_up_to_its_pores(method):
    one = scenario_of(method)
    profile, known = medium_profile(one, 21), mix_hydraulics(one.method.medium.components)
    height = profile.height.m_as("cm")
    assert height[0] == 0
    assert height[-1] == pytest.approx(one.method.container.medium_height.m_as("cm"))
    assert len(height) == 21
    both = profile.water_content.m + profile.air_content.m
    np.testing.assert_allclose(both, known.theta_saturated.m, rtol=1e-12)
    assert np.all(np.diff(profile.air_content.m) >= 0)


def test_medium_profile_is_full_of_water_below_the_level():
    one = scenario_of("medium_bag")  # stands on the floor in 4 cm
    profile = medium_profile(one, 26)
    under = profile.height.m_as("cm") <= 4
    assert under.any()
    np.testing.assert_allclose(profile.air_content.m[under], 0, atol=1e-12)
    assert np.all(profile.air_content.m[~under] > 0)


@pytest.mark.parametrize("method", ["medium_bag", "wedge_pots", "sheet_wick_tray"])
def test_medium_profile_mean_air_is_that_of_the_check(method):
    """The mean over the height, by trapezoids, is the mean air-filled porosity."""
    one = scenario_of(method)
    profile, check = medium_profile(one, 4001), medium_check(one)
    height = profile.height.m_as("cm")
    mean = np.trapezoid(profile.air_content.m, height) / height[-1]
    assert mean == pytest.approx(check.mean_air_filled_porosity.m, abs=1e-5)


# -- check ---------------------------------------------------------------------------------


@pytest.mark.parametrize("site", ["tern_hollow", "dunmarrow"])
@pytest.mark.parametrize("method", MEDIA_METHODS)
def test_medium_check_gives_three_verdicts_with_their_caution(method, site):
    found = medium_check(scenario_of(method, site))
    assert len(found.verdicts) == 3
    assert "not known" not in found.verdicts[2]
    assert all(isinstance(flag, bool) for flag in (found.moist, found.airy, found.delivers))
    assert any("illustrative" in caution for caution in found.cautions)


@pytest.mark.parametrize("method", [*MEDIA_METHODS, "paper_wrap", "field_soil"])
def test_medium_check_and_profile_are_known_for_the_same_methods(method):
    one = scenario_of(method)
    known = method in MEDIA_METHODS
    assert (medium_check(one) is not None) == known
    assert (medium_profile(one) is not None) == known


def test_medium_check_own_medium_is_not_guessed():
    one = with_medium(scenario_of("wedge_pots"), ("rice_hulls", 1.0))
    assert medium_check(one) is None
    assert medium_profile(one) is None


def test_medium_check_hanging_pot_is_not_reached_by_water():
    """Its base hangs at 12 cm over a level that is held at 5 cm: roots must reach down."""
    found = medium_check(scenario_of("suspended_pot"))
    assert not found.connected
    assert found.verdicts[0].startswith("does not stay moist, no water reaches it")
    assert found.delivers is False
    assert any("only roots in the water drink" in caution for caution in found.cautions)


@settings(max_examples=25, deadline=None)
@given(low=st.floats(2.0, 9.0), up=st.floats(0.3, 3.0))
def test_medium_check_higher_level_leaves_less_air_and_carries_more(low, up):
    one = scenario_of("medium_bag")
    before, after = (
        medium_check(with_values(one, {"method.level.high": quantity(depth, "cm")}))
        for depth in (low, low + up)
    )
    assert after.mean_air_filled_porosity < before.mean_air_filled_porosity
    assert after.top_suction < before.top_suction
    assert after.delivery_limit > before.delivery_limit


@pytest.mark.parametrize("method", MEDIA_METHODS[:4])
def test_medium_check_margin_is_the_limit_over_the_peak(method):
    one = scenario_of(method)
    found = medium_check(one)
    peak = evaluate(one)["peak_water_use"].m_as("mm/day")
    assert found.margin.m * peak == pytest.approx(found.delivery_limit.m_as("mm/day"), rel=1e-9)
    thirsty = medium_check(with_values(one, {"site.climate_factor": 2}))
    assert thirsty.delivery_limit == found.delivery_limit
    assert thirsty.margin.m == pytest.approx(found.margin.m / 2, rel=1e-9)


def test_medium_check_thirst_beyond_the_limit_is_said():
    one = with_values(scenario_of("medium_bag", "dunmarrow"), {"site.climate_factor": 5})
    found = medium_check(one)
    assert found.delivers is False
    assert found.verdicts[2].startswith("cannot deliver the peak")


def test_medium_check_sheet_lifts_water_to_a_dry_base():
    one = scenario_of("sheet_wick_tray")
    assert one.method.container.base_height > one.method.level.high
    with_sheet = medium_check(one)
    bare = medium_check(
        dataclasses.replace(one, method=dataclasses.replace(one.method, sheet=None))
    )
    assert with_sheet.connected
    assert not bare.connected


def test_medium_check_sheet_as_a_wick_is_worked_by_hand():
    """Limit of the sheet alone where the medium carries far more.

    Two edges of 50 cm for each tray of 50 x 30 cm, five plants to it at
    30 plants/m²: 6 trays, or 6 m of edge for each m². A flow of 1000 cm/day x
    0.2 cm through 600 cm of edge for 10,000 cm² is 12 cm/day for a gradient of
    1; lifted 3 cm and led 7.5 cm on, with 18 - 3 cm of pull, 12 x 15 / 10.5 =
    17.14 cm or 171.4 mm a day.
    """
    one = scenario_of("sheet_wick_tray")
    plants, trays = one.method.container.plants.m, one.method.plants_per_area.m
    wick = moisture._wick(one, one.method.sheet, trays / plants)
    assert wick.width_per_area.m_as("m/m^2") == pytest.approx(6)
    assert wick.run.m_as("cm") == pytest.approx(7.5)
    limit = medium_check(one).delivery_limit.m_as("mm/day")
    assert 0 < limit <= 171.4286  # the medium on top takes its share of the pull


def test_medium_check_sparse_plants_stand_on_little_of_the_tank():
    one = scenario_of("wedge_pots")
    few = with_values(one, {"method.plants_per_area": "0.5 plant/m^2"})
    usual, sparse = medium_check(one), medium_check(few)
    ratio = (few.method.plants_per_area / one.method.plants_per_area).m_as("")
    assert (sparse.delivery_limit / usual.delivery_limit).m_as("") == pytest.approx(ratio, rel=1e-6)


def test_medium_check_arrays_equal_one_by_one():
    one = scenario_of("wedge_pots")
    levels = quantity(np.array([2.5, 4.0, 6.0]), "cm")
    factors = np.array([0.7, 1.0, 1.8])
    paths = "method.level.high", "site.climate_factor"
    many = medium_check(with_values(one, dict(zip(paths, (levels, factors), strict=True))))
    for index in range(3):
        pair = levels[index], factors[index]
        alone = medium_check(with_values(one, dict(zip(paths, pair, strict=True))))
        for name in ("top_suction", "mean_air_filled_porosity", "delivery_limit", "margin"):
            np.testing.assert_allclose(
                np.broadcast_to(getattr(many, name).m, 3)[index], getattr(alone, name).m, rtol=1e-9
            )
        assert many.airy[index] == alone.airy
