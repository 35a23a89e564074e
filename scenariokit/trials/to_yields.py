"""A trial's means as the yields of methods, in the form that scenarios take."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.trials.analysis import Analysis, treatment_means
from scenariokit.trials.harvest import MethodYield, mean_interval
from scenariokit.trials.over_studies import StudiesSummary
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.summary import TrialSummary

FACTOR = "method"


def method_yields(
    found: TrialSummary | StudiesSummary | Analysis,
    *,
    crop: str = "potato",
    methods: Mapping[str, Any] | None = None,
) -> dict[str, MethodYield]:
    """Return the yield of each method of a trial, with its interval.

    Parameters
    ----------
    found : TrialSummary, StudiesSummary or Analysis
        What `summarise`, `summarise_studies` or `analyse` gave.
    crop : str
        What was grown.
    methods : mapping, optional
        Known methods by id, such as `catalog.methods()`: a level that is the
        label of one is then called by its id. A level that is neither keeps its
        own name.

    Returns
    -------
    dict of str to MethodYield
        Adjusted means with the interval of the analysis; over several studies
        those of the model of all plots. Without either, plain means with an
        interval only where nothing but the method varied and it was repeated.
        Low ends are not below zero.

    Raises
    ------
    RangeError
        If ``method`` is no factor of the plots.

    Notes
    -----
    The interval is that of the mean over the blocks, or studies, of the trial. The
    next season, or one tank alone, may lie well outside it.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_records
    >>> from scenariokit.trials.summary import summarise
    >>> from scenariokit.trials.to_yields import method_yields
    >>> bag = method_yields(summarise(demo_records().plots))["medium_bag"]
    >>> f"{bag.mean:.2f~P} ({bag.low:.2f~P} to {bag.high:.2f~P}), {bag.plots} plots"
    '6.35 kg/m² (5.88 kg/m² to 6.81 kg/m²), 6 plots'
    """
    plots = found.model.plots if isinstance(found, Analysis) else found.plots
    if FACTOR not in plots.factors:
        recorded = ", ".join(plots.factors)
        problem = Problem("factor", FACTOR, tr("is not recorded"), recorded, kind="range")
        raise argument_error([problem], "method_yields")
    ids = _ids(methods)
    ends = _intervals(found, plots)
    result = {}
    for level, values in _values(plots).items():
        known = tuple(value for value in values if value == value)
        if not known:
            continue
        mean, low, high = ends.get(level, (sum(known) / len(known), None, None))
        name = ids.get(level.strip().casefold(), level)
        result[name] = MethodYield(
            method=name,
            crop=crop,
            plots=len(known),
            unharvested=len(values) - len(known),
            mean=units.quantity(mean, "kg/m^2"),
            low=None if low is None else units.quantity(max(low, 0.0), "kg/m^2"),
            high=None if high is None else units.quantity(high, "kg/m^2"),
            values=known,
        )
    return result


def _ids(methods: Mapping[str, Any] | None) -> dict[str, str]:
    """Return the id of each known method by its label and by its id, in small letters."""
    found = {row["label"].casefold(): key for key, row in (methods or {}).items()}
    return found | {key.casefold(): key for key in methods or {}}


def _values(plots: PlotTable) -> dict[str, list[float]]:
    """Return the yields of each method's plots; NaN of those not harvested."""
    groups: dict[str, list[float]] = {}
    for level, value in zip(plots.column(FACTOR), plots.yields.tolist(), strict=True):
        groups.setdefault(level, []).append(value)
    return groups


_Ends = dict[str, tuple[float, float | None, float | None]]


def _intervals(found: TrialSummary | StudiesSummary | Analysis, plots: PlotTable) -> _Ends:
    """Return mean, low and high of each method, as far as there is an error."""
    if isinstance(found, StudiesSummary):
        if found.model is None or found.compare != FACTOR:
            return {}
        return {
            one.levels[FACTOR]: (float(one.mean.m), float(one.low.m), float(one.high.m))
            for one in found.model.means(FACTOR)
        }
    analysis = found if isinstance(found, Analysis) else found.analysis
    level = 0.95 if isinstance(found, Analysis) else found.confidence
    tested = analysis is not None and all(part.mean_square > 0 for part in analysis.strata)
    if analysis is not None and tested and FACTOR in analysis.design.treatments:
        return {
            one.label: (float(one.mean.m), float(one.low.m), float(one.high.m))
            for one in treatment_means(analysis, FACTOR, confidence=level)
        }
    if isinstance(found, TrialSummary) and found.without == "one level" and found.design is None:
        return _alone(plots, level)
    return {}


def _alone(plots: PlotTable, level: float) -> _Ends:
    """Return the plain mean and its interval of a trial in which nothing was varied."""
    known = plots.known()
    ends = mean_interval(known.yields.tolist(), level)
    if ends is None:
        return {}
    return {known.levels(FACTOR)[0]: (float(known.yields.mean()), *ends)}
