"""Pooling of effects from several studies, each with its standard error."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal, NamedTuple

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.trials.heterogeneity import (
    ESTIMATORS,
    Between,
    FloatArray,
    q_statistic,
    tau2_interval,
    typical_variance,
)
from scenariokit.units import QuantityLike

PoolInterval = Literal["knapp_hartung", "normal"]
"""How the interval of the mean over studies is made."""


@dataclass(frozen=True)
class Pooling:
    """How studies are pooled.

    Parameters
    ----------
    between : {'reml', 'dersimonian_laird', 'paule_mandel'}
        How the variance among studies is estimated.
    interval : {'knapp_hartung', 'normal'}
        With Student's t and the observed spread of the studies, or with the
        normal distribution; the second is too narrow for few studies.
    confidence : float
        Confidence of all intervals.
    """

    between: Between = "reml"
    interval: PoolInterval = "knapp_hartung"
    confidence: QuantityLike = 0.95


class PooledMean(NamedTuple):
    """Mean over studies on the scale of pooling: value, standard error, interval and p."""

    estimate: float
    standard_error: float
    low: float
    high: float
    p: float


@dataclass(frozen=True)
class EffectPool:
    """What several studies say together, as plain numbers on the scale of pooling.

    Parameters
    ----------
    studies : int
        k, how many were pooled.
    fixed : PooledMean
        The mean as if all studies had one and the same effect.
    random : PooledMean
        The mean over studies like these, whose effects differ.
    weights, fixed_weights : tuple of float
        Share of each study in `random` and in `fixed`.
    q, q_p : float
        Cochran's Q and the chance of one at least as large if all had one effect.
    i_squared : float
        Share of the variation that is among studies, 0 to 1.
    tau2, tau2_low, tau2_high : float
        Variance among studies with its interval.
    prediction : tuple of float or None
        Where the effect in another such study is to be expected; None with
        fewer than three studies.
    notes : tuple of str
        What a reader must know.
    """

    studies: int
    fixed: PooledMean
    random: PooledMean
    weights: tuple[float, ...]
    fixed_weights: tuple[float, ...]
    q: float
    q_p: float
    i_squared: float
    tau2: float
    tau2_low: float
    tau2_high: float
    prediction: tuple[float, float] | None
    notes: tuple[str, ...]


def pool_effects(
    effects: Sequence[float | None],
    standard_errors: Sequence[float | None],
    *,
    pooling: Pooling | None = None,
) -> EffectPool:
    r"""Return the mean effect over studies and how much studies differ.

    Fixed: w = 1/v, μ = Σ w y / Σ w, se = 1/√Σ w.
    Random: the same with w = 1/(v + τ²); with the interval of Knapp and Hartung
    se² = Σ w (y − μ)² / ((k − 1) Σ w) and Student's t with k − 1 degrees.
    I² = τ² / (τ² + s²), where s² is the typical variance within a study.
    Prediction: μ ± t(k − 2) √(τ² + se²).

    Parameters
    ----------
    effects : sequence of float
        y, one for each study, on one scale, for example natural logarithms of
        ratios.
    standard_errors : sequence of float
        √v, on the same scale, above zero.
    pooling : Pooling, optional
        Estimator of τ², kind of interval and confidence.

    Returns
    -------
    EffectPool

    Raises
    ------
    ArgumentError
        If the lengths differ, there are fewer than two studies, a number is
        missing or not finite, a standard error is not above zero, or `pooling`
        names an unknown way.

    Notes
    -----
    Valid for independent studies whose standard errors are well known. Few
    studies say little about τ²: look at its interval. Knapp and Hartung's
    interval can be narrower than the normal one where studies agree by luck;
    a note says so.

    References
    ----------
    DerSimonian and Laird 1986, Controlled Clinical Trials 7:177, doi
    10.1016/0197-2456(86)90046-2. Paule and Mandel 1982, Journal of Research of
    the National Bureau of Standards 87:377. Knapp and Hartung 2003, Statistics
    in Medicine 22:2693, doi 10.1002/sim.1482. Higgins and Thompson 2002,
    Statistics in Medicine 21:1539, doi 10.1002/sim.1186 (I²). Higgins, Thompson
    and Spiegelhalter 2009, Journal of the Royal Statistical Society A 172:137,
    doi 10.1111/j.1467-985X.2008.00552.x (prediction).

    Examples
    --------
    >>> from scenariokit.trials.effect_pool import pool_effects
    >>> pool = pool_effects([0.21, 0.10, 0.14, 0.32], [0.06, 0.05, 0.09, 0.08])
    >>> f"{pool.random.estimate:.3f} ({pool.random.low:.3f} to {pool.random.high:.3f})"
    '0.184 (0.034 to 0.335)'
    """
    options = pooling or Pooling()
    y, errors, confidence = _checked(effects, standard_errors, options)
    variances = errors**2
    tau2 = ESTIMATORS[options.between](y, variances)
    low, high = tau2_interval(y, variances, confidence)
    fixed = _mean(y, variances, confidence, None)
    weights = 1 / (variances + tau2)
    spread = q_statistic(y, variances, tau2) / (y.size - 1)
    random = _mean(
        y, variances + tau2, confidence, spread if options.interval == "knapp_hartung" else None
    )
    from scipy.special import chdtrc

    q = q_statistic(y, variances)
    notes = []
    if options.interval == "knapp_hartung" and spread < 1:
        notes.append(
            tr(
                "the studies agree better than their standard errors let expect, so the interval is "
                "narrower than the normal one; do not lean on that"
            )
        )
    if y.size < 5:
        notes.append(tr("{count} studies say little about how much studies differ", count=y.size))
    return EffectPool(
        studies=y.size,
        fixed=fixed,
        random=random,
        weights=tuple((weights / weights.sum()).tolist()),
        fixed_weights=tuple((1 / variances / np.sum(1 / variances)).tolist()),
        q=q,
        q_p=float(chdtrc(y.size - 1, q)),
        i_squared=tau2 / (tau2 + typical_variance(variances)),
        tau2=tau2,
        tau2_low=low,
        tau2_high=high,
        prediction=_prediction(random, tau2, y.size, confidence),
        notes=tuple(notes),
    )


def _checked(
    effects: Sequence[float | None], standard_errors: Sequence[float | None], options: Pooling
) -> tuple[FloatArray, FloatArray, float]:
    """Return effects, standard errors and confidence, or raise one error with all problems."""
    subject = "pool_effects"
    y, errors = np.asarray(effects, dtype=float), np.asarray(standard_errors, dtype=float)
    problems = []
    if y.ndim != 1 or errors.shape != y.shape:
        shapes = f"{y.shape}, {errors.shape}"
        problems.append(Problem("effects, standard_errors", shapes, tr("are not two equal rows")))
    elif y.size < 2:
        problems.append(
            Problem("effects", str(y.size), tr("is one study or none"), tr("two or more"))
        )
    for place in np.flatnonzero(~np.isfinite(y.ravel())):
        problems.append(Problem(f"effects[{place}]", str(y.ravel()[place]), tr("is not a number")))
    for place in np.flatnonzero(~(np.isfinite(errors.ravel()) & (errors.ravel() > 0))):
        value = str(errors.ravel()[place])
        problems.append(Problem(f"standard_errors[{place}]", value, tr("is not above zero")))
    for name, value, known in (
        ("between", options.between, tuple(ESTIMATORS)),
        ("interval", options.interval, ("knapp_hartung", "normal")),
    ):
        if value not in known:
            problems.append(Problem(name, str(value), tr("is unknown"), ", ".join(known)))
    if problems:
        raise argument_error(problems, subject)
    level = checked_floats(subject, {"confidence": (options.confidence, "confidence")})
    return y, errors, float(level["confidence"])


def _mean(
    y: FloatArray, variances: FloatArray, confidence: float, spread: float | None
) -> PooledMean:
    """Return the weighted mean with its interval; with `spread` after Knapp and Hartung."""
    from scipy.special import ndtr, ndtri, stdtr, stdtrit

    weights = 1 / variances
    total = float(weights.sum())
    middle = float(weights @ y) / total
    if spread is None:
        error = 1 / np.sqrt(total)
        half = float(ndtri((1 + confidence) / 2)) * error
        p = 2 * float(ndtr(-abs(middle) / error))
    else:
        error = np.sqrt(spread / total)
        half = float(stdtrit(y.size - 1, (1 + confidence) / 2)) * error
        # Studies that agree to the last digit leave no spread, and no chance.
        p = 2 * float(stdtr(y.size - 1, -abs(middle) / error)) if error > 0 else float(middle == 0)
    return PooledMean(middle, float(error), middle - half, middle + half, p)


def _prediction(
    random: PooledMean, tau2: float, studies: int, confidence: float
) -> tuple[float, float] | None:
    if studies < 3:
        return None
    from scipy.special import stdtrit

    half = float(stdtrit(studies - 2, (1 + confidence) / 2))
    half *= float(np.sqrt(tau2 + random.standard_error**2))
    return random.estimate - half, random.estimate + half
