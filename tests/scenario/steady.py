"""Scenarios in weather that never changes, so that a season can be worked by hand."""

from __future__ import annotations

import numpy as np

from scenariokit import quantity
from scenariokit.scenario import Scenario, scenario_for, with_values

USE = 5.0
"""mm/day of reference evapotranspiration; with a coefficient of 1 also what plants take."""


def steady(method: str = "medium_bag", crop: str = "potato", days: int = 120, **more) -> Scenario:
    """Return a scenario of four equal stages, 5 mm a day, no rain, no open water.

    `more` sets further leaves by path, two underscores for each dot.
    """
    stages = {
        f"crop.days_{stage}": f"{days // 4} day"
        for stage in ("initial", "development", "mid", "late")
    }
    flat = {
        "crop.kc_initial": 1.0, "crop.kc_mid": 1.0, "crop.kc_end": 1.0,
        "site.reference_evapotranspiration": quantity(np.full(12, USE), "mm/day"),
        "site.rain": quantity(np.zeros(12), "mm"), "site.rain_share": 0.0,
        "site.climate_factor": 1.0, "method.level.open_fraction": 0.0,
    }  # fmt: skip
    given = {path.replace("__", "."): value for path, value in more.items()}
    return with_values(scenario_for(method, crop), {**stages, **flat, **given})


def free_water(scenario: Scenario, depth: str = "high") -> float:
    """Return the litres between the containers, for each m², at one of the levels."""
    level = scenario.method.level
    free = 1 - level.displaced_fraction.m_as("")
    return float(getattr(level, depth).m_as("cm") * 10 * free)
