"""How many times one method yields what another does, with its interval (Fieller)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked_floats, to_floats
from scenariokit.trials.analysis.anova import Analysis
from scenariokit.trials.analysis.comparisons import usable_means
from scenariokit.trials.analysis.means import t_point, variance
from scenariokit.units import QuantityLike


@dataclass(frozen=True)
class RatioInterval:
    """A ratio of two mean yields.

    Parameters
    ----------
    ratio : float
        First mean over second.
    low, high : float or None
        Interval; None where it is not bounded.
    bounded : bool
        False where the second mean is so poorly known that it may be zero: then no
        ratio, however large, can be excluded.
    g : float
        (t s/m)² of the second mean; the interval is bounded while it is below 1.
    df : float
        Degrees of freedom of the errors; infinite if they are known.
    confidence : float
        Of the interval.
    """

    ratio: float
    low: float | None
    high: float | None
    bounded: bool
    g: float
    df: float
    confidence: float


class _Errors(NamedTuple):
    """Variances and covariance of two means, and their degrees of freedom."""

    first: float
    second: float
    both: float
    df: float


def ratio_of_means(
    first: QuantityLike,
    second: QuantityLike,
    *,
    equal_variances: bool = True,
    confidence: float = 0.95,
) -> RatioInterval:
    """Return the ratio of the mean yields of two methods from their plots, with its interval.

    R = a/b; its ends are the roots of Fieller's
    (b² - t² vb) R² - 2 a b R + (a² - t² va) = 0, va = s²/na, vb = s²/nb.

    Parameters
    ----------
    first, second : quantity
        Yields of the plots of each, kg/m²; independent plots, two or more in all but
        one of them.
    equal_variances : bool
        Take one error for both, with na + nb - 2 degrees of freedom. Else each has its
        own, with Welch's degrees of freedom; the interval is then approximate.
    confidence : float
        Of the interval.

    Returns
    -------
    RatioInterval

    Raises
    ------
    UnitError, RangeError
        If a yield or `confidence` has the wrong unit or lies outside its range, or the
        second mean is zero.
    InfeasibleError
        If there are too few plots, or none differ.

    Notes
    -----
    For plots in blocks use `ratio_in`, which takes the blocks out of the error.

    References
    ----------
    Fieller 1954, J. Royal Statistical Society B 16:175; from memory.

    Examples
    --------
    >>> found = ratio_of_means(
    ...     ["6.0 kg/m^2", "6.4 kg/m^2", "6.8 kg/m^2"],
    ...     ["4.1 kg/m^2", "4.9 kg/m^2", "5.3 kg/m^2"],
    ... )
    >>> f"{found.ratio:.2f} ({found.low:.2f} to {found.high:.2f})"
    '1.34 (1.09 to 1.68)'
    """
    groups, level = _yields(first, second, confidence)
    counts = [group.size for group in groups]
    enough = sum(counts) > 2 if equal_variances else min(counts) > 1
    if not enough:
        raise InfeasibleError(
            tr(
                "ratio_of_means: {first} and {second} plots do not show by how much plots treated "
                "alike differ. Possible: a second plot of either (of both, with errors of their own)",
                first=counts[0],
                second=counts[1],
            )
        )
    squares = [float(((group - group.mean()) ** 2).sum()) for group in groups]
    if sum(squares) == 0:
        raise InfeasibleError(tr("ratio_of_means: the plots of a method do not differ at all"))
    if equal_variances:
        df = float(sum(counts) - 2)
        va, vb = (sum(squares) / df / count for count in counts)
    else:
        va, vb = (square / (n - 1) / n for square, n in zip(squares, counts, strict=True))
        df = (va + vb) ** 2 / (va**2 / (counts[0] - 1) + vb**2 / (counts[1] - 1))
    return _fieller(
        float(groups[0].mean()), float(groups[1].mean()), _Errors(va, vb, 0.0, df), level
    )


def ratio_of_estimates(
    first: QuantityLike,
    second: QuantityLike,
    first_error: QuantityLike,
    second_error: QuantityLike,
    *,
    df: float = np.inf,
    confidence: float = 0.95,
) -> RatioInterval:
    """Return the ratio of two independent means from their standard errors, with its interval.

    As `ratio_of_means`, with va and vb the squares of the standard errors.

    Parameters
    ----------
    first, second : quantity
        The means, kg/m².
    first_error, second_error : quantity
        Their standard errors, kg/m².
    df : float
        Degrees of freedom of the errors; infinite if they are known.
    confidence : float
        Of the interval.

    Returns
    -------
    RatioInterval

    Raises
    ------
    UnitError, RangeError
        If an argument has the wrong unit or lies outside its range.

    References
    ----------
    Fieller 1954, J. Royal Statistical Society B 16:175; from memory.

    Examples
    --------
    >>> found = ratio_of_estimates("4.8 kg/m^2", "3.2 kg/m^2", "0.25 kg/m^2", "0.25 kg/m^2", df=8)
    >>> f"{found.ratio:.2f} ({found.low:.2f} to {found.high:.2f})"
    '1.50 (1.22 to 1.88)'
    """
    given = checked_floats(
        "ratio_of_estimates",
        {
            "first": (first, "yield_per_area"),
            "second": (
                second,
                Expect("yield_per_area", above_zero=True, why=mark("it is divided by")),
            ),
            "first_error": (first_error, "yield_per_area"),
            "second_error": (second_error, "yield_per_area"),
            "confidence": (confidence, "confidence"),
        },
    )
    if not df > 0:
        problem = Problem("df", f"{df:g}", tr("is not above zero"), tr("more than 0"), kind="range")
        raise argument_error([problem], "ratio_of_estimates")
    errors = _Errors(given["first_error"] ** 2, given["second_error"] ** 2, 0.0, float(df))
    return _fieller(given["first"], given["second"], errors, given["confidence"])


def ratio_in(
    analysis: Analysis, source: str, first: str, second: str, *, confidence: float = 0.95
) -> RatioInterval:
    """Return the ratio of two treatments' means in an analysed trial, with its interval.

    (b² - t² vb) R² - 2 (a b - t² cab) R + (a² - t² va) = 0, with the variances and the
    covariance cab of the adjusted means.

    Parameters
    ----------
    analysis : Analysis
        What `analyse` gave.
    source : str
        A treatment term.
    first, second : str
        Labels of the two.
    confidence : float
        Of the interval.

    Returns
    -------
    RatioInterval

    Raises
    ------
    RangeError
        If there is no such term or label, or `confidence` lies outside its range.
    InfeasibleError
        If there is no error, or the second mean is not above zero.

    Notes
    -----
    Holds for these blocks. Where two errors are mixed, the degrees of freedom of the
    difference are used.

    References
    ----------
    Fieller 1954, J. Royal Statistical Society B 16:175; from memory.
    """
    level = float(
        checked_floats("ratio_in", {"confidence": (confidence, "confidence")})["confidence"]
    )
    found = usable_means(analysis, source, "ratio_in")
    problems = [
        Problem(key, label, tr("has no mean"), ", ".join(found.labels), kind="range")
        for key, label in (("first", first), ("second", second))
        if label not in found.labels
    ]
    if problems:
        raise argument_error(problems, "ratio_in")
    two = [found.labels.index(first), found.labels.index(second)]
    pick = np.ix_(two, two)
    covariance, _ = variance(analysis, found.within[pick], found.between[pick])
    gap = np.array([1.0, -1.0])
    _, df = variance(analysis, *(gap @ part[pick] @ gap for part in (found.within, found.between)))
    a, b = found.values[two].tolist()
    if b <= 0:
        raise InfeasibleError(tr("ratio_in: the mean of {second} is not above zero", second=second))
    errors = _Errors(
        float(covariance[0, 0]), float(covariance[1, 1]), float(covariance[0, 1]), float(df)
    )
    return _fieller(a, b, errors, level)


def _fieller(a: float, b: float, errors: _Errors, level: float) -> RatioInterval:
    squared = float(t_point(level, errors.df)) ** 2
    g = squared * errors.second / b**2
    if g >= 1:
        return RatioInterval(a / b, None, None, False, g, errors.df, level)
    lead = b**2 - squared * errors.second
    half = a * b - squared * errors.both
    rest = a**2 - squared * errors.first
    root = np.sqrt(max(half**2 - lead * rest, 0.0))
    low, high = float((half - root) / lead), float((half + root) / lead)
    return RatioInterval(a / b, low, high, True, g, errors.df, level)


def _yields(first: Any, second: Any, confidence: Any) -> tuple[list[Any], float]:
    """Return both lists of yields as floats, and the confidence; report all that is wrong."""
    found, problems = [], []
    given = (
        ("first", first, "yield_per_area"),
        ("second", second, "yield_per_area"),
        ("confidence", confidence, "confidence"),
    )
    for key, value, name in given:
        numbers, problem = to_floats(key, value, parameter(name))
        found.append(numbers)
        if problem is not None:
            problems.append(problem)
    if not problems and not np.any(found[1]):
        reason = tr("is zero: it is divided by")
        problems.append(Problem(tr("mean of second"), "0 kg/m²", reason, kind="range"))
    if problems:
        raise argument_error(problems, "ratio_of_means")
    return [np.atleast_1d(group).reshape(-1) for group in found[:2]], float(found[2])
