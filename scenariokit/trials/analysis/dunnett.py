"""Every treatment against one control, by Dunnett's method."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.trials.analysis.anova import Analysis
from scenariokit.trials.analysis.comparisons import Comparisons, Pair, mean_notes, usable_means
from scenariokit.trials.analysis.means import as_yield, variance
from scenariokit.trials.plots import FloatArray

REACH = 8.5
"""Standard deviations over which a normal curve is summed; beyond lies less than 1e-16."""
SUM_POINTS = 120, 100
"""Points of the sums over the control's error and over the error's size."""


def against_control(
    analysis: Analysis, source: str, control: str, *, confidence: float = 0.95, seed: int = 0
) -> Comparisons:
    """Return each treatment beside one control, allowing for their number (Dunnett).

    t = (m - m0) / s(m - m0), p = P(max |T| > |t|), T from the multivariate t distribution
    with the correlations that the common control brings.

    Parameters
    ----------
    analysis : Analysis
        What `analyse` gave.
    source : str
        A treatment term.
    control : str
        Label of the control, chosen before the harvest.
    confidence : float
        Of all statements together.
    seed : int
        Used only where missing plots leave correlations that need drawn numbers.

    Returns
    -------
    Comparisons
        Each pair is treatment minus control; no letters.

    Raises
    ------
    RangeError
        If there is no such term or control, or `confidence` lies outside its range.
    InfeasibleError
        If the plots give fewer than two means, or no error.

    Notes
    -----
    Finds more than `pairwise` does when only the comparisons with the control matter. Where
    the pairs rest on different degrees of freedom, the fewest are used for all.

    References
    ----------
    Dunnett 1955, J. American Statistical Association 50:1096; from memory.

    Examples
    --------
    >>> from scenariokit.trials.analysis.anova import analyse
    >>> from scenariokit.trials.analysis.designs import completely_randomised
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable([4.1, 4.9, 5.3, 6.0, 6.4, 6.8, 6.5], {"method": tuple("AAABBBC")})
    >>> found = against_control(analyse(plots, completely_randomised("method")), "method", "A")
    >>> [(pair.first, round(pair.p, 3)) for pair in found.pairs]
    [('B', 0.032), ('C', 0.076)]
    """
    given = {"confidence": (confidence, "confidence")}
    level = float(checked_floats("against_control", given)["confidence"])
    found = usable_means(analysis, source, "against_control")
    if control not in found.labels:
        problem = Problem(
            "control", control, tr("has no mean"), ", ".join(found.labels), kind="range"
        )
        raise argument_error([problem], "against_control")
    zero = found.labels.index(control)
    others = [i for i in range(len(found.labels)) if i != zero]
    signs = np.zeros((len(others), len(found.labels)))
    signs[np.arange(len(others)), others] = 1.0
    signs[:, zero] = -1.0
    gaps = signs @ found.values
    square, df = variance(analysis, signs @ found.within @ signs.T, signs @ found.between @ signs.T)
    errors = np.sqrt(np.diag(square))
    degrees = float(np.diag(df).min())
    inside = _InsideAll(square / np.outer(errors, errors), degrees, seed)
    point = _point(inside, level)
    pairs = [
        _pair((found.labels[i], control), gap, error, inside, point, level)
        for i, gap, error in zip(others, gaps, errors, strict=True)
    ]
    alike = np.ptp(errors) <= 1e-9 * errors.max()
    return Comparisons(
        method="dunnett",
        confidence=level,
        pairs=tuple(pairs),
        critical=as_yield(point * errors[0]) if alike else None,
        letters={},
        notes=mean_notes(analysis, found),
    )


class _InsideAll:
    """The chance that all of several correlated t values lie within plus or minus d."""

    def __init__(self, correlation: FloatArray, df: float, seed: int) -> None:
        self.correlation, self.df, self.seed = correlation, df, seed
        self.shares = _common_shares(correlation)
        self.common, self.size = _normal_points(), _size_points(df)

    def __call__(self, d: float) -> float:
        if self.shares is None:
            return self._drawn(d)
        return self._summed(d, self.shares)

    def _summed(self, d: float, shares: FloatArray) -> float:
        """Return the chance by a sum over the control's error z and the error's size s.

        P = ∫ f(s) ∫ φ(z) Π [Φ((l z + d s)/√(1 - l²)) - Φ((l z - d s)/√(1 - l²))] dz ds
        """
        from scipy.special import ndtr

        (z, of_z), (s, of_s) = self.common, self.size
        inside: Any = np.ones((len(z), len(s)))
        alike, times = np.unique(np.round(shares, 12), return_counts=True)
        for share, power in zip(alike, times, strict=True):
            rest = np.sqrt(1 - share**2)
            upper = (share * z[:, None] + d * s) / rest
            lower = (share * z[:, None] - d * s) / rest
            inside *= (ndtr(upper) - ndtr(lower)) ** int(power)
        return float(np.clip(of_z @ inside @ of_s, 0.0, 1.0))

    def _drawn(self, d: float) -> float:
        from scipy.stats import multivariate_t

        ends = np.full(len(self.correlation), float(d))
        found = multivariate_t.cdf(
            ends,
            shape=self.correlation,
            df=self.df,
            lower_limit=-ends,
            allow_singular=True,
            random_state=self.seed,
        )
        return float(np.clip(found, 0.0, 1.0))


def _common_shares(correlation: FloatArray) -> FloatArray | None:
    """Return l with correlation l_i l_j between any two, or None if there is no such l.

    The control's error, common to all differences, brings just such correlations while
    the treatments' means are independent of each other or alike in their dependence.
    """
    count = len(correlation)
    if count == 1:
        return np.zeros(1)
    if count == 2:
        both = float(correlation[0, 1])
        return None if both < 0 else np.full(2, np.sqrt(both))
    if np.min(correlation) <= 0:
        return None
    first = correlation[0, 1] * correlation[0, 2] / correlation[1, 2]
    if first >= 1:
        return None
    shares: FloatArray = correlation[0] / np.sqrt(first)
    shares[0] = np.sqrt(first)
    product = np.outer(shares, shares)
    off = ~np.eye(count, dtype=bool)
    if not np.allclose(product[off], correlation[off], rtol=0, atol=1e-9) or shares.max() >= 1:
        return None
    return shares


def _normal_points() -> tuple[FloatArray, FloatArray]:
    """Return values of a normal error above zero, and weights that count both signs."""
    nodes, weights = np.polynomial.legendre.leggauss(SUM_POINTS[0])
    z = REACH * (nodes + 1) / 2
    return z, REACH * weights * np.exp(-(z**2) / 2) / np.sqrt(2 * np.pi)


def _size_points(df: float) -> tuple[FloatArray, FloatArray]:
    """Return values of s, the root of chi-squared over df, and weights."""
    from scipy.special import chdtri, gammaln

    low, high = np.sqrt(chdtri(df, np.array([1 - 1e-14, 1e-14])) / df)
    nodes, weights = np.polynomial.legendre.leggauss(SUM_POINTS[1])
    s = (high + low) / 2 + (high - low) / 2 * nodes
    logs = (df - 1) * np.log(s) - df * s**2 / 2 + df / 2 * np.log(df)
    logs -= (df / 2 - 1) * np.log(2) + gammaln(df / 2)
    return s, (high - low) / 2 * weights * np.exp(logs)


def _point(inside: _InsideAll, level: float) -> float:
    """Return d so that all t values lie within plus or minus d with chance `level`."""
    from scipy.optimize import brentq

    high = 4.0
    while inside(high) < level:
        high *= 2
    return float(brentq(lambda d: inside(d) - level, 0.0, high, xtol=1e-6))


def _pair(
    names: tuple[str, str],
    gap: float,
    error: float,
    inside: _InsideAll,
    point: float,
    level: float,
) -> Pair:
    p = max(1 - inside(abs(gap / error)), 0.0)
    return Pair(
        first=names[0],
        second=names[1],
        difference=as_yield(gap),
        standard_error=as_yield(error),
        df=inside.df,
        p=p,
        low=as_yield(gap - point * error),
        high=as_yield(gap + point * error),
        differs=p < 1 - level,
    )
