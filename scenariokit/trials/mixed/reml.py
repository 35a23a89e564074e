"""Variance components by restricted maximum likelihood.

The restricted likelihood (Patterson and Thompson 1971, Biometrika 58:545),
profiled over the coefficients and the residual variance, is climbed by Newton's
steps, or by scoring where it is not yet curved, from several starts and never
downhill.
Components are zero or more; one at zero is said to be so.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.trials.mixed.gls import Products, Solved, solve
from scenariokit.trials.mixed.matrices import FloatArray

_STEPS = 200

_MANY = 200
"""Groups above which the search sets out from one place only."""


@dataclass(frozen=True, eq=False)
class Components:
    """Variance components and the solution at them.

    Parameters
    ----------
    values : array of float
        Variance of each random term, and the residual variance last.
    at_zero : array of bool
        Which random terms came out at zero: the likelihood falls from there.
    uncertainty : array of float
        Inverse of the expected information of those not at zero, the residual
        variance last.
    solved : Solved
        The model at these components.
    deviance : float
        −2 times the restricted log likelihood.
    """

    values: FloatArray
    at_zero: npt.NDArray[np.bool_]
    uncertainty: FloatArray
    solved: Solved
    deviance: float


def traces(given: Products, solved: Solved, ratios: FloatArray) -> tuple[FloatArray, FloatArray]:
    """Return tr(P Vᵢ) and tr(P Vᵢ P Vⱼ) for each random term and the residual, in units of σ².

    Those of the residual follow from P H P = P and tr(P H) = n − p.
    """
    terms = given.terms
    single = np.array([np.trace(solved.zpz[term, term]) for term in terms])
    pairs = np.array([[np.sum(solved.zpz[a, b] ** 2) for b in terms] for a in terms])
    pairs = pairs.reshape(len(terms), len(terms))
    mixed = single - pairs @ ratios
    whole = given.plots - given.coefficients - float(ratios @ single)
    information = np.block(
        [[pairs, mixed[:, None]], [mixed[None, :], np.array([[whole - float(ratios @ mixed)]])]]
    )
    return np.append(single, whole), information


def squares(given: Products, solved: Solved, ratios: FloatArray) -> FloatArray:
    """Return y'P Vᵢ P y for each random term and the residual, in units of σ⁻²."""
    single = np.array([np.sum(solved.zpy[term] ** 2) for term in given.terms])
    return np.append(single, solved.ypy - float(ratios @ single))


def products_of_squares(given: Products, solved: Solved, ratios: FloatArray) -> FloatArray:
    """Return y'P Vᵢ P Vⱼ P y for each two of the random terms and the residual, in units of σ⁻²."""
    terms = given.terms
    moved = np.array([solved.zpz[:, term] @ solved.zpy[term] for term in terms])
    moved = moved.reshape(len(terms), solved.zpy.size)
    pairs = np.array([[moved[j, a] @ solved.zpy[a] for j in range(len(terms))] for a in terms])
    pairs = pairs.reshape(len(terms), len(terms))
    again = solved.zpy - ratios @ moved  # Z'P P y
    mixed = np.array([again[term] @ solved.zpy[term] for term in terms])
    whole = squares(given, solved, ratios)[-1] - float(ratios @ mixed)
    return np.block([[pairs, mixed[:, None]], [mixed[None, :], np.array([[whole]])]])


def can_be_told_apart(given: Products) -> npt.NDArray[np.bool_]:
    """Return for each random term whether its variance can be told from all before it.

    It cannot where the information matrix of the components is singular: a
    term with the same groups as another, with one plot in each group, or with
    groups that the fixed part already separates.
    """
    ratios = np.ones(len(given.terms))
    information = traces(given, solve(given, ratios), ratios)[1]
    order = [len(given.terms), *range(len(given.terms))]  # the residual first
    found = np.zeros(len(given.terms), dtype=bool)
    kept = [order[0]]
    for i in order[1:]:
        size = information[i, i]
        if size < 1e-9 * given.plots:
            continue
        tried = [*kept, i]
        block = information[np.ix_(tried, tried)]
        scale = np.sqrt(np.diag(block))
        if np.linalg.eigvalsh(block / np.outer(scale, scale))[0] > 1e-9:
            kept, found[i] = tried, True
    return found


def fit_components(given: Products) -> Components:
    """Return the variance components that maximise the restricted likelihood.

    Parameters
    ----------
    given : Products
        A model whose terms can be told apart, with at least one plot more than
        coefficients.

    Raises
    ------
    InfeasibleError
        If the search does not settle.
    """
    found = [_settle(given, start) for start in _starts(given)]
    settled = [ratios for ratios in found if ratios is not None]
    if not settled:
        raise InfeasibleError(
            tr("the search for the variance components did not settle; leave out a random term")
        )
    return min((_result(given, ratios) for ratios in settled), key=lambda one: one.deviance)


def _starts(given: Products) -> list[FloatArray]:
    """Return variance ratios from which the search sets out: all alike, and each term above all.

    With many groups one peak is left, and one start finds it.
    """
    terms = len(given.terms)
    alike = [np.full(terms, ratio) for ratio in (0.1, 1.0)]
    if given.zr.size > _MANY:
        return alike[:1]
    return alike + [np.where(np.arange(terms) == i, 2.0, 0.02) for i in range(terms)]


def _settle(given: Products, ratios: FloatArray) -> FloatArray | None:
    """Return the ratios to which the climb from `ratios` comes, some at zero; None if to none.

    A term that a step would drive below zero is put to zero, and asked back if
    the likelihood rises from there once the others have settled.
    """
    active = ratios > 0
    solved = solve(given, ratios)
    for count in range(_STEPS):
        step, pull = _step(given, solved, ratios, active)
        better, solved = _shorten(given, ratios, step, solved.deviance)
        moved = np.max(np.abs(better - ratios) / (1 + ratios), initial=0.0)
        if moved > (1e-12 if count < _STEPS / 2 else 1e-8):
            active = active & (better > 0)
            ratios = better
        elif np.max(pull, initial=0.0) > 1e-8:
            active = active | (np.arange(ratios.size) == np.argmax(pull))
        else:
            return better
    return None


def _step(
    given: Products, solved: Solved, ratios: FloatArray, active: npt.NDArray[np.bool_]
) -> tuple[FloatArray, FloatArray]:
    """Return the step of the ratios, and how much the likelihood asks each zero back."""
    residual = solved.ypy / (given.plots - given.coefficients)
    single, expected = traces(given, solved, ratios)
    score = squares(given, solved, ratios) / residual - single
    used = np.append(active, True)
    observed = 2 * products_of_squares(given, solved, ratios) / residual - expected
    change = np.zeros(used.size)
    change[used] = _newton(observed[np.ix_(used, used)], expected[np.ix_(used, used)], score[used])
    # The step is in variances over the residual one, which changes as well.
    target = (ratios + change[:-1]) / max(1 + change[-1], 0.1)
    return np.where(active, target - ratios, 0.0), np.where(active, 0.0, score[:-1] / single[:-1])


def _newton(observed: FloatArray, expected: FloatArray, score: FloatArray) -> FloatArray:
    """Return Newton's step, or that of scoring where the observed information has no peak."""
    lowest = np.linalg.eigvalsh(observed)[0]
    best = observed if lowest > 1e-8 * np.trace(expected) else expected
    return np.asarray(np.linalg.solve(best, score))


def _shorten(
    given: Products, ratios: FloatArray, step: FloatArray, deviance: float
) -> tuple[FloatArray, Solved]:
    """Return the ratios after as much of `step` as does not raise the deviance, solved there."""
    part = 1.0
    while True:
        tried = np.maximum(ratios + part * step, 0.0)
        solved = solve(given, tried)
        # Near the end rounding hides what a step gains; the step itself stays exact.
        if solved.deviance <= deviance + 1e-10 * (1 + abs(deviance)) or part < 1e-12:
            return tried, solved
        part /= 2


def _result(given: Products, ratios: FloatArray) -> Components:
    solved = solve(given, ratios)
    degrees = given.plots - given.coefficients
    residual = solved.ypy / degrees
    information = traces(given, solved, ratios)[1] / (2 * residual**2)
    used = np.append(ratios > 0, True)
    constant = degrees * (1 + np.log(2 * np.pi / degrees))
    turn = 2 * float(np.log(np.abs(np.diag(given.rotation))).sum())
    return Components(
        values=np.append(ratios * residual, residual),
        at_zero=ratios == 0,
        uncertainty=np.linalg.inv(information[np.ix_(used, used)]),
        solved=solved,
        deviance=float(solved.deviance + constant + turn),
    )
