"""The partial budget of methods that are compared."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenariokit import economics, units
from scenariokit.economics import PartialBudget
from scenariokit.scenario import COST_PARTS, Comparison


def costs_that_vary(comparison: Comparison) -> Any:
    """Return for each method the costs in which the methods differ, in money/m².

    A part of the cost stack that is the same for all methods is left out. Where
    nothing is harvested parts are known only for each kilogram; then all costs
    are counted.
    """
    total = comparison.values("cost_per_area")
    harvest = comparison.values("yield_per_area")
    alike = np.zeros_like(total)
    if np.all(harvest > 0):
        for part in COST_PARTS:
            rows = comparison.values(f"cost_{part}") * harvest
            if np.ptp(rows) <= 1e-9 * max(float(np.abs(rows).max()), 1e-12):
                alike = alike + rows
    return np.maximum(total - alike, 0.0)


def partial_budget_of(
    comparison: Comparison, yield_adjustment: Any = 0.1, least_return: Any = 1.0
) -> PartialBudget:
    """Return the partial budget of methods at their stated values, for a square metre and crop.

    Parameters
    ----------
    comparison : Comparison
        The methods.
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

    Examples
    --------
    >>> from scenariokit.scenario import compare, scenario_for
    >>> both = compare([scenario_for("medium_bag"), scenario_for("perforated_tray")])
    >>> partial_budget_of(both).recommended in ("medium_bag", "perforated_tray")
    True
    """
    crop = comparison.evaluations[0].scenario.crop
    sold = economics.sold_share(crop.marketable_share, crop.loss_share).magnitude
    yields = comparison.values("yield_per_area") * sold
    prices = comparison.evaluations[0].scenario.prices
    return economics.partial_budget(
        [one.scenario.method.id for one in comparison],
        [units.quantity(float(value), "kg/m^2") for value in yields],
        [units.quantity(float(value), "money/m^2") for value in costs_that_vary(comparison)],
        prices.produce_price,
        yield_adjustment,
        least_return,
    )
