"""What a mixed model gives back, with units and intervals."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scenariokit.quantities import with_unit
from scenariokit.trials.mixed.gls import Estimates, Products, each_column
from scenariokit.trials.mixed.matrices import FloatArray, Term
from scenariokit.trials.mixed.reml import Components
from scenariokit.units import Quantity

YIELD = "kg/m^2"


@dataclass(frozen=True)
class VarianceComponent:
    """How much the groups of one random term differ.

    Parameters
    ----------
    term : tuple of str
        Factors of the term; ``("plot",)`` for plots treated alike.
    variance : quantity
        Variance [kg²/m⁴].
    standard_deviation : quantity
        Its square root [kg/m²].
    share : float
        Share of all variance.
    groups : int
        Groups of the term, or plots.
    at_zero : bool
        Whether the best value is zero: groups differ no more than chance has it.
    """

    term: Term
    variance: Quantity
    standard_deviation: Quantity
    share: float
    groups: int
    at_zero: bool


@dataclass(frozen=True)
class TreatmentMean:
    """Mean of a treatment or combination, with its interval.

    Parameters
    ----------
    levels : dict of str to str
        Factor to level.
    mean, standard_error, low, high : quantity
        In kg/m². The interval says where the mean over many such studies lies.
    degrees : float
        Degrees of freedom of the interval.
    """

    levels: dict[str, str]
    mean: Quantity
    standard_error: Quantity
    low: Quantity
    high: Quantity
    degrees: float


@dataclass(frozen=True)
class TreatmentDifference:
    """Difference of two treatments, with its own standard error.

    Parameters
    ----------
    first, second : dict of str to str
        Factor to level.
    difference, standard_error, low, high : quantity
        First minus second, in kg/m².
    degrees : float
        Degrees of freedom.
    p : float
        Chance of a difference at least as large between treatments that are
        alike, for this pair alone.
    """

    first: dict[str, str]
    second: dict[str, str]
    difference: Quantity
    standard_error: Quantity
    low: Quantity
    high: Quantity
    degrees: float
    p: float


@dataclass(frozen=True)
class FixedTest:
    """Test of a main effect or interaction.

    Parameters
    ----------
    term : tuple of str
        Its factors.
    degrees, error_degrees : float
        Degrees of freedom of the effect and of what it is judged by.
    f, p : float
        F and the chance of one at least as large without any effect.
    """

    term: Term
    degrees: int
    error_degrees: float
    f: float
    p: float


@dataclass(frozen=True)
class RandomEffect:
    """How far one group of a random term lies from the mean, drawn towards it.

    Parameters
    ----------
    term : tuple of str
        Factors of the term.
    levels : tuple of str
        Their levels in this group.
    effect, standard_error : quantity
        Best linear unbiased prediction and its standard error [kg/m²].
    """

    term: Term
    levels: Term
    effect: Quantity
    standard_error: Quantity


def variance_components(
    terms: Sequence[Term], given: Products, fitted: Components
) -> tuple[VarianceComponent, ...]:
    """Return the components with units, the residual last."""
    total = float(fitted.values.sum())
    groups = [term.stop - term.start for term in given.terms]
    return tuple(
        VarianceComponent(
            term=term,
            variance=with_unit(float(value), "kg^2/m^4"),
            standard_deviation=with_unit(float(np.sqrt(value)), YIELD),
            share=float(value) / total,
            groups=size,
            at_zero=bool(zero),
        )
        for term, value, size, zero in zip(
            (*terms, ("plot",)),
            fitted.values,
            (*groups, given.plots),
            (*fitted.at_zero, False),
            strict=True,
        )
    )


def random_effects(
    terms: Sequence[Term], groups: Sequence[Sequence[Term]], given: Products, fitted: Components
) -> tuple[RandomEffect, ...]:
    """Return u = Γ Z'Py with the square root of its prediction error variance.

    var(û − u) = σ² (Γ − Γ Z'PZ Γ).
    """
    residual = float(fitted.values[-1])
    ratios = each_column(given, fitted.values[:-1] / residual)
    effects = ratios * fitted.solved.zpy
    spread = residual * (ratios - ratios**2 * np.diag(fitted.solved.zpz))
    errors = np.sqrt(np.maximum(spread, 0.0))  # rounding may leave a trace below zero
    names = [(term, level) for term, levels in zip(terms, groups, strict=True) for level in levels]
    return tuple(
        RandomEffect(term, level, with_unit(float(effect), YIELD), with_unit(float(error), YIELD))
        for (term, level), effect, error in zip(names, effects, errors, strict=True)
    )


def treatment_means(
    found: Estimates, names: Term, levels: Sequence[Term], rows: FloatArray, confidence: float
) -> tuple[TreatmentMean, ...]:
    """Return the mean of each of `levels`, whose coefficients are in `rows`."""
    return tuple(
        TreatmentMean(
            levels=dict(zip(names, level, strict=True)),
            mean=with_unit(value, YIELD),
            standard_error=with_unit(error, YIELD),
            low=with_unit(low, YIELD),
            high=with_unit(high, YIELD),
            degrees=degrees,
        )
        for level, (value, error, low, high, degrees, _) in zip(
            levels, _lines(found, rows, confidence), strict=True
        )
    )


def treatment_differences(
    found: Estimates, names: Term, levels: Sequence[Term], rows: FloatArray, confidence: float
) -> tuple[TreatmentDifference, ...]:
    """Return the difference of each two of `levels`, the first minus the second."""
    pairs = list(itertools.combinations(range(len(levels)), 2))
    first, second = np.array(pairs).T
    labels = [dict(zip(names, level, strict=True)) for level in levels]
    return tuple(
        TreatmentDifference(
            first=labels[a],
            second=labels[b],
            difference=with_unit(value, YIELD),
            standard_error=with_unit(error, YIELD),
            low=with_unit(low, YIELD),
            high=with_unit(high, YIELD),
            degrees=degrees,
            p=p,
        )
        for (a, b), (value, error, low, high, degrees, p) in zip(
            pairs, _lines(found, rows[first] - rows[second], confidence), strict=True
        )
    )


def _lines(found: Estimates, rows: FloatArray, confidence: float) -> list[tuple[float, ...]]:
    """Return value, standard error, both ends, degrees of freedom and p for each row."""
    from scipy.special import stdtr, stdtrit

    values = rows @ found.coefficients
    errors = np.sqrt(np.einsum("ij,jk,ik->i", rows, found.covariance, rows))
    degrees = found.degrees(rows)
    half = stdtrit(degrees, (1 + confidence) / 2) * errors
    p = 2 * stdtr(degrees, -np.abs(values) / errors)
    columns = (values, errors, values - half, values + half, degrees, p)
    return [tuple(float(part) for part in line) for line in zip(*columns, strict=True)]


def fixed_test(found: Estimates, term: Term, rows: FloatArray) -> FixedTest:
    """Return the F test that all contrasts in `rows` are zero.

    F = (L b)' (L C L')⁻¹ (L b) / q. The contrasts are turned so that they are
    independent; from the Satterthwaite degrees νₘ of each,
    E = Σ νₘ / (νₘ − 2) and the degrees of F are 2 E / (E − q).
    """
    from scipy.special import fdtrc

    values, vectors = np.linalg.eigh(rows @ found.covariance @ rows.T)
    turned = vectors.T @ rows
    q = rows.shape[0]
    f = float(np.mean((turned @ found.coefficients) ** 2 / values))
    degrees = _pooled_degrees(found.degrees(turned))
    return FixedTest(term, q, degrees, f, float(fdtrc(q, degrees, f)))


def _pooled_degrees(each: FloatArray) -> float:
    """Return the degrees of freedom of F from those of its independent contrasts."""
    if np.ptp(each) < 1e-6 * float(each.mean()):
        return float(each.mean())
    if each.min() <= 2:
        return 2.0  # E has no value; the least that the formula can give
    total = float(np.sum(each / (each - 2)))
    return 2 * total / (total - each.size)
