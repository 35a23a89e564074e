"""Draws that depend on seed and number alone, however they are cut into pieces."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Iterator
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.uncertainty.inputs import Uncertainty

SET_OF_DRAWS = 2**16
"""Draws of one scrambled Sobol set; the next set is scrambled anew."""
MOST_DRAWS = 2**40
_HALF_CELL = 2.0**-31
"""Half the spacing of a 30-bit Sobol sequence, so that no draw lies at 0 or 1."""
_KEPT = 4096
"""The most draws that are kept for the next call with the same seed."""


def draw_scores(uncertainty: Uncertainty, start: int, stop: int, seed: int = 0) -> Any:
    """Return standard normal scores of all drivers for the draws from `start` up to `stop`.

    Parameters
    ----------
    uncertainty : Uncertainty
        What is drawn.
    start, stop : int
        Numbers of the first draw and of the one after the last.
    seed : int
        0 or more; 0 is a seed like any other.

    Returns
    -------
    ndarray
        One row a driver, one column a draw; not to be written to.

    Raises
    ------
    RangeError
        If the numbers are out of order or too large, or the seed is negative.

    Notes
    -----
    Draw k lies in set k // 65536, a Sobol set with its own random scramble made
    from the seed and the set's number. Within a set the draws fill the space
    evenly; from one set to the next they are independent, so that sets tell how
    good an estimate is. A piece of the draws is the same to the last bit
    whichever other pieces were drawn.

    References
    ----------
    Sobol, I. M. (1967), USSR Comput. Math. Math. Phys. 7(4):86-112; scrambling
    after Owen, A. B. (1998), J. Complexity 14:466-489 (both from memory; the
    generator is SciPy's).
    """
    problems = []
    if not 0 <= start < stop <= MOST_DRAWS:
        reason = "are not the numbers of draws"
        problems.append(Problem("start, stop", f"{start}, {stop}", reason,
                                f"0 to {MOST_DRAWS}, the first below the second", kind="range"))  # fmt: skip
    if not isinstance(seed, int | np.integer) or seed < 0:
        problems.append(Problem("seed", f"{seed}", "is no whole number from 0 on", "0 or more",
                                kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "draw_scores")
    drivers = len(uncertainty.drivers)
    if stop - start <= _KEPT:
        return _kept(drivers, start, stop, seed)
    return _scores(drivers, start, stop, seed)


@functools.lru_cache(maxsize=16)
def _kept(drivers: int, start: int, stop: int, seed: int) -> Any:
    return _scores(drivers, start, stop, seed)


def _scores(drivers: int, start: int, stop: int, seed: int) -> Any:
    if drivers == 0:
        return np.empty((0, stop - start))
    pieces = []
    while start < stop:
        number, offset = divmod(start, SET_OF_DRAWS)
        count = min(stop - start, SET_OF_DRAWS - offset)
        pieces.append(_of_one_set(drivers, number, offset, count, seed))
        start += count
    found = pieces[0] if len(pieces) == 1 else np.concatenate(pieces, axis=1)
    found.flags.writeable = False
    return found


def _of_one_set(drivers: int, number: int, offset: int, count: int, seed: int) -> Any:
    from scipy.special import ndtri

    engine = _engine(drivers, np.random.default_rng([seed, number]))
    if offset:
        engine.fast_forward(offset)
        points = engine.random(count)
    else:  # the first draws of a set are balanced in powers of two
        points = engine.random(1 << (count - 1).bit_length())[:count]
    return ndtri(np.ascontiguousarray(points.T) + _HALF_CELL)


def _engine(drivers: int, rng: np.random.Generator) -> Any:
    """Return a scrambled Sobol engine; SciPy renamed the argument of the generator."""
    from scipy.stats import qmc

    return qmc.Sobol(drivers, scramble=True, bits=30, **{_rng_name(): rng})


@functools.cache
def _rng_name() -> str:
    from scipy.stats import qmc

    return "rng" if "rng" in inspect.signature(qmc.Sobol).parameters else "seed"


def score_pieces(
    uncertainty: Uncertainty, start: int, stop: int, seed: int, block: int
) -> Iterator[tuple[int, Any]]:
    """Yield the number of the first draw and the scores of all inputs, a piece at a time.

    A piece has at most `block` draws, and none reaches over the end of a set,
    so that each set is made once.
    """
    while start < stop:
        end = min(stop, (start // SET_OF_DRAWS + 1) * SET_OF_DRAWS)
        scores = draw_scores(uncertainty, start, end, seed)
        for first in range(start, end, block):
            last = min(first + block, end)
            yield first, input_scores(uncertainty, scores[:, first - start : last - start])
        start = end


def input_scores(uncertainty: Uncertainty, scores: Any) -> Any:
    """Return the standard normal score of every input from those of the drivers.

    Elementwise, and never by a matrix product, whose last bits may depend on
    how many draws there are.
    """
    first = len(uncertainty.causes)
    found = np.empty((len(uncertainty.inputs), scores.shape[1]))
    for number, one in enumerate(uncertainty.inputs):
        own, cause = scores[first + number], uncertainty.cause_of(one)
        if cause is None or one.strength == 0:
            found[number] = own
        else:
            rest = np.sqrt(1 - one.strength**2)
            found[number] = one.strength * scores[cause] + rest * own
    return found


def input_values(uncertainty: Uncertainty, scores: Any) -> dict[int, Any]:
    """Return the draws of every input by its number, in its spread's own unit.

    Parameters
    ----------
    uncertainty : Uncertainty
        Whose inputs.
    scores : ndarray
        Normal scores, one row a driver, as `draw_scores` gives them.

    Notes
    -----
    Factors stay factors, and no spread is cut at the range of a scenario's
    leaf: that is done where the number is put into a scenario.
    """
    given = input_scores(uncertainty, scores)
    return {at: one.spread.at_scores(given[at]) for at, one in enumerate(uncertainty.inputs)}
