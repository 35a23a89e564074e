"""From plots and factors to the matrices of a linear model, without formulas or names in them."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scenariokit.trials.plots import PlotTable

FloatArray = npt.NDArray[np.float64]
Term = tuple[str, ...]


@dataclass(frozen=True, eq=False)
class FixedPart:
    """The fixed part of a model: its columns, and how they give the treatments' means.

    Parameters
    ----------
    columns : array of float
        One row for each plot, one column for each coefficient.
    cells : tuple of tuple of str
        The combinations of treatment levels, the last factor changing fastest.
    grown : array of bool
        Which of `cells` stood in at least one plot.
    means : array of float
        One row for each of `cells`: coefficients of the combination's mean,
        averaged evenly over the levels of what is adjusted for.
    sizes : tuple of int
        Number of levels of each treatment factor.
    """

    columns: FloatArray
    cells: tuple[Term, ...]
    grown: npt.NDArray[np.bool_]
    means: FloatArray
    sizes: tuple[int, ...]


def indicators(codes: npt.NDArray[np.intp], levels: int) -> FloatArray:
    """Return one column for each level, 1 where a plot has it and 0 elsewhere."""
    columns = np.zeros((codes.size, levels))
    columns[np.arange(codes.size), codes] = 1.0
    return columns


def deviations(levels: int) -> FloatArray:
    """Return columns that sum to zero over `levels`, so that a mean weighs all levels evenly.

    With them the coefficients of a factor are deviations from its even mean.
    """
    return np.vstack([np.eye(levels - 1), -np.ones((1, levels - 1))])


def fixed_part(
    plots: PlotTable, treatments: Sequence[str], adjust: Sequence[str] = (), *, interaction: bool
) -> FixedPart:
    """Return the fixed part of a model of `treatments`, adjusted for other factors.

    Parameters
    ----------
    plots : PlotTable
        Harvested plots.
    treatments : sequence of str
        Treatment factors, each of at least two levels.
    adjust : sequence of str
        Factors whose main effects are taken out.
    interaction : bool
        Give each combination of treatment levels a mean of its own; else the
        treatments' effects add up.
    """
    sizes = tuple(len(plots.levels(name)) for name in treatments)
    cells = tuple(itertools.product(*(plots.levels(name) for name in treatments)))
    number = np.ravel_multi_index([plots.codes(name) for name in treatments], sizes)
    grown = np.isin(np.arange(len(cells)), number)
    if interaction or len(treatments) == 1:
        kept = np.flatnonzero(grown)
        rows = np.zeros((len(cells), kept.size))
        rows[kept, np.arange(kept.size)] = 1.0
    else:
        grid = np.array(list(np.ndindex(*sizes)))
        parts = [deviations(size)[grid[:, i]] for i, size in enumerate(sizes)]
        rows = np.hstack([np.ones((len(cells), 1)), *parts])
    extra = [deviations(len(plots.levels(name)))[plots.codes(name)] for name in adjust]
    width = sum(part.shape[1] for part in extra)
    return FixedPart(
        columns=np.hstack([rows[number], *extra]),
        cells=cells,
        grown=grown,
        means=np.hstack([rows, np.zeros((len(cells), width))]),
        sizes=sizes,
    )


def averaging(part: FixedPart, kept: Sequence[bool]) -> FloatArray:
    """Return the matrix from the means of all combinations to even means over the factors not kept.

    Parameters
    ----------
    part : FixedPart
        Its `sizes` are read.
    kept : sequence of bool
        For each treatment factor, whether its levels stay apart.
    """
    matrix = np.ones((1, 1))
    for size, stays in zip(part.sizes, kept, strict=True):
        matrix = np.kron(matrix, np.eye(size) if stays else np.full((1, size), 1 / size))
    return matrix


def contrasts(part: FixedPart, varied: Sequence[bool]) -> FloatArray:
    """Return the contrasts of the main effect or interaction of the varied factors.

    They are orthonormal, so that what is made of them does not depend on the
    order of the levels.

    Parameters
    ----------
    part : FixedPart
        Its `sizes` are read.
    varied : sequence of bool
        For each treatment factor, whether the effect is of it.
    """
    matrix = np.ones((1, 1))
    for size, varies in zip(part.sizes, varied, strict=True):
        row = deviations(size).T if varies else np.full((1, size), 1 / size)
        matrix = np.kron(matrix, row)
    return np.linalg.qr(matrix.T)[0].T


def group_codes(plots: PlotTable, term: Term) -> tuple[npt.NDArray[np.intp], tuple[Term, ...]]:
    """Return the group of each plot in a random term, and the levels that make each group.

    Parameters
    ----------
    plots : PlotTable
        Harvested plots.
    term : tuple of str
        One factor, or several whose combinations are the groups.
    """
    rows = list(zip(*(plots.column(name) for name in term), strict=True))
    groups = tuple(dict.fromkeys(rows))
    number = {group: i for i, group in enumerate(groups)}
    return np.array([number[row] for row in rows], dtype=np.intp), groups
