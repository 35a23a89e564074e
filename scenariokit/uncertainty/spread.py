"""What is thought of one uncertain number: a distribution in a unit of its own."""

from __future__ import annotations

import functools
import itertools
import math
from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any, Literal, NamedTuple

import numpy as np

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats
from scenariokit.uncertainty import shapes
from scenariokit.uncertainty.spread_words import spread_words
from scenariokit.units import Floats, Quantity, QuantityLike

Kind = Literal["fixed", "uniform", "triangular", "pert", "normal", "lognormal", "student"]

_TAIL = tuple(10.0**-power for power in range(9, 0, -1))
_PIECES = (0.0, *_TAIL, 0.5, *(1 - share for share in reversed(_TAIL)), 1.0)
"""Shares at which an integral over a cut distribution is broken, so that no part is missed."""


class _Kept(NamedTuple):
    """Shares of the whole distribution below and above the part that is kept, and that part."""

    below: float
    above: float
    share: float


@dataclass(frozen=True)
class Spread:
    """A distribution of one number. Make it by `uniform`, `pert` and their kin.

    Parameters
    ----------
    kind : str
        Which distribution.
    numbers : tuple of float
        What fixes it, in `unit`: the value; the ends, with the likeliest value
        between them; mean and standard deviation; for ``lognormal`` both of the
        natural logarithm; for ``student`` centre, scale and degrees of freedom.
    unit : str
        Its unit; empty for a plain number such as a factor.
    floor, ceiling : float
        Values, in `unit`, between which it is known to lie; infinite where no
        part of the distribution was cut off.
    """

    kind: Kind
    numbers: tuple[float, ...]
    unit: str = ""
    floor: float = -math.inf
    ceiling: float = math.inf

    # -- from probability to value ---------------------------------------------------

    def quantile(self, share: Any) -> Quantity:
        """Return the value below which a share of all draws lies.

        Parameters
        ----------
        share : float or array
            From 0 to 1; at these ends the support's.

        Raises
        ------
        RangeError
            If a share is not from 0 to 1.
        """
        asked = np.asarray(share, dtype=float)
        if not np.all((asked >= 0) & (asked <= 1)):
            problem = Problem("share", f"{share}", "is no probability", "0 to 1", kind="range")
            raise argument_error([problem], "quantile")
        return units.quantity(self.quantile_floats(asked), self.unit)

    def quantile_floats(self, share: Floats) -> Floats:
        """Return quantiles as plain numbers in the spread's own unit."""
        below = np.asarray(share, dtype=float)
        above = 1 - below
        if self.cut:
            kept = self._kept
            below, above = kept.below + below * kept.share, kept.above + above * kept.share
        upper = below > 0.5
        found = self.shape.quantile(np.where(upper, 0.5, below))
        if np.any(upper):
            found = np.where(
                upper, self.shape.quantile_from_above(np.where(upper, above, 0.5)), found
            )
        return self.from_standard(found)[()]

    def at_scores(self, scores: Floats) -> Floats:
        """Return the values at standard normal scores, as plain numbers.

        Notes
        -----
        Each value comes from its own score alone, element by element, so that
        draws may be worked on in pieces of any size and stay the same to the
        last bit. PERT and Student's t come from a table over scores, within
        1e-10 of the range.
        """
        return self.from_standard(self.standard_at(scores))

    def standard_at(self, scores: Floats) -> Floats:
        """Return the standard number of the spread's shape at normal scores."""
        at = np.asarray(scores, dtype=float)
        return self.shape.at_scores(_kept_scores(at, self._kept) if self.cut else at)

    def from_standard(self, t: Floats) -> Floats:
        """Return the spread's numbers at standard numbers of its shape."""
        _, place, size = self._form
        found = place + size * t
        if self.kind == "lognormal":
            found = np.exp(found)
        if self.cut:
            # Only rounding can reach beyond the ends here; a leaf's range must hold exactly.
            found = np.minimum(np.maximum(found, self.floor), self.ceiling)
        return found

    def share_below(self, value: QuantityLike) -> Floats:
        """Return the probability that the number is at most `value`, scalar or array.

        Raises
        ------
        ArgumentError
            If the value has another dimension, or cannot be read.
        """
        at = np.asarray(self._own("value", value), dtype=float)
        found = self.shape.share_below(self._standard(at))
        if self.cut:
            kept = self._kept
            from_above = self.shape.share_above(self._standard(at)) - kept.above
            low = kept.below < 0.5
            found = (found - kept.below) / kept.share if low else 1 - from_above / kept.share
            found = np.where(at < self.floor, 0.0, np.where(at >= self.ceiling, 1.0, found))
        return np.minimum(np.maximum(found, 0.0), 1.0)[()]

    # -- what it is like -------------------------------------------------------------

    @property
    def cut(self) -> bool:
        """Whether a part of the distribution was cut off."""
        return self.floor > -math.inf or self.ceiling < math.inf

    @property
    def low(self) -> Quantity:
        """The least value that can come; minus infinity where there is none."""
        return units.quantity(self._support[0], self.unit)

    @property
    def high(self) -> Quantity:
        """The greatest value that can come; infinity where there is none."""
        return units.quantity(self._support[1], self.unit)

    @property
    def mean(self) -> Quantity:
        """The mean; NaN where there is none, as for Student's t with one degree of freedom."""
        return units.quantity(self._moments[0], self.unit)

    @property
    def variance(self) -> Quantity:
        """The variance, in the square of the unit; infinite or NaN where there is none."""
        squared = units.unit_of(self.unit) ** 2
        return units.registry().Quantity(self._moments[1], squared)

    def words(self, unit: str | None = None) -> str:
        """Return what the spread says, in plain words.

        Parameters
        ----------
        unit : str, optional
            What the unit is called; its own label if left out.

        Examples
        --------
        >>> from scenariokit.uncertainty import pert
        >>> pert("2 kg/m^2", "5 kg/m^2", "11 kg/m^2").words()
        'most likely 5, from 2 to 11 kg/m²'
        """
        shown = units.unit_label(self.unit) if unit is None else unit
        return spread_words(self, shown)

    # -- the same spread of another number -------------------------------------------

    def scaled(self, factor: float) -> Spread:
        """Return the spread of the number times a plain factor of 0 or more.

        Raises
        ------
        RangeError
            If the factor is below zero or not finite.
        """
        if not 0 <= factor < math.inf:
            problem = Problem("factor", f"{factor:g}", "is no finite number from 0 on",
                              "0 or more", kind="range")  # fmt: skip
            raise argument_error([problem], "scaled")
        if factor == 0:
            return Spread("fixed", (0.0,), self.unit)
        if self.kind == "lognormal":
            numbers: tuple[float, ...] = (self.numbers[0] + math.log(factor), self.numbers[1])
        elif self.kind == "student":
            centre, scale, degrees = self.numbers
            numbers = (centre * factor, scale * factor, degrees)
        else:
            numbers = tuple(number * factor for number in self.numbers)
        return Spread(self.kind, numbers, self.unit, self.floor * factor, self.ceiling * factor)

    def in_unit(self, unit: str) -> Spread:
        """Return the same spread of the number in another unit.

        Raises
        ------
        pint.DimensionalityError
            If the unit is of another dimension.
        """
        if unit == self.unit:
            return self
        factor = float(units.quantity(1.0, self.unit).m_as(units.unit_of(unit)))
        # A unit of another spelling must not move a number's last digit.
        found = self if math.isclose(factor, 1.0, rel_tol=1e-15) else self.scaled(factor)
        return replace(found, unit=unit)

    def within(self, low: QuantityLike | None = None, high: QuantityLike | None = None) -> Spread:
        """Return the spread, given that the number lies between two values.

        What lies outside is left out and its probability shared by the rest;
        nothing is moved to the ends.

        Parameters
        ----------
        low, high : quantity, optional
            The ends; plain numbers are in the spread's own unit.

        Raises
        ------
        RangeError
            If nothing of the spread lies between them.
        ArgumentError
            If an end has another dimension, or cannot be read.
        """
        ends = [
            usual
            if end is None
            else float(end if isinstance(end, int | float) else self._own(name, end))
            for name, end, usual in (("low", low, -math.inf), ("high", high, math.inf))
        ]
        support = self._support
        floor = max(self.floor, ends[0]) if ends[0] > support[0] else self.floor
        ceiling = min(self.ceiling, ends[1]) if ends[1] < support[1] else self.ceiling
        if (floor, ceiling) == (self.floor, self.ceiling):
            return self
        found = replace(self, floor=floor, ceiling=ceiling)
        if not (floor < ceiling and found._kept.share > 0):
            unit = units.unit_label(self.unit)
            allowed = tr("{low:g} to {high:g} {unit}", low=floor, high=ceiling, unit=unit).rstrip()
            problem = Problem("spread", self.words(), tr("lies wholly outside the allowed range"),
                              allowed, kind="range")  # fmt: skip
            raise argument_error([problem], "within")
        return found

    # -- the standard shape behind it ------------------------------------------------

    def _own(self, name: str, value: QuantityLike) -> Floats:
        """Return a quantity as plain numbers in the spread's unit."""
        described = Parameter(name, "", name, self.unit, None, None, (0, 1, 1), 1, "", "")
        found, problem = to_floats(name, value, described)
        if problem is not None:
            raise argument_error([problem], "spread")
        return found

    @functools.cached_property
    def _form(self) -> tuple[shapes.Shape, float, float]:
        """The standard shape, where its t = 0 lies and how long a step of t is."""
        n = self.numbers
        if self.kind == "fixed":
            return shapes.Fixed(), n[0], 0.0
        if self.kind == "uniform":
            return shapes.Uniform(), n[0], n[1] - n[0]
        if self.kind in ("triangular", "pert"):
            mode = (n[1] - n[0]) / (n[2] - n[0])
            shape = shapes.Triangular(mode) if self.kind == "triangular" else _pert_shape(mode)
            return shape, n[0], n[2] - n[0]
        if self.kind == "student":
            return shapes.Student(n[2]), n[0], n[1]
        return shapes.Normal(), n[0], n[1]

    @property
    def shape(self) -> shapes.Shape:
        """The standard shape, which spreads of another place and size may share."""
        return self._form[0]

    def _standard(self, value: Floats) -> Floats:
        """Return t of the standard shape at a number."""
        _, place, size = self._form
        at = np.asarray(value, dtype=float)
        if self.kind == "lognormal":
            with np.errstate(divide="ignore"):
                at = np.log(np.maximum(at, 0.0))
        return (at - place) / (size or 1.0)

    @functools.cached_property
    def _support(self) -> tuple[float, float]:
        low, high = (self.from_standard(np.float64(end)) for end in self.shape.support)
        return float(low), float(high)

    @functools.cached_property
    def _kept(self) -> _Kept:
        low, high = self._standard(self.floor), self._standard(self.ceiling)
        below, above = float(self.shape.share_below(low)), float(self.shape.share_above(high))
        if below < 0.5:
            share = float(self.shape.share_below(high)) - below
        else:  # in the upper tail shares from above keep their digits
            share = float(self.shape.share_above(low)) - above
        return _Kept(below, above, share)

    @functools.cached_property
    def _moments(self) -> tuple[float, float]:
        if self.cut:
            return _cut_moments(self)
        shape, place, size = self._form
        if self.kind == "lognormal":
            mean = math.exp(place + size**2 / 2)
            return mean, mean**2 * math.expm1(size**2)
        mean, variance = shape.moments()
        return place + size * mean, size**2 * variance


def _pert_shape(mode: float) -> shapes.Shape:
    return shapes.Beta(1 + 4 * mode, 1 + 4 * (1 - mode))


def _kept_scores(scores: Floats, kept: _Kept) -> Floats:
    """Return the scores of the whole distribution at scores of the part that is kept."""
    from scipy.special import ndtr, ndtri

    below = kept.below + ndtr(scores) * kept.share
    above = kept.above + ndtr(-scores) * kept.share
    return np.where(below <= above, ndtri(below), -ndtri(np.minimum(above, 0.5)))


def _cut_moments(spread: Spread) -> tuple[float, float]:
    """Return mean and variance of what is left of a distribution, by integration."""
    shape, low, high = spread.shape, *spread._support
    degrees = shape.degrees if isinstance(shape, shapes.Student) else math.inf
    open_ended = math.isinf(low) or math.isinf(high)
    if open_ended and degrees <= 1:
        return (math.inf if math.isinf(high) else -math.inf), math.nan
    ends = spread._standard(spread.quantile_floats(np.array(_PIECES)))
    if isinstance(shape, shapes.Triangular):  # no piece reaches over the bend
        ends = np.sort(np.append(ends, min(max(shape.mode, ends[0]), ends[-1])))
    centre = float(spread.quantile_floats(0.5))

    def part(power: int) -> float:
        def weighed(t: Floats) -> Floats:
            return (spread.from_standard(t) - centre) ** power * shape.density(t)

        return sum(_integral(weighed, a, b) for a, b in itertools.pairwise(ends) if a < b)

    share = part(0)
    away = part(1) / share
    if open_ended and degrees <= 2:
        return centre + away, math.inf
    return centre + away, part(2) / share - away**2


def _integral(function: Callable[[Floats], Floats], low: float, high: float) -> float:
    """Return the integral of a smooth function, by Gauss's rule or, to infinity, by SciPy."""
    if math.isinf(low) or math.isinf(high):
        from scipy.integrate import quad

        start, sign = (low, 1.0) if math.isinf(high) else (high, -1.0)
        size = max(abs(start), 1.0)  # the tail falls off over a length like this
        return float(
            quad(lambda s: function(start + sign * size * (1 / s - 1)) * size / s**2, 0, 1)[0]
        )
    nodes, weights = np.polynomial.legendre.leggauss(32)
    half = (high - low) / 2
    return half * float(np.sum(weights * function(low + half * (nodes + 1))))
