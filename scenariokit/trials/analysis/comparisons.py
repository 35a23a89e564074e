"""Which treatments differ: least significant difference, Tukey-Kramer, Holm, contrasts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.trials.analysis.anova import Analysis
from scenariokit.trials.analysis.letters import compact_letters
from scenariokit.trials.analysis.means import MeanSet, as_yield, mean_set, t_point, variance
from scenariokit.trials.plots import FloatArray, factor_text

Method = Literal["lsd", "tukey", "bonferroni", "holm"]
METHODS: tuple[Method, ...] = ("lsd", "tukey", "bonferroni", "holm")


@dataclass(frozen=True)
class Pair:
    """Two treatments side by side.

    Parameters
    ----------
    first, second : str
        Their labels.
    difference, standard_error : quantity
        First minus second and its standard error, kg/m².
    df : float
        Degrees of freedom.
    p : float
        Chance of so large a difference if they were alike, by the chosen method.
    low, high : quantity or None
        Interval of the difference, kg/m²; None for Holm's method, which has none.
    differs : bool
        Whether p lies below 1 - confidence.
    """

    first: str
    second: str
    difference: units.Quantity
    standard_error: units.Quantity
    df: float
    p: float
    low: units.Quantity | None
    high: units.Quantity | None
    differs: bool


@dataclass(frozen=True)
class Comparisons:
    """Every pair of treatments, and letters.

    Parameters
    ----------
    method : str
        How many comparisons at once were allowed for.
    confidence : float
        Of the statements.
    pairs : tuple of Pair
        In the order of the plots.
    critical : quantity or None
        The difference from which a pair differs, kg/m²; None where pairs have different
        standard errors, and for Holm's method.
    letters : dict of str to str
        Label to letters, the highest mean first. Two that share a letter are not shown to
        differ.
    notes : tuple of str
        What a reader must know.
    """

    method: str
    confidence: float
    pairs: tuple[Pair, ...]
    critical: units.Quantity | None
    letters: dict[str, str]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Contrast:
    """A weighted sum of means, such as one against the mean of others.

    Parameters
    ----------
    estimate, standard_error, low, high : quantity
        The sum, its standard error and its interval, kg/m².
    df, f, p : float
        Degrees of freedom of the error, F with 1 and df, and its chance.
    sum_of_squares : float or None
        In (kg/m²)²; None where two errors are mixed.
    """

    estimate: units.Quantity
    standard_error: units.Quantity
    low: units.Quantity
    high: units.Quantity
    df: float
    f: float
    p: float
    sum_of_squares: float | None


def pairwise(
    analysis: Analysis, source: str, method: Method = "tukey", *, confidence: float = 0.95
) -> Comparisons:
    """Return every pair of a treatment's means, allowing for the number of pairs.

    t = (m1 - m2) / s(m1 - m2). Of k means and c = k (k - 1)/2 pairs, the chance p of each is

    - ``"lsd"``: that of Student's t, pair by pair (least significant difference),
    - ``"tukey"``: that of the studentized range, q = √2 |t| with k means; for unequal
      numbers of plots this is Tukey-Kramer,
    - ``"bonferroni"``: c times Student's, at most 1,
    - ``"holm"``: Bonferroni step by step: the smallest times c, the next times c - 1, ...

    Parameters
    ----------
    analysis : Analysis
        What `analyse` gave.
    source : str
        A treatment term: ``"method"`` or, for combinations, ``"method:variety"``.
    method : {'tukey', 'lsd', 'bonferroni', 'holm'}
        How to allow for many pairs.
    confidence : float
        Of the statements; pair by pair for ``"lsd"``, of all together for the others.

    Returns
    -------
    Comparisons

    Raises
    ------
    RangeError
        If there is no such term or method, or `confidence` lies outside its range.
    InfeasibleError
        If the plots give fewer than two means, or no error.

    Notes
    -----
    A treatment with one plot can be compared as long as the error has degrees of freedom
    from others: the error is then taken to be the same for all. The least significant
    difference finds differences that are not there: of 6 treatments that are all alike some
    pair differs in more than one trial of three (36.6 %, computed, many plots).

    References
    ----------
    Tukey 1953, "The problem of multiple comparisons"; Kramer 1956, Biometrics 12:307; Holm
    1979, Scandinavian J. of Statistics 6:65; from memory.

    Examples
    --------
    >>> from scenariokit.trials.analysis.anova import analyse
    >>> from scenariokit.trials.analysis.designs import completely_randomised
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable([4.1, 4.9, 5.3, 6.0, 6.4, 6.8, 6.5], {"method": tuple("AAABBBC")})
    >>> found = pairwise(analyse(plots, completely_randomised("method")), "method")
    >>> found.letters
    {'C': 'ab', 'B': 'a', 'A': 'b'}
    """
    level = _level("pairwise", confidence)
    if method not in METHODS:
        problem = Problem(
            "method", str(method), tr("is not known"), ", ".join(METHODS), kind="range"
        )
        raise argument_error([problem], "pairwise")
    found = usable_means(analysis, source, "pairwise")
    i, j = np.triu_indices(len(found.labels), 1)
    gaps = found.values[i] - found.values[j]
    squares, df = variance(analysis, _of_pairs(found.within, i, j), _of_pairs(found.between, i, j))
    errors = np.sqrt(squares)
    p = _chances(np.abs(gaps) / errors, df, len(found.labels), method)
    points = _points(df, len(found.labels), method, level)
    pairs = tuple(
        Pair(
            first=found.labels[i[n]],
            second=found.labels[j[n]],
            difference=as_yield(gaps[n]),
            standard_error=as_yield(errors[n]),
            df=float(df[n]),
            p=float(p[n]),
            low=None if points is None else as_yield(gaps[n] - points[n] * errors[n]),
            high=None if points is None else as_yield(gaps[n] + points[n] * errors[n]),
            differs=bool(p[n] < 1 - level),
        )
        for n in range(len(i))
    )
    alike = np.ptp(errors) <= 1e-9 * errors.max() and np.ptp(df) <= 1e-9 * df.max()
    return Comparisons(
        method=method,
        confidence=level,
        pairs=pairs,
        critical=as_yield(points[0] * errors[0]) if alike and points is not None else None,
        letters=compact_letters(
            dict(zip(found.labels, found.values.tolist(), strict=True)),
            [(pair.first, pair.second) for pair in pairs if pair.differs],
        ),
        notes=mean_notes(analysis, found),
    )


def contrast(
    analysis: Analysis, source: str, weights: Mapping[str, float], *, confidence: float = 0.95
) -> Contrast:
    """Return a weighted sum of a treatment's means that you chose before the harvest.

    e = Σ w m, F = e² / var(e) with 1 and df degrees of freedom.

    Parameters
    ----------
    analysis : Analysis
        What `analyse` gave.
    source : str
        A treatment term.
    weights : mapping
        Label to w; the weights add to zero. What is left out has weight 0. For
        example ``{"none": 1, "low": -0.5, "high": -0.5}``.
    confidence : float
        Of the interval.

    Returns
    -------
    Contrast

    Raises
    ------
    RangeError
        If a label is not among the means, the weights are all zero or do not add to zero.
    InfeasibleError
        If the plots give fewer than two means, or no error.

    Examples
    --------
    >>> from scenariokit.trials.analysis.anova import analyse
    >>> from scenariokit.trials.analysis.designs import completely_randomised
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable([4.1, 4.9, 5.3, 6.0, 6.4, 6.8], {"method": tuple("AAABBB")})
    >>> found = contrast(
    ...     analyse(plots, completely_randomised("method")), "method", {"B": 1, "A": -1}
    ... )
    >>> f"{found.estimate:.3f~P}, p = {found.p:.4f}"
    '1.633 kg/m², p = 0.0179'
    """
    level = _level("contrast", confidence)
    found = usable_means(analysis, source, "contrast")
    vector = _weights(found, weights)
    within, between = vector @ found.within @ vector, vector @ found.between @ vector
    square, df = (float(value) for value in variance(analysis, within, between))
    estimate = float(vector @ found.values)
    half = float(t_point(level, df)) * square**0.5
    one = len(analysis.strata) == 1
    return Contrast(
        estimate=as_yield(estimate),
        standard_error=as_yield(square**0.5),
        low=as_yield(estimate - half),
        high=as_yield(estimate + half),
        df=df,
        f=estimate**2 / square,
        p=float(two_sided(estimate / square**0.5, df)),
        sum_of_squares=estimate**2 / float(within) if one else None,
    )


def usable_means(analysis: Analysis, source: str, subject: str) -> MeanSet:
    """Return the means of a term, at least two and with an error.

    Raises
    ------
    InfeasibleError
        If there are fewer, or the error is nothing but rounding.
    """
    found = mean_set(analysis, source)
    if len(found.labels) < 2:
        lost = ", ".join(found.lost)
        raise InfeasibleError(
            tr(
                "{subject}: the plots harvested do not give two means of {source} (not {lost}). "
                "Possible: its factors one by one",
                subject=subject,
                source=factor_text(source),
                lost=lost,
            )
        )
    if any(stratum.mean_square == 0 for stratum in analysis.strata):
        raise InfeasibleError(
            tr(
                "{subject}: plots treated alike do not differ at all, so that there is no error to "
                "compare with. Possible: look whether weights were copied or rounded",
                subject=subject,
            )
        )
    return found


def mean_notes(analysis: Analysis, found: MeanSet) -> tuple[str, ...]:
    """Return sentences on means that are weak or not to be had."""
    notes = list(analysis.notes)
    if found.lost:
        notes.append(
            tr(
                "The plots harvested give no mean of {treatments}.",
                treatments=", ".join(found.lost),
            )
        )
    single = [label for label, n in zip(found.labels, found.counts, strict=True) if n == 1]
    if single:
        notes.append(
            tr(
                "{treatments}: one plot only; its error is taken to be that of the others.",
                treatments=", ".join(single),
            )
        )
    return tuple(notes)


def two_sided(t: Any, df: Any) -> Any:
    """Return the chance of a Student's t at least as far from zero as `t`."""
    from scipy.special import stdtr

    return 2 * stdtr(df, -np.abs(t))


def adjust(p: FloatArray, method: Literal["none", "bonferroni", "holm"]) -> FloatArray:
    """Return chances `p` allowing for their number, by Bonferroni or Holm."""
    count = len(p)
    if method == "none":
        return p
    if method == "bonferroni":
        return np.minimum(count * p, 1.0)
    order = np.argsort(p, kind="stable")
    stepped = np.maximum.accumulate((count - np.arange(count)) * p[order])
    found = np.empty(count)
    found[order] = np.minimum(stepped, 1.0)
    return found


def _level(subject: str, confidence: float) -> float:
    found = checked_floats(subject, {"confidence": (confidence, "confidence")})
    return float(found["confidence"])


def _of_pairs(covariance: FloatArray, i: Any, j: Any) -> FloatArray:
    diagonal = np.diag(covariance)
    found: FloatArray = diagonal[i] + diagonal[j] - 2 * covariance[i, j]
    return found


def _chances(t: FloatArray, df: FloatArray, means: int, method: Method) -> FloatArray:
    if method == "tukey":
        from scipy.stats import studentized_range

        found: FloatArray = studentized_range.sf(np.sqrt(2) * t, means, df)
        return np.clip(found, 0.0, 1.0)
    single: FloatArray = two_sided(t, df)
    return single if method == "lsd" else adjust(single, method)


def _points(df: FloatArray, means: int, method: Method, level: float) -> FloatArray | None:
    """Return how many standard errors the half interval of each pair is wide."""
    if method == "holm":
        return None
    if method == "tukey":
        from scipy.stats import studentized_range

        # Slow, and most pairs have the same degrees of freedom.
        different, which = np.unique(np.round(df, 9), return_inverse=True)
        points: FloatArray = studentized_range.ppf(level, means, different) / np.sqrt(2)
        return points[which]
    share = 1.0 if method == "lsd" else len(df)
    found: FloatArray = t_point(1 - (1 - level) / share, df)
    return found


def _weights(found: MeanSet, weights: Mapping[str, float]) -> FloatArray:
    problems = [
        Problem("weights", label, tr("has no mean"), ", ".join(found.labels), kind="range")
        for label in weights
        if label not in found.labels
    ]
    vector = np.array([float(weights.get(label, 0.0)) for label in found.labels])
    if not problems and (not np.any(vector) or not np.isfinite(vector).all()):
        problems.append(
            Problem("weights", str(dict(weights)), tr("are all zero or not finite"), kind="range")
        )
    elif not problems and abs(vector.sum()) > 1e-9 * np.abs(vector).max():
        text = f"{vector.sum():g}"
        problems.append(Problem("weights", text, tr("do not add to zero"), kind="range"))
    if problems:
        raise argument_error(problems, "contrast")
    return vector
