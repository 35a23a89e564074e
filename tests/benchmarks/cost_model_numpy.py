"""Yield, water and cost of a growing method by hand, as a careful person writes it in NumPy.

Nothing of scenariokit is used once the numbers are read out of a scenario: neither its units nor
its functions. Tests hold it and `outcome_values` together; benchmarks race them.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np

from scenariokit.scenario import Scenario
from scenariokit.scenario.strength import feed_strength

DAYS_IN_MONTH = (31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
OPEN_WATER = 1.05
"""Evaporation of shallow open water over the reference (FAO-56, Table 12)."""
COST_PARTS = (
    "planting", "medium", "sheet", "consumables", "equipment", "nutrients", "water", "labour",
)  # fmt: skip
OUTCOMES = (
    "yield_per_area", "season_water", "solution_made", "fertiliser_mass",
    *(f"cost_{part}" for part in COST_PARTS),
    "cost_per_area", "cost_per_kilogram", "cost_per_usable_kilogram", "takings_per_area",
    "margin_per_area", "labour_per_area", "investment_per_area", "return_to_labour", "payback",
)  # fmt: skip
FIELD_OF = {
    "harvest.typical": "typical_yield",
    "site.climate_factor": "climate_factor",
    "prices.produce_price": "produce_price",
    "prices.medium_factor": "medium_factor",
    "prices.labour_price": "labour_price",
    "prices.water_price": "water_price",
    "crop.marketable_share": "marketable_share",
    "crop.kc_mid": "kc_mid",
    "crop.days_late": "days_late",
}
"""Which number each path of a scenario is, for those that benchmarks draw."""


@dataclass(frozen=True)
class Equipment:
    """Something bought for each m² of tank: price new, share it fetches at the end, years."""

    price: Any
    salvage: Any
    years: Any


@dataclass(frozen=True)
class Numbers:
    """What the model needs of one method; a number may be an array of draws.

    Amounts are per m² of tank or per plant, water in litres, depths in cm, prices for a
    litre of medium, a plant's seed, a litre of solution at full strength and so on.
    """

    tank: bool
    typical_yield: Any
    ec: Any
    salinity_threshold: Any
    salinity_slope: Any
    plants: Any
    days_initial: Any
    days_development: Any
    days_mid: Any
    days_late: Any
    kc_initial: Any
    kc_mid: Any
    kc_end: Any
    planting_month: int
    reference: Any
    rain: Any
    rain_share: Any
    climate_factor: Any
    open_fraction: Any
    fullest_depth: Any
    left_depth: Any
    displaced: Any
    strength: Any
    top_up_strength: Any
    salt_grams: float
    salt_price: float
    medium_litre_price: float
    medium_factor: Any
    mixing_loss: Any
    medium_per_plant: Any
    crops_per_filling: Any
    top_up_share: Any
    sheet_price: float
    sheet_area: Any
    crops_per_sheet: Any
    seed_price: float
    seed_per_plant: Any
    consumables: Any
    equipment: tuple[Equipment, ...]
    hours_per_plant: Any
    labour_price: Any
    water_price: Any
    produce_price: Any
    marketable_share: Any
    loss_share: Any
    interest: Any
    crops_per_year: Any


def numbers_of(scenario: Scenario) -> Numbers:
    """Return the numbers of a scenario; its leaves may hold single values or arrays."""
    method, crop, site = scenario.method, scenario.crop, scenario.site
    feed, prices = scenario.feed, scenario.prices
    tank = method.level.regime != "none"
    priced = prices.unit_prices
    return Numbers(
        tank=tank,
        typical_yield=scenario.harvest.typical.magnitude,
        plants=method.plants_per_area.magnitude,
        **_same_names(crop),
        planting_month=site.planting_month,
        reference=site.reference_evapotranspiration.magnitude,
        rain=site.rain.magnitude,
        rain_share=site.rain_share.magnitude,
        climate_factor=site.climate_factor.magnitude,
        **_level(method.level),
        ec=feed.ec.magnitude,
        strength=feed_strength(feed) if tank else 0.0,
        top_up_strength=feed.top_up_strength.magnitude,
        salt_grams=sum(feed.salts.values()),
        salt_price=sum(priced[salt] * grams / 1000 for salt, grams in feed.salts.items()),
        **_medium(method.medium, priced),
        **_sheet(method.sheet, priced),
        seed_price=priced[crop.planting_item],
        seed_per_plant=crop.planting_per_plant.magnitude,
        **_supplies(method.supplies, priced),
        hours_per_plant=method.labour.total.magnitude,
        **_same_names(prices),
        interest=prices.interest_rate.magnitude,
    )


def _same_names(part: Any) -> dict[str, Any]:
    """Return the numbers of a part of a scenario that have the same names here."""
    names = {field.name for field in fields(Numbers)}
    return {
        field.name: getattr(part, field.name).magnitude
        for field in fields(part)
        if field.name in names and hasattr(getattr(part, field.name), "magnitude")
    }


def _level(level: Any) -> dict[str, Any]:
    falling = level.regime in ("falling", "falling-then-held")
    held = level.regime in ("constant", "falling-then-held")
    return {
        "open_fraction": level.open_fraction.magnitude,
        "displaced": level.displaced_fraction.magnitude,
        "fullest_depth": (level.start if falling else level.high).magnitude,
        "left_depth": (level.high if held else level.low).magnitude,
    }


def _medium(medium: Any, priced: Mapping[str, float]) -> dict[str, Any]:
    if medium is None:
        return {"medium_litre_price": 0.0, "mixing_loss": 0.0, "medium_per_plant": 0.0,
                "crops_per_filling": 1.0, "top_up_share": 0.0}  # fmt: skip
    return {
        "medium_litre_price": sum(priced[item] * share for item, share in medium.components),
        "mixing_loss": medium.mixing_loss.magnitude,
        "medium_per_plant": medium.volume_per_plant.magnitude,
        "crops_per_filling": medium.crops_per_filling.magnitude,
        "top_up_share": medium.top_up_fraction.magnitude,
    }


def _sheet(sheet: Any, priced: Mapping[str, float]) -> dict[str, Any]:
    if sheet is None:
        return {"sheet_price": 0.0, "sheet_area": 0.0, "crops_per_sheet": 1.0}
    return {
        "sheet_price": priced[sheet.item],
        "sheet_area": sheet.area_per_area.magnitude,
        "crops_per_sheet": sheet.crops_per_sheet.magnitude,
    }


def _supplies(supplies: Any, priced: Mapping[str, float]) -> dict[str, Any]:
    bought = [(one, priced[one.item] * one.quantity_per_area.magnitude) for one in supplies]
    return {
        "consumables": sum(price for one, price in bought if one.use == "per_crop"),
        "equipment": tuple(
            Equipment(price, one.salvage_fraction.magnitude, one.service_life.magnitude)
            for one, price in bought
            if one.use == "equipment"
        ),
    }


def season(n: Numbers) -> tuple[Any, Any]:
    """Return water used and rain caught in a season, in L/m², day by day from planting."""
    lengths = n.days_initial, n.days_development, n.days_mid, n.days_late
    total = sum(lengths)
    before_late = total - n.days_late
    month_of_day = np.repeat(np.arange(12), DAYS_IN_MONTH)
    first = int(np.sum(DAYS_IN_MONTH[: n.planting_month - 1]))
    used: Any = 0.0
    caught: Any = 0.0
    for day in range(1, int(np.ceil(np.max(total))) + 1):
        month = month_of_day[(first + day - 1) % 365]
        rise = np.clip((day - n.days_initial) / n.days_development, 0, 1)
        fall = np.clip((day - before_late) / n.days_late, 0, 1)
        factor = n.kc_initial + rise * (n.kc_mid - n.kc_initial) + fall * (n.kc_end - n.kc_mid)
        if n.tank:
            factor = factor + OPEN_WATER * n.open_fraction
            caught = caught + (day <= total) * (n.rain[month] / DAYS_IN_MONTH[month])
        used = used + (day <= total) * factor * n.reference[month]
    # Every day's use is in proportion to the season's thirst, so it is multiplied in once.
    return used * n.climate_factor, caught * n.rain_share


def solution(n: Numbers, used: Any, caught: Any) -> tuple[Any, Any]:
    """Return the solution made in L/m², and how much that is of the first filling's strength."""
    if not n.tank:
        return 0.0, 0.0
    first = 10 * n.fullest_depth * (1 - n.displaced)
    left = 10 * n.left_depth * (1 - n.displaced)
    made = np.maximum(np.maximum(used - caught, 0.0) + left, first)
    return made, first + (made - first) * n.top_up_strength


def equipment_cost(n: Numbers) -> tuple[Any, Any]:
    """Return what equipment costs a crop and what it costs new, in money/m²."""
    yearly: Any = 0.0
    new: Any = 0.0
    for one in n.equipment:
        growth = (1 + n.interest) ** one.years
        back = np.where(
            n.interest > 0, n.interest * growth / np.maximum(growth - 1, 1e-300), 1 / one.years
        )
        yearly = yearly + one.price * ((1 - one.salvage) * back + one.salvage * n.interest)
        new = new + one.price
    return yearly / n.crops_per_year, new


def outcomes(n: Numbers, water: tuple[Any, Any] | None = None) -> dict[str, Any]:
    """Return the outcomes of one method.

    Parameters
    ----------
    n : Numbers
        Single numbers or arrays of draws.
    water : tuple, optional
        What `season` gives at a climate factor of 1, where no draw changes it.
    """
    used, caught = season(n) if water is None else (water[0] * n.climate_factor, water[1])
    made, full = solution(n, used, caught)
    kept = np.clip(1 - n.salinity_slope * (n.ec - n.salinity_threshold) / 100, 0, 1)
    harvest = n.typical_yield * (kept if n.tank else 1.0)
    per_crop, new = equipment_cost(n)
    hours = n.hours_per_plant * n.plants
    litre = n.medium_litre_price * n.medium_factor / (1 - n.mixing_loss)
    fillings = (1 + n.top_up_share * (n.crops_per_filling - 1)) / n.crops_per_filling
    costs = {
        "planting": n.seed_price * n.seed_per_plant * n.plants,
        "medium": litre * (n.medium_per_plant * n.plants * fillings),
        "sheet": n.sheet_price * n.sheet_area / n.crops_per_sheet,
        "consumables": n.consumables,
        "equipment": per_crop,
        "nutrients": n.salt_price * n.strength * full,
        "water": n.water_price / 1000 * made,
        "labour": n.labour_price * hours,
    }
    cost = sum(costs.values())
    usable = harvest * n.marketable_share * (1 - n.loss_share)
    takings = usable * n.produce_price
    margin = takings - cost
    per_kilogram = reciprocal(harvest)
    return {
        "yield_per_area": harvest,
        "season_water": used,
        "solution_made": made,
        "fertiliser_mass": n.salt_grams * n.strength * full,
        **{f"cost_{part}": value * per_kilogram for part, value in costs.items()},
        "cost_per_area": cost,
        "cost_per_kilogram": cost * per_kilogram,
        "cost_per_usable_kilogram": cost * reciprocal(usable),
        "takings_per_area": takings,
        "margin_per_area": margin,
        "labour_per_area": hours,
        "investment_per_area": new,
        "return_to_labour": (margin + costs["labour"]) * reciprocal(hours),
        "payback": payback(n, new, (margin + per_crop) * n.crops_per_year),
    }  # fmt: skip


def reciprocal(value: Any) -> Any:
    """Return 1 ÷ value, NaN where it is not above zero."""
    with np.errstate(divide="ignore"):
        return np.where(np.greater(value, 0), 1 / np.asarray(value), np.nan)


def payback(n: Numbers, new: Any, yearly: Any) -> Any:
    """Return the years in which yearly takings repay what was bought, NaN where they never do."""
    with np.errstate(divide="ignore", invalid="ignore"):
        share = new / np.asarray(yearly)
        years = -np.log1p(-n.interest * share) / np.log1p(n.interest)
    years = np.where(n.interest > 0, years, share)
    good = (np.asarray(new) > 0) & (np.asarray(yearly) > 0) & (n.interest * share < 1)
    return np.where(good, years, np.nan)


def with_draws(n: Numbers, draws: Mapping[str, Any], piece: slice = slice(None)) -> Numbers:
    """Return the numbers of a method with arrays of draws, by their paths in a scenario."""
    return replace(n, **{FIELD_OF[path]: values[piece] for path, values in draws.items()})


def usual_water(methods: list[Numbers]) -> list[tuple[Any, Any]]:
    """Return the season of each method at a climate factor of 1, for draws that leave its days."""
    return [season(replace(one, climate_factor=1.0)) for one in methods]


def in_blocks(
    methods: list[Numbers],
    draws: list[Mapping[str, Any]],
    block: int,
    water: list[tuple[Any, Any]] | None = None,
) -> Iterator[tuple[int, slice, dict[str, Any]]]:
    """Yield the number of a method, a piece of its draws, and their outcomes.

    Parameters
    ----------
    methods : list of Numbers
        With single numbers.
    draws : list of mapping
        For each method, path to an array of draws.
    block : int
        Draws worked on at a time, so that they stay in a processor's cache.
    water : list of tuple, optional
        What `usual_water` gives; left out where draws change a season's days, which then are
        gone through for each block.
    """
    size = len(next(iter(draws[0].values())))
    for start in range(0, size, block):
        piece = slice(start, min(start + block, size))
        for at, one in enumerate(methods):
            usual = None if water is None else water[at]
            yield at, piece, outcomes(with_draws(one, draws[at], piece), usual)
