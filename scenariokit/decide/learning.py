"""What it is worth to find something out before choosing: an input, or by one more trial."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.decide.chance import payoffs
from scenariokit.decide.knowing_scores import leads, learned_floats
from scenariokit.decide.trial_value import (
    TrialTerms,
    TrialValue,
    best_trial,
    read_replicates,
    trial_value_curve,
)
from scenariokit.decide.yield_beliefs import belief_from
from scenariokit.errors import ArgumentError, InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.scenario import OUTCOMES
from scenariokit.uncertainty import Ensemble, name_of
from scenariokit.uncertainty.summaries import sign_of
from scenariokit.units import Floats, Quantity, QuantityLike

__all__ = [
    "DriverValue", "TrialValue", "best_trial", "trial_values", "value_of_knowing_all",
    "value_of_learning", "values_of_inputs", "values_of_learning",
]  # fmt: skip


@dataclass(frozen=True)
class DriverValue:
    """What knowing one driver, or several together, would be worth.

    Parameters
    ----------
    driver : str
        A cause, or an input's own part; or what the group is called.
    value : quantity
        Expected gain in the outcome from choosing after it is known, 0 or more.
    low, high : quantity
        Estimates that are on average too low and too high; their mean is
        `value`, unless that is below zero.
    error : quantity
        Standard error of `low`, as if draws were independent.
    """

    driver: str
    value: Quantity
    low: Quantity = None
    high: Quantity = None
    error: Quantity = None

    @property
    def told(self) -> bool:
        """Whether the draws tell it from nothing: `low` is above zero by its standard error."""
        return bool(self.low is not None and self.low.magnitude > self.error.magnitude)

    def over(self, area: QuantityLike, crops: float = 1) -> Quantity:
        """Return the value over a tank and a number of crops, of an outcome for each area.

        Parameters
        ----------
        area : quantity
            Tank area [m²].
        crops : float
            Number of crops for which the choice holds, 0 or more.

        Returns
        -------
        quantity
            In money, if the outcome is money for each square metre.

        Raises
        ------
        ArgumentError
            If the area is none.
        InfeasibleError
            If the outcome is not one for each area, or there are less than no crops.
        """
        size = checked_floats("over", {"area": (area, "tank_area")})["area"]
        if self.value.dimensionality.get("[length]") != -2:
            raise InfeasibleError(
                f"a value in {units.unit_label(str(self.value.units))} cannot be summed over a tank"
            )
        if not crops >= 0:
            raise InfeasibleError(f"there are {crops:g} crops; 0 or more can be")
        whole = self.value * units.quantity(size * crops, "m^2")
        return whole.to_reduced_units()


def values_of_learning(
    found: Ensemble,
    name: str = "margin_per_area",
    groups: Mapping[str, Sequence[int]] | None = None,
) -> tuple[DriverValue, ...]:
    """Return what it would be worth to know each driver before choosing, the greatest first.

    E[max over methods of E[v | driver]] - max of E[v].

    Parameters
    ----------
    found : Ensemble
        Draws of the methods.
    name : str
        The outcome, in whose unit the value is; for each m² and crop if it is the margin.
    groups : mapping, optional
        What a group is called, to the numbers of its drivers in
        ``found.uncertainty.drivers``, such as `groups_by_cause` gives; what
        each group is worth if all of it is known. Left out, each driver alone.

    Returns
    -------
    tuple of DriverValue

    Raises
    ------
    RangeError
        If a group is empty or names what is no driver.
    InfeasibleError
        If the outcome does not exist in some draw, neither more nor less of it
        is better, or there are too few draws.

    Notes
    -----
    As `value_of_scores`: a polynomial fit, once judged by the draws that it was
    made from and once by others, the one too high and the other too low. The
    value of a driver is that of its own part; an input's whole worth is in
    `values_of_inputs`. Values do not add up: two unknowns may be worth more
    together than apart, or less.

    References
    ----------
    Strong, M., Oakley, J., Brennan, A. (2014), Medical Decision Making
    34:311-326 (value of single inputs by regression; from memory, not checked
    against a copy).
    """
    drivers = found.uncertainty.drivers
    if groups is None:
        groups = {driver: (number,) for number, driver in enumerate(drivers)}
    problems = [
        Problem("groups", f"{label}: {list(numbers)}", "are no numbers of drivers",
                f"one or more of 0 to {len(drivers) - 1}", kind="range")
        for label, numbers in groups.items()
        if not len(numbers) or not set(numbers) <= set(range(len(drivers)))
    ]  # fmt: skip
    if problems:
        raise argument_error(problems, "values_of_learning")
    scores = found.scores
    parts = {label: scores[sorted(set(numbers))] for label, numbers in groups.items()}
    return _ranked(found, name, parts)


def value_of_learning(
    found: Ensemble, drivers: str | Sequence[str], name: str = "margin_per_area"
) -> DriverValue:
    """Return what it would be worth to know a driver, or several together, before choosing.

    Parameters
    ----------
    found : Ensemble
        Draws of the methods.
    drivers : str or sequence of str
        Among ``found.uncertainty.drivers``.
    name : str
        The outcome, in whose unit the value is.

    Raises
    ------
    RangeError
        If there is no such driver.
    InfeasibleError
        As in `values_of_learning`.
    """
    asked = [drivers] if isinstance(drivers, str) else list(drivers)
    known = found.uncertainty.drivers
    unknown = [one for one in asked if one not in known]
    if unknown or not asked:
        raise argument_error(
            [Problem("drivers", ", ".join(unknown) or "none", "is no driver", ", ".join(known),
                     kind="range")], "value_of_learning",
        )  # fmt: skip
    numbers = tuple(known.index(one) for one in asked)
    return values_of_learning(found, name, {" and ".join(asked): numbers})[0]


def values_of_inputs(found: Ensemble, name: str = "margin_per_area") -> tuple[DriverValue, ...]:
    """Return what it would be worth to know each uncertain number before choosing.

    Parameters
    ----------
    found : Ensemble
        Draws of the methods.
    name : str
        The outcome, in whose unit the value is.

    Returns
    -------
    tuple of DriverValue
        The greatest first, under the inputs' labels; two that share one
        under label and place.

    Raises
    ------
    InfeasibleError
        As in `values_of_learning`.

    Notes
    -----
    Whoever knows a number also knows what it tells of its cause, and through
    that of others: a yield of this season, of the season.
    """
    scores, labels = found.input_scores, [name_of(one) for one in found.uncertainty.inputs]
    parts = {
        label if labels.count(label) == 1 else f"{label} ({one.path} {one.method})": score
        for label, one, score in zip(labels, found.uncertainty.inputs, scores, strict=True)
    }
    return _ranked(found, name, {label: score[np.newaxis] for label, score in parts.items()})


def _ranked(found: Ensemble, name: str, parts: Mapping[str, Floats]) -> tuple[DriverValue, ...]:
    """Return what each set of scores is worth, the greatest first."""
    ahead, unit = leads(sign_of(name) * _defined(found, name)), OUTCOMES[name].unit
    result = []
    for label, scores in parts.items():
        low, high, error = learned_floats(ahead, scores)
        numbers = (max((low + high) / 2, 0.0), low, high, error)
        result.append(DriverValue(label, *(units.quantity(one, unit) for one in numbers)))
    return tuple(sorted(result, key=lambda row: -row.value.magnitude))


def _defined(found: Ensemble, name: str) -> Floats:
    """Return an outcome's draws, or refuse one that does not exist in some."""
    rows = found.floats(name)
    if np.isnan(rows).any():
        raise InfeasibleError(
            tr(
                "{label} has no value in some draws; choose another outcome",
                label=tr(OUTCOMES[name].label),
            )
        )
    return rows


def value_of_knowing_all(found: Ensemble, name: str = "margin_per_area") -> Quantity:
    """Return what it would be worth to know every driver before choosing.

    Raises
    ------
    InfeasibleError
        If the outcome does not exist in some draw, or neither more nor less of
        it is better.
    """
    rows = sign_of(name) * _defined(found, name)
    return units.quantity(payoffs(rows).value_of_knowing, OUTCOMES[name].unit)


def trial_values(
    found: Ensemble,
    replicates: Sequence[int],
    variation: Any = 0.12,
    cost_per_plot: QuantityLike = "20 money",
    area: QuantityLike = "10 m^2",
    crops: float = 4,
) -> tuple[TrialValue, ...]:
    """Return what trials of all methods, in several sizes, are worth before they are made.

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
        If a value has the wrong unit or lies outside its range. All at once.
    InfeasibleError
        If an outcome was not drawn, or no yield is uncertain.

    Notes
    -----
    `belief_from` says what is thought of the yields, and `trial_value_curve`
    how a trial's worth follows. What a trial can teach of a yield is its own
    part; a good or bad season moves all plots alike and teaches nothing about
    the next.
    """
    problems = read_replicates(replicates)
    try:
        terms = TrialTerms(variation, cost_per_plot, area=area, crops=crops)
    except ArgumentError as error:
        problems += error.problems
    if problems:
        raise argument_error(problems, "trial_values")
    return trial_value_curve(belief_from(found), replicates, terms, seed=found.seed)
