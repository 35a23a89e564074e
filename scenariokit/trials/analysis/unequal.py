"""Welch's test: methods whose plots vary by different amounts."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.trials.plots import PlotTable


@dataclass(frozen=True)
class WelchTest:
    """Welch's F.

    Parameters
    ----------
    f : float
        F; of two treatments the square of Welch's t.
    df : int
        Degrees of freedom of the treatments.
    error_df : float
        Degrees of freedom of the error, not a whole number.
    p : float
        Chance of a larger F if the treatments' means were alike.
    """

    f: float
    df: int
    error_df: float
    p: float


def welch(plots: PlotTable, factor: str) -> WelchTest:
    """Return Welch's F of a completely randomised trial with errors of different size.

    w = n/s², m̄ = Σ w m / Σ w, L = Σ (1 - w/Σ w)²/(n - 1)::

        F = [Σ w (m - m̄)²/(k - 1)] / [1 + 2 (k - 2) L/(k² - 1)],  df2 = (k² - 1)/(3 L)

    n, m, s² are the plots, the mean and the variance of each of the k treatments.

    Parameters
    ----------
    plots : PlotTable
        The plots; those not harvested are left out.
    factor : str
        The factor compared.

    Returns
    -------
    WelchTest

    Raises
    ------
    RangeError
        If the factor is not recorded or has fewer than two levels harvested.
    InfeasibleError
        If a treatment has one plot, or its plots do not differ: its own error is then
        unknown.

    References
    ----------
    Welch 1951, Biometrika 38:330; from memory.

    Examples
    --------
    >>> plots = PlotTable([4.1, 4.9, 5.3, 6.0, 6.4, 6.8], {"method": tuple("AAABBB")})
    >>> found = welch(plots, "method")
    >>> round(found.f, 2), round(found.error_df, 2), round(found.p, 4)
    (15.01, 3.45, 0.0236)
    """
    from scipy.special import fdtrc

    known = plots.known()
    if factor not in plots.factors or len(known.levels(factor)) < 2:
        reason = tr("is not recorded, or has fewer than two levels harvested")
        problem = Problem("factor", factor, reason, ", ".join(plots.factors), kind="range")
        raise argument_error([problem], "welch")
    names, codes = known.levels(factor), known.codes(factor)
    groups = [known.yields[codes == code] for code in range(len(names))]
    dumb = [
        name
        for name, group in zip(names, groups, strict=True)
        if len(group) < 2 or np.ptp(group) == 0
    ]
    if dumb:
        raise InfeasibleError(
            tr(
                "welch: {treatments}: one plot, or plots that do not differ, so that its own error is "
                "unknown. Possible: analyse, which takes one error for all",
                treatments=", ".join(dumb),
            )
        )
    n = np.array([len(group) for group in groups], dtype=float)
    means = np.array([group.mean() for group in groups])
    weights = n / np.array([group.var(ddof=1) for group in groups])
    middle = float(weights @ means) / float(weights.sum())
    lost = float(((1 - weights / weights.sum()) ** 2 / (n - 1)).sum())
    k = len(groups)
    between = float(weights @ (means - middle) ** 2) / (k - 1)
    f = between / (1 + 2 * (k - 2) * lost / (k**2 - 1))
    error_df = (k**2 - 1) / (3 * lost)
    return WelchTest(f, k - 1, error_df, float(fdtrc(k - 1, error_df, f)))
