"""The smallest difference that a trial could have shown, and the plots that a smaller one needs."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from scenariokit.errors import ScenarioKitError
from scenariokit.quantities import with_unit
from scenariokit.trials.analysis import Analysis, Comparisons
from scenariokit.trials.design_guess import ReadDesign
from scenariokit.trials.planning.degrees import Design as PlannedDesign
from scenariokit.trials.planning.power import pair_power, replicates_for_difference
from scenariokit.units import Quantity

POWER = 0.8
"""Chance of finding the difference; common practice, no published source."""

WORTH_FINDING = 0.2
"""Difference that a next trial is asked for, as a share of the mean; common practice, no
published source."""

_PLANNED: dict[str, PlannedDesign] = {
    "randomised": "randomised",
    "blocks": "blocks",
    "latin": "latin_square",
    "split": "blocks",
}


@dataclass(frozen=True)
class Reach:
    """What a trial of this size and variation can find.

    Parameters
    ----------
    difference : quantity
        The true difference of two levels that such a trial finds with `power`,
        kg/m².
    share : float
        The same as a share of the trial's mean yield.
    power : float
        Chance of finding it.
    variation : float
        Standard deviation of plots treated alike that matters for these
        differences, as a share of the mean.
    plots : float
        Plots of each level that the differences rest on.
    wanted : float
        A smaller difference, as a share of the mean.
    wanted_plots : int or None
        Plots of each level that a trial in search of it needs; None if no trial
        of a possible size finds it.
    """

    difference: Quantity
    share: float
    power: float
    variation: float
    plots: float
    wanted: float
    wanted_plots: int | None


def reach_of(
    analysis: Analysis,
    pairs: Comparisons,
    read: ReadDesign | None,
    confidence: float,
    *,
    power: float = POWER,
    wanted: float = WORTH_FINDING,
) -> Reach | None:
    """Return the smallest difference that a trial could have shown between two levels.

    d = δ s, with P(|T| > t(1 - α/2, ν)) = power, T noncentral t with
    noncentrality δ. s is the median standard error of a difference of two levels,
    ν its degrees of freedom, α = 1 - `confidence`.

    Parameters
    ----------
    analysis : Analysis
        What `analyse` gave.
    pairs : Comparisons
        Every pair of the levels compared.
    read : ReadDesign or None
        The design, for the plots that a next trial needs.
    confidence : float
        Of the trial's statements on a pair named before the harvest.
    power : float
        Chance of finding the difference.
    wanted : float
        The difference that a next trial is to find, as a share of the mean.

    Returns
    -------
    Reach or None
        None where the mean yield is zero.

    Notes
    -----
    For one pair that was named before the trial. Comparing all pairs needs larger
    differences. The variation is that of this trial, which is itself uncertain.

    References
    ----------
    Cohen 1988, Statistical Power Analysis, 2nd edition, chapter 2; from memory.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_records
    >>> from scenariokit.trials.summary import summarise
    >>> found = summarise(demo_records().plots).reach
    >>> f"{found.difference:.2f~P}, {100 * found.share:.0f} %; {found.wanted_plots} plots for 20 %"
    '0.98 kg/m², 22 %; 7 plots for 20 %'
    """
    mean = float(analysis.mean.m)
    if mean <= 0:
        return None
    ranked = sorted(pairs.pairs, key=lambda pair: float(pair.standard_error.m))
    middle = ranked[len(ranked) // 2]
    error, df = float(middle.standard_error.m), float(middle.df)
    size = _noncentrality(df, 1 - confidence, power) * error
    levels = len(pairs.letters)
    plots = float(analysis.plots) / levels
    # s² = 2 v²/r: v is the spread of single plots that gives this standard error.
    variation = error * float(np.sqrt(plots / 2)) / mean
    needed: int | None
    try:
        needed = int(
            replicates_for_difference(
                wanted,
                variation,
                levels,
                alpha=1 - confidence,
                power=power,
                design=_PLANNED["randomised" if read is None else read.name],
            )
        )
    except ScenarioKitError:  # the variation is beyond what planning takes, or no size finds it
        needed = None
    return Reach(with_unit(size, "kg/m^2"), size / mean, power, variation, plots, wanted, needed)


def _noncentrality(df: float, alpha: float, power: float) -> float:
    """Return the true difference in standard errors that is found with `power`."""
    from scipy.optimize import brentq

    def short(size: float) -> float:
        # Two plots of each level make the noncentrality the ratio itself.
        return float(pair_power(size, 2.0, df, alpha)) - power

    high = 4.0
    while short(high) < 0:
        high *= 2
    return float(brentq(short, 0.0, high, xtol=1e-9))
