"""The strength of top-up that leaves a tank as strong at harvest as it was at planting."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import reservoir
from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.nutrients.composition.species import SPECIES
from scenariokit.quantities import with_unit
from scenariokit.scenario.crop_demand import UPTAKE, season_demand
from scenariokit.scenario.division import divided
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.season import season_with
from scenariokit.scenario.strength import feed_strength, solution_content

_ION = {"N": "N_nitrate"}
"""How an element is charged in solution where its own key does not say it; ammonium as nitrate."""


@dataclass(frozen=True)
class HoldingStrength:
    """Strength of the top-up relative to the first filling, as in `Feed.top_up_strength`.

    Parameters
    ----------
    total : quantity
        The strength that holds the charges of all elements together, to which
        EC is nearly in proportion.
    elements : dict of str to quantity
        The strength that holds each of N, P, K, Ca, Mg and S. Below zero where
        even plain water lets it rise; NaN where the recipe holds none of it.
    """

    total: Any
    elements: dict[str, Any]


def holding_strength(scenario: Scenario, season: reservoir.Season | None = None) -> HoldingStrength:
    """Return the strength of top-up that holds the solution of a scenario steady.

    s = [(M + C (V1 - V0 + O)) / W - Cw] / Cs, from the balance of an element
    whose concentration at harvest is that at planting.

    Parameters
    ----------
    scenario : Scenario
        With a tank that is topped up; its leaves may be arrays.
    season : scenariokit.reservoir.Season, optional
        Its season, if it has been followed already; only its water is looked at.

    Returns
    -------
    HoldingStrength

    Raises
    ------
    InfeasibleError
        If the method has no tank, or nothing is topped up.

    Notes
    -----
    M is uptake [g/m²], C the concentration of the first filling, Cs that part of
    it that comes from fertilisers and Cw that from the water, V0 and V1 the
    volumes at planting and harvest, O what runs over and W what is topped up
    [L/m²]. Exact where nothing runs over and no element runs out. One strength
    cannot hold all elements: those that need more than `total` fall, and may
    run out, while the others rise and keep the EC up.

    Examples
    --------
    >>> from scenariokit.scenario import holding_strength, scenario_for
    >>> found = holding_strength(scenario_for("medium_bag"))
    >>> bool(found.elements["K"] > found.total > found.elements["Ca"])
    True
    """
    demand, feed = season_demand(scenario), scenario.feed
    totals = (season or season_with(scenario, {})).totals
    topped = plain(totals.water.top_up) + plain(totals.water.hand_fill)
    if np.any(topped <= 0):
        raise InfeasibleError(
            tr(
                "{method} is not topped up, so no top-up can hold its solution",
                method=tr(scenario.method.label),
            )
        )
    grown = plain(totals.volume_at_harvest) - plain(totals.volume_at_planting)
    kept = grown + plain(totals.water.overflow)
    drunk = plain(totals.water.transpiration)
    filling, water = solution_content(feed), solution_content(feed, 0.0)
    salts = feed_strength(feed)
    needed, given, found = 0.0, 0.0, {}
    for name in UPTAKE:
        own = feed.content.get(name, 0.0) * salts
        inflow = (demand.concentration[name] * drunk + filling.get(name, 0.0) * kept) / topped
        lack = inflow - water.get(name, 0.0)
        charge = _charge_per_milligram(name)
        needed, given = needed + charge * lack, given + charge * own
        found[name] = with_unit(divided(lack, own), "")
    return HoldingStrength(with_unit(divided(needed, given), ""), found)


def _charge_per_milligram(element: str) -> float:
    """Return mmol of charge, without its sign, in a milligram of an element."""
    species = SPECIES[_ION.get(element, element)]
    return abs(species.charge or 0) / species.molar_mass
