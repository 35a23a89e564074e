"""Columns of numbers for factors, built directly, and the spaces that they span."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from scenariokit.language import mark
from scenariokit.trials.analysis.designs import Design, Term, combined
from scenariokit.trials.plots import FloatArray, PlotTable

RANK_TOLERANCE = 1e-9
"""Share of a column's squared length below which what is left of it counts as rounding."""
CONSTANT = "constant"
WHOLE = mark("whole plots")
Part: TypeAlias = Term | str
"""A term, or one of the names above; no factor can be called so, since a term is a tuple."""


class Gain(NamedTuple):
    """What a part of the columns adds to others.

    Parameters
    ----------
    df : int
        Dimensions added.
    sum_of_squares : float
        How much of the yields' squares they take up.
    trace : float
        Squared length of the columns as far as they are new.
    """

    df: int
    sum_of_squares: float
    trace: float


@dataclass(frozen=True, eq=False)
class Model:
    """The columns of a design for the plots harvested.

    Parameters
    ----------
    plots : PlotTable
        The plots harvested.
    design : Design
        The design.
    columns : dict of Term to array
        Columns of each term, blocks first.
    codes : dict of str to array
        The code of each level of each factor, one row for a level.
    whole : array or None
        A column for each whole plot, in a split plot.

    Attributes
    ----------
    matrix, squares : array
        All columns side by side, and their products with each other.
    places : dict of Part to slice
        Where each part stands in `matrix`.
    """

    plots: PlotTable
    design: Design
    columns: dict[Term, FloatArray]
    codes: dict[str, FloatArray]
    whole: FloatArray | None
    matrix: FloatArray = field(init=False)
    places: dict[Part, slice] = field(init=False)
    squares: FloatArray = field(init=False)

    def __post_init__(self) -> None:
        """Set all columns side by side, and their products: whole numbers, so exact."""
        parts: dict[Part, FloatArray] = {CONSTANT: np.ones((len(self.plots), 1))}
        for term, columns in self.columns.items():
            parts[term] = columns
        if self.whole is not None:
            parts[WHOLE] = self.whole
        ends = np.cumsum([0, *(part.shape[1] for part in parts.values())]).tolist()
        matrix = np.hstack(list(parts.values()))
        object.__setattr__(self, "matrix", matrix)
        object.__setattr__(
            self,
            "places",
            dict(zip(parts, itertools.starmap(slice, itertools.pairwise(ends)), strict=True)),
        )
        object.__setattr__(self, "squares", matrix.T @ matrix)

    @property
    def fixed(self) -> slice:
        """The place of all columns but those of whole plots."""
        return slice(0, self.places[WHOLE].start if self.whole is not None else None)

    def residuals(self, yields: FloatArray, parts: Sequence[Part]) -> tuple[FloatArray, int]:
        """Return what `parts` leave of `yields` by least squares, and their rank."""
        place = self._places(parts)
        inverse, rank = pseudo_inverse(self.squares[np.ix_(place, place)])
        return self._left(yields, place, inverse), rank

    def gain(self, yields: FloatArray, part: Part, given: Sequence[Part]) -> Gain:
        """Return what `part` adds to the parts `given`.

        SS = b' M⁻ b with b = X' r and M = X'X - X'G (G'G)⁻ G'X; X are the columns of `part`,
        G those given and r what G leaves of the yields.

        Notes
        -----
        In a balanced design X'G is zero, and exactly so, since it is a sum of whole
        numbers; then M = X'X.
        """
        own, place = self._places([part]), self._places(given)
        cross = self.squares[np.ix_(place, own)]
        left, inner = yields, self.squares[np.ix_(own, own)]
        scale = float(np.diag(inner).max(initial=0.0))
        if cross.any():
            inverse, _ = pseudo_inverse(self.squares[np.ix_(place, place)])
            left = self._left(yields, place, inverse)
            inner = inner - cross.T @ inverse @ cross
        solved, df = pseudo_inverse((inner + inner.T) / 2, scale)
        found = self.matrix[:, own].T @ left
        return Gain(df, float(found @ solved @ found), float(np.trace(inner)))

    def _left(self, yields: FloatArray, place: Any, inverse: FloatArray) -> FloatArray:
        columns, left = self.matrix[:, place], yields
        # The second pass takes away what rounding left in the first.
        for _ in range(2):
            left = left - columns @ (inverse @ (columns.T @ left))
        return left

    def _places(self, parts: Sequence[Part]) -> Any:
        return np.hstack([np.arange(self.places[p].start, self.places[p].stop) for p in parts])

    def cells(self, term: Term) -> list[Term]:
        """Return every combination of the levels of `term`, in the order of the table."""
        return list(itertools.product(*(self.plots.levels(factor) for factor in term)))

    def cell_rows(self, term: Term) -> FloatArray:
        """Return the row of `matrix` that stands for each cell's mean.

        Levels of factors outside the term count alike: their codes add to zero.
        """
        sizes = [len(self.codes[factor]) for factor in term]
        chosen = [index.reshape(-1) for index in np.indices(sizes)]
        rows = {
            factor: self.codes[factor][numbers]
            for factor, numbers in zip(term, chosen, strict=True)
        }
        count = len(chosen[0])
        parts = [np.ones((count, 1))]
        for other, columns in self.columns.items():
            inside = set(other) <= set(term)
            width = columns.shape[1]
            parts.append(_products(rows, other) if inside else np.zeros((count, width)))
        return np.hstack(parts)


def model(plots: PlotTable, design: Design) -> Model:
    """Return the columns of `design` for `plots`, every one of them harvested.

    A factor of k levels has k - 1 columns: 1 for the column's own level, -1 for
    the last level, 0 else. An interaction's columns are the products of its
    factors' columns. No name of a factor or level is ever read as a formula.
    """
    used = (*design.blocks, *design.treatments)
    codes = {factor: _codes(len(plots.levels(factor))) for factor in used}
    rows = {factor: codes[factor][plots.codes(factor)] for factor in used}
    terms: list[Term] = [*((block,) for block in design.blocks), *design.treatment_terms]
    whole = None
    if design.main:
        names = combined(plots, design.whole_plot)
        number = {name: i for i, name in enumerate(dict.fromkeys(names))}
        whole = np.eye(len(number))[[number[name] for name in names]]
    columns = {term: _products(rows, term) for term in terms}
    return Model(plots, design, columns, codes, whole)


def pseudo_inverse(matrix: FloatArray, scale: float | None = None) -> tuple[FloatArray, int]:
    """Return the pseudo-inverse and the rank of the symmetric, not negative `matrix`.

    Parameters
    ----------
    matrix : array
        The matrix.
    scale : float, optional
        The size beside which an eigenvalue counts as rounding; its largest if left out.
    """
    if not matrix.size:
        return matrix, 0
    values, vectors = np.linalg.eigh(matrix)
    keep = values > RANK_TOLERANCE * (values.max() if scale is None else scale)
    found: FloatArray = (vectors[:, keep] / values[keep]) @ vectors[:, keep].T
    return found, int(keep.sum())


def _codes(levels: int) -> FloatArray:
    return np.vstack([np.eye(levels - 1), -np.ones((1, levels - 1))])


def _products(rows: dict[str, FloatArray], term: Term) -> FloatArray:
    """Return all products of one column of each factor of `term`."""
    found: Any = rows[term[0]]
    for factor in term[1:]:
        found = (found[:, :, None] * rows[factor][:, None, :]).reshape(len(found), -1)
    product: FloatArray = found
    return product
