"""Analysis of variance of designed trials."""

from __future__ import annotations

from dataclasses import dataclass, field

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.quantities import with_unit
from scenariokit.trials.analysis.design_matrix import CONSTANT, WHOLE, Gain, Model, Part, model
from scenariokit.trials.analysis.designs import Design, Term, check_design
from scenariokit.trials.analysis.missing import missing_notes
from scenariokit.trials.plots import FloatArray, PlotTable, factor_text, factors_text

RESIDUAL = "residual"
FEW = 6
"""Degrees of freedom below which error is called poorly known; common practice, no published
source."""


@dataclass(frozen=True)
class AnovaRow:
    """One line of the table.

    Parameters
    ----------
    source : str
        The term: ``"method"``, ``"method:variety"``, ``"whole plots"``,
        ``"residual"`` or ``"total"``.
    df : int
        Degrees of freedom.
    sum_of_squares, mean_square : float
        In (kg/m²)²; the total has no mean square (None).
    f, p : float or None
        F against the line named by `error` and the chance of a larger one if
        the treatments were alike; None for an error line, and where the error is
        nothing but rounding.
    error : str
        The error line that the term is held against; empty for an error line.
    """

    source: str
    df: int
    sum_of_squares: float
    mean_square: float | None
    f: float | None = None
    p: float | None = None
    error: str = ""


@dataclass(frozen=True)
class Stratum:
    """One kind of error.

    Parameters
    ----------
    name : str
        ``"residual"`` or ``"whole plots"``.
    df : int
        Degrees of freedom.
    mean_square : float
        In (kg/m²)².
    variation : quantity or None
        Coefficient of variation in percent; None if the mean yield is zero.
    """

    name: str
    df: int
    mean_square: float
    variation: units.Quantity | None


@dataclass(frozen=True, eq=False)
class Analysis:
    """What a designed trial shows.

    Parameters
    ----------
    design : Design
        The design.
    rows : tuple of AnovaRow
        The table: blocks, treatments, errors, total.
    strata : tuple of Stratum
        The errors, that of single plots last.
    plots, missing : int, tuple of str
        Plots harvested, and the names of those that were not.
    mean : quantity
        Mean yield of the plots, kg/m².
    notes : tuple of str
        What a reader must know beside the numbers.
    model : Model
        The columns fitted; `treatment_means` and the comparisons read it.
    fitted, residuals : array of float
        Of the plots harvested, kg/m².
    split : float
        How often the whole plots' own variance stands in their mean square.
    """

    design: Design
    rows: tuple[AnovaRow, ...]
    strata: tuple[Stratum, ...]
    plots: int
    missing: tuple[str, ...]
    mean: units.Quantity
    notes: tuple[str, ...]
    model: Model = field(repr=False)
    fitted: FloatArray = field(repr=False)
    residuals: FloatArray = field(repr=False)
    split: float = field(default=1.0, repr=False)

    @property
    def residual(self) -> Stratum:
        """The error of single plots."""
        return self.strata[-1]

    def row(self, source: str) -> AnovaRow:
        """Return the line called `source`.

        Raises
        ------
        RangeError
            If there is none.
        """
        for row in self.rows:
            if row.source == source:
                return row
        raise _unknown(source, [row.source for row in self.rows], "row")

    def term(self, source: str) -> Term:
        """Return the factors of the treatment term called `source`.

        Raises
        ------
        RangeError
            If there is none.
        """
        named = {":".join(term): term for term in self.design.treatment_terms}
        if source not in named:
            raise _unknown(source, list(named), "term")
        return named[source]


def analyse(plots: PlotTable, design: Design) -> Analysis:
    """Return the analysis of variance of a designed trial.

    For each term the sum of squares is what it takes from the squares that the terms
    before it leave::

        SS = b' M⁻ b     MS = SS / df     F = MS / MS(error)
        b = X' r         M = X'X - X'G (G'G)⁻ G'X      df = rank of M

    X are the term's columns, G those of the terms before it and r what G leaves of the
    yields by least squares. Blocks come first, each given the other. A
    treatment term is taken given the blocks and every treatment term that does not
    contain it (sums of type II). In a split plot, terms of whole plots are held
    against the differences between whole plots treated alike; all else against the
    residual.

    Parameters
    ----------
    plots : PlotTable
        The plots. One without a weight is left out of the fit, which is the least
        squares way to treat a missing plot, and named in `missing`.
    design : Design
        From `completely_randomised`, `randomised_blocks`, `latin_square` or
        `split_plot`.

    Returns
    -------
    Analysis

    Raises
    ------
    RangeError
        If a factor is not recorded or has one level only, or the plots are not of
        that design.
    InfeasibleError
        If nothing is left to judge the error from.

    Notes
    -----
    Assumes independent plots, errors of one size and near a normal curve: see
    `residual_checks`. Blocks are not a treatment: their F tells whether blocking
    was worth while. In balanced designs the order of terms is of no account.
    With missing plots in a split plot the test of the main treatment is close, not exact.

    References
    ----------
    Cochran and Cox 1957, Experimental Designs, chapters 4 and 7 (designs, missing
    plots); Yates 1934, J. American Statistical Association 29:51 (unequal numbers);
    from memory.

    Examples
    --------
    >>> from scenariokit.trials.analysis.designs import randomised_blocks
    >>> plots = PlotTable(
    ...     [4.1, 4.4, 5.0, 5.6, 6.2, 6.0],
    ...     {"method": ("A", "A", "B", "B", "C", "C"), "block": ("1", "2") * 3},
    ... )
    >>> row = analyse(plots, randomised_blocks("method")).row("method")
    >>> row.df, round(row.f, 2), round(row.p, 3)
    (2, 21.08, 0.045)
    """
    check_design(plots, design)
    known = plots.known()
    built = model(known, design)
    mean = float(known.yields.mean())
    centred = known.yields - mean
    residuals, rank = built.residuals(centred, list(built.places))
    df = len(known) - rank
    whole = _whole_plots(built, centred)
    _check_error(built, df, None if whole is None else whole.df)
    strata, errors = _strata(built, residuals, df, whole)
    rows, aliased = _term_rows(built, centred, strata)
    total = AnovaRow(mark("total"), len(known) - 1, float(centred @ centred), None)
    return Analysis(
        design=design,
        rows=(*rows, *errors, total),
        strata=strata,
        plots=len(known),
        missing=tuple(
            name for name, x in zip(plots.plot_ids, plots.yields, strict=True) if np.isnan(x)
        ),
        mean=with_unit(mean, "kg/m^2"),
        notes=(*plots.notes, *missing_notes(plots, design), *aliased, *_error_notes(strata)),
        model=built,
        fitted=known.yields - residuals,
        residuals=residuals,
        split=1.0 if whole is None else whole.trace / whole.df,
    )


def sequence(built: Model, term: Term) -> list[Part]:
    """Return the parts that come before `term`."""
    blocks: list[Part] = [(block,) for block in built.design.blocks]
    if term in blocks:
        return [CONSTANT, *(block for block in blocks if block != term)]
    others = [name for name in built.design.treatment_terms if not set(term) <= set(name)]
    whole = built.whole is not None and not built.design.is_main(term)
    return [CONSTANT, *blocks, *others, *([WHOLE] if whole else [])]


def _whole_plots(built: Model, centred: FloatArray) -> Gain | None:
    """Return what whole plots add to everything else, or None without whole plots."""
    if built.whole is None:
        return None
    return built.gain(centred, WHOLE, [CONSTANT, *built.columns])


def _strata(
    built: Model, residuals: FloatArray, df: int, whole: Gain | None
) -> tuple[tuple[Stratum, ...], list[AnovaRow]]:
    """Return the errors, and their lines of the table."""
    sums = [(RESIDUAL, df, float(residuals @ residuals))]
    if whole is not None:
        sums.insert(0, (WHOLE, whole.df, whole.sum_of_squares))
    mean = float(built.plots.yields.mean())
    # Squares of rounding, not of plots: then there is no error to hold anything against.
    floor = 1e-26 * float(built.plots.yields @ built.plots.yields)
    strata, rows = [], []
    for name, degrees, total in sums:
        square = 0.0 if total <= floor else total / degrees
        share = with_unit(100 * np.sqrt(square) / mean, "percent") if mean > 0 else None
        strata.append(Stratum(name, degrees, square, share))
        rows.append(AnovaRow(name, degrees, total, square))
    return tuple(strata), rows


def _term_rows(
    built: Model, centred: FloatArray, strata: tuple[Stratum, ...]
) -> tuple[list[AnovaRow], list[str]]:
    """Return the lines of blocks and treatments, and what cannot be told apart."""
    from scipy.special import fdtrc

    rows, notes = [], []
    for term, columns in built.columns.items():
        source = ":".join(term)
        gain = built.gain(centred, term, sequence(built, term))
        df, total = gain.df, gain.sum_of_squares
        if df == 0:
            notes.append(
                tr(
                    "{source} cannot be told from the other terms in these plots.",
                    source=factor_text(source),
                )
            )
            continue
        if df < columns.shape[1]:
            notes.append(
                tr(
                    "{source} has {df} of its {whole} degrees of freedom: the rest cannot be told from "
                    "the other terms in these plots.",
                    source=factor_text(source),
                    df=df,
                    whole=columns.shape[1],
                )
            )
        is_block = term[0] in built.design.blocks
        error = strata[0] if is_block or built.design.is_main(term) else strata[-1]
        if error.mean_square == 0:
            rows.append(AnovaRow(source, df, total, total / df, error=error.name))
            continue
        f = total / df / error.mean_square
        p = float(fdtrc(df, error.df, f))
        rows.append(AnovaRow(source, df, total, total / df, f, p, error.name))
    return rows, notes


def _error_notes(strata: tuple[Stratum, ...]) -> list[str]:
    notes = []
    for stratum in strata:
        if stratum.mean_square == 0:
            notes.append(
                tr(
                    "The yields leave no error ({name}): nothing can be tested.",
                    name=factor_text(stratum.name),
                )
            )
        elif stratum.df < FEW:
            notes.append(
                tr(
                    "The error ({name}) rests on {df} degrees of freedom only: a real difference may "
                    "easily stay unseen.",
                    name=factor_text(stratum.name),
                    df=stratum.df,
                )
            )
    return notes


def _check_error(built: Model, df: int, whole_df: int | None) -> None:
    """Refuse a trial without error, and say what is possible instead."""
    if df > 0 and (whole_df is None or whole_df > 0):
        return
    count = len(built.plots)
    design = built.design
    if df == 0:
        what = factors_text(design.treatments)
        plots = tr(
            "the {count} plots are all used up by the means of {what}", count=count, what=what
        )
        ways = [tr("at least one more plot of some treatments")]
        if len(design.treatment_terms) > len(design.treatments):
            ways.append(tr("an analysis without the interaction (interactions=1)"))
    else:
        main = factor_text(":".join(design.main))
        plots = tr("no level of {main} has a second whole plot", main=main)
        ways = [tr("at least one more whole plot for some levels of {main}", main=main)]
    raise InfeasibleError(
        tr(
            "analyse: {plots}, so that nothing shows by how much plots treated alike differ. "
            "Possible: {ways}; or a comparison without a test, against the variation that is "
            "usual in such trials",
            plots=plots,
            ways="; ".join(ways),
        )
    )


def _unknown(source: str, known: list[str], what: str) -> Exception:
    problem = Problem(what, source, tr("is not in the analysis"), ", ".join(known), kind="range")
    return argument_error([problem], "analysis")
