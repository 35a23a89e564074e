"""What several trials show together: each method in each study, and over all of them."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.trials.effect_pool import Pooling
from scenariokit.trials.meta import MethodOverStudies, meta_analysis
from scenariokit.trials.mixed import MixedAnalysis, mixed_model
from scenariokit.trials.plots import PlotTable, factor_text
from scenariokit.trials.study_effects import Scale


@dataclass(frozen=True, eq=False)
class StudiesSummary:
    """What several trials show together.

    Parameters
    ----------
    plots : PlotTable
        The plots of all studies.
    compare : str
        The factor compared.
    common : str
        The level that all others are held against.
    confidence : float
        Of all statements.
    studies : tuple of str
        Studies with a plot harvested.
    over : tuple of MethodOverStudies
        Each level against the common one: by study, pooled, and how much studies differ.
    model : MixedAnalysis or None
        One model of all plots; None where they do not allow it.
    refusal : str
        Why there is no model; empty where there is one.
    notes : tuple of str
        What a reader must know.
    """

    plots: PlotTable
    compare: str
    common: str
    confidence: float
    studies: tuple[str, ...]
    over: tuple[MethodOverStudies, ...]
    model: MixedAnalysis | None
    refusal: str
    notes: tuple[str, ...]


def summarise_studies(
    plots: PlotTable,
    *,
    compare: str = "method",
    common: str | None = None,
    scale: Scale = "ratio",
    confidence: float = 0.95,
) -> StudiesSummary:
    """Return what several trials show together.

    Parameters
    ----------
    plots : PlotTable
        Plots of two studies or more, with a factor ``study``.
    compare : str
        The factor compared, such as ``"method"``.
    common : str, optional
        The level that all others are held against; the one that stood in most
        studies if left out, of several such the first.
    scale : {'ratio', 'difference'}
        Whether levels are compared as ratios or as differences.
    confidence : float
        Of all intervals.

    Returns
    -------
    StudiesSummary

    Raises
    ------
    RangeError
        If the factor is not recorded, no plot is of the common level, or
        `confidence` lies outside its range.
    InfeasibleError
        If fewer than two studies or two levels were harvested.

    Notes
    -----
    Studies without repeated plots are shown and not pooled. Pooled ratios take
    each study's own error; the model takes one error for all and lets the levels'
    differences vary from study to study. Where the two disagree, few studies or
    errors of different size are the reason: trust neither alone.

    References
    ----------
    As for `meta_analysis` and `mixed_model`.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_files
    >>> from scenariokit.trials.over_studies import summarise_studies
    >>> from scenariokit.trials.pooling import pool
    >>> found = summarise_studies(pool(demo_files()).plots(), common="wedge_pots")
    >>> bag = next(one for one in found.over if one.method == "medium_bag")
    >>> f"{bag.random.estimate.m:.2f} times, {len(bag.rows)} studies, {len(bag.apart)} apart"
    '1.34 times, 3 studies, 1 apart'
    """
    given = {"confidence": (confidence, "confidence")}
    level = float(checked_floats("summarise_studies", given)["confidence"])
    missing = [name for name in (compare, "study") if name not in plots.factors]
    if missing:
        recorded = ", ".join(plots.factors)
        raise argument_error(
            [
                Problem("factor", name, tr("is not recorded"), recorded, kind="range")
                for name in missing
            ],
            "summarise_studies",
        )
    known = plots.known()
    studies, levels = known.levels("study"), known.levels(compare)
    nothing = (
        (
            studies,
            tr(
                "summarise_studies: fewer than two studies were harvested: nothing to hold together"
            ),
        ),
        (
            levels,
            tr(
                "summarise_studies: fewer than two levels of {factor} were harvested: nothing to "
                "hold together",
                factor=factor_text(compare),
            ),
        ),
    )
    for found, reason in nothing:
        if len(found) < 2:
            raise InfeasibleError(reason)
    shared = common or most_common(known, compare)
    over = meta_analysis(
        plots, shared, scale=scale, treatment=compare, pooling=Pooling(confidence=level)
    )
    model, refusal = _model(known, compare, level)
    notes = plots.notes if model is None else model.notes
    return StudiesSummary(plots, compare, shared, level, studies, over, model, refusal, notes)


def most_common(plots: PlotTable, compare: str) -> str:
    """Return the level that stood in most studies, of several such the first.

    Parameters
    ----------
    plots : PlotTable
        Plots harvested.
    compare : str
        The factor.
    """
    pairs = set(zip(plots.column("study"), plots.column(compare), strict=True))
    counts = Counter(level for _, level in pairs)
    return max(plots.levels(compare), key=lambda level: counts[level])


def _model(plots: PlotTable, compare: str, level: float) -> tuple[MixedAnalysis | None, str]:
    """Return one model of all plots, or why there is none."""
    others = [
        name
        for name in ("method", "variety")
        if name != compare and name in plots.factors and len(plots.levels(name)) > 1
    ]
    try:
        return mixed_model(plots, (compare,), adjust=others, confidence=level), ""
    except InfeasibleError as error:
        return None, str(error)
