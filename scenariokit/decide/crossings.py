"""Where a function of one number changes sign: crossings, jumps, touches and gaps."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Literal, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.units import Floats

Function = Callable[[Floats], Floats]
"""Takes an array of places, returns the values there; NaN where there is none."""

BorderKind = Literal["crosses", "jumps", "touches", "edge"]

ABOVE, BELOW, EQUAL, UNDEFINED = 1, -1, 0, 2
"""What a function is on a piece of its range, compared with zero."""

SPACES = 200
"""Spaces between the places where a function is looked at first."""
ROUNDING = 1e-12
"""Share of the largest value below which a difference is taken for rounding."""
_POINT = 3
_POINT_WIDTH = 1e-9
"""Share of the range below which a stretch of zeros is one place."""
_CONTINUOUS = 1e-7
"""What a continuous function may keep of its rise at a root found in floats."""
_FINEST = 4 * float(np.finfo(float).eps)
_MOST_CHANGES = 12
_EIGHTHS = np.linspace(0.0, 1.0, 9)
_WITHIN = 17
_CLUSTER = np.array([-1e-2, -1e-4, -1e-6, -1e-9, 0.0, 1e-9, 1e-6, 1e-4, 1e-2])
"""Places about a guess by a straight line, as shares of what is left of the range."""
_ROUNDS = 60
_CLOSE_LOOKS = 4
"""How many near approaches to zero are looked at closely, the nearest first."""


@dataclass(frozen=True)
class Piece:
    """A part of the range on which a function keeps its sign.

    Parameters
    ----------
    low, high : float
        Its ends.
    sign : int
        `ABOVE`, `BELOW`, `EQUAL` to zero all along, or `UNDEFINED`.
    """

    low: float
    high: float
    sign: int


@dataclass(frozen=True)
class Border:
    """A place between two pieces.

    Parameters
    ----------
    at : float
        Where.
    kind : {'crosses', 'jumps', 'touches', 'edge'}
        Whether the function is zero there and changes sign; changes sign by a
        step, without being zero; is zero and keeps its sign; or begins or ends
        to exist, or to be zero all along.
    before, after : float
        Its values just below and just above; NaN where there is none.
    """

    at: float
    kind: BorderKind
    before: float
    after: float


@dataclass(frozen=True)
class Sections:
    """What a function does over a range. Make it by `sections`.

    Parameters
    ----------
    pieces : tuple of Piece
        From the low end to the high end.
    borders : tuple of Border
        Between each piece and the next.
    nearest : tuple of float, or None
        Where the function, as far as looked at, comes nearest to zero, and its
        value there; None where it is undefined throughout.
    """

    pieces: tuple[Piece, ...]
    borders: tuple[Border, ...]
    nearest: tuple[float, float] | None

    @property
    def meetings(self) -> tuple[Border, ...]:
        """The borders at which the function is zero, or steps over zero."""
        return tuple(one for one in self.borders if one.kind != "edge")


def sections(
    function: Function,
    low: float,
    high: float,
    *,
    size: float | None = None,
    through: Sequence[float] = (),
) -> Sections:
    """Return the pieces of a range on which a function is above, below or equal to zero.

    Parameters
    ----------
    function : callable
        Takes an array, returns one value a place, in one vectorised pass.
    low, high : float
        Ends of the range, `low` below `high`.
    size : float, optional
        How large the numbers are of which the function is the difference, to
        tell zero from rounding; the largest value found if left out.
    through : sequence of float
        Further places to look at first, for example today's value.

    Raises
    ------
    RangeError
        If the ends are not finite or out of order.

    Notes
    -----
    The function is looked at in 201 places at equal steps, and closely where
    it comes near zero without changing sign. Each change of sign is refined
    by Brent's method to the last digits of a float. A change that is then no
    zero, as of whole refills or days, is a jump. A function that changes sign
    twice within one step, far from where it comes near zero at the places
    looked at, can escape.

    References
    ----------
    Brent, R. P. (1973), Algorithms for Minimization without Derivatives,
    ch. 4 (from memory; the routine is SciPy's).

    Examples
    --------
    >>> found = sections(lambda x: x**2 - 2, 0.0, 3.0)
    >>> [round(one.at, 9) for one in found.borders], [one.sign for one in found.pieces]
    ([1.414213562], [-1, 1])
    """
    if not (np.isfinite(low) and np.isfinite(high) and low < high):
        problem = Problem("low, high", f"{low:g}, {high:g}", "are no ends of a range",
                          "finite, the first below the second", kind="range")  # fmt: skip
        raise argument_error([problem], "sections")
    inside = [place for place in through if low < place < high]
    places = np.union1d(np.linspace(low, high, SPACES + 1), inside)
    values = np.asarray(function(places), dtype=float)
    places, values = _looked_at_closely(function, places, values)
    largest = float(np.max(np.abs(values), initial=0.0, where=np.isfinite(values)))
    zero = ROUNDING * (largest if size is None else size)
    return _joined(function, places, values, zero)


def _looked_at_closely(function: Function, places: Floats, values: Floats) -> tuple[Floats, Floats]:
    """Return places and values with those added where the function comes near zero between."""
    gaps = np.where(np.isfinite(values), np.abs(values), np.inf)
    signs = np.sign(values)
    here = gaps[1:-1]
    lowest = (here <= gaps[:-2]) & (here <= gaps[2:]) & ((here < gaps[:-2]) | (here < gaps[2:]))
    kept = (signs[1:-1] == signs[:-2]) & (signs[1:-1] == signs[2:]) & (here > 0)
    chosen = 1 + np.flatnonzero(lowest & kept)
    chosen = chosen[np.argsort(gaps[chosen], kind="stable")[:_CLOSE_LOOKS]]
    if not chosen.size:
        return places, values
    left, right = places[chosen - 1], places[chosen + 1]
    turned = signs[chosen][:, np.newaxis]
    for _ in range(10):
        looked = np.linspace(left, right, _WITHIN, axis=1)
        found = np.asarray(function(looked.ravel()), dtype=float).reshape(looked.shape)
        ranked = np.where(np.isfinite(found), turned * found, np.inf)
        best = np.argmin(ranked, axis=1)
        row = np.arange(len(chosen))
        left = looked[row, np.maximum(best - 1, 0)]
        right = looked[row, np.minimum(best + 1, _WITHIN - 1)]
        if np.all(ranked[row, best] <= 0):
            break
    added, at = looked[row, best], found[row, best]
    new = ~np.isin(added, places)
    order = np.argsort(np.concatenate([places, added[new]]), kind="stable")
    return (
        np.concatenate([places, added[new]])[order],
        np.concatenate([values, at[new]])[order],
    )


def _joined(function: Function, places: Floats, values: Floats, zero: float) -> Sections:
    """Return pieces and borders from values at places in order."""
    ends = _ends(places, values, zero)
    marks = [EQUAL if ends[0].sign == _POINT else ends[0].sign]
    borders: list[Border] = []
    for number, (left, right) in enumerate(pairwise(ends)):
        if left.sign == _POINT:  # told of already, as the right end
            if number == 0:
                borders.append(Border(left.at, "touches", left.value, left.value))
                marks.append(right.sign)
        elif right.sign == _POINT:
            after = ends[number + 2].sign if number + 2 < len(ends) else EQUAL
            kind: BorderKind = "crosses" if after == -left.sign else "touches"
            borders.append(Border(right.at, kind, right.value, right.value))
            marks.append(after)
        elif left.sign != right.sign:
            for border, mark in _changes(function, left, right, zero):
                borders.append(border)
                marks.append(mark)
    cuts = [float(places[0]), *(one.at for one in borders), float(places[-1])]
    pieces = tuple(Piece(cuts[number], cuts[number + 1], mark) for number, mark in enumerate(marks))
    return Sections(pieces, tuple(borders), _nearest(places, values))


def _nearest(places: Floats, values: Floats) -> tuple[float, float] | None:
    known = np.isfinite(values)
    if not known.any():
        return None
    best = int(np.argmin(np.where(known, np.abs(values), np.inf)))
    return float(places[best]), float(values[best])


class _End(NamedTuple):
    """A place, the function's value there and its sign."""

    at: float
    value: float
    sign: int


def _ends(places: Floats, values: Floats, zero: float) -> list[_End]:
    """Return the places with their signs: `EQUAL` along a stretch, `_POINT` where zero alone."""
    signs = [UNDEFINED if np.isnan(value) else int(np.sign(value)) for value in values]
    kept = np.ones(len(places), dtype=bool)
    least = _POINT_WIDTH * (places[-1] - places[0])
    for first, last in _runs(np.abs(values) <= zero):
        if places[last] - places[first] > least:
            signs[first : last + 1] = [EQUAL] * (last + 1 - first)
            continue
        best = first + int(np.argmin(np.abs(values[first : last + 1])))
        kept[first : last + 1] = False  # places that lie this close are one place
        kept[best] = True
        sides = [signs[side] for side in (first - 1, last + 1) if 0 <= side < len(signs)]
        if UNDEFINED in sides:
            signs[best] = min(sides)
        elif len(set(sides)) == 1 or values[best] == 0:
            signs[best] = _POINT
    rows = zip(places[kept], values[kept], np.array(signs)[kept], strict=True)
    return [_End(float(at), float(value), int(sign)) for at, value, sign in rows]


def _runs(marked: Floats) -> Iterator[tuple[int, int]]:
    """Yield first and last number of each run of marked places."""
    steps = np.flatnonzero(np.diff(np.concatenate([[False], marked, [False]]).astype(int)))
    for first, after in zip(steps[::2], steps[1::2], strict=True):
        yield int(first), int(after) - 1


def _changes(
    function: Function, left: _End, right: _End, zero: float
) -> Iterator[tuple[Border, int]]:
    """Yield the borders between two places of different sign, and the sign after each."""
    if left.sign == -right.sign:
        root = _root(function, left, right, zero)
        if root is not None:
            yield Border(root, "crosses", 0.0, 0.0), right.sign
            return
    flat = zero if EQUAL in (left.sign, right.sign) else 0.0
    for _ in range(_MOST_CHANGES):
        last, first = _next_change(function, left, right, flat)
        kind: BorderKind = "jumps" if last.sign == -first.sign else "edge"
        place = last.at
        if last.sign == UNDEFINED and last.at != left.at:
            place = first.at
        elif first.sign == UNDEFINED and first.at == right.at:
            place = right.at  # undefined at that one place, as a cost is where nothing is harvested
        yield Border(place, kind, last.value, first.value), first.sign
        if first.sign == right.sign:
            return
        left = first
    raise InfeasibleError(
        tr(
            "the difference changes its sign more than {count} times between {low:g} and {high:g}",
            count=_MOST_CHANGES,
            low=left.at,
            high=right.at,
        )
    )


class _NoValueError(Exception):
    """The function has no value where a root was looked for."""


def _root(function: Function, left: _End, right: _End, zero: float) -> float | None:
    """Return where the function is zero between two places, or None if it only steps over zero."""
    from scipy.optimize import brentq

    def value_at(place: float) -> float:
        value = float(np.asarray(function(np.array([place])))[0])
        if np.isnan(value):
            raise _NoValueError
        return value

    finest = float(np.spacing(right.at - left.at))
    try:
        root = float(brentq(value_at, left.at, right.at, xtol=finest, rtol=_FINEST, maxiter=500))
        left_over = abs(value_at(root))
    except _NoValueError:
        return None
    return (
        root
        if left_over <= zero + _CONTINUOUS * min(-left.sign * right.value, left.sign * left.value)
        else None
    )


def _next_change(function: Function, left: _End, right: _End, flat: float) -> tuple[_End, _End]:
    """Return the neighbouring places between which the function first takes another sign."""
    low, high = left, right.at
    nothing = EQUAL if flat else left.sign if left.sign != UNDEFINED else right.sign
    finest = np.spacing(high - left.at)
    while True:
        places = np.linspace(low.at, high, _WITHIN)
        values = np.asarray(function(places), dtype=float)
        signs = np.where(np.isnan(values), UNDEFINED, np.sign(values)).astype(int)
        signs = np.where(np.abs(values) <= flat, nothing, signs)
        if high == right.at:
            signs[-1] = right.sign
        changed = int(np.argmax(signs != left.sign))
        low = _End(float(places[changed - 1]), float(values[changed - 1]), left.sign)
        first = _End(float(places[changed]), float(values[changed]), int(signs[changed]))
        high = first.at
        if high <= np.nextafter(low.at, np.inf) or high - low.at <= finest:
            return low, first


def narrowed(
    function: Function, low: Floats, high: Floats, low_value: Floats, high_value: Floats
) -> tuple[Floats, Floats, Floats, Floats]:
    """Return neighbouring floats between which each of several functions crosses zero.

    Parameters
    ----------
    function : callable
        Takes an array of k rows of places, returns the values of the k
        functions there; so that all are worked out in one vectorised pass.
    low, high : ndarray
        The k ends; at one each function is above zero, at the other not.
    low_value, high_value : ndarray
        The values there. NaN counts as not above zero.

    Returns
    -------
    low, high, low_value, high_value : ndarray
        The same, narrowed.

    Notes
    -----
    Each round looks at eighths of what is left and closely about where a
    straight line would cross zero: about four rounds for a smooth function,
    seventeen for a jump.
    """
    low, high = np.array(low, dtype=float), np.array(high, dtype=float)
    low_value, high_value = np.array(low_value, dtype=float), np.array(high_value, dtype=float)
    row = np.arange(len(low))
    up = low_value > 0
    finest = np.spacing(high - low)
    for _ in range(_ROUNDS):
        if np.all((high <= np.nextafter(low, np.inf)) | (high - low <= finest)):
            break
        with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
            guess = low_value / (low_value - high_value)
        guess = np.where((guess >= 0) & (guess <= 1), guess, 0.5)
        near = np.minimum(np.maximum(guess[:, np.newaxis] + _CLUSTER, 0.0), 1.0)
        shares = np.sort(np.concatenate([np.broadcast_to(_EIGHTHS, (len(low), 9)), near], axis=1))
        places = low[:, np.newaxis] + shares * (high - low)[:, np.newaxis]
        places[:, -1] = high
        values = np.array(function(places), dtype=float)
        values[:, 0], values[:, -1] = low_value, high_value
        changed = np.argmax((values > 0) != up[:, np.newaxis], axis=1)
        low, low_value = places[row, changed - 1], values[row, changed - 1]
        high, high_value = places[row, changed], values[row, changed]
    return low, high, low_value, high_value
