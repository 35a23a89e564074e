"""What it is worth to find something out before choosing: an input, or by one more trial."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.decide.chance import payoffs
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.quantities import to_floats
from scenariokit.scenario import OUTCOMES
from scenariokit.uncertainty import (
    Ensemble,
    Uncertain,
    Uncertainty,
    draw_scores,
    fixed,
    placed,
)
from scenariokit.units import QuantityLike

DEGREE = 4
"""Degree of the polynomial in a driver's score that stands for what knowing it would tell."""
_TRIALS = 4096


@dataclass(frozen=True)
class DriverValue:
    """What knowing one driver would be worth.

    Parameters
    ----------
    driver : str
        A cause, or an input's own part.
    value : quantity
        Expected gain in the outcome from choosing after it is known.
    """

    driver: str
    value: Any


def values_of_learning(found: Ensemble, name: str = "margin_per_area") -> tuple[DriverValue, ...]:
    """Return what it would be worth to know each driver before choosing, the greatest first.

    E[max over methods of E[v | driver]] - max of E[v].

    Parameters
    ----------
    found : Ensemble
        Draws of the methods.
    name : str
        The outcome, in whose unit the value is; for each m² and crop if it is the margin.

    Raises
    ------
    InfeasibleError
        If the outcome does not exist in some draw.

    Notes
    -----
    The mean of the outcome given the driver's score is fitted by a polynomial
    of degree 4 of its score by least squares. From a few thousand draws the
    value of a driver that tells nothing is then found to be a little above
    zero, not below.

    References
    ----------
    Strong, M., Oakley, J., Brennan, A. (2014), Medical Decision Making
    34:311-326 (value of single inputs by regression; from memory).
    """
    rows = found.floats(name)
    _refuse_undefined(rows, name)
    better = OUTCOMES[name].better
    up = -rows if better == "lower" else rows
    now = up.mean(axis=1).max()
    scores = draw_scores(found.uncertainty, 0, found.draws, found.seed)
    result = []
    for number, driver in enumerate(found.uncertainty.drivers):
        basis = np.polynomial.hermite_e.hermevander(scores[number], DEGREE)
        fitted = basis @ np.linalg.lstsq(basis, up.T, rcond=None)[0]
        value = max(float(fitted.max(axis=1).mean() - now), 0.0)
        result.append(DriverValue(driver, units.quantity(value, OUTCOMES[name].unit)))
    return tuple(sorted(result, key=lambda row: -row.value.magnitude))


def _refuse_undefined(rows: Any, name: str) -> None:
    if np.isnan(rows).any():
        raise InfeasibleError(
            f"{OUTCOMES[name].label} has no value in some draws; choose another outcome"
        )


@dataclass(frozen=True)
class TrialValue:
    """What a trial of some size is worth. Make it by `trial_values`.

    Parameters
    ----------
    replicates, plots : int
        Plots of each method, and in all.
    gain : quantity
        Expected gain for each square metre and crop from choosing after it [money/m²].
    worth : quantity
        The same over the area and crops stated [money].
    cost : quantity
        What the plots cost [money].
    """

    replicates: int
    plots: int
    gain: Any
    worth: Any
    cost: Any

    @property
    def net(self) -> Any:
        """What it is worth less what it costs [money]; below zero it does not pay."""
        return self.worth - self.cost


def trial_values(
    found: Ensemble,
    replicates: Sequence[int],
    variation: Any = 0.12,
    cost_per_plot: QuantityLike = "20 money",
    area: QuantityLike = "10 m^2",
    crops: float = 4,
) -> tuple[TrialValue, ...]:
    """Return what trials of several sizes are worth before they are made.

    Parameters
    ----------
    found : Ensemble
        Draws with the outcomes ``margin_per_area`` and ``yield_per_area``, and
        with a yield of each method among the uncertain inputs.
    replicates : sequence of int
        Plots of each method, 1 or more.
    variation : float
        Coefficient of variation between plots of one method.
    cost_per_plot : quantity
        What a plot costs to lay out, tend and weigh [money].
    area : quantity
        Tank that will be planted with the method chosen [m²].
    crops : float
        Number of crops for which the choice holds.

    Returns
    -------
    tuple of TrialValue
        In the order of `replicates`.

    Raises
    ------
    ArgumentError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If an outcome was not drawn, or no yield is uncertain.

    Notes
    -----
    What a trial can teach of a method's yield is its own part; a good or bad
    season moves all plots alike and teaches nothing about the next. That part
    is taken as normal with variance s², the mean of r plots as having error
    variance e² = (CV m)²/r, so that the mean after the trial varies by
    s²·s²/(s² + e²) before it (conjugate normal). The margin changes with a
    yield by the slope found over the draws. The gain is the expected maximum
    of the means after the trial less the best mean now, over 4,096 scrambled
    Sobol draws. As r grows it rises to the value of knowing these parts.

    References
    ----------
    Raiffa, H., Schlaifer, R. (1961), Applied Statistical Decision Theory,
    chapter 5 (preposterior analysis; from memory).
    """
    numbers = _read_trial(replicates, variation, cost_per_plot, area, crops)
    margins, mean_yield, own = _trial_basis(found)
    best = margins.max()
    scores = _standard_scores(len(margins), found.seed)
    result = []
    for count in replicates:
        error = (numbers["variation"] * mean_yield) ** 2 / count
        kept = np.divide(own**2, own**2 + error, out=np.zeros_like(own), where=own > 0)
        spread = _slopes(found) * own * np.sqrt(kept)
        means = margins[:, np.newaxis] + spread[:, np.newaxis] * scores
        gain = max(float(means.max(axis=0).mean() - best), 0.0)
        worth = gain * numbers["area"] * numbers["crops"]
        plots = count * len(margins)
        result.append(
            TrialValue(
                count, plots, units.quantity(gain, "money/m^2"), units.quantity(worth, "money"),
                units.quantity(plots * numbers["cost_per_plot"], "money"),
            )
        )  # fmt: skip
    return tuple(result)


def best_trial(values: Sequence[TrialValue]) -> TrialValue | None:
    """Return the size with the greatest net worth, or None if no size pays."""
    best = max(values, key=lambda one: one.net.magnitude, default=None)
    return best if best is not None and best.net.magnitude > 0 else None


def _read_trial(replicates: Sequence[int], variation: Any, cost: Any, area: Any, crops: float) -> Any:  # fmt: skip
    found, problems = {}, []
    for name, value, described in (
        ("variation", variation, "coefficient_of_variation"),
        ("cost_per_plot", cost, "amount"),
        ("area", area, "tank_area"),
    ):
        found[name], problem = to_floats(name, value, parameter(described))
        if problem is not None:
            problems.append(problem)
    if not replicates or any(count != int(count) or count < 1 for count in replicates):
        problems.append(Problem("replicates", f"{list(replicates)}", "are no numbers of plots",
                                "whole numbers, 1 or more", kind="range"))  # fmt: skip
    if not 0 < crops < 1e6:
        problems.append(Problem("crops", f"{crops:g}", "is no number of crops", "more than 0",
                                kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "trial_values")
    return {**found, "crops": float(crops)}


def _trial_basis(found: Ensemble) -> tuple[Any, Any, Any]:
    """Return mean margins, mean yields and the standard deviation of each yield's own part."""
    rows, yields = found.floats("margin_per_area"), found.floats("yield_per_area")
    _refuse_undefined(rows, "margin_per_area")
    own = np.zeros(len(rows))
    for number, place in enumerate(placed(found.scenarios, found.uncertainty)):
        for which, path, _ in place.spreads:
            if path == "harvest.typical":
                strength = found.uncertainty.inputs[which].strength
                own[number] = yields[number].std() * np.sqrt(1 - strength**2)
    if not own.any():
        raise InfeasibleError("no yield is uncertain, so a trial has nothing to teach")
    return rows.mean(axis=1), yields.mean(axis=1), own


def _slopes(found: Ensemble) -> Any:
    """Return what a method's margin gains with each kilogram of its yield, over the draws."""
    rows, yields = found.floats("margin_per_area"), found.floats("yield_per_area")
    centred = yields - yields.mean(axis=1, keepdims=True)
    spread = (centred**2).mean(axis=1)
    together = (centred * rows).mean(axis=1)
    return np.divide(together, spread, out=np.zeros_like(spread), where=spread > 0)


def _standard_scores(methods: int, seed: int) -> Any:
    """Return standard normal scores, one row a method, that fill the space evenly."""
    own = tuple(Uncertain(f"yield {number}", fixed(0.0)) for number in range(methods))
    return draw_scores(Uncertainty(own), 0, _TRIALS, seed)


def value_of_knowing_all(found: Ensemble, name: str = "margin_per_area") -> Any:
    """Return what it would be worth to know every driver before choosing.

    Raises
    ------
    InfeasibleError
        If the outcome does not exist in some draw.
    """
    rows = found.floats(name)
    _refuse_undefined(rows, name)
    better = OUTCOMES[name].better
    direction = "higher" if better == "neither" else better
    return units.quantity(payoffs(rows, direction).value_of_knowing, OUTCOMES[name].unit)
