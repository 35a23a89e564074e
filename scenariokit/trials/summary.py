"""What one trial shows: means, letters, the usual method, and what it cannot show."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal, TypeAlias

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.trials.analysis import (
    Analysis,
    Comparisons,
    RankTest,
    RatioInterval,
    ResidualChecks,
    against_control,
    analyse,
    interaction_words,
    pairwise,
    ratio_in,
    residual_checks,
    treatment_means,
)
from scenariokit.trials.analysis.designs import combined
from scenariokit.trials.design_guess import DesignChoice, ReadDesign, read_design, treatments_of
from scenariokit.trials.harvest import mean_interval
from scenariokit.trials.plots import PlotTable, factor_text
from scenariokit.trials.rank_choice import rank_reason, rank_test
from scenariokit.trials.reach import Reach, reach_of
from scenariokit.trials.unreplicated import UnreplicatedDifference, unreplicated_differences
from scenariokit.units import Quantity

Without: TypeAlias = Literal["", "one level", "no repeats", "no variation", "not told apart"]
"""Why there is no test: empty where there is one."""

REVERSALS = 2
"""Reversals of two levels told in words; the others are counted."""

_YIELD = "kg/m^2"


@dataclass(frozen=True)
class LevelMean:
    """The yield of one level of what is compared.

    Parameters
    ----------
    label : str
        Its name; the levels of a combination are joined by a colon.
    levels : tuple of str
        The level of each factor.
    plots, unharvested : int
        Plots harvested, and plots without a weight.
    mean : quantity
        In kg/m², adjusted for missing plots where there is an analysis.
    standard_error, low, high : quantity or None
        Standard error and interval of the mean; None where none exists.
    letters : str
        Levels that share a letter are not shown to differ; empty without a test.
    values : tuple of float
        The plots' own yields in kg/m².
    """

    label: str
    levels: tuple[str, ...]
    plots: int
    unharvested: int
    mean: Quantity
    standard_error: Quantity | None
    low: Quantity | None
    high: Quantity | None
    letters: str
    values: tuple[float, ...]


@dataclass(frozen=True, eq=False)
class TrialSummary:
    """What one trial shows, ready for words and pictures.

    Parameters
    ----------
    plots : PlotTable
        The plots, harvested or not.
    compare : str
        What is compared.
    control : str or None
        The level that all others are held against, if one was named.
    confidence : float
        Of all statements.
    design : ReadDesign or None
        The design, and whether it was guessed; None where nothing is compared.
    means : tuple of LevelMean
        One for each level harvested, the highest first.
    lost : tuple of str
        Levels of which no plot was harvested.
    without : str
        Why there is no test; empty where there is one.
    refusal : str
        The same at length.
    analysis : Analysis or None
        The analysis of variance.
    comparisons : Comparisons or None
        Every pair, by Tukey's method.
    against : Comparisons or None
        Every level against the control, by Dunnett's method.
    ratios : dict of str to RatioInterval
        How many times each level yields what the control does; each interval on
        its own (Fieller). Empty without a control, or if its mean is zero.
    interactions : tuple of str
        Sentences on whether the treatments depend on each other.
    checks : ResidualChecks or None
        Whether the yields are as the analysis takes them.
    ranks : RankTest or None
        The test by ranks, where the checks ask for it and one exists.
    rank_reason : str
        Why ranks are looked at, or why they cannot be.
    differences : tuple of UnreplicatedDifference
        Where there is no test: each pair beside the usual variation.
    reach : Reach or None
        The smallest difference that the trial could have shown.
    notes : tuple of str
        What a reader must know.
    """

    plots: PlotTable
    compare: str
    control: str | None
    confidence: float
    design: ReadDesign | None
    means: tuple[LevelMean, ...]
    lost: tuple[str, ...]
    without: Without = ""
    refusal: str = ""
    analysis: Analysis | None = None
    comparisons: Comparisons | None = None
    against: Comparisons | None = None
    ratios: dict[str, RatioInterval] = field(default_factory=dict)
    interactions: tuple[str, ...] = ()
    checks: ResidualChecks | None = None
    ranks: RankTest | None = None
    rank_reason: str = ""
    differences: tuple[UnreplicatedDifference, ...] = ()
    reach: Reach | None = None
    notes: tuple[str, ...] = field(default=())


def summarise(
    plots: PlotTable,
    *,
    design: DesignChoice = "auto",
    compare: str = "method",
    control: str | None = None,
    confidence: float = 0.95,
) -> TrialSummary:
    """Return what one trial shows, and where it shows nothing, why.

    Parameters
    ----------
    plots : PlotTable
        Plots of one study. Every treatment that varies among them is in the
        analysis, whatever is compared.
    design : {'auto', 'randomised', 'blocks', 'latin', 'split'}
        How the plots were laid out; ``"auto"`` guesses and says so.
    compare : str
        A factor such as ``"method"`` or ``"variety"``, or combinations:
        ``"method:variety"``.
    control : str, optional
        The level that all others are held against, chosen before the harvest.
    confidence : float
        Of intervals and statements.

    Returns
    -------
    TrialSummary
        Without repeated plots it holds no test and no interval, but each
        difference beside the usual variation (`unreplicated_differences`).

    Raises
    ------
    RangeError
        If a factor is not recorded, the plots are not of the design chosen,
        the control is no level harvested, or `confidence` lies outside its range.
    InfeasibleError
        If no plot was harvested, or the plots are of several studies.

    Warnings
    --------
    A trial without repeated plots is never called significant here. Of one with
    few plots, a difference not shown is no proof that there is none.

    Notes
    -----
    Tests by ranks are added where residuals look far from a normal curve or
    spread unequally (chance below 1 - `confidence`), and the design has such a
    test. The several sentences each hold with `confidence` on their own.

    References
    ----------
    As for `analyse`, `pairwise`, `against_control`, `residual_checks`.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_records
    >>> from scenariokit.trials.summary import summarise
    >>> found = summarise(demo_records().plots)
    >>> found.design.name, [(one.label, one.letters) for one in found.means][:2]
    ('blocks', [('medium_bag', 'a'), ('wedge_pots', 'b')])
    """
    given = {"confidence": (confidence, "confidence")}
    level = float(checked_floats("summarise", given)["confidence"])
    _one_study(plots)
    treatments = treatments_of(plots, compare)
    read = read_design(plots, treatments, design) if treatments else None
    bare = _bare(plots, compare, control, level, read)
    _check_control(bare)
    if read is None or set(compare.split(":")) - set(treatments):
        return _alone(bare, treatments)
    compare = _term(compare, read)
    bare = replace(bare, compare=compare)
    try:
        analysis = analyse(plots, read.design)
    except InfeasibleError as error:
        return _unreplicated(bare, "no repeats", str(error))
    if any(stratum.mean_square == 0 for stratum in analysis.strata):
        return _unreplicated(bare, "no variation", "; ".join(analysis.notes))
    try:
        pairs = pairwise(analysis, compare, confidence=level)
    except InfeasibleError as error:
        return _unreplicated(bare, "not told apart", str(error))
    return _analysed(bare, analysis, pairs)


def _one_study(plots: PlotTable) -> None:
    if not len(plots.known()):
        raise InfeasibleError(
            tr("summarise: no plot was harvested, so that there is nothing to say")
        )
    studies = plots.levels("study") if "study" in plots.factors else ()
    if len(studies) > 1:
        raise InfeasibleError(
            tr(
                "summarise: the plots are of {count} studies ({studies}), which differ in more than "
                "the treatment. Possible: one study at a time, or summarise_studies for all together",
                count=len(studies),
                studies=", ".join(studies),
            )
        )


def _term(compare: str, read: ReadDesign) -> str:
    """Return `compare` with its factors in the order of the design."""
    wanted = compare.split(":")
    return ":".join(name for name in read.design.treatments if name in wanted)


def _bare(
    plots: PlotTable, compare: str, control: str | None, level: float, read: ReadDesign | None
) -> TrialSummary:
    """Return the plain means of the plots, without any error."""
    factors = tuple(compare.split(":"))
    if read is not None and set(factors) <= set(read.design.treatments):
        factors = tuple(_term(compare, read).split(":"))
    groups: dict[tuple[str, ...], list[float]] = {}
    for cell, value in zip(combined(plots, factors), plots.yields.tolist(), strict=True):
        groups.setdefault(cell, []).append(value)
    means, lost = [], []
    for cell, values in groups.items():
        known = tuple(value for value in values if not np.isnan(value))
        label = ":".join(cell)
        if not known:
            lost.append(label)
            continue
        mean = with_unit(float(np.mean(known)), _YIELD)
        gone = len(values) - len(known)
        means.append(LevelMean(label, cell, len(known), gone, mean, None, None, None, "", known))
    ranked = tuple(sorted(means, key=lambda one: -float(one.mean.m)))
    return TrialSummary(
        plots, compare, control, level, read, ranked, tuple(lost), notes=plots.notes
    )


def _check_control(bare: TrialSummary) -> None:
    labels = [one.label for one in bare.means]
    if bare.control is not None and bare.control not in labels:
        reason = tr("is no {compare} of a harvested plot", compare=factor_text(bare.compare))
        problem = Problem("control", bare.control, reason, ", ".join(labels), kind="range")
        raise argument_error([problem], "summarise")


def _alone(bare: TrialSummary, treatments: Sequence[str]) -> TrialSummary:
    """Return the summary of plots of which a factor compared has one level only."""
    refusal = tr(
        "summarise: only one level of {compare} was harvested: nothing to compare",
        compare=factor_text(bare.compare),
    )
    means = bare.means
    if not treatments:
        (one,) = means
        ends = mean_interval(one.values, bare.confidence)
        if ends is not None:
            low, high = (with_unit(end, _YIELD) for end in ends)
            error = with_unit(float(np.std(one.values, ddof=1) / np.sqrt(one.plots)), _YIELD)
            means = (replace(one, standard_error=error, low=low, high=high),)
    return replace(bare, without="one level", refusal=refusal, means=means)


def _unreplicated(bare: TrialSummary, without: Without, refusal: str) -> TrialSummary:
    """Return the summary of a trial whose own plots give no error."""
    factors = tuple(bare.compare.split(":"))
    labels = tuple(":".join(cell) for cell in combined(bare.plots, factors))
    joined = replace(bare.plots, factors={**bare.plots.factors, bare.compare: labels})
    differences = unreplicated_differences(joined, bare.compare, confidence=bare.confidence)
    return replace(bare, without=without, refusal=refusal, differences=differences)


def _against(
    analysis: Analysis, source: str, control: str | None, pairs: Comparisons
) -> tuple[Comparisons | None, dict[str, RatioInterval]]:
    """Return every level against the control, as differences and as ratios."""
    if control is None or control not in pairs.letters:
        return None, {}
    level = pairs.confidence
    found = against_control(analysis, source, control, confidence=level)
    try:
        ratios = {
            pair.first: ratio_in(analysis, source, pair.first, control, confidence=level)
            for pair in found.pairs
        }
    except InfeasibleError:  # the control gave nothing: its differences are all there is
        ratios = {}
    return found, ratios


def _analysed(bare: TrialSummary, analysis: Analysis, pairs: Comparisons) -> TrialSummary:
    """Return the summary of a trial with an error of its own."""
    source, level = bare.compare, bare.confidence
    plain = {one.label: one for one in bare.means}
    means = tuple(
        replace(
            plain[one.label],
            mean=one.mean,
            standard_error=one.standard_error,
            low=one.low,
            high=one.high,
            letters=pairs.letters[one.label],
        )
        for one in treatment_means(analysis, source, confidence=level)
        if one.label in plain
    )
    against, ratios = _against(analysis, source, bare.control, pairs)
    twos = [term for term in analysis.design.treatment_terms if len(term) == 2]
    checks = residual_checks(analysis)
    reason = rank_reason(checks, 1 - level)
    ranks = None
    if reason:
        ranks, why_not = rank_test(bare.plots, analysis.design, source, level)
        reason = f"{reason}; {why_not}" if why_not else reason
    return replace(
        bare,
        means=tuple(sorted(means, key=lambda one: -float(one.mean.m))),
        analysis=analysis,
        comparisons=pairs,
        against=against,
        ratios=ratios,
        interactions=tuple(
            line
            for term in twos
            for line in interaction_words(
                analysis, ":".join(term), confidence=level, most=REVERSALS
            )
        ),
        checks=checks,
        ranks=ranks,
        rank_reason=reason,
        reach=reach_of(analysis, pairs, bare.design, level),
        notes=pairs.notes,
    )
