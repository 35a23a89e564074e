"""What the crop of a scenario takes up in its season."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.scenario.flows import daily_flows
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.values import salinity_factor

UPTAKE = ("N", "P", "K", "Ca", "Mg", "S")
"""Elements that are followed from the first filling to the harvest."""


class SeasonDemand(NamedTuple):
    """Plain numbers: kg/m² of produce, L/m² transpired, and g/m² and mg/L of each element."""

    harvest: Any
    drunk: Any
    wanted: dict[str, Any]
    concentration: dict[str, Any]


def season_demand(scenario: Scenario) -> SeasonDemand:
    """Return yield, transpiration and uptake that a scenario plans with.

    Raises
    ------
    InfeasibleError
        If uptake or content of an element is not known, or nothing is transpired.
    """
    crop = scenario.crop
    unknown = [name for name in UPTAKE if name not in crop.uptake or name not in crop.removal]
    if unknown:
        raise InfeasibleError(
            f"{crop.label}: what it takes up of {', '.join(unknown)} is not known; give `uptake` "
            "and `removal` of each in g/kg"
        )
    harvest = plain(scenario.harvest.typical) * salinity_factor(scenario)
    drunk = daily_flows(scenario).transpiration.sum(axis=-1)[()]
    if np.any(drunk <= 0):
        raise InfeasibleError(f"{crop.label} transpires nothing here, so it takes nothing up")
    wanted = {name: crop.uptake[name] * harvest for name in UPTAKE}
    return SeasonDemand(
        harvest, drunk, wanted, {name: 1000 * mass / drunk for name, mass in wanted.items()}
    )
