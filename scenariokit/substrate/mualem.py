"""The Mualem conductivity and the integral of steady upward flow, in plain floats."""

from __future__ import annotations

from typing import TypeAlias

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.units import Floats

Flow: TypeAlias = tuple[Floats, Floats, Floats, Floats]
"""Ks [cm/day], alpha [1/cm], n and l."""

PANELS = 20
_EDGES = np.linspace(0.0, 1.0, PANELS + 1)
_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
PLACES = (_EDGES[:-1, None] + (_NODES + 1) / (2 * PANELS)).ravel()
SHARES = np.tile(_WEIGHTS / (2 * PANELS), PANELS)
WET_END = 1e-4
"""Suction, in units of 1/alpha, below which the suctions are spaced evenly, not by logarithm."""
STEPS = 58
"""Halvings of the logarithm of the flow: enough for all digits of a float."""
SMALLEST = 1e-30
"""Lowest flow looked at, relative to the highest that is possible."""
DRIEST = 15000.0
"""cm of suction at which plants wilt for good; common practice, no published source."""


def check_connectivity(subject: str, n: Floats, connectivity: Floats) -> None:
    """Refuse a conductivity that rises as the medium dries."""
    if np.any(connectivity + 2 / (1 - 1 / n) <= 0):
        raise InfeasibleError(
            tr(
                "{subject}: connectivity ({connectivity:g}) must be above -2/(1 - 1/n), or the conductivity "
                "rises as the medium dries",
                subject=subject,
                connectivity=np.min(connectivity),
            )
        )


def conductivity_at(
    suction: Floats, conductivity: Floats, alpha: Floats, n: Floats, connectivity: Floats
) -> Floats:
    """Return Ks Se^l [1 - (1 - Se^(1/m))^m]^2 without loss of digits in a dry medium."""
    m = 1 - 1 / n
    x = (alpha * suction) ** n
    # 1 - (x / (1 + x))^m; x is kept above 0 because its logarithm is taken
    inner = -np.expm1(-m * np.log1p(1 / np.maximum(x, 1e-300)))
    return conductivity * np.exp(-m * connectivity * np.log1p(x)) * inner**2


def height_reached(flow: Floats, base: Floats, driest: Floats, medium: Flow) -> Floats:
    """Return the height above `base` suction at which `flow` dries the medium to `driest`.

    The integral from base to driest of K / (K + q) dh, in cm.
    """
    suctions, steps = _grid(base, driest, medium)
    carried = conductivity_at(suctions, *_wide(medium))
    return (steps * carried / (carried + np.asarray(flow)[..., None])).sum(axis=-1)


def flux_limit(
    distance: Floats,
    driest: Floats,
    medium: Flow,
    base: Floats = 0.0,
    resistance: Floats = 0.0,
) -> Floats:
    """Return the greatest flow [cm/day] through `distance`, by halving.

    The medium's underside has the suction base + resistance q: 0 at the water
    itself, more on top of a wick.
    """
    room = driest - base - distance
    high = np.log(medium[0] * room / distance)
    low = high + np.log(SMALLEST)
    fixed = not np.any(resistance)
    suctions, steps = _grid(base, driest, medium)
    carried = conductivity_at(suctions, *_wide(medium))
    for _ in range(STEPS):
        middle = (low + high) / 2
        flow = np.exp(middle)
        if not fixed:
            under = np.minimum(base + resistance * flow, driest)
            suctions, steps = _grid(under, driest, medium)
            carried = conductivity_at(suctions, *_wide(medium))
        reached = (steps * carried / (carried + np.asarray(flow)[..., None])).sum(axis=-1)
        enough = reached >= distance
        low, high = np.where(enough, middle, low), np.where(enough, high, middle)
    return np.exp(low)[()]


def _wide(medium: Flow) -> Flow:
    """Return each number with one more axis, for the suctions."""
    first, second, third, fourth = (np.asarray(value)[..., None] for value in medium)
    return first, second, third, fourth


def _grid(base: Floats, driest: Floats, medium: Flow) -> tuple[Floats, Floats]:
    """Return suctions between two ends, spaced by logarithm, and the step that each stands for."""
    scale = WET_END / np.asarray(medium[1])
    start, end = np.log1p(base / scale), np.log1p(driest / scale)
    span = np.asarray(end - start)[..., None]
    logs = np.asarray(start)[..., None] + span * PLACES
    wide = scale[..., None]
    return wide * np.expm1(logs), span * SHARES * wide * np.exp(logs)
