"""Heat in the root zone month by month, and the day on which most water is used."""

from __future__ import annotations

import numpy as np
import pytest
from steady import steady

from scenariokit import quantity
from scenariokit.scenario import (
    evaluate,
    root_zone_months,
    scenario_for,
    tank_season,
    thirstiest_day,
    with_values,
)


def test_root_zone_months_are_those_of_the_season_in_order():
    one = scenario_for("medium_bag", site="dunmarrow")
    months = root_zone_months(one)
    assert [found.month for found in months] == [3, 4, 5, 6, 7]
    assert [found.temperature.m_as("degC") for found in months] == [10.8, 15.0, 19.8, 24.8, 26.4]
    oxygen = [found.oxygen.m_as("mg/L") for found in months]
    assert oxygen == sorted(oxygen, reverse=True)  # warm water holds less


def test_root_zone_months_high_place_holds_less_oxygen():
    low, high = (
        root_zone_months(with_values(scenario_for("medium_bag"), {"site.elevation": f"{up} m"}))
        for up in (0, 2000)
    )
    for sea, mountain in zip(low, high, strict=True):
        assert mountain.oxygen < sea.oxygen


def test_root_zone_months_frost_leaves_water_at_the_freezing_point():
    frost = with_values(
        scenario_for("medium_bag"), {"site.mean_temperature": quantity(np.full(12, -8.0), "degC")}
    )
    for found in root_zone_months(frost):
        assert found.temperature.m_as("degC") == 0
        assert found.band == "cold"
        # Benson and Krause 1984, table of saturation at sea level: 14.62 mg/L at 0 °C, from memory
        assert found.oxygen.m_as("mg/L") == pytest.approx(14.6, abs=0.1)


def test_thirstiest_day_is_the_first_of_the_peak():
    assert thirstiest_day(steady()) == 1
    one = scenario_for("medium_bag")
    day = thirstiest_day(one)
    peak = evaluate(one)["peak_water_use"].m_as("mm/day")
    use = tank_season(one).season.water
    used = (use.transpiration + use.evaporation).m_as("L/m^2")
    assert used[day - 1] == pytest.approx(peak)
    assert np.all(used[: day - 1] < peak)


def test_thirstiest_day_of_an_ensemble_is_that_of_its_mean():
    one = scenario_for("medium_bag")
    many = with_values(one, {"site.climate_factor": np.array([0.5, 1.5])})
    assert thirstiest_day(many) == thirstiest_day(one)
