"""When a trial is better looked at by ranks, and which test by ranks its design has."""

from __future__ import annotations

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import list_text, tr
from scenariokit.trials.analysis import Design, RankTest, ResidualChecks, friedman, kruskal_wallis
from scenariokit.trials.plots import PlotTable, factor_text


def rank_reason(checks: ResidualChecks, alpha: float) -> str:
    """Return why ranks are the better look at these plots, or nothing if they are not.

    Parameters
    ----------
    checks : ResidualChecks
        What `residual_checks` gave.
    alpha : float
        Chance below which a check counts as failed.

    Examples
    --------
    >>> from scenariokit.trials.analysis import residual_checks
    >>> from scenariokit.trials.demo import demo_records
    >>> from scenariokit.trials.rank_choice import rank_reason
    >>> from scenariokit.trials.summary import summarise
    >>> rank_reason(summarise(demo_records().plots).checks, 0.05)
    ''
    """
    said = []
    if checks.shapiro is not None and checks.shapiro.p < alpha:
        said.append(
            tr("the residuals are far from a normal curve (p = {p:.3f})", p=checks.shapiro.p)
        )
    if checks.levene is not None and checks.levene.p < alpha:
        said.append(tr("some treatments vary more than others (p = {p:.3f})", p=checks.levene.p))
    return list_text(said)


def rank_test(
    plots: PlotTable, design: Design, compare: str, confidence: float
) -> tuple[RankTest | None, str]:
    """Return the test by ranks of `compare`, or None and why there is none.

    Parameters
    ----------
    plots : PlotTable
        The plots.
    design : Design
        Completely randomised with one treatment (Kruskal-Wallis), or in blocks
        (Friedman). Where a block has a level in several plots, as with several
        varieties, their mean counts as one plot.
    compare : str
        The factor compared.
    confidence : float
        Of the statements on pairs.

    Returns
    -------
    tuple of (RankTest or None, str)
    """
    if compare not in design.treatments:
        return None, tr("combinations have no test by ranks here")
    try:
        if design.name == "randomised blocks":
            block = design.blocks[0]
            table = _means_in_blocks(plots, compare, block)
            return friedman(table, compare, block=block, confidence=confidence), ""
        if design.name == "completely randomised" and len(design.treatments) == 1:
            return kruskal_wallis(plots, compare, confidence=confidence), ""
    except InfeasibleError as error:
        return None, str(error)
    return None, tr("this design has no test by ranks here")


def _means_in_blocks(plots: PlotTable, compare: str, block: str) -> PlotTable:
    """Return one plot for each level in each block: the mean of its plots, NaN if one is missing.

    A mean over fewer plots than the others' would put varieties against methods.
    """
    groups: dict[tuple[str, str], list[float]] = {}
    columns = zip(plots.column(block), plots.column(compare), plots.yields.tolist(), strict=True)
    for where, level, value in columns:
        groups.setdefault((where, level), []).append(value)
    most = max(len(values) for values in groups.values())
    notes = plots.notes
    if most > 1:
        notes = (
            *notes,
            tr(
                "the mean of a {compare}'s plots in a {block} counts as one plot",
                compare=factor_text(compare),
                block=factor_text(block),
            ),
        )
    return PlotTable(
        np.array([float(np.mean(v)) if len(v) == most else np.nan for v in groups.values()]),
        {
            block: tuple(where for where, _ in groups),
            compare: tuple(level for _, level in groups),
        },
        notes=notes,
    )
