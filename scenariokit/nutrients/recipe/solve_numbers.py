"""The arithmetic of recipes: least squares and least cost with limits, and what could be swapped."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.nutrients.recipe.solve_task import Task

_PENALTY, _LARGEST_PENALTY = 1e2, 1e6
_EXACT = 1e-13
_NOTHING = 1e-10
_TIED = 2e-5  # shares are known to so much: what differs by less is equal
_SEEN = 1e-3
_FREE_OF_CHARGE = 1e-9
_ROUNDS, _PATIENCE = 100, 5


class Solution(NamedTuple):
    """Scaled amounts, and the forces on the rows of the task.

    A fertiliser with column a over the aims and g over the limits would lower
    what is minimised if ``a . pull - g . push`` is above 0.
    """

    amounts: Any
    pull: Any
    push: Any


def closest(task: Task) -> Solution:
    r"""Return the amounts whose content is nearest to the targets.

    Least squares of relative misfits, :math:`\min |A x - w|^2` over x >= 0 with
    G x + s = h, s >= 0. The limits are met by multipliers: a non-negative least
    squares problem for each guess of them, improved until they hold exactly.
    """
    aims, count = task.matrix.shape
    ties = len(task.room)
    if not count:
        return Solution(np.zeros(0), task.wanted, np.zeros(ties))
    room = attainable_room(task)
    push, penalty = np.zeros(ties), _PENALTY
    for turn in range(1, _ROUNDS + 1):
        weighted = np.block(
            [[task.matrix, np.zeros((aims, ties))], [penalty * task.bounds, penalty * np.eye(ties)]]
        )
        right = np.concatenate([task.wanted, penalty * room - push / penalty])
        amounts = _nonnegative(weighted, right)
        found, slack = amounts[:count], amounts[count:]
        gap = task.bounds @ found + slack - room
        push = push + penalty**2 * gap
        if np.all(np.abs(gap) <= _EXACT * (1 + np.abs(room))):
            break
        if turn % _PATIENCE == 0:
            penalty = min(10 * penalty, _LARGEST_PENALTY)
    found = _without_dust(found)
    return Solution(found, task.wanted - task.matrix @ found, push)


def _nonnegative(matrix: Any, right: Any) -> Any:
    """Return x >= 0 with the least ``|matrix x - right|``."""
    from scipy.optimize import lsq_linear, nnls

    try:
        return nnls(matrix, right)[0]
    except RuntimeError:  # nnls of SciPy 1.14 circles on some problems; this way is slower
        return lsq_linear(matrix, right, (0, np.inf), method="bvls", tol=1e-15).x


def attainable_room(task: Task) -> Any:
    """Return the limits, those that no mix can keep moved to the nearest that can be."""
    if np.all(task.room >= 0):
        return task.room
    from scipy.optimize import linprog

    ties, count = task.bounds.shape
    found = linprog(
        np.concatenate([np.zeros(count), np.ones(ties)]),
        A_ub=np.hstack([task.bounds, -np.eye(ties)]),
        b_ub=task.room,
        method="highs",
    )
    return task.room + _without_dust(found.x[count:])


def cheapest(task: Task, prices: Any) -> Solution | None:
    """Return the cheapest amounts within the bands and limits, or None if there are none.

    Minimise c . x over low <= A x <= high, G x <= h, x >= 0; `prices` are c for
    each scaled column.
    """
    aims, count = task.matrix.shape
    if not count and np.all(task.low <= 0):
        return Solution(np.zeros(0), np.zeros(aims), np.zeros(len(task.room)))
    if not count:
        return None
    from scipy.optimize import linprog

    found = linprog(
        prices / prices.max(initial=_FREE_OF_CHARGE),
        A_ub=np.vstack([task.topped, -task.matrix, task.bounds]),
        b_ub=np.concatenate([task.high, -task.low, attainable_room(task)]),
        method="highs",
    )
    return _solution(task, found) if found.success else None


def least_misfit(task: Task) -> tuple[Solution, float]:
    """Return the amounts that come nearest to the bands, and the sum of their relative gaps."""
    from scipy.optimize import linprog

    aims, count = task.matrix.shape
    zero, one = np.zeros((aims, aims)), np.eye(aims)
    found = linprog(
        np.concatenate([np.zeros(count), np.ones(2 * aims)]),
        A_ub=np.block(
            [
                [task.topped, zero, -one],
                [-task.matrix, -one, zero],
                [task.bounds, np.zeros((len(task.room), 2 * aims))],
            ]
        ),
        b_ub=np.concatenate([task.high, -task.low, attainable_room(task)]),
        method="highs",
    )
    return _solution(task, found), float(found.fun)


def _solution(task: Task, found: Any) -> Solution:
    """Return the answer of a linear programme with rows high, low and limits."""
    aims, count = task.matrix.shape
    forces = found.ineqlin.marginals
    return Solution(
        _without_dust(found.x[:count]),
        forces[:aims] - forces[aims : 2 * aims],
        -forces[2 * aims :],
    )


def _without_dust(amounts: Any) -> Any:
    """Return amounts with what rounding left of nothing set to exactly nothing."""
    return np.where(amounts > _NOTHING, amounts, 0.0)


def tidiest(task: Task, found: Solution, swaps: Any) -> Solution:
    """Return of all mixes with this content the one with least sodium and chloride.

    Then with the fewest grams: a gram of salt in a litre counts like a milligram
    of either. Only columns in `swaps` change.
    """
    if not swaps.any():
        return found
    from scipy.optimize import linprog

    kept = np.where(swaps, 0.0, found.amounts)
    moved, equal, bounds = found.amounts[swaps], task.matrix[:, swaps], task.bounds[:, swaps]
    better = linprog(
        task.burden[swaps],
        A_ub=bounds,
        # The mix at hand keeps to the limits but for rounding, which must not bar it.
        b_ub=np.maximum(attainable_room(task) - task.bounds @ kept, bounds @ moved),
        A_eq=equal,
        b_eq=equal @ moved,
        method="highs",
    )
    if better.x is None:  # rounding: the mix that is known to do stays
        return found
    amounts = kept.copy()
    amounts[swaps] = _without_dust(better.x)
    return found._replace(amounts=amounts)


# -- is it the only answer? ------------------------------------------------------------------


def swaps_of_closest(task: Task, found: Solution) -> Any:
    """Return which columns could change with the content aimed at staying the same."""
    aims, count = task.matrix.shape
    ties = len(task.room)
    rows = np.block([[task.matrix, np.zeros((aims, ties))], [task.bounds, np.eye(ties)]])
    slack = attainable_room(task) - task.bounds @ found.amounts
    forces = task.matrix.T @ found.pull - task.bounds.T @ found.push
    return _swaps(
        rows,
        np.concatenate([found.amounts > 0, slack > _TIED]),
        np.concatenate([forces, -found.push]) > -_TIED,
    )[:count]


def swaps_of_cheapest(task: Task, found: Solution, prices: Any) -> Any:
    """Return which columns could change with the cost staying the same."""
    count = task.matrix.shape[1]
    cost = prices / prices.max(initial=_FREE_OF_CHARGE)
    inside = np.vstack([task.topped, -task.matrix, task.bounds])
    spare = np.concatenate([task.high, -task.low, attainable_room(task)]) - inside @ found.amounts
    rows = np.block([[inside, np.eye(len(inside))], [cost[None, :], np.zeros((1, len(inside)))]])
    dearer = cost - (task.matrix.T @ found.pull - task.bounds.T @ found.push)
    return _swaps(
        rows,
        np.concatenate([found.amounts > 0, spare > _TIED]),
        np.concatenate([dearer, -found.pull, found.pull, found.push]) < _TIED,
    )[:count]


def _swaps(rows: Any, used: Any, welcome: Any) -> Any:
    """Return which variables can move along ``rows . d = 0``, the unused ones upwards only.

    Salts that exchange ions mole for mole do so only nearly in rounded shares,
    so a direction counts if it changes the rows by less than that.

    Unused variables that are not `welcome` would make the answer worse and stay.
    """
    idle = ~used & welcome
    if not _null_space(rows[:, used | idle]).shape[1]:
        return np.zeros(len(used), dtype=bool)
    moving = used.copy()
    moving[idle] = _can_enter(rows[:, used], rows[:, idle])
    basis = _null_space(rows[:, moving])
    found = np.zeros(len(used), dtype=bool)
    found[moving] = np.abs(basis).max(axis=1, initial=0.0) > _SEEN
    return found


def _can_enter(used: Any, idle: Any) -> Any:
    """Return which idle variables can rise, the most of them at once."""
    from scipy.optimize import linprog

    ins, outs = used.shape[1], idle.shape[1]
    moves = np.hstack([used, idle, idle])
    found = linprog(
        np.concatenate([np.zeros(ins), -np.ones(outs), np.zeros(outs)]),
        A_ub=np.vstack([moves, -moves]),
        b_ub=np.full(2 * len(moves), _TIED),
        bounds=[(None, None)] * ins + [(0, 1)] * outs + [(0, None)] * outs,
        method="highs",
    )
    return found.x[ins : ins + outs] > 0.5


def _null_space(matrix: Any) -> Any:
    """Return an orthonormal basis of what `matrix` sends to zero."""
    _, sizes, right = np.linalg.svd(matrix)
    rank = int(np.sum(sizes > _TIED * sizes.max(initial=1.0)))
    return right[rank:].T
