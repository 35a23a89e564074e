"""Ways to say what is thought of an uncertain number; each gives a `Spread`."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal

from scenariokit.errors import Problem
from scenariokit.uncertainty.reading import (
    negative,
    not_a_share,
    not_above_zero,
    out_of_order,
    read_numbers,
    refuse_bad,
)
from scenariokit.uncertainty.spread import Spread
from scenariokit.units import QuantityLike

__all__ = [
    "Spread", "fixed", "from_interval", "from_percentiles", "lognormal", "normal", "pert",
    "triangular", "uniform",
]  # fmt: skip


def fixed(value: QuantityLike) -> Spread:
    """Return the spread of a number that is known.

    Raises
    ------
    ArgumentError
        If it cannot be read.

    Examples
    --------
    >>> fixed("3 money/kg").words()
    '3 money/kg'
    """
    given, unit = read_numbers("fixed", {"value": value})
    return Spread("fixed", (given["value"],), unit)


def uniform(low: QuantityLike, high: QuantityLike) -> Spread:
    """Return a spread in which every value between two ends is as likely as any other.

    Parameters
    ----------
    low, high : quantity
        The ends; `high` is not below `low`. Equal ends give a fixed number.

    Raises
    ------
    ArgumentError
        If an end cannot be read, their units do not match or they are out of order.

    Notes
    -----
    Mean (a + b)/2, variance (b - a)²/12. It claims more than is usually known: that the
    ends are as likely as the middle and nothing lies beyond.

    Examples
    --------
    >>> uniform("2 kg", "8 kg").mean.m
    5.0
    """
    given, unit = read_numbers("uniform", {"low": low, "high": high})
    refuse_bad("uniform", out_of_order(given))
    if given["low"] == given["high"]:
        return Spread("fixed", (given["low"],), unit)
    return Spread("uniform", (given["low"], given["high"]), unit)


def triangular(low: QuantityLike, likely: QuantityLike, high: QuantityLike) -> Spread:
    """Return the spread whose density rises straight to the likeliest value and falls again.

    Parameters
    ----------
    low, likely, high : quantity
        a, m and b, with a ≤ m ≤ b. Equal ends give a fixed number.

    Raises
    ------
    ArgumentError
        If a value cannot be read, units do not match or they are out of order.

    Notes
    -----
    Mean (a + m + b)/3, variance (a² + m² + b² - a m - a b - m b)/18.

    Examples
    --------
    >>> spread = triangular("2 kg", "5 kg", "11 kg")
    >>> round(spread.mean.m, 6), round(spread.variance.m, 6)
    (6.0, 3.5)
    """
    return _three("triangular", {"low": low, "likely": likely, "high": high})


def pert(low: QuantityLike, likely: QuantityLike, high: QuantityLike) -> Spread:
    """Return the beta-PERT spread of a lowest, a likeliest and a highest value.

    A beta distribution from a to b with α = 1 + 4 (m - a)/(b - a) and
    β = 1 + 4 (b - m)/(b - a).

    Parameters
    ----------
    low, likely, high : quantity
        a, m and b, with a ≤ m ≤ b. Equal ends give a fixed number.

    Raises
    ------
    ArgumentError
        If a value cannot be read, units do not match or they are out of order.

    Notes
    -----
    Its mean is μ = (a + 4 m + b)/6 and its variance (μ - a)(b - μ)/7. The variance (b - a)²/36
    that is often quoted with it is only near to that. Assumes that nothing lies beyond the
    ends, and that values near them are rare.

    References
    ----------
    Malcolm et al. 1959, Operations Research 7:646, from memory: the three values and the mean.

    Examples
    --------
    >>> spread = pert("2 kg", "5 kg", "11 kg")
    >>> round(spread.mean.m, 6), round(spread.variance.m, 6)
    (5.5, 2.75)
    """
    return _three("pert", {"low": low, "likely": likely, "high": high})


def normal(mean: QuantityLike, deviation: QuantityLike) -> Spread:
    """Return the normal spread of a mean and a standard deviation.

    Parameters
    ----------
    mean, deviation : quantity
        Both in units of one dimension; the deviation 0 or more, where 0 gives a
        fixed number.

    Raises
    ------
    ArgumentError
        If a value cannot be read, units do not match or the deviation is below zero.

    Notes
    -----
    It reaches below zero. A leaf that may not is drawn from what lies in its range.

    Examples
    --------
    >>> round(float(normal("10 kg", "3 kg").quantile(0.975).m), 3)
    15.88
    """
    given, unit = read_numbers("normal", {"mean": mean, "deviation": deviation})
    refuse_bad("normal", negative(given, "deviation"))
    if given["deviation"] == 0:
        return Spread("fixed", (given["mean"],), unit)
    return Spread("normal", (given["mean"], given["deviation"]), unit)


def lognormal(mean: QuantityLike, deviation: QuantityLike) -> Spread:
    """Return the lognormal spread of a number's own mean and standard deviation.

    Parameters
    ----------
    mean, deviation : quantity
        Of the number itself, not of its logarithm; the mean above zero, the deviation 0 or
        more, where 0 gives a fixed number.

    Raises
    ------
    ArgumentError
        If a value cannot be read, units do not match, or one is below its range.

    Notes
    -----
    With mean m and deviation s the logarithm has the variance σ² = ln(1 + s²/m²) and the
    mean ln m - σ²/2. Never at or below zero, with a long upper tail: prices, hours.

    Examples
    --------
    >>> spread = lognormal("10 money", "3 money")
    >>> round(float(spread.quantile(0.5).m), 6)
    9.578263
    """
    given, unit = read_numbers("lognormal", {"mean": mean, "deviation": deviation})
    refuse_bad("lognormal", [*not_above_zero(given, "mean"), *negative(given, "deviation")])
    if given["deviation"] == 0:
        return Spread("fixed", (given["mean"],), unit)
    variance = math.log1p((given["deviation"] / given["mean"]) ** 2)
    centre = math.log(given["mean"]) - variance / 2
    return Spread("lognormal", (centre, math.sqrt(variance)), unit)


def from_percentiles(
    low: QuantityLike,
    high: QuantityLike,
    level: float = 0.9,
    shape: Literal["normal", "lognormal"] = "lognormal",
) -> Spread:
    """Return the spread of which a stated share lies between two values, as much above as below.

    Parameters
    ----------
    low, high : quantity
        The ends, `low` below `high`; above zero for a lognormal spread.
    level : float
        The share between them; 0.9 takes the ends as the 5th and 95th percentile.
    shape : {'lognormal', 'normal'}
        Of which kind. A lognormal one has the geometric mean √(low high) in its middle.

    Raises
    ------
    ArgumentError
        If a value cannot be read, is out of its range or order, or `shape` is another.

    Examples
    --------
    >>> spread = from_percentiles("4 money", "16 money")
    >>> round(float(spread.quantile(0.5).m), 6)
    8.0
    """
    from scipy.special import ndtri

    subject = "from_percentiles"
    given, unit = read_numbers(subject, {"low": low, "high": high, "level": level})
    problems = [*out_of_order(given, equal=False), *not_a_share(given, "level")]
    if shape not in ("normal", "lognormal"):
        problems.append(Problem("shape", repr(shape), "is not known", "normal, lognormal",
                                kind="range"))  # fmt: skip
    if shape == "lognormal":
        problems += not_above_zero(given, "low")
    refuse_bad(subject, problems)
    ends = given["low"], given["high"]
    if shape == "lognormal":
        ends = math.log(ends[0]), math.log(ends[1])
    reach = 2 * float(ndtri((1 + given["level"]) / 2))
    return Spread(shape, ((ends[0] + ends[1]) / 2, (ends[1] - ends[0]) / reach), unit)


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
        The estimate and the ends of its interval. The longer side is taken for
        both: a low end is often cut at zero.
    level : float
        Confidence of the interval.
    degrees : float, optional
        Degrees of freedom of its error, plots less one for the mean of single
        plots: the spread is then Student's t. Without, it is normal, which
        after a few plots is narrower than it should be.

    Raises
    ------
    ArgumentError
        If a value cannot be read, is out of its range or order.

    Notes
    -----
    mean + t s with s = half width / t((1 + level)/2, degrees): the
    distribution of the true mean given the plots, where nothing was known before (a flat
    prior). It is that of the mean of such trials; one tank in one season varies more.

    Examples
    --------
    >>> spread = from_interval("5 kg/m^2", "4 kg/m^2", "6 kg/m^2", degrees=3)
    >>> [round(float(end), 6) for end in spread.quantile([0.025, 0.975]).m]
    [4.0, 6.0]
    """
    from scipy.special import ndtri, stdtrit

    subject = "from_interval"
    numbers = {"mean": mean, "low": low, "high": high, "level": level}
    given, unit = read_numbers(
        subject, numbers if degrees is None else {**numbers, "degrees": degrees}
    )
    problems = not_a_share(given, "level")
    if not given["low"] <= given["mean"] <= given["high"]:
        problems.append(Problem("mean", f"{given['mean']:g}", "does not lie in its interval",
                                f"{given['low']:g} to {given['high']:g}", kind="range"))  # fmt: skip
    if degrees is not None:
        problems += not_above_zero(given, "degrees")
    refuse_bad(subject, problems)
    half = max(given["high"] - given["mean"], given["mean"] - given["low"])
    if half == 0:
        return Spread("fixed", (given["mean"],), unit)
    share = (1 + given["level"]) / 2
    if degrees is None:
        return Spread("normal", (given["mean"], half / float(ndtri(share))), unit)
    scale = half / float(stdtrit(given["degrees"], share))
    return Spread("student", (given["mean"], scale, given["degrees"]), unit)


def _three(kind: Literal["triangular", "pert"], values: Mapping[str, Any]) -> Spread:
    given, unit = read_numbers(kind, values)
    problems = out_of_order(given)
    if not problems and not given["low"] <= given["likely"] <= given["high"]:
        problems.append(Problem("likely", f"{given['likely']:g}", "does not lie between the ends",
                                f"{given['low']:g} to {given['high']:g}", kind="range"))  # fmt: skip
    refuse_bad(kind, problems)
    if given["low"] == given["high"]:
        return Spread("fixed", (given["low"],), unit)
    return Spread(kind, (given["low"], given["likely"], given["high"]), unit)
