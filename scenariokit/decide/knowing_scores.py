"""What it is worth to know some of the scores that drive the options before one is chosen."""

from __future__ import annotations

import itertools
import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.decide.rows import number_problems, option_rows
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.parameters import Direction
from scenariokit.units import Floats

DEGREE = 4
"""Degree of the polynomials in a score that stand for what knowing it would tell."""
FOLDS = 4
"""Pieces of the draws; a rule found on the others is tried on each."""
_ROWS_A_TERM = 5
"""Draws that each term of a fit needs at least; common practice, no published source."""


@dataclass(frozen=True)
class Learned:
    """What some scores are worth knowing. Make it by `value_of_scores`.

    Parameters
    ----------
    value : float or quantity
        Mean of the next two, or 0 where that is below zero: no knowledge is
        worth less than nothing, though an estimate may be.
    low, high : float or quantity
        Estimates that are on average too low and too high, by nearly as much;
        in one set of draws chance may turn them round.
    error : float or quantity
        Standard error of `low`, as if draws were independent.
    """

    value: Any
    low: Any
    high: Any
    error: Any


def value_of_scores(values: Any, scores: Any, better: Direction = "higher") -> Learned:
    """Return what it would be worth to know one or several scores before choosing (EVPPI).

    E[max_i E[v_i | z]] - max_i E[v_i].

    Parameters
    ----------
    values : array or quantity
        v, options by draws, of one unit.
    scores : array
        z of the same draws, standard normal: one row a score, or one score alone.
    better : {'higher', 'lower'}
        Which direction is better.

    Returns
    -------
    Learned
        In the unit of `values`.

    Raises
    ------
    RangeError
        If `values` is no table, `scores` does not fit it, a number is not
        finite or the direction is another word.
    InfeasibleError
        If there are too few draws for so many scores.

    Notes
    -----
    What is known of each option's lead over the best one, given z, is fitted
    by least squares: polynomials of degree 4 in each score, and the products
    of any two. Chosen and judged by the same draws, the fit takes some chance
    for knowledge: `high` is too high. Chosen on three quarters of the draws
    and judged on the last, it is at best as good as the true rule: `low` is
    too low. Both err, to first order, by half the variance of the fit times
    how often options are nearly equal, so their mean errs by much less. The
    best of sampled means stands for the best option, which lowers all of them
    alike, by no more than `information` says of the value of knowing all.

    Assumes that the means are smooth in z. What no such polynomial follows
    (three scores at once, a leap) is missed, and the value is then found too
    low. All that a draw adds to all options alike falls out.

    References
    ----------
    Strong, M., Oakley, J., Brennan, A. (2014), Medical Decision Making
    34:311-326 (value of single inputs by regression; from memory, not checked
    against a copy). The mean of both estimates is our own.

    Examples
    --------
    >>> scores = np.random.default_rng(0).standard_normal((2, 4000))
    >>> found = value_of_scores([2 * scores[0] + scores[1], 0 * scores[0]], scores[0])
    >>> abs(found.value - 2 / math.sqrt(2 * math.pi)) < 3 * found.error
    True
    """
    table = option_rows(values, better, "value_of_scores")
    z = np.atleast_2d(np.asarray(scores, dtype=float))
    problems = number_problems("scores", z)
    if z.ndim != 2 or z.shape[1] != table.up.shape[1] or not len(z):
        problems.append(Problem("scores", f"shape {z.shape}", "is not that of the draws",
                                f"(scores, {table.up.shape[1]})", kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "value_of_scores")
    low, high, error = learned_floats(leads(table.up), z)
    value = max((low + high) / 2, 0.0)
    return Learned(*(table.given_back(one) for one in (value, low, high, error)))


def leads(up: Floats) -> Floats:
    """Return by how much each option exceeds, draw by draw, the one that is best on the whole."""
    return up - up[np.argmax(up.mean(axis=1))]


def learned_floats(ahead: Floats, scores: Floats) -> tuple[float, float, float]:
    """Return the low and the high estimate of what scores are worth, and a standard error.

    Parameters
    ----------
    ahead : ndarray
        Options by draws, as `leads` gives them.
    scores : ndarray
        Scores by draws.

    Raises
    ------
    InfeasibleError
        If there are too few draws for so many scores.
    """
    basis = score_basis(scores)
    terms, draws = basis.shape
    if draws < _ROWS_A_TERM * terms:
        raise InfeasibleError(
            tr(
                "{draws} draws are too few to tell what {scores} scores are worth; {least} or more "
                "are needed",
                draws=draws,
                scores=len(scores),
                least=_ROWS_A_TERM * terms,
            )
        )
    edges = np.linspace(0, draws, FOLDS + 1).astype(int)
    pieces = [slice(start, stop) for start, stop in itertools.pairwise(edges.tolist())]
    grams = np.array([basis[:, piece] @ basis[:, piece].T for piece in pieces])
    crosses = np.array([basis[:, piece] @ ahead[:, piece].T for piece in pieces])
    whole_gram, whole_cross = grams.sum(axis=0), crosses.sum(axis=0)
    high = float((_solved(whole_gram, whole_cross).T @ basis).max(axis=0).mean())
    chosen = np.empty(draws, dtype=int)
    for piece, gram, cross in zip(pieces, grams, crosses, strict=True):
        rule = _solved(whole_gram - gram, whole_cross - cross)
        chosen[piece] = (rule.T @ basis[:, piece]).argmax(axis=0)
    gained = ahead[chosen, np.arange(draws)]
    return float(gained.mean()), high, float(gained.std(ddof=1)) / math.sqrt(draws)


def _solved(gram: Floats, cross: Floats) -> Floats:
    # Least squares, because a score that hardly varies leaves the equations without a solution.
    return np.linalg.lstsq(gram, cross, rcond=None)[0]


def score_basis(scores: Floats) -> Floats:
    """Return one, Hermite polynomials of each score, and products of pairs: a row each.

    On normal scores these have mean square 1 and are nearly orthogonal, so that
    the normal equations keep their digits.
    """
    count, draws = scores.shape
    found = np.empty((1 + DEGREE * count + count * (count - 1) // 2, draws))
    found[0] = 1.0
    powers = found[1 : 1 + DEGREE * count].reshape(DEGREE, count, draws)
    square = scores * scores
    powers[0] = scores
    powers[1] = (square - 1) / math.sqrt(2)
    powers[2] = (square - 3) * scores / math.sqrt(6)
    powers[3] = ((square - 6) * square + 3) / math.sqrt(24)
    row = 1 + DEGREE * count
    for one, other in itertools.combinations(range(count), 2):
        np.multiply(scores[one], scores[other], out=found[row])
        row += 1
    return found
