"""The model of `cost_model_numpy` as one loop over draws, compiled by numba.

Import it only where numba is installed. One thread, and the rounding of ordinary arithmetic.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import cost_model_numpy as by_hand
import numpy as np
from numba import njit

DRAWN = (
    "harvest.typical", "site.climate_factor", "prices.produce_price", "prices.medium_factor",
    "prices.labour_price", "prices.water_price", "crop.marketable_share", "crop.kc_mid",
    "crop.days_late",
)  # fmt: skip
"""What is drawn, in the order of the rows that the loop reads; the last two where days are."""
USUAL = 7
_APART = 24
"""Numbers between rows, which at a power of two would fall onto the same lines of the cache."""


class Fixed(NamedTuple):
    """Numbers of one method that no draw changes, ready for the loop."""

    tank: bool
    kept: float
    days_initial: float
    days_development: float
    days_mid: float
    kc_initial: float
    kc_end: float
    open_fraction: float
    rain_share: float
    used: float
    caught: float
    first: float
    left: float
    top_up_strength: float
    salt_grams: float
    salt_price: float
    seed: float
    litre: float
    litres: float
    sheet: float
    consumables: float
    equipment: float
    new: float
    hours: float
    sold: float
    interest: float
    log_interest: float
    crops_per_year: float


def fixed_of(n: by_hand.Numbers) -> Fixed:
    """Return what the loop needs of a method with single numbers."""
    used, caught = by_hand.season(n)
    equipment, new = by_hand.equipment_cost(n)
    kept = np.clip(1 - n.salinity_slope * (n.ec - n.salinity_threshold) / 100, 0, 1)
    fillings = (1 + n.top_up_share * (n.crops_per_filling - 1)) / n.crops_per_filling
    numbers = {
        "kept": kept if n.tank else 1.0,
        "used": used / n.climate_factor,
        "caught": caught,
        "first": 10 * n.fullest_depth * (1 - n.displaced),
        "left": 10 * n.left_depth * (1 - n.displaced),
        "salt_grams": n.salt_grams * n.strength,
        "salt_price": n.salt_price * n.strength,
        "seed": n.seed_price * n.seed_per_plant * n.plants,
        "litre": n.medium_litre_price / (1 - n.mixing_loss),
        "litres": n.medium_per_plant * n.plants * fillings,
        "sheet": n.sheet_price * n.sheet_area / n.crops_per_sheet,
        "equipment": equipment,
        "new": new,
        "hours": n.hours_per_plant * n.plants,
        "sold": 1 - n.loss_share,
        "log_interest": np.log1p(n.interest),
    }
    same = {name: getattr(n, name) for name in Fixed._fields if hasattr(n, name)}
    given = {name: float(value) for name, value in {**same, **numbers}.items() if name != "tank"}
    return Fixed(tank=n.tank, **given)


@njit(error_model="numpy")
def season(f, thirst, showers, kc_mid, days_late):
    """Return water used and rain caught by one draw's season, at a climate factor of 1."""
    before_late = f.days_initial + f.days_development + f.days_mid
    total = before_late + days_late
    open_water = by_hand.OPEN_WATER * f.open_fraction
    used = 0.0
    caught = 0.0
    for at in range(math.ceil(total)):
        day = at + 1.0
        if day > total:
            break
        if day <= f.days_initial:
            factor = f.kc_initial
        elif day < f.days_initial + f.days_development:
            factor = f.kc_initial + (day - f.days_initial) / f.days_development * (
                kc_mid - f.kc_initial
            )
        elif day <= before_late:
            factor = kc_mid
        else:
            factor = kc_mid + (day - before_late) / days_late * (f.kc_end - kc_mid)
        if f.tank:
            factor += open_water
            caught += showers[at]
        used += factor * thirst[at]
    return used, caught * f.rain_share


@njit(error_model="numpy")
def outcomes(f, thirst, showers, draws, out):
    """Fill in the outcomes, one row each in the order of `cost_model_numpy.OUTCOMES`."""
    for k in range(draws.shape[1]):
        used, caught = f.used, f.caught
        if draws.shape[0] > USUAL:
            used, caught = season(f, thirst, showers, draws[7, k], draws[8, k])
        used *= draws[1, k]
        made = 0.0
        full = 0.0
        if f.tank:
            made = max(max(used - caught, 0.0) + f.left, f.first)
            full = f.first + (made - f.first) * f.top_up_strength
        harvest = draws[0, k] * f.kept
        nutrients = f.salt_price * full
        medium = f.litre * draws[3, k] * f.litres
        water = draws[5, k] / 1000 * made
        labour = draws[4, k] * f.hours
        cost = f.seed + medium + f.sheet + f.consumables + f.equipment + nutrients + water + labour
        usable = harvest * draws[6, k] * f.sold
        takings = usable * draws[2, k]
        margin = takings - cost
        per_kilogram = 1 / harvest if harvest > 0 else np.nan
        out[0, k] = harvest
        out[1, k] = used
        out[2, k] = made
        out[3, k] = f.salt_grams * full
        out[4, k] = f.seed * per_kilogram
        out[5, k] = medium * per_kilogram
        out[6, k] = f.sheet * per_kilogram
        out[7, k] = f.consumables * per_kilogram
        out[8, k] = f.equipment * per_kilogram
        out[9, k] = nutrients * per_kilogram
        out[10, k] = water * per_kilogram
        out[11, k] = labour * per_kilogram
        out[12, k] = cost
        out[13, k] = cost * per_kilogram
        out[14, k] = cost / usable if usable > 0 else np.nan
        out[15, k] = takings
        out[16, k] = margin
        out[17, k] = f.hours
        out[18, k] = f.new
        out[19, k] = (margin + labour) / f.hours if f.hours > 0 else np.nan
        out[20, k] = payback(f, (margin + f.equipment) * f.crops_per_year)


@njit(error_model="numpy")
def payback(f, yearly):
    """Return the years in which yearly takings repay what was bought, NaN where they never do."""
    if not (f.new > 0 and yearly > 0):
        return np.nan
    share = f.new / yearly
    if f.interest == 0:
        return share
    if f.interest * share >= 1:
        return np.nan
    return -math.log1p(-f.interest * share) / f.log_interest


def days_of(n: by_hand.Numbers, days: int) -> tuple[Any, Any]:
    """Return the reference evapotranspiration and the rain of each day from planting on."""
    months = np.repeat(np.arange(12), by_hand.DAYS_IN_MONTH)
    first = int(np.sum(by_hand.DAYS_IN_MONTH[: n.planting_month - 1]))
    months = months[(first + np.arange(days)) % 365]
    return n.reference[months], (n.rain / np.array(by_hand.DAYS_IN_MONTH))[months]


def rows_of(draws: Mapping[str, Any]) -> Any:
    """Return the draws of one method as rows, in the order that the loop reads them."""
    return np.array([draws[path] for path in DRAWN if path in draws])


class Prepared(NamedTuple):
    """What the loop needs of a method: its numbers, and each day's thirst and rain."""

    fixed: Fixed
    thirst: Any
    showers: Any


def prepared(n: by_hand.Numbers) -> Prepared:
    """Return what the loop needs of a method with single numbers."""
    return Prepared(fixed_of(n), *days_of(n, 365))


def in_blocks(
    methods: list[Prepared], rows: list[Any], block: int
) -> Iterator[tuple[int, slice, dict[str, Any]]]:
    """Yield the number of a method, a piece of its draws, and their outcomes.

    The arrays are written anew for each piece.
    """
    size = rows[0].shape[1]
    room = np.empty((len(by_hand.OUTCOMES), block + _APART))
    for start in range(0, size, block):
        piece = slice(start, min(start + block, size))
        out = room[:, : piece.stop - start]
        for at, one in enumerate(methods):
            outcomes(*one, rows[at][:, piece], out)
            yield at, piece, dict(zip(by_hand.OUTCOMES, out, strict=True))
