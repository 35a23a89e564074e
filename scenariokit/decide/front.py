"""Which options no other beats, in all that counts: the Pareto front."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Direction


def upward(values: Any, better: Sequence[Direction]) -> Any:
    """Return a table of criteria turned so that more is better in each column.

    Parameters
    ----------
    values : array
        One row an option, one column a criterion.
    better : sequence of {'higher', 'lower'}
        Of each column.

    Raises
    ------
    RangeError
        If the shapes do not fit, or a direction is another word.
    """
    table = np.asarray(values, dtype=float)
    problems = []
    if table.ndim != 2 or table.shape[1] != len(better):
        reason = "does not have one column for each criterion"
        problems.append(Problem("values", f"shape {table.shape}", reason,
                                f"(options, {len(better)})", kind="range"))  # fmt: skip
    wrong = [word for word in better if word not in ("higher", "lower")]
    if wrong:
        problems.append(Problem("better", ", ".join(wrong), "is no direction", "higher, lower",
                                kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "criteria")
    return table * np.array([1.0 if word == "higher" else -1.0 for word in better])


def dominators(values: Any, better: Sequence[Direction]) -> Any:
    """Return which option beats which: as good in every criterion, and better in one.

    Parameters
    ----------
    values : array
        One row an option, one column a criterion, in any units.
    better : sequence of {'higher', 'lower'}
        Of each column.

    Returns
    -------
    ndarray of bool
        ``[i, j]`` says whether option j beats option i. Where a criterion of
        either is NaN neither beats the other.

    Raises
    ------
    RangeError
        If the shapes do not fit, or a direction is another word.

    Examples
    --------
    >>> dominators([[5, 1], [4, 2], [5, 1]], ["higher", "lower"]).tolist()
    [[False, False, False], [True, False, True], [False, False, False]]
    """
    up = upward(values, better)
    mine, theirs = up[:, np.newaxis, :], up[np.newaxis, :, :]
    return np.all(theirs >= mine, axis=-1) & np.any(theirs > mine, axis=-1)


def on_front(values: Any, better: Sequence[Direction]) -> Any:
    """Return for each option whether no other beats it; equal options stay together.

    Parameters and errors are those of `dominators`. An option without a value
    in some criterion cannot be compared and is not on the front.

    Examples
    --------
    >>> points = [(1, 9), (2, 7), (3, 8), (4, 4), (5, 5), (6, 2), (7, 3), (4, 4)]
    >>> on_front(points, ["lower", "lower"]).nonzero()[0].tolist()
    [0, 1, 3, 5, 7]
    """
    up = upward(values, better)
    known = ~np.isnan(up).any(axis=1)
    return known & ~dominators(values, better).any(axis=1)


def front_probability(draws: Any, better: Sequence[Direction]) -> Any:
    """Return in which share of the draws each option is on the front.

    Parameters
    ----------
    draws : array
        Criteria by options by draws.
    better : sequence of {'higher', 'lower'}
        Of each criterion.
    """
    cube = np.asarray(draws, dtype=float)
    sign = np.array([1.0 if word == "higher" else -1.0 for word in better])
    up = cube * sign[:, np.newaxis, np.newaxis]
    known = ~np.isnan(up).any(axis=0)
    beaten = np.zeros(cube.shape[1:], dtype=bool)
    for other in range(cube.shape[1]):
        theirs = up[:, other : other + 1]
        beaten |= np.all(theirs >= up, axis=0) & np.any(theirs > up, axis=0)
    return (known & ~beaten).mean(axis=1)
