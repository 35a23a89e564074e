"""Designs: which factors are treatments, which are blocks, and what the error is made of."""

from __future__ import annotations

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.trials.plots import PlotTable, factor_text

Term: TypeAlias = tuple[str, ...]
"""The factors of one line of the analysis: one for a main effect, more for an interaction."""


@dataclass(frozen=True)
class Design:
    """How the treatments were laid on the plots.

    Make one with `completely_randomised`, `randomised_blocks`, `latin_square`
    or `split_plot`.

    Parameters
    ----------
    name : str
        The design in words.
    treatments : tuple of str
        The factors compared. Several make a factorial.
    blocks : tuple of str
        The factors that group like plots.
    main : tuple of str
        The treatments laid on whole plots, in a split plot.
    whole_plot : tuple of str
        The factors that together name the whole plot, in a split plot.
    interactions : int
        Most factors in one interaction; 0 for all.
    """

    name: str
    treatments: tuple[str, ...]
    blocks: tuple[str, ...] = ()
    main: tuple[str, ...] = ()
    whole_plot: tuple[str, ...] = ()
    interactions: int = 0

    @property
    def factors(self) -> tuple[str, ...]:
        """Every factor that the design reads, each once."""
        return tuple(dict.fromkeys((*self.blocks, *self.treatments, *self.whole_plot)))

    @property
    def treatment_terms(self) -> tuple[Term, ...]:
        """Main effects and interactions of the treatments, simple ones first."""
        most = self.interactions or len(self.treatments)
        sizes = range(1, min(most, len(self.treatments)) + 1)
        return tuple(
            term for size in sizes for term in itertools.combinations(self.treatments, size)
        )

    def is_main(self, term: Term) -> bool:
        """Return whether `term` differs only between whole plots."""
        return bool(self.main) and set(term) <= set(self.main)


def completely_randomised(*treatments: str, interactions: int = 0) -> Design:
    """Return the design in which any plot could have had any treatment.

    Parameters
    ----------
    *treatments : str
        Names of the factors compared; two or more make a factorial.
    interactions : int
        Most factors in one interaction: 1 for none, 0 for all.

    Returns
    -------
    Design

    Raises
    ------
    RangeError
        If no treatment is named, one is named twice, or `interactions` is negative.

    Examples
    --------
    >>> completely_randomised("method", "variety").treatment_terms
    (('method',), ('variety',), ('method', 'variety'))
    """
    return _made(Design(mark("completely randomised"), treatments, interactions=interactions))


def randomised_blocks(*treatments: str, block: str = "block", interactions: int = 0) -> Design:
    """Return the design in which the treatments were drawn anew within each block.

    Parameters
    ----------
    *treatments : str
        Names of the factors compared; two or more make a factorial.
    block : str
        The factor that groups like plots.
    interactions : int
        Most factors in one interaction: 1 for none, 0 for all.

    Returns
    -------
    Design

    Raises
    ------
    RangeError
        If no treatment is named, a factor is named twice, or `interactions` is negative.

    Examples
    --------
    >>> randomised_blocks("method").blocks
    ('block',)
    """
    return _made(Design(mark("randomised blocks"), treatments, (block,), interactions=interactions))


def latin_square(
    *treatments: str, row: str = "row", column: str = "column", interactions: int = 0
) -> Design:
    """Return the design with each treatment once in each row and once in each column.

    Parameters
    ----------
    *treatments : str
        Names of the factors compared; several are read as combinations.
    row, column : str
        The two factors that group plots.
    interactions : int
        Most factors in one interaction: 1 for none, 0 for all.

    Returns
    -------
    Design

    Raises
    ------
    RangeError
        If no treatment is named, a factor is named twice, or `interactions` is negative.

    Examples
    --------
    >>> latin_square("method").blocks
    ('row', 'column')
    """
    return _made(Design(mark("Latin square"), treatments, (row, column), interactions=interactions))


def split_plot(
    main: str | Sequence[str],
    sub: str | Sequence[str],
    *,
    block: str | None = "block",
    whole_plot: str | None = None,
    interactions: int = 0,
) -> Design:
    """Return the design whose whole plots have one treatment and are split for another.

    Parameters
    ----------
    main : str or sequence of str
        Factors laid on whole plots, for example the method of a tank.
    sub : str or sequence of str
        Factors laid on the parts of each, for example the varieties in it.
    block : str, optional
        The factor that groups like whole plots; None if there is none.
    whole_plot : str, optional
        The factor that names the whole plot, for example ``"tank"``. Left out, a
        whole plot is what has one level of `main` within one block.
    interactions : int
        Most factors in one interaction: 1 for none, 0 for all.

    Returns
    -------
    Design

    Raises
    ------
    RangeError
        If there is neither `block` nor `whole_plot`, a factor is named twice, or
        `interactions` is negative.

    Examples
    --------
    >>> split_plot("method", "variety").whole_plot
    ('block', 'method')
    """
    mains = (main,) if isinstance(main, str) else tuple(main)
    subs = (sub,) if isinstance(sub, str) else tuple(sub)
    blocks = () if block is None else (block,)
    if not mains or not subs:
        reason = tr("a split plot needs a factor of whole plots and one of their parts")
        raise _refusal(Problem("main, sub", "", reason, kind="range"))
    if whole_plot is None and not blocks:
        reason = tr("is missing: without blocks nothing tells one whole plot from another")
        raise _refusal(Problem("whole_plot", "", reason, example='whole_plot="tank"', kind="range"))
    wholes = (*blocks, *mains) if whole_plot is None else (whole_plot,)
    return _made(Design(mark("split plot"), (*mains, *subs), blocks, mains, wholes, interactions))


def check_design(plots: PlotTable, design: Design) -> None:
    """Refuse plots that cannot be of that design; say all that is wrong.

    Raises
    ------
    RangeError
        If a factor is not recorded, has fewer than two levels, or the plots break the
        rule of a Latin square or of whole plots.
    """
    missing = [name for name in design.factors if name not in plots.factors]
    problems = [
        Problem(name, "", tr("is not recorded"), ", ".join(plots.factors), kind="range")
        for name in missing
    ]
    if not problems:
        problems = _level_problems(plots, design)
    if not problems and design.name == "Latin square":
        problems = _square_problems(plots, design)
    if not problems and design.main:
        problems = _whole_plot_problems(plots, design)
    if problems:
        raise argument_error(problems, "analyse")


def combined(plots: PlotTable, factors: Term) -> list[Term]:
    """Return for each plot its levels of `factors`, together."""
    return list(zip(*(plots.column(factor) for factor in factors), strict=True))


def _made(design: Design) -> Design:
    """Return `design` if its factors are named once each."""
    problems = []
    if not design.treatments:
        problems.append(Problem("treatments", "", tr("no factor is named"), kind="range"))
    named = Counter((*design.blocks, *design.treatments))
    problems += [
        Problem("factor", name, tr("is named twice"), tr("one part for each factor"), kind="range")
        for name, times in named.items()
        if times > 1
    ]
    if design.interactions < 0:
        text = str(design.interactions)
        problems.append(
            Problem("interactions", text, tr("is negative"), tr("0 or more"), kind="range")
        )
    if problems:
        raise argument_error(problems, tr(design.name))
    return design


def _refusal(problem: Problem) -> Exception:
    return argument_error([problem], "split_plot")


def _level_problems(plots: PlotTable, design: Design) -> list[Problem]:
    known = plots.known()
    if not len(known):
        return [Problem("yields", "", tr("no plot was harvested"), kind="range")]
    return [
        Problem(
            name,
            ", ".join(known.levels(name)),
            tr("has one level only among the plots harvested"),
            tr("two or more"),
            kind="range",
        )
        for name in (*design.blocks, *design.treatments)
        if len(known.levels(name)) < 2
    ]


def _square_problems(plots: PlotTable, design: Design) -> list[Problem]:
    """Return where the plots are no Latin square, harvested or not."""
    row, column = design.blocks
    treatments = combined(plots, design.treatments)
    size = len(set(treatments))
    sides = len(plots.levels(row)), len(plots.levels(column))
    if sides != (size, size):
        reason = tr(
            "there are {rows} rows and {columns} columns for {size} treatments",
            rows=sides[0],
            columns=sides[1],
            size=size,
        )
        return [Problem(tr("Latin square"), "", reason, tr("as many of each"), kind="range")]
    found = []
    for side, other in ((row, "row"), (column, "column")):
        times = Counter(zip(plots.column(side), treatments, strict=True))
        found += [
            Problem(
                side,
                level,
                tr(
                    "has treatment {treatment} {count} times",
                    treatment=":".join(treatment),
                    count=count,
                ),
                tr("each treatment once in each {factor}", factor=factor_text(other)),
                kind="range",
            )
            for (level, treatment), count in times.items()
            if count > 1
        ]
    return found


def _whole_plot_problems(plots: PlotTable, design: Design) -> list[Problem]:
    """Return whole plots that have two levels of what should be one."""
    held: dict[Term, set[Term]] = {}
    inside = combined(plots, (*design.blocks, *design.main))
    for whole, levels in zip(combined(plots, design.whole_plot), inside, strict=True):
        held.setdefault(whole, set()).add(levels)
    return [
        Problem(
            ":".join(design.whole_plot),
            ":".join(whole),
            tr("lies in more than one block or has more than one main treatment"),
            tr("one of each"),
            kind="range",
        )
        for whole, levels in held.items()
        if len(levels) > 1
    ]
