"""The partial budget of methods that are compared, and where each breaks even."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import economics, units
from scenariokit.economics import PartialBudget
from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.scenario import COST_PARTS, Comparison
from scenariokit.units import Floats, Quantity

WHOLE = "whole"
"""What the one part is called where costs cannot be split."""
_MONEY = "money/m^2"
_ALIKE = 1e-9
"""Costs count as alike within this share of the largest: what rounding may leave."""


def varying_parts(comparison: Comparison) -> dict[str, Quantity]:
    """Return the parts of the cost stack in which the methods differ.

    Parameters
    ----------
    comparison : Comparison
        The methods, with single numbers.

    Returns
    -------
    dict
        Part to its cost for each method, an array [money/m²], in the order of
        the stack. Parts that are the same for all methods are left out: they
        change no difference. Empty if all are the same.

    Raises
    ------
    InfeasibleError
        If a scenario holds several values.

    Notes
    -----
    No part depends on the yield, so that a method that yields nothing has the
    same parts as if it did. Where the salt in the water would leave nothing of
    any yield they cannot be told apart, and `WHOLE` stands for all of them.

    Examples
    --------
    >>> from scenariokit.scenario import compare, scenario_for
    >>> both = compare([scenario_for("medium_bag"), scenario_for("perforated_tray")])
    >>> "labour" in varying_parts(both)
    True
    """
    _refuse_draws(comparison)
    total = comparison.values("cost_per_area")
    if np.any(comparison.values("salinity_factor") <= 0):
        rows = {WHOLE: total}
    else:
        rows = {part: comparison.values(f"cost_per_area_{part}") for part in COST_PARTS}
    alike = _ALIKE * float(np.abs(total).max())
    return {part: units.quantity(row, _MONEY) for part, row in rows.items() if np.ptp(row) > alike}


def costs_that_vary(comparison: Comparison) -> Quantity:
    """Return for each method the sum of the costs in which the methods differ [money/m²].

    Raises
    ------
    InfeasibleError
        If a scenario holds several values.
    """
    parts = varying_parts(comparison).values()
    return units.quantity(
        sum((part.magnitude for part in parts), np.zeros(len(comparison))), _MONEY
    )


def partial_budget_of(
    comparison: Comparison, yield_adjustment: Any = 0.1, least_return: Any = 1.0
) -> PartialBudget:
    """Return the partial budget of methods at their stated values, for a square metre and crop.

    Parameters
    ----------
    comparison : Comparison
        The methods, with single numbers and one price of the produce.
    yield_adjustment : float
        Share taken off their yields, 0 to 0.9.
    least_return : float
        Least rate of return asked of each step; 1 is 100 %.

    Returns
    -------
    PartialBudget
        Its options are the methods' ids. Yields are what can be sold: usual
        yield times marketable share, less what is lost.

    Raises
    ------
    RangeError
        If a value lies outside its range.
    InfeasibleError
        If a scenario holds several values, the produce has several prices, or
        a method stands twice.

    Notes
    -----
    The equipment part is its yearly cost for each crop, so that a step's rate
    of return counts interest on equipment once more as the rate asked for; for
    dear equipment that is strict.

    References
    ----------
    CIMMYT (1988), From Agronomic Data to Farmer Recommendations: An Economics
    Training Manual (from memory, not checked against a copy).

    Examples
    --------
    >>> from scenariokit.scenario import compare, scenario_for
    >>> both = compare([scenario_for("medium_bag"), scenario_for("perforated_tray")])
    >>> partial_budget_of(both).recommended in ("medium_bag", "perforated_tray")
    True
    """
    _refuse_draws(comparison)
    yields = comparison.values("yield_per_area") * _sold(comparison)
    prices = _prices(comparison)
    if np.ptp(prices) > 0:
        listed = ", ".join(f"{price:g}" for price in sorted(set(prices.tolist())))
        raise InfeasibleError(
            tr(
                "the produce fetches {prices} money/kg in these scenarios; a partial budget has one "
                "price, so give all of them the same price list",
                prices=listed,
            )
        )
    costs = costs_that_vary(comparison).magnitude
    return economics.partial_budget(
        [one.scenario.method.id for one in comparison],
        [units.quantity(value, "kg/m^2") for value in yields.tolist()],
        [units.quantity(value, _MONEY) for value in costs.tolist()],
        units.quantity(float(prices[0]), "money/kg"),
        yield_adjustment,
        least_return,
    )


@dataclass(frozen=True)
class MethodBreakEven:
    """Where the takings of a method just pay for its crop. Make it by `break_evens`.

    Parameters
    ----------
    method : str
        Its id.
    price : quantity or None
        Price of the produce [money/kg] at the stated yield; None if nothing
        is sold at any price.
    harvest : quantity or None
        Yield [kg/m²] at the stated price; None if nothing is sold, or for nothing.
    may_fall : float or None
        Share by which price or yield may fall until nothing is left; below
        zero, by which they fall short, of what is stated. None if nothing is
        taken in.
    """

    method: str
    price: Quantity | None
    harvest: Quantity | None
    may_fall: float | None


def break_evens(comparison: Comparison) -> tuple[MethodBreakEven, ...]:
    """Return the price and the yield at which each method just pays for itself.

    P₀ = C / (Y s), Y₀ = C / (P s), and 1 - C / (P Y s), which is the same for both.

    Parameters
    ----------
    comparison : Comparison
        The methods, with single numbers: C, cost of a crop; Y, yield; s, the
        share that is sold; P, the price.

    Returns
    -------
    tuple of MethodBreakEven
        In the order of the methods. Costs are all counted, not only those that vary.

    Raises
    ------
    InfeasibleError
        If a scenario holds several values.

    Examples
    --------
    >>> from scenariokit.scenario import compare, scenario_for
    >>> (bag,) = break_evens(compare([scenario_for("medium_bag")]))
    >>> round(bag.price.m, 2), round(bag.harvest.m, 2), round(bag.may_fall, 3)
    (2.62, 6.18, 0.064)
    """
    _refuse_draws(comparison)
    harvests, costs = comparison.values("yield_per_area"), comparison.values("cost_per_area")
    sold, prices = _sold(comparison), _prices(comparison)
    rows = []
    for number, one in enumerate(comparison):
        cost, usable = float(costs[number]), float(harvests[number] * sold[number])
        fetched = float(prices[number] * sold[number])
        taken = float(harvests[number]) * fetched
        rows.append(
            MethodBreakEven(
                one.scenario.method.id,
                units.quantity(cost / usable, "money/kg") if usable > 0 else None,
                units.quantity(cost / fetched, "kg/m^2") if fetched > 0 else None,
                1 - cost / taken if taken > 0 else None,
            )
        )
    return tuple(rows)


def _refuse_draws(comparison: Comparison) -> None:
    """Refuse scenarios that hold several values of a number."""
    for name in ("cost_per_area", "takings_per_area"):
        if any(np.ndim(one[name].magnitude) for one in comparison):
            raise InfeasibleError(
                f"{name} has several values; a budget is of single numbers, one draw at a time"
            )


def _sold(comparison: Comparison) -> Floats:
    """Return the share of each method's harvest that is sold."""
    crops = [one.scenario.crop for one in comparison]
    return np.array(
        [economics.sold_share(crop.marketable_share, crop.loss_share).m for crop in crops]
    )


def _prices(comparison: Comparison) -> Floats:
    return np.array(
        [units.magnitude(one.scenario.prices.produce_price, "money/kg") for one in comparison]
    )
