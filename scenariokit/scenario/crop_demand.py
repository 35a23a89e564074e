"""What the crop of a scenario takes up in its season."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
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
            tr(
                "{crop}: what it takes up of {elements} is not known; give `uptake` and `removal` of "
                "each in g/kg",
                crop=tr(crop.label),
                elements=", ".join(unknown),
            )
        )
    harvest = plain(scenario.harvest.typical) * salinity_factor(scenario)
    drunk = daily_flows(scenario).transpiration.sum(axis=-1)[()]
    if np.any(drunk <= 0):
        raise InfeasibleError(
            tr("{crop} transpires nothing here, so it takes nothing up", crop=tr(crop.label))
        )
    wanted = {name: crop.uptake[name] * harvest for name in UPTAKE}
    return SeasonDemand(
        harvest, drunk, wanted, {name: 1000 * mass / drunk for name, mass in wanted.items()}
    )
