"""What it is worth to know all before an option is chosen: from draws, from a table, exactly."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.decide.chance import payoffs
from scenariokit.decide.rows import number_problems, option_rows, plain_numbers
from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Direction
from scenariokit.units import Floats


@dataclass(frozen=True)
class Information:
    """What choosing now brings, and what choosing after the fact would. Make it by `information`.

    Parameters
    ----------
    best : int
        Number of the option that is best on the whole; of several, the first.
    expected, expected_loss : ndarray or quantity
        Mean of each option, and by how much it falls short, on average, of the
        best option of each state (expected opportunity loss).
    perfect : float or quantity
        Mean of the best option of each state.
    value : float or quantity
        What it would be worth to know the state before choosing (EVPI): how
        far `perfect` is from the best mean, and the least expected loss.
    error : float or quantity
        Standard error of `value`, from draws; 0 if probabilities are stated.
    low_by : float or quantity
        By how much `value` is found too low, at most and on average; see Notes
        of `information`.
    """

    best: int
    expected: Any
    expected_loss: Any
    perfect: Any
    value: Any
    error: Any
    low_by: Any


def information(
    values: Any, better: Direction = "higher", probabilities: Any = None
) -> Information:
    """Return what it would be worth to know the state before choosing an option.

    EVPI = E[max_i v_i] - max_i E[v_i] = min_i E[max_j v_j - v_i].

    Parameters
    ----------
    values : array or quantity
        v, options by states, or by draws of equal weight; of one unit.
    better : {'higher', 'lower'}
        Which direction is better.
    probabilities : array, optional
        Of the states. Left out, the columns are draws.

    Returns
    -------
    Information
        In the unit of `values`.

    Raises
    ------
    RangeError
        If `values` is no table, holds NaN or what is not finite, the
        direction is another word, or the probabilities do not fit.

    Notes
    -----
    From n draws E[max v] is found without bias, but the best of sampled means
    is on average above the best true mean, so that the value of knowing is
    found too low. For normal means that is at most Σ s_j L(d_j / s_j) over the
    other options j, with d_j their distance from the best, s_j its standard
    error and L the unit normal loss; the distances found stand for the true
    ones. The standard error is that of independent draws; evenly spread draws
    have a smaller one. With one draw there is none (NaN).

    References
    ----------
    Raiffa, H., Schlaifer, R. (1961), Applied Statistical Decision Theory
    (definitions; from memory, not checked against a copy).

    Examples
    --------
    >>> found = information([[60, 40, 10], [90, 30, -30], [20, 20, 20]],
    ...                     probabilities=[0.3, 0.5, 0.2])
    >>> round(found.value, 6), [float(loss) for loss in found.expected_loss.round(6)]
    (11.0, [11.0, 15.0, 31.0])
    """
    found = payoffs(values, better, probabilities)
    table = option_rows(values, better, "information")
    best = int(np.argmin(plain_numbers(found.expected_regret)[0]))
    error = low_by = 0.0
    if probabilities is None:
        error, low_by = _errors_of_draws(table.up, best)
    return Information(
        best, found.expected, found.expected_regret, found.perfect, found.value_of_knowing,
        table.given_back(error), table.given_back(low_by),
    )  # fmt: skip


def _errors_of_draws(up: Floats, best: int) -> tuple[float, float]:
    """Return the standard error and the bound of the bias of a value of knowing."""
    count = up.shape[1]
    if count < 2:
        return math.nan, math.nan
    loss = up.max(axis=0) - up[best]
    gaps = up[best] - np.delete(up, best, axis=0)
    errors = gaps.std(axis=1, ddof=1) / math.sqrt(count)
    bias = float(loss_of(gaps.mean(axis=1), errors).sum())
    return float(loss.std(ddof=1)) / math.sqrt(count), bias


def unit_normal_loss(u: Floats) -> Floats:
    """Return the expected excess of a standard normal number over `u`, φ(u) - u Q(u).

    Parameters
    ----------
    u : float or array
        Any finite number; φ is the standard normal density and Q(u) the
        probability of more than u.

    Raises
    ------
    RangeError
        If it is not finite.

    Notes
    -----
    Falls from L(-u) = u + L(u) through L(0) = 1/√(2π) to 0. Near the far tail,
    above u = 6, four digits of sixteen are lost.

    References
    ----------
    Raiffa, H., Schlaifer, R. (1961), Applied Statistical Decision Theory
    (unit normal linear-loss integral; from memory, not checked against a copy).

    Examples
    --------
    >>> round(unit_normal_loss(0.5), 6)
    0.197797
    """
    at = np.asarray(u, dtype=float)
    problems = number_problems("u", at)
    if problems:
        raise argument_error(problems, "unit_normal_loss")
    return plain_floats(_unit_loss(at))


def plain_floats(values: Any) -> Floats:
    """Return a float for an array without axes, and other arrays as they are."""
    return float(values) if np.ndim(values) == 0 else values


def _unit_loss(u: Floats) -> Floats:
    from scipy.special import erfcx

    # With exp(-u²/2) taken out the two terms lose fewer digits to each other in the upper tail.
    far = np.abs(u)
    scaled = 1 / math.sqrt(2 * math.pi) - far * erfcx(far / math.sqrt(2)) / 2
    return np.exp(-far * far / 2) * scaled + np.maximum(-u, 0.0)


def loss_of(gaps: Floats, deviations: Floats) -> Floats:
    """Return s L(|d| / s) for plain numbers: the value of knowing the sign of a normal gap."""
    spread = np.broadcast_to(np.asarray(deviations, dtype=float), np.shape(gaps))
    u = np.divide(np.abs(gaps), spread, out=np.full(np.shape(gaps), np.inf), where=spread > 0)
    # Beyond 38 deviations the density is zero as a float, and infinity times zero is no number.
    return spread * _unit_loss(np.minimum(u, 38.0))


def value_for_two(means: Any, deviations: Any, correlation: Any = 0.0) -> Any:
    """Return what it would be worth to know which of two normal options is better.

    s L(|d| / s) with d = m₁ - m₂ and s² = s₁² + s₂² - 2 ρ s₁ s₂, L the unit
    normal loss.

    Parameters
    ----------
    means, deviations : pair of floats, array or quantity
        m and s of the two along the first axis, of one dimension; s 0 or more.
        Further axes give as many values.
    correlation : float or array
        ρ, -1 to 1.

    Returns
    -------
    float, array or quantity
        In the unit of `means`. The same whichever direction is better.

    Raises
    ------
    UnitError
        If one of the two has a unit and the other has none or another.
    RangeError
        If there are not two, their shapes differ, or a number is out of its range.

    Examples
    --------
    >>> round(value_for_two([5.0, 3.0], [4.0, 0.0]), 6)
    0.791186
    """
    m, unit = plain_numbers(means)
    s = _in_unit(deviations, unit)
    rho = np.asarray(correlation, dtype=float)
    problems = [
        *number_problems("means", m), *number_problems("deviations", s),
        *number_problems("correlation", rho),
    ]  # fmt: skip
    if m.shape[:1] != (2,) or m.shape != s.shape:
        problems.append(Problem("means, deviations", f"shapes {m.shape} and {s.shape}",
                                "are not those of two options", "(2,) or (2, …), both alike",
                                kind="range"))  # fmt: skip
    if np.any(s < 0):
        problems.append(Problem("deviations", f"{s.min():g}", "is below zero", "0 or more",
                                kind="range"))  # fmt: skip
    if np.any(np.abs(rho) > 1):
        problems.append(Problem("correlation", f"{correlation}", "is no correlation", "-1 to 1",
                                kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "value_for_two")
    variance = s[0] ** 2 + s[1] ** 2 - 2 * rho * s[0] * s[1]
    spread = np.sqrt(np.maximum(variance, 0.0))  # below zero by rounding alone, at ρ = 1
    found = plain_floats(loss_of(np.broadcast_to(m[0] - m[1], spread.shape), spread))
    return found if unit is None else units.registry().Quantity(found, unit)


def _in_unit(values: Any, unit: Any) -> Any:
    """Return plain numbers in the unit of what stands beside them, or refuse."""
    numbers, own = plain_numbers(values)
    if own is None and unit is None:
        return numbers
    if own is None or unit is None or not own.is_compatible_with(unit):
        problem = Problem("deviations", f"{own or 'no unit'}", "is another unit than that of the means",
                          f"{unit or 'plain numbers'}", kind="unit")  # fmt: skip
        raise argument_error([problem], "value_for_two")
    return units.registry().Quantity(numbers, own).m_as(unit)
