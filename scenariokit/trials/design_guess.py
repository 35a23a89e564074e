"""Which design the plots of a trial are read as, where nobody has said it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Literal, TypeAlias, get_args

from scenariokit.errors import Problem, ScenarioKitError, argument_error
from scenariokit.language import tr
from scenariokit.trials.analysis import (
    Design,
    completely_randomised,
    latin_square,
    randomised_blocks,
    split_plot,
)
from scenariokit.trials.analysis.designs import check_design, combined
from scenariokit.trials.plots import PlotTable, factors_text

DesignName: TypeAlias = Literal["randomised", "blocks", "latin", "split"]
DesignChoice: TypeAlias = Literal["auto", "randomised", "blocks", "latin", "split"]

TREATMENTS = ("method", "variety")
"""Factors of a plot record that somebody chose for the plots."""

RESERVOIR = "main"
"""The factor that names the body of water of a plot."""


@dataclass(frozen=True)
class ReadDesign:
    """What a trial is read as.

    Parameters
    ----------
    name : {'randomised', 'blocks', 'latin', 'split'}
        The kind of design.
    design : Design
        The design itself, with its factors.
    guessed : bool
        Whether it was read off the plots, rather than chosen.
    reason : str
        What it was read off, as a sentence; empty if it was chosen.
    """

    name: DesignName
    design: Design
    guessed: bool
    reason: str = ""


def treatments_of(plots: PlotTable, compare: str) -> tuple[str, ...]:
    """Return the factors that a trial varies: two levels or more among the plots harvested.

    Parameters
    ----------
    plots : PlotTable
        The plots.
    compare : str
        What is compared: a factor, or several joined by colons.

    Raises
    ------
    RangeError
        If a factor of `compare` is not recorded.
    """
    wanted = compare.split(":")
    problems = [
        Problem("compare", name, tr("is not recorded"), ", ".join(plots.factors), kind="range")
        for name in wanted
        if name not in plots.factors
    ]
    if problems:
        raise argument_error(problems, "summarise")
    known = plots.known()
    return tuple(
        name
        for name in dict.fromkeys((*TREATMENTS, *wanted))
        if name in known.factors and len(known.levels(name)) > 1
    )


def read_design(
    plots: PlotTable, treatments: Sequence[str], choice: DesignChoice = "auto"
) -> ReadDesign:
    """Return the design that was chosen, or the one that the plots look like.

    Parameters
    ----------
    plots : PlotTable
        The plots of one study.
    treatments : sequence of str
        The factors compared, each with two levels or more; see `treatments_of`.
    choice : {'auto', 'randomised', 'blocks', 'latin', 'split'}
        ``"auto"`` looks, in this order, for rows and columns with each treatment
        once, for reservoirs that feed several plots, and for blocks with
        several treatments each; without these, plots count as drawn freely.

    Returns
    -------
    ReadDesign

    Raises
    ------
    RangeError
        If `choice` is not known, there is no treatment, or a split plot is
        chosen for a single treatment.

    Notes
    -----
    How plots were laid out cannot be seen from a file: a design that was not
    drawn by lot is none, whatever its table looks like. Choose where you know.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_records
    >>> from scenariokit.trials.design_guess import read_design
    >>> read_design(demo_records().plots, ("method", "variety")).name
    'blocks'
    """
    problems = []
    if choice not in get_args(DesignChoice):
        known = ", ".join(get_args(DesignChoice))
        problems.append(Problem("design", str(choice), tr("is not known"), known, kind="range"))
    if not treatments:
        reason = tr("no factor has two levels or more among the plots harvested")
        problems.append(Problem("treatments", "", reason, kind="range"))
    if problems:
        raise argument_error(problems, "summarise")
    if choice == "auto":
        return _guessed(plots, tuple(treatments))
    return ReadDesign(choice, _chosen(plots, tuple(treatments), choice), False)


def _chosen(plots: PlotTable, treatments: tuple[str, ...], name: DesignName) -> Design:
    """Return the design of that name for these treatments."""
    if name == "randomised":
        return completely_randomised(*treatments)
    if name == "blocks":
        return randomised_blocks(*treatments)
    if name == "latin":
        return latin_square(*treatments)
    if len(treatments) < 2:
        reason = tr("needs two treatments, one on whole tanks and one on their parts")
        problem = Problem("design", name, reason, " and ".join(TREATMENTS), kind="range")
        raise argument_error([problem], "summarise")
    wholes = _of_whole_tanks(plots, treatments)
    if not wholes or len(wholes) == len(treatments):
        # No reservoir is shared: a whole plot is what has one method within one block.
        return split_plot(treatments[0], treatments[1:], block="block")
    return _split(plots, treatments, wholes)


def _split(plots: PlotTable, treatments: tuple[str, ...], wholes: tuple[str, ...]) -> Design:
    """Return the split plot whose whole plots are reservoirs."""
    parts = tuple(name for name in treatments if name not in wholes)
    block = "block" if _blocks_hold(plots, wholes) and _one_block_each(plots) else None
    return split_plot(wholes, parts, block=block, whole_plot=RESERVOIR)


def _guessed(plots: PlotTable, treatments: tuple[str, ...]) -> ReadDesign:
    """Return the first design that the plots may be of."""
    return next(read for read in _candidates(plots, treatments) if _may_be(plots, read.design))


def _candidates(plots: PlotTable, treatments: tuple[str, ...]) -> Iterator[ReadDesign]:
    """Yield what the plots look like; plots drawn freely come last and always may be."""
    reason = tr("each treatment stands once in each row and once in each column")
    yield ReadDesign("latin", latin_square(*treatments), True, reason)
    wholes = _of_whole_tanks(plots, treatments)
    if _shared(plots) and not wholes:
        reason = tr("several treatments share a reservoir, which is taken as a block")
        yield ReadDesign("blocks", randomised_blocks(*treatments, block=RESERVOIR), True, reason)
    elif _shared(plots) and len(wholes) < len(treatments):
        reason = tr(
            "plots on one reservoir have one {factors} and differ in the rest",
            factors=factors_text(wholes),
        )
        yield ReadDesign("split", _split(plots, treatments, wholes), True, reason)
    if _blocks_hold(plots, treatments):
        reason = tr(
            "each of {count} blocks holds several treatments",
            count=len(plots.known().levels("block")),
        )
        yield ReadDesign("blocks", randomised_blocks(*treatments), True, reason)
    reason = tr("no blocks with several treatments each are recorded")
    yield ReadDesign("randomised", completely_randomised(*treatments), True, reason)


def _may_be(plots: PlotTable, design: Design) -> bool:
    """Return whether the plots can be of a design."""
    try:
        check_design(plots, design)
    except ScenarioKitError:
        return False
    return True


def _shared(plots: PlotTable) -> bool:
    """Return whether a reservoir feeds more than one plot."""
    return RESERVOIR in plots.factors and len(plots.levels(RESERVOIR)) < len(plots)


def _of_whole_tanks(plots: PlotTable, treatments: tuple[str, ...]) -> tuple[str, ...]:
    """Return the treatments that do not vary within a reservoir, where one feeds several plots."""
    if not _shared(plots):
        return ()
    count = len(plots.levels(RESERVOIR))
    return tuple(
        name for name in treatments if len(set(combined(plots, (RESERVOIR, name)))) == count
    )


def _one_block_each(plots: PlotTable) -> bool:
    """Return whether no reservoir reaches over two blocks."""
    return len(set(combined(plots, (RESERVOIR, "block")))) == len(plots.levels(RESERVOIR))


def _blocks_hold(plots: PlotTable, treatments: tuple[str, ...]) -> bool:
    """Return whether there are blocks, and each has more than one treatment."""
    known = plots.known()
    if "block" not in known.factors or len(known.levels("block")) < 2:
        return False
    inside = set(zip(known.column("block"), combined(known, treatments), strict=True))
    counts = [sum(block == one for block, _ in inside) for one in known.levels("block")]
    return min(counts) > 1
