"""What other trials hold of a difference, as a named prior for one that was not repeated."""

from __future__ import annotations

import math
from collections.abc import Sequence

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.quantities import with_unit
from scenariokit.trials.effect_pool import Pooling
from scenariokit.trials.meta import meta_analysis
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.prior import Prior, TemperedDifference, with_prior
from scenariokit.trials.unreplicated import UnreplicatedDifference

USUAL_CV = 0.12
"""CV of plots treated alike that is taken where a trial has none of its own; common practice."""


def pooled_prior(
    plots: PlotTable, first: str, second: str, *, treatment: str = "method", name: str = ""
) -> Prior:
    """Return the pooled difference of two levels over studies, as a prior for another study.

    Mean m of the random-effects pool; sd √(s² + τ²), for another such study.

    Parameters
    ----------
    plots : PlotTable
        Plots of other studies, with a factor ``study``.
    first, second : str
        Levels compared, first minus second.
    treatment : str, optional
        The factor that they are levels of.
    name : str, optional
        What to call the prior; the number of studies and their names if left out.

    Returns
    -------
    Prior

    Raises
    ------
    InfeasibleError
        If fewer than two studies repeated both levels, so that nothing can be pooled.

    Notes
    -----
    s is the standard error of the pooled mean by the errors of the studies, and
    τ² the variance between them (`meta_analysis`). With few studies τ² is hardly known: the prior
    may then be too narrow.

    Examples
    --------
    >>> from scenariokit.trials import demo_files, pool, pooled_prior
    >>> others = pool(demo_files()).plots()
    >>> prior = pooled_prior(others, "medium_bag", "wedge_pots")
    >>> prior.name.startswith("3 studies")
    True
    """
    levels = set(plots.known().levels(treatment))
    found = None
    if {first, second} <= levels:
        over = meta_analysis(
            plots, second, scale="difference", treatment=treatment,
            pooling=Pooling(interval="normal"),
        )  # fmt: skip
        found = next((one for one in over if one.method == first), None)
    if found is None or found.pool is None or found.random is None:
        raise InfeasibleError(
            tr(
                "fewer than two other studies repeated both {first} and {second}: there is no pooled "
                "difference to hold",
                first=first,
                second=second,
            )
        )
    spread = math.sqrt(found.pool.random.standard_error**2 + found.pool.tau2)
    studies = [row.study for row in found.rows]
    return Prior(
        name or f"{len(studies)} studies: {', '.join(studies)}",
        with_unit(found.pool.random.estimate, "kg/m^2"),
        with_unit(spread, "kg/m^2"),
    )


def tempered_differences(
    differences: Sequence[UnreplicatedDifference],
    plots: PlotTable,
    *,
    treatment: str = "method",
    cv: float = USUAL_CV,
) -> tuple[tuple[UnreplicatedDifference, TemperedDifference | None], ...]:
    """Return each difference of an unreplicated trial beside what other trials make of it.

    Parameters
    ----------
    differences : sequence of UnreplicatedDifference
        Of the trial, as `unreplicated_differences` gives them.
    plots : PlotTable
        Plots of the other studies.
    treatment : str, optional
        The factor compared.
    cv : float, optional
        CV of plots treated alike in the trial.

    Returns
    -------
    tuple of pairs
        The difference, and None where the other studies have no pooled one.

    Warnings
    --------
    This is chosen, never done by itself, and its prior is named: the answer is
    worth what the other trials are worth.
    """
    told: list[tuple[UnreplicatedDifference, TemperedDifference | None]] = []
    for one in differences:
        try:
            prior = pooled_prior(plots, one.first, one.second, treatment=treatment)
        except InfeasibleError:
            told.append((one, None))
            continue
        mean = (one.first_yield + one.second_yield) / 2
        told.append((one, with_prior(one.observed, prior, mean=mean, cv=cv, plots=min(one.plots))))
    return tuple(told)
