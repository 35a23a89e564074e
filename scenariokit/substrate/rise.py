"""The rising front in plain floats: v - (1 - exp(-v)) = c t / H, with v = -ln(1 - L / H)."""

from __future__ import annotations

import numpy as np

from scenariokit.units import Floats

SMALL = 1e-2
"""Below this a series keeps the digits that a difference of near equals would lose."""
NEWTON_STEPS = 12
HALVINGS = 200


def drag_of(v: Floats) -> Floats:
    """Return v + exp(-v) - 1, the time of the front in units of H / c."""
    series = v**2 / 2 * (1 - v / 3 * (1 - v / 4 * (1 - v / 5 * (1 - v / 6 * (1 - v / 7)))))
    return np.where(v < SMALL, series, v + np.expm1(-v))[()]


def front_at(way: Floats, highest: Floats) -> Floats:
    """Return L for c t = `way` and H = `highest`, by Newton from above, which never overshoots."""
    time = np.asarray(way / highest)
    v = time + np.sqrt(2 * time)
    for _ in range(NEWTON_STEPS):
        slope = np.where(v > 0, -np.expm1(-v), 1.0)
        v = v - (drag_of(v) - time) / slope
    return (highest * -np.expm1(-v))[()]


def nearness(rises: Floats, times: Floats) -> Floats:
    """Return v of the second reading from L1 / L2 and t2 / t1, by halving.

    The ratio of times grows from (L2 / L1)^2 without end as L2 comes near H.
    """
    low = np.full(np.broadcast_shapes(np.shape(rises), np.shape(times)), np.log(1e-9))
    high = np.full_like(low, np.log(700.0))
    for _ in range(HALVINGS):
        v = np.exp((low + high) / 2)
        first = -np.log1p(np.expm1(-v) * rises)
        late = drag_of(v) / drag_of(first) < times
        middle = np.log(v)
        low, high = np.where(late, middle, low), np.where(late, high, middle)
    return np.exp(low)[()]
