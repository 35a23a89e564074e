"""The expected best of several normal numbers: what choosing after their draw gains."""

from __future__ import annotations

import math

import numpy as np

from scenariokit.decide.information import loss_of
from scenariokit.uncertainty import Uncertain, Uncertainty, draw_scores, fixed
from scenariokit.units import Floats

_TRIALS = 4096
"""Draws, each with its mirror image."""


def gain_of_best(means: Floats, covariance: Floats, seed: int) -> tuple[float, float]:
    """Return how far the expected best of normal numbers is above their best mean.

    E[max_i X_i] - max_i m_i

    Parameters
    ----------
    means : ndarray
        m, plain numbers.
    covariance : ndarray
        Of X; rows of zeros for those that are known.
    seed : int
        0 or more; it does not enter where one or two numbers decide.

    Returns
    -------
    gain, changes : float
        The gain, 0 or more, and the chance that the best is another than that
        of the best mean.

    Notes
    -----
    Exact, by the unit normal loss, if at most one number is unknown or there
    are two. Else the mean over 4,096 evenly spread draws and their mirror
    images, which keep the means where they are: on it the gain cannot come out
    below zero.

    Examples
    --------
    >>> gain, changes = gain_of_best(np.array([5.0, 3.0]), np.diag([16.0, 0.0]), 0)
    >>> round(gain, 6), round(changes, 6)
    (0.791186, 0.308538)
    """
    moved = np.flatnonzero(np.diag(covariance) > 0)
    still = float(np.delete(means, moved).max(initial=-np.inf))
    within = covariance[np.ix_(moved, moved)]
    if len(moved) + np.isfinite(still) < 2:
        return 0.0, 0.0
    if len(moved) == 1:
        return _gain_of_gap(float(means[moved[0]]) - still, float(within[0, 0]))
    if len(moved) == 2 and not np.isfinite(still):
        first, second = means[moved]
        return _gain_of_gap(float(first - second), float(np.array([1, -1]) @ within @ [1, -1]))
    return _gain_drawn(means[moved], still, within, seed)


def _gain_of_gap(gap: float, variance: float) -> tuple[float, float]:
    """Return the gain and the chance of a change where one normal gap decides."""
    from scipy.special import ndtr

    deviation = math.sqrt(max(variance, 0.0))
    if deviation == 0:
        return 0.0, 0.0
    return float(loss_of(np.array(gap), deviation)), float(ndtr(-abs(gap) / deviation))


def _gain_drawn(means: Floats, still: float, covariance: Floats, seed: int) -> tuple[float, float]:
    """Return the same for several methods, over trials that are imagined."""
    sizes, directions = np.linalg.eigh(covariance)
    root = directions * np.sqrt(np.maximum(sizes, 0.0)) @ directions.T
    shift = root @ _scores(len(means), seed)
    now = max(float(means.max()), still)
    gains, others = [], []
    for turn in (shift, -shift):  # a trial and its mirror image: the means stay what they are now
        after = means[:, np.newaxis] + turn
        best = after.max(axis=0)
        gains.append(np.maximum(best, still).mean() - now)
        stays = best < still if now == still else (after[means.argmax()] >= best) & (best > still)
        others.append(1 - stays.mean())
    return float(np.mean(gains)), float(np.mean(others))


def _scores(count: int, seed: int) -> Floats:
    """Return standard normal scores, one row a method, that fill the space evenly."""
    own = tuple(Uncertain(f"yield {number}", fixed(0.0)) for number in range(count))
    return draw_scores(Uncertainty(own), 0, _TRIALS, seed)
