"""Adjusted means of treatments, their standard errors and their intervals."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.trials.analysis.anova import Analysis
from scenariokit.trials.analysis.design_matrix import pseudo_inverse
from scenariokit.trials.analysis.designs import Term, combined
from scenariokit.trials.analysis.missing import ESTIMABLE
from scenariokit.trials.plots import FloatArray


@dataclass(frozen=True)
class TreatmentMean:
    """The mean yield of one treatment.

    Parameters
    ----------
    label : str
        Its level, or the levels of a combination joined by a colon.
    levels : tuple of str
        The level of each factor.
    plots : int
        Plots harvested.
    mean : quantity
        kg/m², adjusted: every level of the other factors counts alike.
    standard_error, low, high : quantity
        Standard error and interval of that mean, kg/m².
    df : float
        Degrees of freedom of the standard error.
    """

    label: str
    levels: tuple[str, ...]
    plots: int
    mean: units.Quantity
    standard_error: units.Quantity
    low: units.Quantity
    high: units.Quantity
    df: float


@dataclass(frozen=True, eq=False)
class MeanSet:
    """The means of one term as plain floats, with what their errors are made of.

    Parameters
    ----------
    labels, cells : tuple
        Name and levels of each mean.
    counts : array
        Plots harvested of each.
    values : array
        Means, kg/m².
    within, between : array
        How the residual variance, and that of whole plots, enter the covariance of
        the means: cov = within s² + between w².
    lost : tuple of str
        Names of combinations of which the plots do not give a mean.
    """

    labels: tuple[str, ...]
    cells: tuple[Term, ...]
    counts: FloatArray
    values: FloatArray
    within: FloatArray
    between: FloatArray
    lost: tuple[str, ...]


def mean_set(analysis: Analysis, source: str) -> MeanSet:
    """Return the adjusted means of a term: m = L b, b the least squares fit.

    cov(m) = C C' s² + (C Z)(C Z)' w², C = L (X'X)⁻ X', Z the whole plots.
    """
    term = analysis.term(source)
    built = analysis.model
    matrix, rows = built.matrix[:, built.fixed], built.cell_rows(term)
    square = built.squares[built.fixed, built.fixed]
    inverse, _ = pseudo_inverse(square)
    inside = np.abs(rows - rows @ inverse @ square).max(axis=1) < ESTIMABLE
    weights = rows[inside] @ inverse @ matrix.T
    middle = built.plots.yields.mean()
    cells = built.cells(term)
    held = combined(built.plots, term)
    whole = weights @ built.whole if built.whole is not None else np.zeros((len(weights), 1))
    kept = tuple(cell for cell, good in zip(cells, inside, strict=True) if good)
    return MeanSet(
        labels=tuple(":".join(cell) for cell in kept),
        cells=kept,
        counts=np.array([held.count(cell) for cell in kept], dtype=float),
        values=weights @ (built.plots.yields - middle) + middle,
        within=weights @ weights.T,
        between=whole @ whole.T,
        lost=tuple(":".join(cell) for cell, good in zip(cells, inside, strict=True) if not good),
    )


def variance(analysis: Analysis, within: Any, between: Any) -> tuple[Any, Any]:
    """Return variance and degrees of freedom of a sum of yields, from the mean squares.

    var = (a - q/k) MS(residual) + (q/k) MS(whole plots), a and q the sums of squares of its
    weights by plot and by whole plot, k from `Analysis.split`. Degrees of freedom by
    Satterthwaite: var² / Σ (part²/df).

    References
    ----------
    Satterthwaite 1946, Biometrics Bulletin 2:110 (from memory).
    """
    residual = analysis.residual
    if len(analysis.strata) == 1:
        found = within * residual.mean_square
        return found, np.full(np.shape(found), float(residual.df))
    whole = analysis.strata[0]
    share = between / analysis.split
    low = (within - share) * residual.mean_square
    high = share * whole.mean_square
    total = low + high
    below = low**2 / residual.df + high**2 / whole.df
    df = np.where(below > 0, total**2 / np.where(below > 0, below, 1.0), residual.df)
    return total, df


def as_yield(value: Any) -> units.Quantity:
    """Return a plain float as a yield in kg/m²."""
    return with_unit(float(value), "kg/m^2")


def t_point(confidence: float, df: Any) -> Any:
    """Return the two-sided point of Student's t."""
    from scipy.special import stdtrit

    return stdtrit(df, (1 + confidence) / 2)


def treatment_means(
    analysis: Analysis, source: str, *, confidence: float = 0.95
) -> tuple[TreatmentMean, ...]:
    """Return the adjusted mean of each level of a treatment, with its interval.

    m ± t(df) s(m), s(m) from the error line or lines that the mean rests on.

    Parameters
    ----------
    analysis : Analysis
        What `analyse` gave.
    source : str
        A treatment term: ``"method"`` or, for combinations, ``"method:variety"``.
    confidence : float
        Of the intervals.

    Returns
    -------
    tuple of TreatmentMean
        In the order of the plots. A combination that no plot harvested can give is
        left out.

    Raises
    ------
    RangeError
        If there is no such term, or `confidence` lies outside its range.

    Notes
    -----
    With equal numbers of plots an adjusted mean is the plain mean. Two intervals that
    overlap may still belong to means that differ: compare by `pairwise`. The error is
    that of the blocks in this trial, not of other places or seasons.

    Examples
    --------
    >>> from scenariokit.trials.analysis.anova import analyse
    >>> from scenariokit.trials.analysis.designs import completely_randomised
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable([4.1, 4.9, 5.3, 6.0, 6.4, 6.8], {"method": tuple("AAABBB")})
    >>> first, _ = treatment_means(analyse(plots, completely_randomised("method")), "method")
    >>> f"{first.label} {first.mean:.3f~P} ± {first.standard_error:.3f~P}"
    'A 4.767 kg/m² ± 0.298 kg/m²'
    """
    level = checked_floats("treatment_means", {"confidence": (confidence, "confidence")})
    found = mean_set(analysis, source)
    squares, df = variance(analysis, np.diag(found.within), np.diag(found.between))
    errors = np.sqrt(squares)
    half = t_point(level["confidence"], df) * errors
    return tuple(
        TreatmentMean(
            label=found.labels[i],
            levels=found.cells[i],
            plots=int(found.counts[i]),
            mean=as_yield(found.values[i]),
            standard_error=as_yield(errors[i]),
            low=as_yield(found.values[i] - half[i]),
            high=as_yield(found.values[i] + half[i]),
            df=float(df[i]),
        )
        for i in range(len(found.labels))
    )
