"""Bringing a tank back to its EC: how much stock to add, or how much water."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal, Protocol

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import mark, number_text, tr
from scenariokit.nutrients.balance.mixing import (
    ROUNDING,
    CorrectionAmounts,
    correction_amounts,
    linear_strength,
    refuse_below_water,
)
from scenariokit.quantities import Expect, checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

Action = Literal["none", "raise", "lower", "drain and refill"]

USUAL_BAND = 0.1
"""dS/m within which nothing is done: about what a hand meter can tell."""

STOCK_CAUTIONS = (
    mark("Add half of it, stir, wait ten minutes, measure; then the rest as far as it is needed."),
    mark(
        "Add one stock, stir it in, then the next: never mix stocks undiluted. Gloves and "
        "goggles: concentrates burn eyes and harm if drunk. Keep them locked away from "
        "children."
    ),
)
WATER_CAUTIONS = (
    mark("Add half of it, stir, wait ten minutes, measure; then the rest as far as it is needed."),
)
DRAIN_CAUTIONS = (
    mark(
        "What is drained is full of nitrate: onto soil where crops grow, at the nitrogen "
        "they need; never to a drain, ditch, pond or well, and never to drink. Local rules "
        "apply."
    ),
)


class Curve(Protocol):
    """Anything that turns EC into strength and back, such as a `StrengthCurve`."""

    def strength(self, ec: Floats) -> Floats:
        """Return the strength at an EC [dS/m]."""

    def ec(self, strength: Floats) -> Floats:
        """Return the EC [dS/m] at a strength."""


@dataclass(frozen=True)
class Correction:
    """How to bring one tank back to its EC.

    Parameters
    ----------
    action : {'none', 'raise', 'lower', 'drain and refill'}
        What to do.
    each : quantity
        Volume of each stock to add [mL].
    water : quantity
        Water to add [L], of the same source.
    drain : quantity
        Solution to take out first [L].
    volume_after : quantity
        Solution in the tank afterwards [L].
    says : str
        The same in plain words.
    cautions : tuple of str
        What to read before doing it.
    """

    action: Action
    each: Quantity
    water: Quantity
    drain: Quantity
    volume_after: Quantity
    says: str
    cautions: tuple[str, ...]


def correct(
    volume: QuantityLike,
    ec_now: QuantityLike,
    ec_target: QuantityLike,
    *,
    full_ec: QuantityLike | None = None,
    water_ec: QuantityLike = "0 dS/m",
    curve: Curve | None = None,
    dilution: float = 100,
    stocks: int = 2,
    room: QuantityLike | None = None,
    band: QuantityLike | None = None,
) -> Correction:
    """Return how to bring one tank back to its EC, in numbers and words.

    Strengths s = (EC - EC_w) / (EC_f - EC_w), or those of `curve`; then the
    mass balance of `correction_amounts`.

    Parameters
    ----------
    volume : quantity
        Solution in the tank now [L], one number. `scenariokit.reservoir.volume`
        gives it from area, depth and the share taken by what stands in it.
    ec_now, ec_target : quantity
        EC measured and EC wanted, at 25 °C [dS/m].
    full_ec : quantity
        EC_f of the recipe at full strength in the same water [dS/m].
    water_ec : quantity, optional
        EC_w of the water alone [dS/m].
    curve : object, optional
        With ``strength(ec)`` and ``ec(strength)`` on plain numbers, such as a
        `StrengthCurve` that counts the ions; instead of `full_ec` and
        `water_ec`.
    dilution : float, optional
        F, total parts for one part of stock at full strength.
    stocks : int, optional
        Stocks added in equal parts.
    room : quantity, optional
        Litres left up to the highest level; no end if not given.
    band : quantity, optional
        EC difference within which nothing is done; 0.1 dS/m if not given.

    Returns
    -------
    Correction

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    ArgumentError
        If a value is an array, or not just one of `full_ec` and `curve` is given.
    InfeasibleError
        If an EC is below that of the water, the target is not above it, or the
        stocks are too weak.

    Notes
    -----
    Assumes that what is in the tank still has the proportions of the recipe: EC
    cannot tell which nutrient ran short. Measure pH afterwards. For arrays use
    `correction_amounts`.

    Warnings
    --------
    Read ``cautions``: half first, one stock after the other, goggles; drained
    solution never to a drain, ditch or well.

    Examples
    --------
    >>> found = correct("100 L", "1.6 dS/m", "2.0 dS/m", full_ec="2.0 dS/m")
    >>> found.action, f"{found.each.m_as('mL'):.0f} mL"
    ('raise', '204 mL')
    >>> correct("100 L", "1.95 dS/m", "2.0 dS/m", full_ec="2.0 dS/m").action
    'none'
    """
    given: dict[str, tuple[Any, str | Expect]] = {
        "volume": (volume, "solution_volume"),
        "ec_now": (ec_now, "electrical_conductivity"),
        "ec_target": (ec_target, "electrical_conductivity"),
        "water_ec": (water_ec, "electrical_conductivity"),
        "dilution": (dilution, "dilution"),
        "stocks": (stocks, "stocks"),
    }
    for name, value, kind in (
        ("full_ec", full_ec, "electrical_conductivity"),
        ("room", room, "solution_volume"),
        ("band", band, "electrical_conductivity"),
    ):
        if value is not None:
            given[name] = (value, kind)
    found = checked_floats("correct", given)
    _refuse_arrays(found)
    _refuse_two_ways(full_ec, curve, found["water_ec"])
    now, target = _strengths(found, curve)
    within = abs(found["ec_now"] - found["ec_target"]) <= found.get("band", USUAL_BAND) + ROUNDING
    if within:
        now = target
    plain = correction_amounts.floats(
        found["volume"], now, target, found["dilution"], found["stocks"], found.get("room")
    )
    return _correction(plain, found)


def _refuse_arrays(found: dict[str, Any]) -> None:
    problems = [
        Problem(
            name,
            f"{np.shape(value)}",
            tr("must be one number"),
            tr("for arrays correction_amounts"),
        )
        for name, value in found.items()
        if np.ndim(value)
    ]
    if problems:
        raise argument_error(problems, "correct")


def _refuse_two_ways(full_ec: Any, curve: Any, water_ec: float) -> None:
    if (full_ec is None) == (curve is None):
        reason = tr(
            "give just one of them: the EC at full strength, or a curve that counts the ions"
        )
    elif curve is not None and water_ec:
        reason = tr("a curve has the water in it; leave water_ec out")
    else:
        return
    problem = Problem("full_ec, curve, water_ec", "", reason, "", 'full_ec="2.2 dS/m"')
    raise argument_error([problem], "correct")


def _strengths(found: dict[str, Any], curve: Curve | None) -> tuple[float, float]:
    """Return strengths now and wanted, refusing what lies below the water."""
    water_ec = found["water_ec"] if curve is None else float(curve.ec(0.0))
    if found["ec_target"] <= water_ec:
        raise InfeasibleError(
            tr(
                "correct: a target of {target:g} dS/m is not above the water's own {water_ec:.3g} "
                "dS/m; take a higher target, or water with less salt in it",
                target=found["ec_target"],
                water_ec=water_ec,
            )
        )
    refuse_below_water("correct", found["ec_now"], water_ec)
    both = np.array([max(found["ec_now"], water_ec), found["ec_target"]])
    if curve is None:
        strengths = linear_strength.floats(both, found["full_ec"], water_ec)
    else:
        strengths = np.asarray(curve.strength(both))
    return float(strengths[0]), float(strengths[1])


def _correction(plain: CorrectionAmounts, found: dict[str, Any]) -> Correction:
    each, water, drain, after = (float(part) for part in plain)
    action: Action = "none"
    cautions: tuple[str, ...] = ()
    if each > 0:
        action, cautions = "raise", STOCK_CAUTIONS
    elif drain > 0:
        action, cautions = "drain and refill", WATER_CAUTIONS
    elif water > 0:
        action, cautions = "lower", WATER_CAUTIONS
    if drain > 0:
        cautions = (*cautions, *DRAIN_CAUTIONS)
    return Correction(
        action=action,
        each=with_unit(each, "mL"),
        water=with_unit(water, "L"),
        drain=with_unit(drain, "L"),
        volume_after=with_unit(after, "L"),
        says=_words(action, (each, water, drain), found),
        cautions=tuple(tr(caution) for caution in cautions),
    )


def _words(action: Action, amounts: tuple[float, float, float], found: dict[str, Any]) -> str:
    each, water, drain = amounts
    now, target = found["ec_now"], found["ec_target"]
    if action == "none":
        if found["volume"] == 0:
            return tr("The tank is empty: nothing to correct.")
        return tr(
            "EC {now:.2f} dS/m is near enough to {target:.2f}: leave it.", now=now, target=target
        )
    if action == "lower":
        return tr(
            "EC from {now:.2f} to {target:.2f} dS/m: add {water} of water.",
            now=now,
            target=target,
            water=_litres(water),
        )
    if action == "drain and refill":
        return tr(
            "EC from {now:.2f} to {target:.2f} dS/m: drain {drain}, then add {water} of water.",
            now=now,
            target=target,
            drain=_litres(drain),
            water=_litres(water),
        )
    return tr(
        _raising(round(found["stocks"]), drain > 0),
        now=now,
        target=target,
        drain=_litres(drain),
        stock=_litres(each / 1000),
        count=round(found["stocks"]),
    )


def _raising(stocks: int, drained: bool) -> str:
    """Return the English sentence for adding stock."""
    if stocks == 1 and drained:
        return mark(
            "EC from {now:.2f} to {target:.2f} dS/m: drain {drain} to make room, then add {stock} "
            "of the stock."
        )
    if stocks == 1:
        return mark("EC from {now:.2f} to {target:.2f} dS/m: add {stock} of the stock.")
    if drained:
        return mark(
            "EC from {now:.2f} to {target:.2f} dS/m: drain {drain} to make room, then add {stock} "
            "of each of the {count} stocks, one after the other."
        )
    return mark(
        "EC from {now:.2f} to {target:.2f} dS/m: add {stock} of each of the {count} stocks, one "
        "after the other."
    )


def _litres(volume: float) -> str:
    """Return a volume in litres, or in millilitres below one litre."""
    if volume >= 1:
        return f"{number_text(volume, '.3g')} L"
    return f"{number_text(1000 * volume, '.3g')} mL"
