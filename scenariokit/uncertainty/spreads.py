"""What is thought of one uncertain number: a distribution in a unit of its own."""

from __future__ import annotations

import functools
import math
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from scipy import special

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.units import Floats, Quantity, QuantityLike

Kind = Literal["fixed", "uniform", "triangular", "pert", "normal", "lognormal", "student"]

_TABLE_END = 6.0
_TABLE_STEPS = 2048
_NODES = 400
"""Points of the integration over normal scores that gives the moments of a cut spread."""


@dataclass(frozen=True)
class Spread:
    """A distribution on one number. Make it by `uniform`, `pert` and their kin.

    Parameters
    ----------
    kind : str
        Which distribution.
    numbers : tuple of float
        What fixes it, in `unit`: ends and likeliest value; mean and standard
        deviation; for ``lognormal`` both of the logarithm; for ``student``
        mean, scale and degrees of freedom.
    unit : str
        Its unit; empty for a plain number.
    low_share, high_share : float
        Which part of the whole distribution is kept, by cumulative probability.
    """

    kind: Kind
    numbers: tuple[float, ...]
    unit: str = ""
    low_share: float = 0.0
    high_share: float = 1.0

    # -- from probability to value ---------------------------------------------------

    def quantile(self, share: Any) -> Quantity:
        """Return the value that lies above a share of all draws.

        Parameters
        ----------
        share : float or array
            Between 0 and 1.

        Raises
        ------
        RangeError
            If a share is not from 0 to 1.
        """
        asked = np.asarray(share, dtype=float)
        if not np.all((asked >= 0) & (asked <= 1)):
            problem = Problem("share", f"{share}", "is no probability", "0 to 1", kind="range")
            raise argument_error([problem], "quantile")
        return units.quantity(self.quantile_floats(asked)[()], self.unit)

    def quantile_floats(self, share: Floats) -> Floats:
        """Return quantiles as plain numbers in the spread's own unit."""
        whole = self.low_share + np.asarray(share) * (self.high_share - self.low_share)
        return _QUANTILES[self.kind](self.numbers, whole)

    def at_scores(self, scores: Floats) -> Floats:
        """Return the values at standard normal scores, as plain numbers.

        Notes
        -----
        Each value depends on its own score only, so that draws may be worked
        on in pieces of any size and come out the same to the last bit. PERT
        and Student quantiles come from a table over scores (cubic Hermite,
        good to about 1e-10 of the range); beyond six standard deviations they
        are worked out one by one.
        """
        if self.kind == "fixed":
            return np.full(np.shape(scores), self.numbers[0])
        if self.kind == "normal" and not self.cut:
            return self.numbers[0] + self.numbers[1] * scores
        if self.kind == "lognormal" and not self.cut:
            return np.exp(self.numbers[0] + self.numbers[1] * scores)
        if self.kind in ("uniform", "triangular"):
            return self.quantile_floats(special.ndtr(scores))
        return _from_table(self, scores)

    def share_below(self, value: QuantityLike) -> Floats:
        """Return the probability that the number is at most `value`."""
        at = np.asarray(units.magnitude(units.quantity(value), self.unit), dtype=float)
        whole = _SHARES[self.kind](self.numbers, at)
        kept = (whole - self.low_share) / (self.high_share - self.low_share)
        return np.minimum(np.maximum(kept, 0.0), 1.0)[()]

    # -- what it is like -------------------------------------------------------------

    @property
    def cut(self) -> bool:
        """Whether a part of the distribution was cut off."""
        return self.low_share > 0 or self.high_share < 1

    @property
    def low(self) -> Quantity:
        """The least value that can come; minus infinity where there is none."""
        return units.quantity(float(self.quantile_floats(0.0)), self.unit)

    @property
    def high(self) -> Quantity:
        """The greatest value that can come; infinity where there is none."""
        return units.quantity(float(self.quantile_floats(1.0)), self.unit)

    @property
    def mean(self) -> Quantity:
        """The mean."""
        return units.quantity(_moments(self)[0], self.unit)

    @property
    def variance(self) -> Quantity:
        """The variance, in the square of the unit."""
        found = units.registry().Quantity(_moments(self)[1], units.unit_of(self.unit) ** 2)
        return found

    def scaled(self, factor: float) -> Spread:
        """Return the spread of the number times a plain factor of 0 or more."""
        if factor == 0:
            return Spread("fixed", (0.0,), self.unit)
        numbers: tuple[float, ...]
        if self.kind == "lognormal":
            numbers = (self.numbers[0] + math.log(factor), self.numbers[1])
        elif self.kind == "student":
            numbers = (self.numbers[0] * factor, self.numbers[1] * factor, self.numbers[2])
        else:
            numbers = tuple(number * factor for number in self.numbers)
        return replace(self, numbers=numbers)

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
        return replace(self.scaled(factor), unit=unit)

    def within(self, low: float | None, high: float | None) -> Spread:
        """Return the spread given that the number lies between two plain values.

        What lies outside is cut off and its probability spread over the rest;
        nothing is moved to the ends.

        Raises
        ------
        RangeError
            If nothing of the spread lies between them.
        """
        below = 0.0 if low is None else float(_SHARES[self.kind](self.numbers, low))
        above = 1.0 if high is None else float(_SHARES[self.kind](self.numbers, high))
        if self.kind == "fixed" and low is not None and self.numbers[0] == low:
            below = 0.0
        first, last = max(self.low_share, below), min(self.high_share, above)
        if not first < last:
            problem = Problem(
                "spread", self.words(), "lies wholly outside the allowed range",
                f"{'any' if low is None else f'{low:g}'} to "
                f"{'any' if high is None else f'{high:g}'} {self.unit}".strip(), kind="range",
            )  # fmt: skip
            raise argument_error([problem], "within")
        if first == self.low_share and last == self.high_share:
            return self
        return replace(self, low_share=first, high_share=last)

    def words(self, unit: str | None = None) -> str:
        """Return what the spread says, in plain words.

        Parameters
        ----------
        unit : str, optional
            What the unit is called; its own name if left out.

        Examples
        --------
        >>> pert("2 kg/m^2", "5 kg/m^2", "11 kg/m^2").words()
        'from 2 to 11 kg/m^2, most likely 5'
        """
        shown = self.unit if unit is None else unit
        tail = f" {shown}" if shown else ""
        numbers = self.numbers
        if self.kind == "fixed":
            return f"{numbers[0]:.4g}{tail}"
        if self.kind == "uniform":
            return f"anything from {numbers[0]:.4g} to {numbers[1]:.4g}{tail}"
        if self.kind in ("triangular", "pert"):
            return f"from {numbers[0]:.4g} to {numbers[2]:.4g}{tail}, most likely {numbers[1]:.4g}"
        ends = self.quantile_floats(np.array([0.05, 0.95]))
        return f"nine in ten between {ends[0]:.4g} and {ends[1]:.4g}{tail}"


# -- making one ----------------------------------------------------------------------


def _read(subject: str, **given: QuantityLike) -> tuple[dict[str, float], str]:
    """Return plain numbers in one unit, that of the first; all bad ones in one error."""
    problems: list[Problem] = []
    found: dict[str, float] = {}
    unit = ""
    for name, value in given.items():
        try:
            read = units.quantity(value)
            unit = unit or str(read.units) * (not read.dimensionless)
            number = float(units.magnitude(read, unit))
        except Exception as error:  # noqa: BLE001 - every failure to read becomes one message
            reason = f"cannot be read beside the others ({error})"
            problems.append(Problem(name, f"{value}", reason, unit or "a quantity", kind="unit"))
            continue
        if not math.isfinite(number):
            problems.append(Problem(name, f"{value}", "is not finite", kind="range"))
        found[name] = number
    if problems:
        raise argument_error(problems, subject)
    return found, unit


def _refuse(subject: str, field: str, value: float, reason: str, allowed: str) -> None:
    raise argument_error([Problem(field, f"{value:g}", reason, allowed, kind="range")], subject)


def fixed(value: QuantityLike) -> Spread:
    """Return a number that is known."""
    found, unit = _read("fixed", value=value)
    return Spread("fixed", (found["value"],), unit)


def uniform(low: QuantityLike, high: QuantityLike) -> Spread:
    """Return a spread in which every value between two ends is as likely as any other.

    Raises
    ------
    ArgumentError
        If the ends cannot be read, or `low` is not below `high`.
    """
    found, unit = _read("uniform", low=low, high=high)
    if not found["low"] < found["high"]:
        _refuse("uniform", "low", found["low"], "is not below high", f"below {found['high']:g}")
    return Spread("uniform", (found["low"], found["high"]), unit)


def _three(subject: Kind, low: Any, likely: Any, high: Any) -> Spread:
    found, unit = _read(subject, low=low, likely=likely, high=high)
    a, m, b = found["low"], found["likely"], found["high"]
    if not a <= m <= b:
        _refuse(subject, "likely", m, "does not lie between low and high", f"{a:g} to {b:g}")
    if a == b:
        return Spread("fixed", (a,), unit)
    return Spread(subject, (a, m, b), unit)


def triangular(low: QuantityLike, likely: QuantityLike, high: QuantityLike) -> Spread:
    """Return the spread whose density rises straight to the likeliest value and falls again.

    Raises
    ------
    ArgumentError
        If a value cannot be read, or they are out of order.

    Examples
    --------
    >>> spread = triangular("2 kg", "5 kg", "11 kg")
    >>> round(spread.mean.m, 6), round(spread.variance.m, 6)
    (6.0, 3.5)
    """
    return _three("triangular", low, likely, high)


def pert(low: QuantityLike, likely: QuantityLike, high: QuantityLike) -> Spread:
    """Return the beta-PERT spread of a lowest, a likeliest and a highest value.

    alpha = 1 + 4 (m - a)/(b - a), beta = 1 + 4 (b - m)/(b - a).

    Raises
    ------
    ArgumentError
        If a value cannot be read, or they are out of order.

    Notes
    -----
    Its mean is mu = (a + 4 m + b)/6 and its variance (mu - a)(b - mu)/7; the
    customary (b - a)²/36 is only near to that.

    Examples
    --------
    >>> spread = pert("2 kg", "5 kg", "11 kg")
    >>> round(spread.mean.m, 6), round(spread.variance.m, 6)
    (5.5, 2.75)
    """
    return _three("pert", low, likely, high)


def normal(mean: QuantityLike, deviation: QuantityLike) -> Spread:
    """Return the normal spread of a mean and a standard deviation.

    Raises
    ------
    ArgumentError
        If a value cannot be read, or the deviation is below zero.
    """
    found, unit = _read("normal", mean=mean, deviation=deviation)
    if found["deviation"] < 0:
        _refuse("normal", "deviation", found["deviation"], "is below zero", "0 or more")
    if found["deviation"] == 0:
        return Spread("fixed", (found["mean"],), unit)
    return Spread("normal", (found["mean"], found["deviation"]), unit)


def lognormal(mean: QuantityLike, deviation: QuantityLike) -> Spread:
    """Return the lognormal spread of a mean and a standard deviation of the number itself.

    Raises
    ------
    ArgumentError
        If a value cannot be read, the mean is not above or the deviation below zero.

    Examples
    --------
    >>> spread = lognormal("10 money", "3 money")
    >>> round(float(spread.quantile(0.5).m), 6)
    9.578263
    """
    found, unit = _read("lognormal", mean=mean, deviation=deviation)
    if found["mean"] <= 0:
        _refuse("lognormal", "mean", found["mean"], "is not above zero", "more than 0")
    if found["deviation"] < 0:
        _refuse("lognormal", "deviation", found["deviation"], "is below zero", "0 or more")
    if found["deviation"] == 0:
        return Spread("fixed", (found["mean"],), unit)
    sigma = math.sqrt(math.log1p((found["deviation"] / found["mean"]) ** 2))
    return Spread("lognormal", (math.log(found["mean"]) - sigma**2 / 2, sigma), unit)


def from_percentiles(
    low: QuantityLike,
    high: QuantityLike,
    level: float = 0.9,
    shape: Literal["normal", "lognormal"] = "lognormal",
) -> Spread:
    """Return the spread of which a middle share lies between two values.

    Parameters
    ----------
    low, high : quantity
        The ends.
    level : float
        Which share lies between them, with as much above as below; 0.9 by default.
    shape : {'normal', 'lognormal'}
        Of which kind.

    Raises
    ------
    ArgumentError
        If a value cannot be read, is out of order, or not above zero for a
        lognormal spread, or if `level` is not between 0 and 1.

    Examples
    --------
    >>> spread = from_percentiles("4 money", "16 money")
    >>> round(float(spread.quantile(0.5).m), 6)
    8.0
    """
    subject = "from_percentiles"
    found, unit = _read(subject, low=low, high=high)
    a, b = found["low"], found["high"]
    if not 0 < level < 1:
        _refuse(subject, "level", level, "is no share of the draws", "between 0 and 1")
    if not a < b:
        _refuse(subject, "low", a, "is not below high", f"below {b:g}")
    if shape == "lognormal" and a <= 0:
        _refuse(subject, "low", a, "is not above zero, which a lognormal number is", "more than 0")
    reach = float(special.ndtri(0.5 + level / 2))
    if shape == "lognormal":
        a, b = math.log(a), math.log(b)
    return Spread(shape, ((a + b) / 2, (b - a) / (2 * reach)), unit)


def from_interval(
    mean: QuantityLike,
    low: QuantityLike,
    high: QuantityLike,
    level: float = 0.95,
    degrees: float | None = None,
) -> Spread:
    """Return what a trial's mean and its interval say of the mean that would hold.

    Parameters
    ----------
    mean, low, high : quantity
        The estimate and the ends of its interval. The half width is that of
        the wider side, since low ends are often cut at zero.
    level : float
        Confidence of the interval.
    degrees : float, optional
        Degrees of freedom of its error: then the spread is Student's t with as
        many; else it is normal.

    Raises
    ------
    ArgumentError
        If a value cannot be read or they are out of order, `level` is not
        between 0 and 1, or `degrees` is not above zero.
    """
    subject = "from_interval"
    found, unit = _read(subject, mean=mean, low=low, high=high)
    centre, a, b = found["mean"], found["low"], found["high"]
    if not a <= centre <= b:
        _refuse(subject, "mean", centre, "does not lie in its interval", f"{a:g} to {b:g}")
    if not 0 < level < 1:
        _refuse(subject, "level", level, "is no confidence", "between 0 and 1")
    if degrees is not None and not degrees > 0:
        _refuse(subject, "degrees", degrees, "is not above zero", "more than 0")
    half = max(b - centre, centre - a)
    if half == 0:
        return Spread("fixed", (centre,), unit)
    share = 0.5 + level / 2
    if degrees is None:
        return Spread("normal", (centre, half / float(special.ndtri(share))), unit)
    scale = half / float(special.stdtrit(degrees, share))
    return Spread("student", (centre, scale, float(degrees)), unit)


# -- the distributions ---------------------------------------------------------------


def _triangular_quantile(numbers: tuple[float, ...], share: Floats) -> Floats:
    a, m, b = numbers
    peak = (m - a) / (b - a)
    rising = a + np.sqrt(share * (b - a) * (m - a))
    falling = b - np.sqrt((1 - share) * (b - a) * (b - m))
    return np.where(share < peak, rising, falling)


def _triangular_share(numbers: tuple[float, ...], at: Floats) -> Floats:
    a, m, b = numbers
    x = np.minimum(np.maximum(at, a), b)
    rising = (x - a) ** 2 / ((b - a) * (m - a)) if m > a else np.zeros_like(x)
    falling = 1 - (b - x) ** 2 / ((b - a) * (b - m)) if b > m else np.ones_like(x)
    return np.where(x < m, rising, falling)


def _shape_of(numbers: tuple[float, ...]) -> tuple[float, float]:
    a, m, b = numbers
    return 1 + 4 * (m - a) / (b - a), 1 + 4 * (b - m) / (b - a)


def _pert_quantile(numbers: tuple[float, ...], share: Floats) -> Floats:
    alpha, beta = _shape_of(numbers)
    return numbers[0] + (numbers[2] - numbers[0]) * special.betaincinv(alpha, beta, share)


def _pert_share(numbers: tuple[float, ...], at: Floats) -> Floats:
    alpha, beta = _shape_of(numbers)
    x = (np.asarray(at, dtype=float) - numbers[0]) / (numbers[2] - numbers[0])
    return special.betainc(alpha, beta, np.minimum(np.maximum(x, 0.0), 1.0))


def _log(at: Floats) -> Floats:
    with np.errstate(divide="ignore"):
        return np.log(np.maximum(at, 0.0))


_QUANTILES: dict[str, Any] = {
    "fixed": lambda n, share: np.full(np.shape(share), n[0]),
    "uniform": lambda n, share: n[0] + (n[1] - n[0]) * share,
    "triangular": _triangular_quantile,
    "pert": _pert_quantile,
    "normal": lambda n, share: n[0] + n[1] * special.ndtri(share),
    "lognormal": lambda n, share: np.exp(n[0] + n[1] * special.ndtri(share)),
    "student": lambda n, share: n[0] + n[1] * special.stdtrit(n[2], share),
}
_SHARES: dict[str, Any] = {
    "fixed": lambda n, at: np.where(np.asarray(at) >= n[0], 1.0, 0.0),
    "uniform": lambda n, at: np.minimum(np.maximum((at - n[0]) / (n[1] - n[0]), 0.0), 1.0),
    "triangular": _triangular_share,
    "pert": _pert_share,
    "normal": lambda n, at: special.ndtr((at - n[0]) / n[1]),
    "lognormal": lambda n, at: special.ndtr((_log(at) - n[0]) / n[1]),
    "student": lambda n, at: special.stdtr(n[2], (at - n[0]) / n[1]),
}


def _moments(spread: Spread) -> tuple[float, float]:
    """Return mean and variance: in closed form, or by integration where a part is cut off."""
    n = spread.numbers
    if spread.kind == "fixed":
        return n[0], 0.0
    if spread.kind == "student" and not spread.cut:
        mean = n[0] if n[2] > 1 else math.nan
        return mean, n[1] ** 2 * n[2] / (n[2] - 2) if n[2] > 2 else math.inf
    if not spread.cut:
        return _whole_moments(spread.kind, n)
    scores, weights = np.polynomial.legendre.leggauss(_NODES)
    reach = 7.9  # beyond it shares round to 1
    shares = special.ndtr(scores * reach)
    density = np.exp(-((scores * reach) ** 2) / 2) / math.sqrt(2 * math.pi)
    values = spread.quantile_floats(shares)
    mass = weights * density * reach
    mean = float(np.sum(mass * values) / np.sum(mass))
    return mean, float(np.sum(mass * (values - mean) ** 2) / np.sum(mass))


def _whole_moments(kind: Kind, n: tuple[float, ...]) -> tuple[float, float]:
    if kind == "uniform":
        return (n[0] + n[1]) / 2, (n[1] - n[0]) ** 2 / 12
    if kind == "triangular":
        a, m, b = n
        return (a + m + b) / 3, (a * a + m * m + b * b - a * m - a * b - m * b) / 18
    if kind == "pert":
        mean = (n[0] + 4 * n[1] + n[2]) / 6
        return mean, (mean - n[0]) * (n[2] - mean) / 7
    if kind == "normal":
        return n[0], n[1] ** 2
    mean = math.exp(n[0] + n[1] ** 2 / 2)
    return mean, mean**2 * math.expm1(n[1] ** 2)


# -- the table of quantiles over scores ----------------------------------------------


def _standard(spread: Spread) -> tuple[Spread, float, float]:
    """Return a spread of the same form at a standard place and size, and that place and size.

    Spreads that differ only by a shift and a factor then share one table.
    """
    n = spread.numbers
    if spread.kind == "pert":
        low, size = n[0], n[2] - n[0]
        likely = round((n[1] - low) / size, 12)
        return replace(spread, numbers=(0.0, likely, 1.0), unit=""), low, size
    if spread.kind == "student":
        return replace(spread, numbers=(0.0, 1.0, n[2]), unit=""), n[0], n[1]
    if spread.kind == "normal":
        return replace(spread, numbers=(0.0, 1.0), unit=""), n[0], n[1]
    return replace(spread, numbers=(0.0, n[1]), unit=""), 0.0, math.exp(n[0])


@functools.lru_cache(maxsize=256)
def _table(standard: Spread) -> Any:
    """Return the coefficients of cubics between equal steps of the score, four to a step."""
    scores = np.linspace(-_TABLE_END, _TABLE_END, _TABLE_STEPS + 1)
    step = scores[1] - scores[0]
    values = standard.quantile_floats(special.ndtr(scores))
    fine = step / 16
    # Slopes by differences of fourth order over a sixteenth of a step.
    shifted = [standard.quantile_floats(special.ndtr(scores + k * fine)) for k in (-2, -1, 1, 2)]
    slope = (shifted[0] - 8 * shifted[1] + 8 * shifted[2] - shifted[3]) / 12 * 16
    rise = np.diff(values)
    start, end = slope[:-1], slope[1:]
    table = np.stack(
        [values[:-1], start, 3 * rise - 2 * start - end, start + end - 2 * rise], axis=1
    )
    table.flags.writeable = False
    return table


def _from_table(spread: Spread, scores: Floats) -> Floats:
    standard, place, size = _standard(spread)
    table = _table(standard)
    at = (np.asarray(scores) + _TABLE_END) * (_TABLE_STEPS / (2 * _TABLE_END))
    inside = np.minimum(np.maximum(at, 0.0), _TABLE_STEPS - 1.0)
    step = inside.astype(np.intp)
    part = at - step
    row = table[step]
    found = row[..., 0] + part * (row[..., 1] + part * (row[..., 2] + part * row[..., 3]))
    far = (at < 0) | (at > _TABLE_STEPS)
    if np.any(far):
        exact = standard.quantile_floats(special.ndtr(np.asarray(scores)[far]))
        found = np.asarray(found)
        found[far] = exact
    return place + size * found
