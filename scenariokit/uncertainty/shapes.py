"""Standard shapes of distributions; a spread moves and stretches one to its place and size.

A shape is a distribution of a standard number t. Draws come as normal scores, so each shape also
gives t at a score: there both tails are exact, where a share next to 1 has lost its digits.
"""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass
from typing import Any, ClassVar

import numpy as np

from scenariokit.units import Floats

TABLE_END = 9.5
"""Largest normal score in a table of quantiles; 1 draw in 10²¹ lies beyond it."""


@dataclass(frozen=True)
class Shape:
    """A standard distribution; the kinds below say which."""

    support: ClassVar[tuple[float, float]] = (0.0, 1.0)
    """The least and the greatest t."""
    table_steps: ClassVar[int] = 1024
    """Steps of its table of quantiles, if it needs one."""

    def moments(self) -> tuple[float, float]:
        """Return mean and variance; NaN or infinite where there is none."""
        raise NotImplementedError

    def share_below(self, t: Floats) -> Floats:
        """Return the share of the distribution that is at most t."""
        raise NotImplementedError

    def density(self, t: Floats) -> Floats:
        """Return the density at t."""
        raise NotImplementedError

    def quantile(self, share: Floats) -> Floats:
        """Return t at shares from 0 to 1."""
        raise NotImplementedError

    def mirrored(self) -> Shape:
        """Return the shape as seen from its upper end; a symmetric one is its own mirror."""
        return self

    def mirror(self, t: Floats) -> Floats:
        """Return where t lies in the mirrored shape."""
        return 1.0 - t

    def share_above(self, t: Floats) -> Floats:
        """Return the share above t, exact also where it is next to nothing."""
        return self.mirrored().share_below(self.mirror(t))

    def quantile_from_above(self, share: Floats) -> Floats:
        """Return t with the given share above it."""
        return self.mirror(self.mirrored().quantile(share))

    def at_scores(self, scores: Floats) -> Floats:
        """Return t at normal scores, each from its own score alone."""
        values, slopes = quantile_table(self)
        return np.minimum(np.maximum(between(scores, values, slopes), self.support[0]),
                          self.support[1])  # fmt: skip


@dataclass(frozen=True)
class Fixed(Shape):
    """One value, t = 0."""

    support: ClassVar[tuple[float, float]] = (0.0, 0.0)

    def moments(self) -> tuple[float, float]:
        """Return 0 and 0."""
        return 0.0, 0.0

    def share_below(self, t: Floats) -> Floats:
        """Return 0 below the value and 1 from it on."""
        return np.where(np.asarray(t) >= 0, 1.0, 0.0)[()]

    def share_above(self, t: Floats) -> Floats:
        """Return 1 below the value and 0 from it on."""
        return 1.0 - self.share_below(t)

    def quantile(self, share: Floats) -> Floats:
        """Return the value at every share."""
        return np.zeros(np.shape(share))[()]

    def quantile_from_above(self, share: Floats) -> Floats:
        """Return the value at every share."""
        return self.quantile(share)

    def at_scores(self, scores: Floats) -> Floats:
        """Return the value at every score."""
        return np.zeros(np.shape(scores))[()]


@dataclass(frozen=True)
class Uniform(Shape):
    """Every value from 0 to 1 as likely as any other."""

    def moments(self) -> tuple[float, float]:
        """Return 1/2 and 1/12."""
        return 0.5, 1 / 12

    def share_below(self, t: Floats) -> Floats:
        """Return t, 0 below the support and 1 above it."""
        return np.minimum(np.maximum(t, 0.0), 1.0)

    def density(self, t: Floats) -> Floats:
        """Return 1 on the support."""
        at = np.asarray(t)
        return np.where((at >= 0) & (at <= 1), 1.0, 0.0)[()]

    def quantile(self, share: Floats) -> Floats:
        """Return the share itself."""
        return share

    def at_scores(self, scores: Floats) -> Floats:
        """Return the share below each score."""
        from scipy.special import ndtr

        return ndtr(scores)


@dataclass(frozen=True)
class Triangular(Shape):
    """A density that rises straight from 0 to the mode m and falls straight to 1."""

    mode: float

    def moments(self) -> tuple[float, float]:
        """Return (1 + m)/3 and (1 - m + m²)/18."""
        return (1 + self.mode) / 3, (1 - self.mode * (1 - self.mode)) / 18

    def mirrored(self) -> Shape:
        """Return the triangle with its mode as far from the other end."""
        return Triangular(1 - self.mode)

    def share_below(self, t: Floats) -> Floats:
        """Return t²/m up to the mode and 1 - (1 - t)²/(1 - m) above it."""
        inside, m = np.minimum(np.maximum(t, 0.0), 1.0), self.mode
        if m in (0.0, 1.0):
            return inside**2 if m else inside * (2 - inside)
        return np.where(inside < m, inside**2 / m, 1 - (1 - inside) ** 2 / (1 - m))[()]

    def density(self, t: Floats) -> Floats:
        """Return 2 t/m up to the mode and 2 (1 - t)/(1 - m) above it."""
        at, m = np.asarray(t, dtype=float), self.mode
        rising, falling = 2 * at / (m or 1.0), 2 * (1 - at) / ((1 - m) or 1.0)
        found = np.where((at < m) | (m == 1), rising, falling)
        return np.where((at >= 0) & (at <= 1), found, 0.0)[()]

    def quantile(self, share: Floats) -> Floats:
        """Return √(u m) up to the mode and 1 - √((1 - u)(1 - m)) above it."""
        below = np.asarray(share, dtype=float)
        return self._at(below, 1 - below)[()]

    def at_scores(self, scores: Floats) -> Floats:
        """Return t at normal scores."""
        from scipy.special import ndtr

        return self._at(ndtr(scores), ndtr(-scores))

    def _at(self, below: Any, above: Any) -> Any:
        m = self.mode
        return np.where(below < m, np.sqrt(below * m), 1 - np.sqrt(above * (1 - m)))


@dataclass(frozen=True)
class Beta(Shape):
    """A density in proportion to t^(α - 1) (1 - t)^(β - 1)."""

    alpha: float
    beta: float

    def moments(self) -> tuple[float, float]:
        """Return α/(α + β) and α β/((α + β)² (α + β + 1))."""
        total = self.alpha + self.beta
        return self.alpha / total, self.alpha * self.beta / (total**2 * (total + 1))

    def mirrored(self) -> Shape:
        """Return the shape with α and β exchanged."""
        return Beta(self.beta, self.alpha)

    def share_below(self, t: Floats) -> Floats:
        """Return the regularised incomplete beta function."""
        from scipy.special import betainc

        return betainc(self.alpha, self.beta, np.minimum(np.maximum(t, 0.0), 1.0))

    def density(self, t: Floats) -> Floats:
        """Return the density, 0 outside the support."""
        from scipy.special import betaln, xlog1py, xlogy

        inside = np.minimum(np.maximum(t, 0.0), 1.0)
        power = xlogy(self.alpha - 1, inside) + xlog1py(self.beta - 1, -inside)
        found = np.exp(power - betaln(self.alpha, self.beta))
        return np.where(np.asarray(t) == inside, found, 0.0)[()]

    def quantile(self, share: Floats) -> Floats:
        """Return the inverse of the regularised incomplete beta function."""
        from scipy.special import betaincinv

        return betaincinv(self.alpha, self.beta, share)

    def at_scores(self, scores: Floats) -> Floats:
        """Return t at normal scores."""
        # Ranges that move in proportion differ in the last digits of these alone: one table.
        rounded = Beta(round(self.alpha, 12), round(self.beta, 12))
        return super(Beta, rounded).at_scores(scores)


@dataclass(frozen=True)
class Normal(Shape):
    """Mean 0 and standard deviation 1."""

    support: ClassVar[tuple[float, float]] = (-math.inf, math.inf)

    def moments(self) -> tuple[float, float]:
        """Return 0 and 1."""
        return 0.0, 1.0

    def mirror(self, t: Floats) -> Floats:
        """Return -t."""
        return -t

    def share_below(self, t: Floats) -> Floats:
        """Return Φ(t)."""
        from scipy.special import ndtr

        return ndtr(t)

    def density(self, t: Floats) -> Floats:
        """Return φ(t)."""
        return normal_density(t)

    def quantile(self, share: Floats) -> Floats:
        """Return the inverse of Φ."""
        from scipy.special import ndtri

        return ndtri(share)

    def at_scores(self, scores: Floats) -> Floats:
        """Return the scores themselves."""
        return scores


@dataclass(frozen=True)
class Student(Shape):
    """Student's t with ν degrees of freedom."""

    degrees: float

    support: ClassVar[tuple[float, float]] = (-math.inf, math.inf)
    table_steps: ClassVar[int] = 4096

    def moments(self) -> tuple[float, float]:
        """Return 0 and ν/(ν - 2); there is no mean up to ν = 1, no finite variance up to 2."""
        n = self.degrees
        if n <= 1:
            return math.nan, math.nan
        return 0.0, n / (n - 2) if n > 2 else math.inf

    def mirror(self, t: Floats) -> Floats:
        """Return -t."""
        return -t

    def share_below(self, t: Floats) -> Floats:
        """Return the cumulative distribution of t."""
        from scipy.special import stdtr

        return stdtr(self.degrees, t)

    def density(self, t: Floats) -> Floats:
        """Return the density at t."""
        from scipy.special import betaln

        n = self.degrees
        power = -(n + 1) / 2 * np.log1p(np.square(t) / n) - betaln(n / 2, 0.5)
        return np.exp(power) / math.sqrt(n)

    def quantile(self, share: Floats) -> Floats:
        """Return t at shares; infinite at 0 and 1."""
        from scipy.special import stdtrit

        at = np.asarray(share, dtype=float)
        inside = (at > 0) & (at < 1)
        ends = np.where(at > 0, np.inf, -np.inf)
        return np.where(inside, stdtrit(self.degrees, np.where(inside, at, 0.5)), ends)[()]


def normal_density(t: Floats) -> Floats:
    """Return the standard normal density φ(t)."""
    return np.exp(-0.5 * np.square(t)) / math.sqrt(2 * math.pi)


@functools.lru_cache(maxsize=256)
def quantile_table(shape: Shape) -> tuple[Any, Any]:
    """Return t at evenly spaced normal scores, and its rise over a step by the slope there.

    Notes
    -----
    At a score z the slope of t is φ(z) / f(t) with the density f. Cubics through value and slope
    are within 10⁻¹⁰ of a beta shape's range, and as a share of t within 10⁻⁷ for Student's with
    one degree of freedom, within 10⁻⁹ from three on.
    """
    from scipy.special import ndtr

    scores = np.linspace(-TABLE_END, TABLE_END, shape.table_steps + 1)
    below, above = scores[scores <= 0], scores[scores > 0]
    values = np.concatenate([shape.quantile(ndtr(below)), shape.quantile_from_above(ndtr(-above))])
    density = shape.density(values)
    flat = density <= 0
    slopes = np.where(flat, 0.0, normal_density(scores) / np.where(flat, 1.0, density))
    values.flags.writeable = False
    return values, slopes * (scores[1] - scores[0])


def between(scores: Floats, values: Any, slopes: Any) -> Floats:
    """Return what a table holds between its scores, by cubics that keep value and slope.

    Beyond the table's ends it returns the value there.
    """
    steps = len(values) - 1
    place = (np.asarray(scores) + TABLE_END) * (steps / (2 * TABLE_END))
    place = np.minimum(np.maximum(place, 0.0), float(steps))
    node = np.minimum(place.astype(np.intp), steps - 1)
    part = place - node
    rest = 1.0 - part
    rise = values[1:] - values[:-1]
    bend = rest * (slopes[:-1] - rise)[node] + part * (rise - slopes[1:])[node]
    return values[node] + part * (rise[node] + rest * bend)
