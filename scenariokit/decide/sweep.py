"""All weightings of several criteria: who wins for which, and who wins for none."""

from __future__ import annotations

import functools
import itertools
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.decide.rows import number_problems
from scenariokit.errors import Problem, argument_error

LATTICE = {1: 1, 2: 1000, 3: 60, 4: 24, 5: 14, 6: 10}
"""Parts into which the whole weight is cut, by number of criteria."""
FEWEST_PARTS = 8
MOST_CRITERIA = 9
TIE = 1e-12
"""Totals nearer than this are equal: the last digit of a sum decides nothing."""


@dataclass(frozen=True)
class Sweep:
    """Who wins for which weightings. Make it by `weight_sweep`.

    Parameters
    ----------
    worth : ndarray
        Options by criteria.
    win_share : ndarray
        For which share of all weightings each option has the highest total;
        ties are shared equally.
    winning : ndarray
        Options by criteria by two: least and greatest weight of each criterion
        among the weightings for which the option wins; NaN if it wins for none.
    centre : ndarray
        Options by criteria: mean of the weightings for which the option wins;
        NaN if it wins for none.
    never : ndarray of bool
        Which options are ahead for no weighting at all; at most they draw
        level at a corner. Exact, not from the lattice.
    """

    worth: Any
    win_share: Any
    winning: Any
    centre: Any
    never: Any

    def best_leads(self) -> Any:
        """Return how far ahead of all others each option can get by any weighting; exact.

        Below zero it trails by so much even by the weighting that suits it
        best. Infinite for an option alone.
        """
        return np.array([_best_lead(self.worth, option)[0] for option in range(len(self.worth))])

    def suiting(self, option: int) -> Any:
        """Return the weighting by which an option is furthest ahead, or trails by the least."""
        return _best_lead(self.worth, option)[1]


def weight_sweep(worth: Any) -> Sweep:
    """Return who wins for which weightings of the criteria.

    Parameters
    ----------
    worth : array
        Options by criteria, in worth between fixed anchors (see `weigh`); more
        is better.

    Returns
    -------
    Sweep

    Raises
    ------
    RangeError
        If it is no table, holds what is no finite number, or has more criteria
        than can be swept.

    Notes
    -----
    Shares are of an even lattice over all weights that add to 1, each standing
    for a cell of the same size; they are good to about one part in as many as
    the lattice has for each criterion, so a small share is a rough number. That
    an option wins for no weighting is exact: the weighting that suits it best,
    max over w of min over the others j of Σ wᵢ (uᵢ - uᵢⱼ), is the value of a
    game of two persons and is found by the simplex method. A weighted sum only
    ever picks corners of what can be had, so an option that no other beats may
    still win for none.

    An option that is beaten by another in every criterion never wins, and
    changes no other option's share.

    References
    ----------
    Dantzig, G. B. (1951), in: Koopmans, T. C. (ed.), Activity Analysis of
    Production and Allocation, chapter 20 (games as linear programs; from
    memory, not checked against a copy).

    Examples
    --------
    >>> found = weight_sweep([[0.0, 1.0], [0.4, 0.4], [1.0, 0.0]])
    >>> found.win_share.round(3).tolist(), found.never.tolist()
    ([0.5, 0.0, 0.5], [False, True, False])
    >>> found.best_leads().round(6).tolist()
    [0.6, -0.1, 0.6]
    """
    table = np.asarray(worth, dtype=float)
    problems = []
    if table.ndim != 2 or 0 in table.shape:
        problems.append(Problem("worth", f"shape {table.shape}", "is no table of options by criteria",
                                "(options, criteria)", kind="range"))  # fmt: skip
    elif table.shape[1] > MOST_CRITERIA:
        problems.append(Problem("worth", f"{table.shape[1]} criteria", "are too many to sweep",
                                f"1 to {MOST_CRITERIA}", kind="range"))  # fmt: skip
    problems += number_problems("worth", table)
    if problems:
        raise argument_error(problems, "weight_sweep")
    lattice = all_weights(table.shape[1])
    totals = plain_totals(table[:, np.newaxis, :], lattice)
    top = totals >= totals.max(axis=0) - TIE
    share = (top / top.sum(axis=0)).mean(axis=1)
    winning = np.full((*table.shape, 2), np.nan)
    centre, never = np.full(table.shape, np.nan), np.zeros(len(table), dtype=bool)
    for option in range(len(table)):
        mine = lattice[top[option]]
        if len(mine):
            winning[option, :, 0], winning[option, :, 1] = mine.min(axis=0), mine.max(axis=0)
            centre[option] = mine.mean(axis=0)
        else:  # it may still win for a sliver of weightings between those of the lattice
            never[option] = _never_ahead(table, option)
    return Sweep(table, share, winning, centre, never)


def _never_ahead(worth: Any, option: int) -> bool:
    """Return whether an option is ahead of all others for no weighting at all."""
    others = np.delete(worth, option, axis=0)
    if np.any(np.all(others >= worth[option], axis=1)):
        return True
    slack = 1e-9 * max(float(np.abs(worth).max()), 1.0)
    return _best_lead(worth, option)[0] <= slack


def plain_totals(worth: Any, weights: Any) -> Any:
    """Return weighted sums over the last axis, added up one criterion after the other.

    A matrix product may round differently with another number of options
    beside it; then the last digit of one would depend on the others.
    """
    total = worth[..., 0] * weights[..., 0]
    for number in range(1, worth.shape[-1]):
        total = total + worth[..., number] * weights[..., number]
    return total


@functools.lru_cache(maxsize=16)
def all_weights(criteria: int) -> Any:
    """Return an even lattice of weights that add to 1, one row a weighting.

    Each weighting stands at the middle of its cell, so that no weight is 0.
    The array is shared and cannot be written to.

    Examples
    --------
    >>> all_weights(2).shape, all_weights(2)[0].round(4).tolist()
    ((1001, 2), [0.0005, 0.9995])
    """
    parts = LATTICE.get(criteria, FEWEST_PARTS)
    bars = np.array(list(itertools.combinations(range(parts + criteria - 1), criteria - 1)), int)
    bars = bars.reshape(len(bars), criteria - 1)
    edges = np.concatenate(
        [np.full((len(bars), 1), -1), bars, np.full((len(bars), 1), parts + criteria - 1)], axis=1
    )
    counts = np.diff(edges, axis=1) - 1
    # Column by column in memory, since totals are added up one criterion after the other.
    found = np.asfortranarray((counts + 1 / criteria) / (parts + 1))
    found.flags.writeable = False
    return found


def _best_lead(worth: Any, option: int) -> tuple[float, Any]:
    """Return how far ahead an option can get by any weighting, and that weighting."""
    criteria = worth.shape[1]
    leads = (worth[option] - np.delete(worth, option, axis=0)).T
    if leads.shape[1] == 0:
        return np.inf, np.full(criteria, 1 / criteria)
    return _game(leads)


def _game(leads: Any) -> tuple[float, Any]:
    """Return the value of a game to the player of the rows, and that player's best mixture.

    The columns' player solves max Σ y with A y ≤ 1 and y ≥ 0, A being `leads`
    lifted above zero; the rows' mixture is its dual, found in the last row.
    """
    lift = 1.0 - float(leads.min())
    rows, columns = leads.shape
    table = np.zeros((rows + 1, columns + rows + 1))
    table[:rows, :columns] = leads + lift
    table[:rows, columns:-1] = np.eye(rows)
    table[:rows, -1] = 1.0
    table[rows, :columns] = -1.0
    basis = list(range(columns, columns + rows))
    while (entering := np.flatnonzero(table[rows, :-1] < -1e-12)).size:
        column = entering[0]  # the first that helps: this order never goes in a circle
        up = np.flatnonzero(table[:rows, column] > 1e-12)
        ratios = table[up, -1] / table[up, column]
        ties = up[ratios <= ratios.min() + 1e-15]
        row = min(ties, key=lambda one: basis[one])
        table[row] /= table[row, column]
        others = np.arange(rows + 1) != row
        table[others] -= np.outer(table[others, column], table[row])
        basis[row] = int(column)
    mixture = np.maximum(table[rows, columns:-1], 0.0)
    return float(1 / table[rows, -1] - lift), mixture / mixture.sum()
