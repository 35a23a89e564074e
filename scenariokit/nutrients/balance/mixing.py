"""The mass balance of a correction: strengths, and what stock or water moves them."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

ROUNDING = 1e-9
_WATER_WHY = mark("plain water is reached only by draining all")


class CorrectionAmounts(NamedTuple):
    """What to drain and to add, as quantities."""

    each: Any
    water: Any
    drain: Any
    volume_after: Any


@checked(
    "",
    ec="electrical_conductivity",
    full_ec="electrical_conductivity",
    water_ec=Expect("electrical_conductivity", optional=True),
)
def linear_strength(ec: Floats, full_ec: Floats, water_ec: Floats | None = None) -> Floats:
    """Return the strength of a solution from its EC by proportion, (EC - EC_w) / (EC_f - EC_w).

    Parameters
    ----------
    ec : quantity
        EC of the solution at 25 °C [dS/m], scalar or array.
    full_ec : quantity
        EC_f of the recipe at full strength in the same water [dS/m].
    water_ec : quantity, optional
        EC_w of the water alone [dS/m]; 0 for pure water.

    Returns
    -------
    quantity
        Strength: 1 at full strength, 0 for the water alone.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If full strength is not above the water, or an EC is below the water's.

    Notes
    -----
    EC rises a little less than in proportion: at half strength of a usual recipe
    the proportion gives some 5 % too much strength. A `StrengthCurve` counts
    the ions. Both assume that what is in the tank still has the proportions of
    the recipe.

    Examples
    --------
    >>> round(linear_strength("1.4 dS/m", "2.4 dS/m", "0.4 dS/m").m_as(""), 3)
    0.5
    """
    water_ec = 0.0 if water_ec is None else water_ec
    span = full_ec - water_ec
    if np.any(span <= 0):
        raise InfeasibleError(
            tr(
                "linear_strength: the EC at full strength ({full_ec:g} dS/m) must be above that of "
                "the water ({water_ec:g} dS/m); is it the EC in the same water?",
                full_ec=np.min(full_ec),
                water_ec=np.max(water_ec),
            )
        )
    refuse_below_water("linear_strength", ec, water_ec)
    return np.maximum(ec - water_ec, 0.0) / span


def refuse_below_water(subject: str, ec: Floats, water_ec: Floats) -> None:
    """Refuse an EC [dS/m] below that of the water.

    Raises
    ------
    InfeasibleError
        If there is one; rounding is let pass.
    """
    below = np.asarray(ec) < np.asarray(water_ec) - ROUNDING
    if np.any(below):
        lowest = float(np.min(np.asarray(ec)[below] if np.ndim(ec) else ec))
        raise InfeasibleError(
            tr(
                "{subject}: an EC of {lowest:g} dS/m is below that of the water ({water_ec:.3g} "
                "dS/m), which no amount of it can reach; check the meter and the EC of the water",
                subject=subject,
                lowest=lowest,
                water_ec=np.max(water_ec),
            )
        )


@checked(
    {"each": "mL", "water": "L", "drain": "L", "volume_after": "L"},
    volume="solution_volume",
    strength_now="solution_strength",
    strength_target=Expect("solution_strength", above_zero=True, why=_WATER_WHY),
    dilution="dilution",
    stocks="stocks",
    room=Expect("solution_volume", optional=True),
)
def correction_amounts(
    volume: Floats,
    strength_now: Floats,
    strength_target: Floats,
    dilution: Floats = 100,
    stocks: Floats = 2,
    room: Floats | None = None,
) -> CorrectionAmounts:
    """Return what brings solution from one strength to another, by mass balance.

    Up: each stock v = V (s_t - s_n) / (F - n s_t). Down: water
    W = V (s_n / s_t - 1); where that has no room, drain D = V (1 - s_t / s_n)
    and fill up with as much water.

    Parameters
    ----------
    volume : quantity
        V, solution in the tank now [L], scalar or array, 0 or more.
        `scenariokit.reservoir.volume` gives it from area, depth and the share
        taken by what stands in the water.
    strength_now, strength_target : float
        s_n and s_t, relative to the recipe; the target above 0.
    dilution : float
        F, total parts for one part of stock at strength 1.
    stocks : int
        n, stocks added in equal parts.
    room : quantity, optional
        Litres left up to the highest level; no end if not given.

    Returns
    -------
    CorrectionAmounts
        ``each`` stock [mL], ``water`` [L], ``drain`` [L] to be taken out first,
        ``volume_after`` [L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the stocks are too weak: F must be above n s_t.

    Notes
    -----
    Stocks are taken to be made with the same water as the solution. Where they
    would not fit in the room, just so much is drained first that they do.

    Warnings
    --------
    Concentrates burn eyes; never mix them undiluted. Drained solution is full
    of nitrate: onto soil with crops, never to a drain, ditch or well.

    Examples
    --------
    >>> found = correction_amounts("100 L", 0.8, 1.0)
    >>> f"{found.each.m_as('mL'):.1f} mL of each"
    '204.1 mL of each'
    >>> f"{correction_amounts('100 L', 1.25, 1.0).water.m_as('L'):.1f} L water"
    '25.0 L water'
    """
    if np.any(dilution <= stocks * strength_target):
        raise InfeasibleError(
            tr(
                "correction_amounts: {stocks:g} stocks that are diluted {dilution:g} times cannot "
                "make a strength of {strength:g}; they must be more concentrated",
                stocks=np.max(stocks),
                dilution=np.min(dilution),
                strength=np.max(strength_target),
            )
        )
    limit = np.inf if room is None else room
    dose = np.maximum(strength_target - strength_now, 0.0) / (dilution - stocks * strength_target)
    over = np.maximum(stocks * dose * volume - limit, 0.0)
    # What is drained needs no stock, so a little less than the excess is enough.
    first = over / (1 + stocks * dose)
    each = dose * (volume - first)
    water = volume * np.maximum(strength_now / strength_target - 1, 0.0)
    out = volume * np.maximum(1 - strength_target / np.maximum(strength_now, strength_target), 0.0)
    fits = water <= limit * (1 + ROUNDING)
    water, out = np.where(fits, water, out), np.where(fits, 0.0, out)
    drain = first + out
    after = volume - drain + water + stocks * each
    return CorrectionAmounts(1000 * each, water[()], drain, after)
