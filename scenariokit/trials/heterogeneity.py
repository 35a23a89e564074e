"""The variance among studies, from the effect of each and its standard error.

Each study's effect is yᵢ = μ + bᵢ + eᵢ with bᵢ ~ N(0, τ²) and eᵢ ~ N(0, vᵢ),
vᵢ known. Effects and variances are plain numbers on one scale.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Literal

import numpy as np
import numpy.typing as npt

FloatArray = npt.NDArray[np.float64]
Between = Literal["reml", "dersimonian_laird", "paule_mandel"]
"""How the variance among studies is estimated."""


def weighted_mean(effects: FloatArray, variances: FloatArray, tau2: float) -> float:
    """Return μ = Σ w y / Σ w with w = 1/(v + τ²)."""
    weights = 1 / (variances + tau2)
    return float(weights @ effects / weights.sum())


def q_statistic(effects: FloatArray, variances: FloatArray, tau2: float = 0.0) -> float:
    """Return Cochran's Q = Σ w (y − μ)², with w = 1/(v + τ²)."""
    weights = 1 / (variances + tau2)
    return float(weights @ (effects - weighted_mean(effects, variances, tau2)) ** 2)


def typical_variance(variances: FloatArray) -> float:
    """Return s² = (k − 1) Σ w / ((Σ w)² − Σ w²), with w = 1/v."""
    weights = 1 / variances
    total = float(weights.sum())
    return (variances.size - 1) * total / (total**2 - float(weights @ weights))


def dersimonian_laird(effects: FloatArray, variances: FloatArray) -> float:
    """Return τ² = (Q − (k − 1)) / (Σ w − Σ w² / Σ w), zero or more."""
    weights = 1 / variances
    excess = q_statistic(effects, variances) - (effects.size - 1)
    slope = weights.sum() - weights @ weights / weights.sum()
    return max(0.0, float(excess / slope))


def paule_mandel(effects: FloatArray, variances: FloatArray) -> float:
    """Return the τ² at which Q = k − 1, zero if Q is below that at once."""
    return _where_q_is(effects, variances, effects.size - 1.0)


def reml(effects: FloatArray, variances: FloatArray) -> float:
    """Return the τ² that maximises the restricted likelihood, zero or more.

    −2 l = Σ ln(v + τ²) + ln Σ w + Q(τ²), with w = 1/(v + τ²).
    """
    from scipy.optimize import brentq

    # Beyond twice the plain variance of the effects the likelihood falls; a grid finds the valley.
    top = 2 * float(effects.var(ddof=1)) + float(variances.max())
    grid = [0.0, *np.geomspace(top * 1e-8, top, 120).tolist()]
    slopes = [_slope(point, effects, variances) for point in grid]
    lowest = int(np.argmin([_deviance(point, effects, variances) for point in grid]))
    falling = [place for place in range(lowest + 1) if slopes[place] < 0]
    if not falling:
        return 0.0
    start = falling[-1]
    end = next(place for place in range(start, len(grid)) if slopes[place] >= 0)
    given = (effects, variances)
    return float(brentq(_slope, grid[start], grid[end], args=given, xtol=1e-15 * top, rtol=1e-14))


def _deviance(tau2: float, effects: FloatArray, variances: FloatArray) -> float:
    """Return −2 times the restricted log likelihood, up to a constant."""
    weights = 1 / (variances + tau2)
    logs = float(np.log(weights.sum()) - np.log(weights).sum())
    return logs + q_statistic(effects, variances, tau2)


def _slope(tau2: float, effects: FloatArray, variances: FloatArray) -> float:
    """Return the derivative of the deviance: tr(P) − y'PPy with P = W − W11'W / Σ w."""
    weights = 1 / (variances + tau2)
    rest = weights * (effects - weighted_mean(effects, variances, tau2))
    return float(weights.sum() - weights @ weights / weights.sum() - rest @ rest)


ESTIMATORS: dict[str, Callable[[FloatArray, FloatArray], float]] = {
    "reml": reml,
    "dersimonian_laird": dersimonian_laird,
    "paule_mandel": paule_mandel,
}


def tau2_interval(
    effects: FloatArray, variances: FloatArray, confidence: float
) -> tuple[float, float]:
    """Return the interval of τ² for which Q lies within its χ² distribution with k − 1 degrees.

    References
    ----------
    Viechtbauer 2007, Statistics in Medicine 26:37, doi 10.1002/sim.2514.
    """
    from scipy.special import chdtri

    degrees = effects.size - 1
    tail = (1 - confidence) / 2
    ends = (float(chdtri(degrees, tail)), float(chdtri(degrees, 1 - tail)))
    return _where_q_is(effects, variances, ends[0]), _where_q_is(effects, variances, ends[1])


def _where_q_is(effects: FloatArray, variances: FloatArray, wanted: float) -> float:
    """Return the τ² at which Q(τ²) equals `wanted`; Q falls steadily, so there is one or none."""
    from scipy.optimize import brentq

    if q_statistic(effects, variances) <= wanted:
        return 0.0
    top = float(variances.max()) + float(effects.var())
    while q_statistic(effects, variances, top) > wanted:
        top *= 2
    return float(
        brentq(
            lambda tau2: q_statistic(effects, variances, tau2) - wanted,
            0.0,
            top,
            xtol=1e-14 * top,
            rtol=1e-14,
        )
    )
