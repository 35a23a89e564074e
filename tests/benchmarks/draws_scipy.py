"""Correlated draws of uncertain numbers by hand, with nothing but NumPy and SciPy."""

from __future__ import annotations

from typing import Any

import numpy as np
from scipy.special import betainc, betaincinv, ndtr, ndtri
from scipy.stats import qmc

from scenariokit.uncertainty import Placed, Spread, Uncertainty


def scores(drivers: int, power: int, seed: int = 0) -> Any:
    """Return normal scores of 2 ** power scrambled Sobol points, a row a driver."""
    points = qmc.Sobol(drivers, scramble=True, bits=30, rng=np.random.default_rng(seed))
    return ndtri(np.ascontiguousarray(points.random_base2(power).T) + 2.0**-31)


def with_causes(uncertainty: Uncertainty, found: Any) -> Any:
    """Return scores of the inputs from those of causes and own parts."""
    names = [one.name for one in uncertainty.causes]
    given = np.empty((len(uncertainty.inputs), found.shape[1]))
    for at, one in enumerate(uncertainty.inputs):
        given[at] = found[len(names) + at]
        if one.cause:
            own = np.sqrt(1 - one.strength**2)
            given[at] = one.strength * found[names.index(one.cause)] + own * given[at]
    return given


def pert(spread: Spread, given: Any) -> Any:
    """Return the values of a PERT distribution at normal scores, cut at the spread's ends."""
    low, likely, high = spread.numbers
    a, b = 1 + 4 * (likely - low) / (high - low), 1 + 4 * (high - likely) / (high - low)
    share = ndtr(given)
    if spread.cut:
        ends = (np.clip([spread.floor, spread.ceiling], low, high) - low) / (high - low)
        first, last = betainc(a, b, ends)
        share = first + share * (last - first)
    return low + (high - low) * betaincinv(a, b, share)


def values(places: tuple[Placed, ...], given: Any) -> list[dict[str, Any]]:
    """Return for each method the draws by their paths; what methods share is worked out once."""
    seen: dict[tuple[int, Spread], Any] = {}
    for place in places:
        for number, _, spread in place.spreads:
            if (number, spread) not in seen:
                seen[number, spread] = pert(spread, given[number])
    return [
        {path: seen[number, spread] for number, path, spread in place.spreads} for place in places
    ]
