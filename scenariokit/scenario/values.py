"""From a scenario to the plain numbers of its outcomes: one vectorised pass."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

import numpy as np

from scenariokit import economics, reservoir, yields
from scenariokit.errors import InfeasibleError
from scenariokit.scenario.division import divided
from scenariokit.scenario.flows import season_water_use, stages, whole_days
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Method, Scenario
from scenariokit.scenario.outcomes import COST_PARTS, OUTCOMES
from scenariokit.scenario.strength import feed_strength
from scenariokit.substrate import medium_use_factor

ELEMENTS = {"n": "N", "p": "P", "k": "K"}
Values = dict[str, Any]


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
        raise InfeasibleError(f"no outcome is called {', '.join(unknown)}")
    values: Values = {}
    _yields(scenario, values)
    _water(scenario, values)
    _tank(scenario, values)
    if not _RESERVES.isdisjoint(names):
        _reserves(scenario, values)
    _nutrients(scenario, values)
    if any(name.startswith(("n_", "p_", "k_")) for name in names):
        _elements(scenario, values)
    _costs(scenario, values)
    if "payback" in names:
        values["payback"] = _payback(scenario, values)
    for name in names:
        if name in _RATIOS:
            top, bottom, factor = _RATIOS[name]
            values[name] = divided(factor * values[top], values[bottom])
    return {name: values[name] for name in names}


def salinity_factor(scenario: Scenario) -> Any:
    """Return the share of its yield that a crop keeps at the feed's EC; 1 in soil."""
    if scenario.method.level.regime == "none":
        return 1.0
    crop = scenario.crop
    return yields.salinity_factor.floats(
        plain(scenario.feed.ec), plain(crop.salinity_threshold), plain(crop.salinity_slope)
    )


def _yields(scenario: Scenario, values: Values) -> None:
    """Fill in yield and what the EC leaves of it."""
    harvest, factor = scenario.harvest, salinity_factor(scenario)
    values["salinity_factor"] = factor
    values["yield_per_area"] = plain(harvest.typical) * factor
    values["yield_low"] = plain(harvest.low) * factor
    values["yield_high"] = plain(harvest.high) * factor
    values["field_equivalent"] = values["yield_per_area"] * 10
    values["yield_per_plant"] = values["yield_per_area"] / plain(scenario.method.plants_per_area)


def _water(scenario: Scenario, values: Values) -> None:
    """Fill in water of the season and of its thirstiest day."""
    values["season_water"], values["peak_water_use"], rain = season_water_use(scenario)
    values["_rain"] = np.minimum(rain, values["season_water"])


def _tank(scenario: Scenario, values: Values) -> None:
    """Fill in depth, weight, and what the tank holds at first and at the end."""
    level = scenario.method.level
    if level.regime == "none":
        empty = ("fullest_depth", "water_load", "_left_volume", "_first_volume")
        values.update(dict.fromkeys(empty, np.zeros_like(values["peak_water_use"])))
        return
    displaced, fullest = plain(level.displaced_fraction), plain(level.fullest)
    values["fullest_depth"] = fullest
    values["water_load"] = reservoir.load.floats(fullest).mass_per_area
    end = plain(level.high) if level.held else plain(level.low)
    values["_left_volume"] = end * 10 * (1 - displaced)
    values["_first_volume"] = fullest * 10 * (1 - displaced)


_RESERVES = frozenset({"starting_depth", "autonomy", "refills", "reserve_volume"})


def _reserves(scenario: Scenario, values: Values) -> None:
    """Fill in what bridges days without water; costs do not hang on it."""
    level, peak, season = scenario.method.level, values["peak_water_use"], values["season_water"]
    if level.regime == "none":
        values["reserve_volume"] = np.zeros_like(peak)
        for name in ("autonomy", "starting_depth", "refills"):
            values[name] = np.full_like(np.asarray(peak, dtype=float), np.nan)[()]
        return
    low, displaced = plain(level.low), plain(level.displaced_fraction)
    fullest = plain(level.fullest)
    values["starting_depth"] = reservoir.starting_depth.floats(
        season, low, values["_rain"], displaced
    )
    # Once a falling level is held, only what lies above the lowest level bridges a failed valve.
    kept = plain(level.high) if level.held else fullest
    values["autonomy"] = reservoir.autonomy.floats(kept - low, peak, displaced)
    values["refills"] = _refills(scenario, (fullest - low) * 10 * (1 - displaced), values)
    values["reserve_volume"] = reservoir.reserve_volume.floats(
        plain(scenario.tank.area), peak, plain(scenario.tank.reserve_days)
    )


def _refills(scenario: Scenario, per_fill: Any, values: Values) -> Any:
    """Return how often somebody fills the tank in a season; NaN where a fill would hold nothing."""
    level = scenario.method.level
    if level.held:
        return np.zeros_like(values["season_water"])
    if level.regime == "hand-filled":
        days = sum(plain(stage) for stage in stages(scenario))
        return np.floor((days - 1) / whole_days(level.fill_interval)) + np.zeros_like(per_fill)
    needed = values["season_water"] - values["_rain"]
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(per_fill > 0, np.ceil(needed / per_fill), np.nan)[()]


def _nutrients(scenario: Scenario, values: Values) -> None:
    """Fill in the solution made and the salts in it."""
    feed = scenario.feed
    hydroponic = scenario.method.level.regime != "none"
    strength = feed_strength(feed) if hydroponic else 0.0
    made: Any = np.zeros_like(values["season_water"])
    full: Any = made
    if hydroponic:
        used = values["season_water"] - values["_rain"] + values["_left_volume"]
        made = np.maximum(used, values["_first_volume"])
        topped = made - values["_first_volume"]
        full = values["_first_volume"] + topped * plain(feed.top_up_strength)
    values["solution_made"] = made
    # Litres at the strength of the first filling; a weaker top-up counts for less.
    values["_full_litres"] = full
    values["_strength"] = strength
    grams = sum(feed.salts.values()) * strength
    values["fertiliser_mass"] = grams * values["_full_litres"]
    values["stock_volume"] = 1000 * strength * values["_full_litres"] / plain(feed.dilution)


def _elements(scenario: Scenario, values: Values) -> None:
    """Fill in where N, P and K go."""
    feed, crop, strength = scenario.feed, scenario.crop, values["_strength"]
    for short, element in ELEMENTS.items():
        salts = feed.content.get(element, 0.0) * strength * values["_full_litres"]
        supplied = (salts + feed.water_content.get(element, 0.0) * values["solution_made"]) / 1000
        removed = crop.removal[element] * values["yield_per_area"]
        values[f"{short}_supplied"] = supplied
        values[f"{short}_removed"] = removed
        values[f"{short}_left"] = supplied - removed


def medium_unit_price(scenario: Scenario) -> Any:
    """Return the price of a litre of the method's medium in place, in money/L."""
    medium, prices = scenario.method.medium, scenario.prices
    if medium is None:
        return 0.0
    loose = sum(share * prices.unit_prices[item] for item, share in medium.components)
    return loose * plain(prices.medium_factor) / (1 - plain(medium.mixing_loss))


def _equipment(scenario: Scenario, method: Method) -> tuple[Any, Any]:
    """Return the equipment cost of one crop and what the equipment costs new, in money/m²."""
    prices, total, new = scenario.prices, 0.0, 0.0
    for supply in method.supplies:
        if supply.use != "equipment":
            continue
        price = prices.unit_prices[supply.item] * plain(supply.quantity_per_area)
        yearly = economics.annualised.floats(
            price,
            price * plain(supply.salvage_fraction),
            plain(supply.service_life),
            plain(prices.interest_rate),
        )
        total = total + yearly / plain(prices.crops_per_year)
        new = new + price
    return total, new


def _costs(scenario: Scenario, values: Values) -> None:
    """Fill in the cost of each part per m² and the sum."""
    method, prices = scenario.method, scenario.prices
    medium, sheet, plants = method.medium, method.sheet, plain(method.plants_per_area)
    price = medium_unit_price(scenario)
    parts: Values = dict.fromkeys(COST_PARTS, 0.0)
    volume: Any = 0.0
    if medium is not None:
        volume = plain(medium.volume_per_plant) * plants
        use = medium_use_factor.floats(
            plain(medium.crops_per_filling), plain(medium.top_up_fraction)
        )
        parts["medium"] = price * volume * use
    if sheet is not None:
        parts["sheet"] = (
            prices.unit_prices[sheet.item]
            * plain(sheet.area_per_area)
            / plain(sheet.crops_per_sheet)
        )
    planted = plain(scenario.crop.planting_per_plant) * plants
    parts["planting"] = prices.unit_prices[scenario.crop.planting_item] * planted
    parts["consumables"] = sum(
        prices.unit_prices[supply.item] * plain(supply.quantity_per_area)
        for supply in method.supplies
        if supply.use == "per_crop"
    )
    parts["equipment"], values["investment_per_area"] = _equipment(scenario, method)
    salt_price = sum(prices.unit_prices[salt] * rate for salt, rate in scenario.feed.salts.items())
    parts["nutrients"] = salt_price / 1000 * values["_strength"] * values["_full_litres"]
    parts["water"] = plain(prices.water_price) / 1000 * values["solution_made"]
    hours = method.labour.hours() * plants
    parts["labour"] = hours * plain(prices.labour_price)
    values["labour_per_area"] = hours
    values["medium_volume_per_area"] = volume
    values["medium_price"] = price
    values["cost_per_area"] = sum(parts.values())
    for part, value in parts.items():
        values[f"cost_per_area_{part}"] = value
    _returns(scenario, values)


def _returns(scenario: Scenario, values: Values) -> None:
    """Fill in takings and what is left of them."""
    crop, prices = scenario.crop, scenario.prices
    sold = economics.sold_share.floats(plain(crop.marketable_share), plain(crop.loss_share))
    values["_usable"] = values["yield_per_area"] * sold
    values["takings_per_area"] = values["_usable"] * plain(prices.produce_price)
    values["margin_per_area"] = values["takings_per_area"] - values["cost_per_area"]
    values["_earned"] = values["margin_per_area"] + values["cost_per_area_labour"]


def _payback(scenario: Scenario, values: Values) -> Any:
    """Return the years until equipment is repaid; NaN where nothing was bought or never."""
    # Equipment is paid once, at the start, and not year by year.
    kept = values["margin_per_area"] + values["cost_per_area_equipment"]
    yearly = kept * plain(scenario.prices.crops_per_year)
    invested, rate = values["investment_per_area"], plain(scenario.prices.interest_rate)
    years = np.asarray(economics.payback.floats(invested, yearly, rate))
    return np.where(np.isfinite(years) & (np.asarray(invested) > 0), years, np.nan)[()]


def undefined_reasons(scenario: Scenario, values: Values) -> dict[str, str]:
    """Return why outcomes have no value, for those of `values` that are NaN somewhere."""
    tank = scenario.method.level.regime != "none"
    reasons = {
        "cost_per_kilogram": "the yield is zero, so there is no cost per kilogram",
        "cost_per_kilogram_low": "the high yield is zero, so there is no cost per kilogram",
        "cost_per_kilogram_high": "the low yield is zero, so there is no cost per kilogram",
        "cost_per_usable_kilogram": "nothing can be used or sold, so no kilogram has a cost",
        "labour_per_kilogram": "the yield is zero, so there is no labour for a kilogram",
        "return_to_labour": "no hour is worked",
        "payback": "no equipment is bought"
        if np.all(np.asarray(values["investment_per_area"]) <= 0)
        else "what is left of the takings never repays the equipment",
        "water_per_yield": "the yield is zero, so there is no water per kilogram",
        "yield_per_medium": "this method uses no growing medium",
        "yield_per_water": "this method uses no water",
        "autonomy": "this method has no tank",
        "starting_depth": "this method has no tank",
        "refills": "there is nothing between the highest and the lowest level"
        if tank
        else "this method has no tank",
    }
    reasons.update(dict.fromkeys((f"{short}_share" for short in ELEMENTS), "none is fed"))
    reasons.update({f"cost_{part}": reasons["cost_per_kilogram"] for part in COST_PARTS})
    return {name: reason for name, reason in reasons.items() if np.any(np.isnan(values[name]))}
