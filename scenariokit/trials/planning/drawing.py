"""Drawing by lot from a seed: orders and Latin squares."""

from __future__ import annotations

from typing import Any

import numpy as np
import numpy.typing as npt

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr

Numbers = npt.NDArray[np.intp]


class Lot:
    """A source of chance that gives the same draws for the same seed, on every machine.

    Parameters
    ----------
    seed : int
        0 or more; 0 is a seed like any other.

    Raises
    ------
    RangeError
        If `seed` is not a whole number of 0 or more.

    Notes
    -----
    Draws come from the raw 64-bit numbers of the PCG64 generator, whose stream
    NumPy promises to keep; that of its shuffle may change between releases, and
    a field book must be printable again.
    """

    def __init__(self, seed: int) -> None:
        if isinstance(seed, bool) or not isinstance(seed, int | np.integer) or seed < 0:
            reason = tr("is not a seed: without one the layout could not be drawn again")
            problem = Problem("seed", repr(seed), reason, "0, 1, 2 ...", "2026", kind="range")
            raise argument_error([problem], "layout")
        self._bits = np.random.PCG64(int(seed))

    def order(self, count: int) -> list[int]:
        """Return 0 to `count` - 1 in an order drawn by lot, each order equally likely."""
        keys = self._bits.random_raw(count)
        found: list[int] = np.argsort(keys, kind="stable").tolist()
        return found

    def below(self, count: int) -> int:
        """Return one of 0 to `count` - 1, each equally likely."""
        return int(self._bits.random_raw()) % count


def latin_square(size: int, lot: Lot) -> Numbers:
    """Return a Latin square drawn by lot: each number once in every row and column.

    Parameters
    ----------
    size : int
        n, rows, columns and numbers; 1 or more.
    lot : Lot
        The source of chance.

    Returns
    -------
    array of int
        Shape (n, n), numbers 0 to n - 1.

    Notes
    -----
    A square from a random walk past n² of all squares, then rows, columns and
    numbers in a drawn order. The walk reaches every square, in the long run all
    equally often.

    References
    ----------
    Jacobson and Matthews 1996, "Generating uniformly distributed random Latin
    squares", Journal of Combinatorial Designs 4:405; from memory.
    Fisher and Yates 1938, Statistical Tables, introduction to table XV (the drawn
    orders); from memory.

    Examples
    --------
    >>> from scenariokit.trials.planning.drawing import Lot, latin_square
    >>> square = latin_square(4, Lot(0))
    >>> sorted(square[0].tolist()) == sorted(square[:, 0].tolist()) == [0, 1, 2, 3]
    True
    """
    square = _wandered(size, lot) if size > 3 else _cyclic(size)
    names = np.array(lot.order(size), dtype=np.intp)
    return names[square[lot.order(size)][:, lot.order(size)]]


def _cyclic(size: int) -> Numbers:
    """Return the square whose rows are each shifted by one."""
    return np.add.outer(np.arange(size), np.arange(size)) % size


def _wandered(size: int, lot: Lot) -> Numbers:
    """Return the square that a random walk from the cyclic one comes to.

    The walk goes over cubes of 0 and 1, where a 1 at (row, column, number) says
    that the number stands there, and passes through cubes with a single -1.
    """
    cube = np.zeros((size, size, size), dtype=np.int8)
    rows, columns = np.indices((size, size))
    cube[rows, columns, _cyclic(size)] = 1
    hole: tuple[int, int, int] | None = None
    visits = 0
    while visits < size**2:
        hole = _step(cube, hole, lot)
        # Only squares count: to stop at the first one after a fixed number of steps would
        # favour those that are entered most often.
        visits += hole is None
    square: Numbers = cube.argmax(axis=2)
    return square


def _step(
    cube: npt.NDArray[np.int8], hole: tuple[int, int, int] | None, lot: Lot
) -> tuple[int, int, int] | None:
    """Change the cube by one step and return where its -1 now stands, if anywhere."""
    x, y, z = hole or _empty_place(cube, lot)
    u = _drawn(np.flatnonzero(cube[:, y, z] == 1), lot)
    v = _drawn(np.flatnonzero(cube[x, :, z] == 1), lot)
    w = _drawn(np.flatnonzero(cube[x, y, :] == 1), lot)
    for place in ((x, y, z), (x, v, w), (u, y, w), (u, v, z)):
        cube[place] += 1
    for place in ((u, y, z), (x, v, z), (x, y, w), (u, v, w)):
        cube[place] -= 1
    return (u, v, w) if cube[u, v, w] < 0 else None


def _empty_place(cube: npt.NDArray[np.int8], lot: Lot) -> tuple[int, int, int]:
    """Return a place of the cube without a 1, drawn by lot."""
    size = len(cube)
    while True:
        x, y, z = lot.below(size), lot.below(size), lot.below(size)
        if not cube[x, y, z]:
            return x, y, z


def _drawn(places: npt.NDArray[Any], lot: Lot) -> int:
    """Return one of `places`, drawn by lot; no draw where there is only one."""
    return int(places[lot.below(len(places)) if len(places) > 1 else 0])
