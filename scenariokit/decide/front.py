"""Which options no other beats, in all that counts: the Pareto front."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.decide.rows import number_problems, plain_numbers, sign_for
from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Direction

_PAIRS = 20_000_000
"""Pairs of options and draws that are held at a time."""


@dataclass(frozen=True)
class Front:
    """Which options no other beats. Make it by `front_of`.

    Parameters
    ----------
    members : tuple of int
        Numbers of the options on the front; equal options all stand.
    beaten_by : tuple of tuple of int
        For each option the numbers of those that beat it.
    undefined : tuple of tuple of int
        For each option the numbers of the criteria in which it has no value;
        one with any can neither beat nor be beaten, and is not on the front.
    """

    members: tuple[int, ...]
    beaten_by: tuple[tuple[int, ...], ...]
    undefined: tuple[tuple[int, ...], ...]


def upward(values: Any, better: Sequence[Direction]) -> Any:
    """Return a table of criteria turned so that more is better in each column.

    Parameters
    ----------
    values : array
        One row an option, one column a criterion. NaN is a missing value.
    better : sequence of {'higher', 'lower'}
        Of each column.

    Raises
    ------
    RangeError
        If the shapes do not fit, a value is infinite, or a direction is another word.
    """
    table, _ = plain_numbers(values)
    problems = _shape_problems("values", table, 2, 1, better)
    if problems:
        raise argument_error(problems, "criteria")
    return table * _signs(better)


def _signs(better: Sequence[Direction]) -> Any:
    return np.array([sign_for(word) for word in better])


def _shape_problems(
    field: str, table: Any, axes: int, axis: int, better: Sequence[Direction]
) -> list[Problem]:
    """Return what is wrong with a table of criteria and their directions."""
    problems = []
    if table.ndim != axes or table.shape[axis] != len(better) or not better:
        shape = (
            ["options", str(len(better))] if axes == 2 else [str(len(better)), "options", "draws"]
        )
        problems.append(Problem(field, f"shape {table.shape}", "does not have one for each criterion",
                                f"({', '.join(shape)}), one criterion or more", kind="range"))  # fmt: skip
    wrong = [f"{word}" for word in better if word not in ("higher", "lower")]
    if wrong:
        problems.append(Problem("better", ", ".join(wrong), "is no direction", "higher, lower",
                                kind="range"))  # fmt: skip
    return problems + number_problems(field, table, missing=True)


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


def front_of(values: Any, better: Sequence[Direction]) -> Front:
    """Return the front, who beats whom, and what cannot be compared.

    Parameters and errors are those of `dominators`.

    Notes
    -----
    An option that is beaten may be left out without changing the front.

    Examples
    --------
    >>> found = front_of([[5, 1], [4, 2], [3, np.nan]], ["higher", "lower"])
    >>> found.members, found.beaten_by, found.undefined
    ((0,), ((), (0,), ()), ((), (), (1,)))
    """
    up = upward(values, better)
    beats = dominators(values, better)
    known = ~np.isnan(up)
    return Front(
        _numbers(known.all(axis=1) & ~beats.any(axis=1)),
        tuple(_numbers(row) for row in beats),
        tuple(_numbers(~row) for row in known),
    )


def _numbers(flags: Any) -> tuple[int, ...]:
    return tuple(int(number) for number in np.flatnonzero(flags))


def front_probability(draws: Any, better: Sequence[Direction]) -> Any:
    """Return in which share of the draws each option is on the front.

    Parameters
    ----------
    draws : array
        Criteria by options by draws. In a draw in which an option lacks a
        value it is not on the front.
    better : sequence of {'higher', 'lower'}
        Of each criterion.

    Raises
    ------
    RangeError
        If the shapes do not fit, a value is infinite, or a direction is another word.

    Examples
    --------
    >>> yields, costs = [[5, 4], [4, 5]], [[3, 3], [2, 3]]
    >>> front_probability([yields, costs], ["higher", "lower"]).tolist()
    [0.5, 1.0]
    """
    cube, _ = plain_numbers(draws)
    problems = _shape_problems("draws", cube, 3, 0, better)
    if not problems and cube.shape[2] == 0:
        problems = [Problem("draws", "", "hold no draw", "one or more", kind="range")]
    if problems:
        raise argument_error(problems, "front_probability")
    signs, found = _signs(better), np.zeros(cube.shape[1])
    block = max(_PAIRS // cube.shape[1] ** 2, 1)
    for start in range(0, cube.shape[2], block):
        found += on_front_draws(cube[:, :, start : start + block], signs).sum(axis=1)
    return found / cube.shape[2]


def on_front_draws(cube: Any, signs: Any) -> Any:
    """Return in which draws each option is on the front, options by draws.

    Parameters
    ----------
    cube : sequence of ndarray
        For each criterion options by draws.
    signs : sequence of float
        1 for a criterion of which more is better, -1 for one of which less is.
    """
    count = len(cube[0])
    # In a draw j beats i if j is no worse in all criteria and i is not: one comparison each.
    no_worse = np.ones((count, *cube[0].shape), dtype=bool)
    for rows, sign in zip(cube, signs, strict=True):
        mine, theirs = rows[np.newaxis], rows[:, np.newaxis]
        no_worse &= theirs >= mine if sign > 0 else theirs <= mine
    beaten = np.any(no_worse & ~no_worse.swapaxes(0, 1), axis=0)
    known = no_worse[np.arange(count), np.arange(count)]  # a number is no worse than itself; NaN is
    return known & ~beaten
