"""From a scenario to the plain numbers of its outcomes: one vectorised pass."""

from __future__ import annotations

from collections.abc import Callable, Collection
from typing import Any

import numpy as np

from scenariokit import reservoir, yields
from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.scenario.costs import COST_STEPS
from scenariokit.scenario.division import divided
from scenariokit.scenario.flows import season_water_use, stages, whole_days
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.outcomes import COST_PARTS, OUTCOMES
from scenariokit.scenario.strength import feed_strength

ELEMENTS = {"n": "N", "p": "P", "k": "K"}
Values = dict[str, Any]
Step = Callable[[Scenario, Values], Any]


_RATIOS: dict[str, tuple[str, str, float]] = {
    "yield_per_medium": ("yield_per_area", "medium_volume_per_area", 1.0),
    "yield_per_water": ("yield_per_area", "season_water", 1000.0),
    "water_per_yield": ("season_water", "yield_per_area", 1.0),
    "cost_per_kilogram": ("cost_per_area", "yield_per_area", 1.0),
    "cost_per_kilogram_low": ("cost_per_area", "yield_high", 1.0),
    "cost_per_kilogram_high": ("cost_per_area", "yield_low", 1.0),
    "cost_per_usable_kilogram": ("cost_per_area", "_usable", 1.0),
    "labour_per_kilogram": ("labour_per_area", "yield_per_area", 1.0),
    "return_to_labour": ("_earned", "labour_per_area", 1.0),
    **{f"cost_{part}": (f"cost_per_area_{part}", "yield_per_area", 1.0) for part in COST_PARTS},
    **{f"{short}_share": (f"{short}_removed", f"{short}_supplied", 100.0) for short in ELEMENTS},
}
"""Outcomes that are one number over another, which may be zero: top, bottom and a factor."""


def outcome_values(scenario: Scenario, wanted: Collection[str] | None = None) -> Values:
    """Return the outcomes of a scenario as plain numbers, each in its own unit.

    This is what `evaluate` puts units and cautions to; ensembles of draws use it bare.

    Parameters
    ----------
    scenario : Scenario
        Its leaves may be scalars, or arrays of mutually broadcastable shapes.
    wanted : collection of str, optional
        Names of the outcomes to find; all of `OUTCOMES` if left out.

    Returns
    -------
    dict
        Outcome name to float or array. An outcome that does not exist, such as
        the cost of a kilogram where nothing is harvested, is NaN.

    Raises
    ------
    InfeasibleError
        If a name is no outcome, or the solution of the stated EC cannot be made.

    Examples
    --------
    >>> from scenariokit.scenario import outcome_values, scenario_for
    >>> found = outcome_values(scenario_for("wedge_pots"), ["yield_per_area"])
    >>> round(float(found["yield_per_area"]), 2)
    4.8
    """
    names = tuple(OUTCOMES) if wanted is None else tuple(wanted)
    unknown = sorted(set(names) - set(OUTCOMES))
    if unknown:
        raise InfeasibleError(tr("no outcome is called {names}", names=", ".join(unknown)))
    worked = Worked(scenario)
    return {name: worked[name] for name in names}


class Worked(Values):
    """Outcomes of one scenario and the steps to them, each worked out when first asked for."""

    def __init__(self, scenario: Scenario) -> None:
        super().__init__()
        self._scenario = scenario

    def __missing__(self, name: str) -> Any:
        """Work out a number, keep it and return it."""
        value = self._ratio(name) if name in _RATIOS else _STEPS[name](self._scenario, self)
        self[name] = value
        return value

    def _ratio(self, name: str) -> Any:
        top, bottom, factor = _RATIOS[name]
        upper = self[top] if factor == 1.0 else factor * self[top]
        if bottom == "yield_per_area":  # many are per kilogram: divided once, multiplied often
            return upper * self["_per_kilogram"]
        return divided(upper, self[bottom])


def salinity_factor(scenario: Scenario) -> Any:
    """Return the share of its yield that a crop keeps at the feed's EC; 1 in soil."""
    if scenario.method.level.regime == "none":
        return 1.0
    crop = scenario.crop
    return yields.salinity_factor.floats(
        plain(scenario.feed.ec), plain(crop.salinity_threshold), plain(crop.salinity_slope)
    )


# -- the tank ------------------------------------------------------------------------


def _of_tank(body: Step, without: float = 0.0) -> Step:
    """Return a step of methods with a tank; a field has `without` instead."""

    def step(scenario: Scenario, values: Values) -> Any:
        if scenario.method.level.regime == "none":
            return np.full_like(values["season_water"], without, dtype=float)[()]
        return body(scenario, values)

    return step


def _litres(scenario: Scenario, depth: Any) -> Any:
    """Return what stands in a depth of tank, in L/m²."""
    return depth * 10 * (1 - plain(scenario.method.level.displaced_fraction))


def _left_volume(scenario: Scenario, values: Values) -> Any:
    """Return what is left in the tank at the end."""
    level = scenario.method.level
    return _litres(scenario, plain(level.high if level.held else level.low))


def _starting_depth(scenario: Scenario, values: Values) -> Any:
    level = scenario.method.level
    return reservoir.starting_depth.floats(
        values["season_water"], plain(level.low), values["_rain"], plain(level.displaced_fraction)
    )


def _autonomy(scenario: Scenario, values: Values) -> Any:
    level = scenario.method.level
    # Once a falling level is held, only what lies above the lowest level bridges a failed valve.
    kept = plain(level.high) if level.held else plain(level.fullest)
    return reservoir.autonomy.floats(
        kept - plain(level.low), values["peak_water_use"], plain(level.displaced_fraction)
    )


def _refills(scenario: Scenario, values: Values) -> Any:
    """Return how often somebody fills the tank in a season; NaN where a fill would hold nothing."""
    level = scenario.method.level
    if level.held:
        return np.zeros_like(values["season_water"])
    per_fill = _litres(scenario, plain(level.fullest) - plain(level.low))
    if level.regime == "hand-filled":
        days = sum(plain(stage) for stage in stages(scenario))
        return np.floor((days - 1) / whole_days(level.fill_interval)) + np.zeros_like(per_fill)
    needed = values["season_water"] - values["_rain"]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(per_fill > 0, np.ceil(needed / per_fill), np.nan)[()]


def _reserve_volume(scenario: Scenario, values: Values) -> Any:
    tank = scenario.tank
    return reservoir.reserve_volume.floats(
        plain(tank.area), values["peak_water_use"], plain(tank.reserve_days)
    )


# -- the nutrient solution -----------------------------------------------------------


def _solution_made(scenario: Scenario, values: Values) -> Any:
    used = values["season_water"] - values["_rain"] + values["_left_volume"]
    return np.maximum(used, values["_first_volume"])


def _full_litres(scenario: Scenario, values: Values) -> Any:
    """Return litres at the strength of the first filling; a weaker top-up counts for less."""
    share = plain(scenario.feed.top_up_strength)
    if np.ndim(share) == 0 and share == 1:
        return values["solution_made"]
    first = values["_first_volume"]
    return first + (values["solution_made"] - first) * share


def _supplied(element: str) -> Step:
    def step(scenario: Scenario, values: Values) -> Any:
        feed = scenario.feed
        salts = feed.content.get(element, 0.0) * values["_strength"] * values["_full_litres"]
        return (salts + feed.water_content.get(element, 0.0) * values["solution_made"]) / 1000

    return step


def _removed(element: str) -> Step:
    return lambda s, v: s.crop.removal[element] * v["yield_per_area"]


def _left(short: str) -> Step:
    return lambda s, v: v[f"{short}_supplied"] - v[f"{short}_removed"]


_STEPS: dict[str, Step] = {
    "salinity_factor": lambda s, v: salinity_factor(s),
    "yield_per_area": lambda s, v: plain(s.harvest.typical) * v["salinity_factor"],
    "yield_low": lambda s, v: plain(s.harvest.low) * v["salinity_factor"],
    "yield_high": lambda s, v: plain(s.harvest.high) * v["salinity_factor"],
    "field_equivalent": lambda s, v: v["yield_per_area"] * 10,
    "yield_per_plant": lambda s, v: v["yield_per_area"] / plain(s.method.plants_per_area),
    "_per_kilogram": lambda s, v: divided(1.0, v["yield_per_area"]),
    "_season": lambda s, v: season_water_use(s),
    "season_water": lambda s, v: v["_season"].water,
    "peak_water_use": lambda s, v: v["_season"].peak,
    "_rain": lambda s, v: np.minimum(v["_season"].rain, v["season_water"]),
    "fullest_depth": _of_tank(lambda s, v: plain(s.method.level.fullest)),
    "starting_depth": _of_tank(_starting_depth, np.nan),
    "autonomy": _of_tank(_autonomy, np.nan),
    "refills": _of_tank(_refills, np.nan),
    "reserve_volume": _of_tank(_reserve_volume),
    "water_load": _of_tank(lambda s, v: reservoir.load.floats(v["fullest_depth"]).mass_per_area),
    "_left_volume": _left_volume,
    "_first_volume": lambda s, v: _litres(s, plain(s.method.level.fullest)),
    "solution_made": _of_tank(_solution_made),
    "_full_litres": _of_tank(_full_litres),
    "_strength": lambda s, v: 0.0 if s.method.level.regime == "none" else feed_strength(s.feed),
    "fertiliser_mass": lambda s, v: sum(s.feed.salts.values()) * v["_strength"] * v["_full_litres"],
    "stock_volume": lambda s, v: 1000 * v["_strength"] / plain(s.feed.dilution) * v["_full_litres"],
    **{f"{short}_supplied": _supplied(element) for short, element in ELEMENTS.items()},
    **{f"{short}_removed": _removed(element) for short, element in ELEMENTS.items()},
    **{f"{short}_left": _left(short) for short in ELEMENTS},
    **COST_STEPS,
}
"""How each number comes from a scenario and the numbers before it; `_RATIOS` has the others."""


def undefined_reasons(scenario: Scenario, values: Values) -> dict[str, str]:
    """Return why outcomes have no value, for those of `values` that are NaN somewhere."""
    tank = scenario.method.level.regime != "none"
    reasons = {
        "cost_per_kilogram": tr("the yield is zero, so there is no cost per kilogram"),
        "cost_per_kilogram_low": tr("the high yield is zero, so there is no cost per kilogram"),
        "cost_per_kilogram_high": tr("the low yield is zero, so there is no cost per kilogram"),
        "cost_per_usable_kilogram": tr("nothing can be used or sold, so no kilogram has a cost"),
        "labour_per_kilogram": tr("the yield is zero, so there is no labour for a kilogram"),
        "return_to_labour": tr("no hour is worked"),
        "payback": tr("no equipment is bought")
        if np.all(np.asarray(values["investment_per_area"]) <= 0)
        else tr("what is left of the takings never repays the equipment"),
        "water_per_yield": tr("the yield is zero, so there is no water per kilogram"),
        "yield_per_medium": tr("this method uses no growing medium"),
        "yield_per_water": tr("this method uses no water"),
        "autonomy": tr("this method has no tank"),
        "starting_depth": tr("this method has no tank"),
        "refills": tr("there is nothing between the highest and the lowest level")
        if tank
        else tr("this method has no tank"),
    }
    reasons.update(dict.fromkeys((f"{short}_share" for short in ELEMENTS), tr("none is fed")))
    reasons.update({f"cost_{part}": reasons["cost_per_kilogram"] for part in COST_PARTS})
    return {name: reason for name, reason in reasons.items() if np.any(np.isnan(values[name]))}
