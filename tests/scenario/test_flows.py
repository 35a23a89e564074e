"""Daily flows of a scenario, against seasons worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from steady import USE, steady

from scenariokit import quantity
from scenariokit.scenario import daily_flows, daily_water_use, scenario_for, with_values
from scenariokit.scenario.flows import months_of, whole_days


def season_days(scenario):
    parts = ("initial", "development", "mid", "late")
    return sum(getattr(scenario.crop, f"days_{part}").m_as("day") for part in parts)


def test_daily_flows_steady_weather_gives_the_same_every_day():
    flows = daily_flows(steady(method__level__open_fraction=0.1))
    np.testing.assert_allclose(flows.transpiration, USE, rtol=1e-12)
    # 1.05 x 5 mm/day x 0.1 of open water, worked by hand (FAO-56 table 12: 1.05 for shallow water)
    np.testing.assert_allclose(flows.evaporation, 0.525, rtol=1e-12)
    assert not flows.rain.any()


def test_daily_flows_rain_is_the_months_share_by_days():
    """62 mm in every month and half of it let in: 1 mm a day in a month of 31 days."""
    wet = steady(site__rain=quantity(np.full(12, 62.0), "mm"), site__rain_share=0.5)
    flows, months = daily_flows(wet), months_of(wet)
    long_ones = np.isin(months, (1, 3, 5, 7, 8, 10, 12))
    assert long_ones.any()
    np.testing.assert_allclose(flows.rain[long_ones], 1.0, rtol=1e-12)
    assert np.all(flows.rain[~long_ones] > 1.0)


def test_daily_flows_field_has_neither_evaporation_nor_rain():
    flows = daily_flows(scenario_for("field_soil"))
    assert not flows.evaporation.any()
    assert not flows.rain.any()
    assert flows.transpiration.sum() > 100
    assert len(flows.evaporation) == len(flows.rain) == len(flows.transpiration)


def test_daily_flows_shorter_season_is_zero_after_its_end():
    both = with_values(steady(), {"crop.days_late": quantity([10.0, 30.0], "day")})
    flows = daily_flows(both)
    assert flows.transpiration.shape == (2, 120)
    np.testing.assert_allclose(flows.transpiration.sum(axis=-1), [100 * USE, 120 * USE])
    assert not flows.transpiration[0, 100:].any()


def test_daily_flows_arrays_equal_one_by_one():
    factors, opened = np.array([0.7, 1.0, 1.6]), np.array([0.0, 0.1, 0.3])
    one = scenario_for("wedge_pots")
    paths = "site.climate_factor", "method.level.open_fraction"
    together = daily_flows(with_values(one, dict(zip(paths, (factors, opened), strict=True))))
    for index in range(3):
        pair = float(factors[index]), float(opened[index])
        alone = daily_flows(with_values(one, dict(zip(paths, pair, strict=True))))
        for name in alone._fields:
            wanted = getattr(alone, name)
            row = np.broadcast_to(getattr(together, name), (3, *wanted.shape))[index]
            np.testing.assert_allclose(row, wanted, rtol=1e-12, err_msg=name)


def test_daily_water_use_is_transpiration_and_evaporation():
    one = scenario_for("sheet_wick_tray", site="dunmarrow")
    flows, (use, rain) = daily_flows(one), daily_water_use(one)
    np.testing.assert_array_equal(use, flows.transpiration + flows.evaporation)
    np.testing.assert_array_equal(rain, flows.rain)


@settings(max_examples=30, deadline=None)
@given(factor=st.floats(0.2, 2.0))
def test_daily_flows_scale_with_the_climate_factor(factor):
    one = scenario_for("medium_bag")
    usual = daily_flows(one)
    scaled = daily_flows(with_values(one, {"site.climate_factor": factor}))
    np.testing.assert_allclose(scaled.transpiration, factor * usual.transpiration, rtol=1e-12)
    np.testing.assert_allclose(scaled.evaporation, factor * usual.evaporation, rtol=1e-12)
    np.testing.assert_array_equal(scaled.rain, usual.rain)


def test_months_of_begins_in_the_planting_month_and_goes_round_the_year():
    one = scenario_for("medium_bag")
    late = with_values(one, {"crop.days_late": "260 day"})
    months = months_of(late)
    assert months[0] == one.site.planting_month
    assert len(months) == season_days(late)
    steps = set(np.diff(months).tolist())
    assert steps == {0, 1, -11}  # one on, and from December to January


@pytest.mark.parametrize(("given", "whole"), [(0.2, 1), (1, 1), (2.6, 3), (14, 14)])
def test_whole_days_is_the_nearest_and_at_least_one(given, whole):
    assert whole_days(quantity(given, "day")) == whole
