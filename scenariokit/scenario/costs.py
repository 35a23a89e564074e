"""What a scenario's crop costs part by part, and what it brings; steps for `values`."""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any, NamedTuple

import numpy as np

from scenariokit import economics
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.outcomes import COST_PARTS
from scenariokit.substrate import medium_use_factor

Values = dict[str, Any]


def medium_unit_price(scenario: Scenario) -> Any:
    """Return the price of a litre of the method's medium in place, in money/L."""
    medium, prices = scenario.method.medium, scenario.prices
    if medium is None:
        return 0.0
    loose = sum(share * prices.unit_prices[item] for item, share in medium.components)
    return loose * plain(prices.medium_factor) / (1 - plain(medium.mixing_loss))


def _volume(scenario: Scenario, values: Values) -> Any:
    medium = scenario.method.medium
    if medium is None:
        return 0.0
    return plain(medium.volume_per_plant) * plain(scenario.method.plants_per_area)


def _medium(scenario: Scenario, values: Values) -> Any:
    medium = scenario.method.medium
    if medium is None:
        return 0.0
    use = medium_use_factor.floats(plain(medium.crops_per_filling), plain(medium.top_up_fraction))
    return values["medium_price"] * (values["medium_volume_per_area"] * use)


def _sheet(scenario: Scenario, values: Values) -> Any:
    sheet = scenario.method.sheet
    if sheet is None:
        return 0.0
    price = scenario.prices.unit_prices[sheet.item]
    return price * plain(sheet.area_per_area) / plain(sheet.crops_per_sheet)


def _planting(scenario: Scenario, values: Values) -> Any:
    planted = plain(scenario.crop.planting_per_plant) * plain(scenario.method.plants_per_area)
    return scenario.prices.unit_prices[scenario.crop.planting_item] * planted


def _consumables(scenario: Scenario, values: Values) -> Any:
    return sum(
        scenario.prices.unit_prices[supply.item] * plain(supply.quantity_per_area)
        for supply in scenario.method.supplies
        if supply.use == "per_crop"
    )


class _Equipment(NamedTuple):
    """What equipment costs a crop and what it costs new, in money/m²."""

    per_crop: Any
    new: Any


def _equipment(scenario: Scenario, values: Values) -> _Equipment:
    prices, total, new = scenario.prices, 0.0, 0.0
    interest = plain(prices.interest_rate)
    for supply in scenario.method.supplies:
        if supply.use != "equipment":
            continue
        price = prices.unit_prices[supply.item] * plain(supply.quantity_per_area)
        salvage = price * plain(supply.salvage_fraction)
        # economics.annualised, with the factor of single numbers remembered
        yearly = (price - salvage) * _recovery(interest, plain(supply.service_life))
        total = total + yearly + salvage * interest
        new = new + price
    return _Equipment(total / plain(prices.crops_per_year), new)


def _recovery(interest: Any, years: Any) -> Any:
    if isinstance(interest, float) and isinstance(years, float):
        return _remembered_recovery(interest, years)
    return economics.capital_recovery.floats(interest, years)


@functools.lru_cache(maxsize=1024)
def _remembered_recovery(interest: float, years: float) -> float:
    return float(economics.capital_recovery.floats(interest, years))


def _nutrients(scenario: Scenario, values: Values) -> Any:
    prices = scenario.prices.unit_prices
    litre = sum(prices[salt] * rate for salt, rate in scenario.feed.salts.items()) / 1000
    return litre * values["_strength"] * values["_full_litres"]


def _labour(scenario: Scenario, values: Values) -> Any:
    return values["labour_per_area"] * plain(scenario.prices.labour_price)


def _sum_of_parts(scenario: Scenario, values: Values) -> Any:
    """Return the sum; single numbers first, so that arrays are gone through once each."""
    parts = [values[f"cost_per_area_{part}"] for part in COST_PARTS]
    return sum(sorted(parts, key=np.ndim))


def _usable(scenario: Scenario, values: Values) -> Any:
    crop = scenario.crop
    sold = economics.sold_share.floats(plain(crop.marketable_share), plain(crop.loss_share))
    return values["yield_per_area"] * sold


def _payback(scenario: Scenario, values: Values) -> Any:
    """Return the years until equipment is repaid; NaN where nothing was bought or never."""
    # Equipment is paid once, at the start, and not year by year.
    kept = values["margin_per_area"] + values["cost_per_area_equipment"]
    yearly = kept * plain(scenario.prices.crops_per_year)
    invested, rate = values["investment_per_area"], plain(scenario.prices.interest_rate)
    years = economics.payback.floats(invested, yearly, rate)
    return np.where((years > 0) & (years < np.inf), years, np.nan)[()]


COST_STEPS: dict[str, Callable[[Scenario, Values], Any]] = {
    "medium_price": lambda s, v: medium_unit_price(s),
    "medium_volume_per_area": _volume,
    "cost_per_area_planting": _planting,
    "cost_per_area_medium": _medium,
    "cost_per_area_sheet": _sheet,
    "cost_per_area_consumables": _consumables,
    "_equipment": _equipment,
    "cost_per_area_equipment": lambda s, v: v["_equipment"].per_crop,
    "investment_per_area": lambda s, v: v["_equipment"].new,
    "cost_per_area_nutrients": _nutrients,
    "cost_per_area_water": lambda s, v: plain(s.prices.water_price) / 1000 * v["solution_made"],
    "labour_per_area": lambda s, v: s.method.labour.hours() * plain(s.method.plants_per_area),
    "cost_per_area_labour": _labour,
    "cost_per_area": _sum_of_parts,
    "_usable": _usable,
    "takings_per_area": lambda s, v: v["_usable"] * plain(s.prices.produce_price),
    "margin_per_area": lambda s, v: v["takings_per_area"] - v["cost_per_area"],
    "_earned": lambda s, v: v["margin_per_area"] + v["cost_per_area_labour"],
    "payback": _payback,
}
"""How each number comes from a scenario and the numbers before it."""
