"""What is thought of the yields of several methods, and what a kilogram of them is worth."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.decide.knowing_scores import score_basis
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.language import tr
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats
from scenariokit.scenario import Scenario, outcome_values
from scenariokit.uncertainty import Ensemble, placed, yield_spread
from scenariokit.uncertainty.placing import YIELD, one_crop_and_currency
from scenariokit.uncertainty.usual import SEASON_ON_YIELD
from scenariokit.units import Quantity

_YIELD_UNIT, _MONEY, _WORTH = "kg/m^2", "money/m^2", "money/kg"
_NUMBERS = {
    "margins": (_MONEY, None),
    "yields": (_YIELD_UNIT, 0.0),
    "deviations": (_YIELD_UNIT, 0.0),
    "worth": (_WORTH, None),
    "season": (_YIELD_UNIT, None),
}
"""Unit and least value of each field of a belief."""


@dataclass(frozen=True)
class YieldBelief:
    """What is thought of the yields of several methods before a trial.

    Parameters
    ----------
    methods : sequence of str
        What they are called, each once.
    margins : quantity
        What each is expected to leave over [money/m²], an array.
    yields : quantity
        What each is expected to yield [kg/m²], 0 or more.
    deviations : quantity
        Standard deviation of what plots could teach of each yield: its own
        part, without that of a season [kg/m²], 0 or more.
    worth : quantity
        What a method's margin gains with each kilogram more [money/kg].
    season : quantity, optional
        By how much a season that is better by one standard deviation raises
        each yield [kg/m²]; it moves all plots of a trial and says nothing of
        the next. Two axes for several such causes, one row each.

    Raises
    ------
    ArgumentError
        If a name stands twice, a value has the wrong unit, is no finite number
        or is below its range, or there are not as many as methods. All at once.

    Notes
    -----
    Own parts are normal and independent of each other and of the season.

    Examples
    --------
    >>> belief = YieldBelief(["bag", "pots"], "2 money/m^2", "5 kg/m^2", "1 kg/m^2", "1.5 money/kg")
    Traceback (most recent call last):
    ...
    scenariokit.errors.RangeError: YieldBelief: 4 problems
      - margins = 1: is not one number for each method; allowed: 2 of them
      - yields = 1: is not one number for each method; allowed: 2 of them
      - deviations = 1: is not one number for each method; allowed: 2 of them
      - worth = 1: is not one number for each method; allowed: 2 of them
    """

    methods: Sequence[str]
    margins: Quantity
    yields: Quantity
    deviations: Quantity
    worth: Quantity
    season: Quantity = None

    def __post_init__(self) -> None:
        """Check; keep arrays as quantities in their own units."""
        names = tuple(self.methods)
        problems = []
        if not names or len(set(names)) < len(names):
            problems.append(Problem("methods", ", ".join(names), "do not name methods",
                                    "at least one name, each once", kind="range"))  # fmt: skip
        object.__setattr__(self, "methods", names)
        if self.season is None:
            object.__setattr__(self, "season", units.quantity(np.zeros(len(names)), _YIELD_UNIT))
        for field, (unit, least) in _NUMBERS.items():
            described = Parameter(field, "", field, unit, least, None, (0, 1, 1), 1, "", "")
            numbers, problem = to_floats(field, getattr(self, field), described)
            if problem is None:
                problem = _shape_problem(field, numbers, len(names))
            if problem is not None:
                problems.append(problem)
            else:
                object.__setattr__(self, field, units.quantity(numbers, unit))
        if problems:
            raise argument_error(problems, "YieldBelief")


def _shape_problem(field: str, numbers: Any, count: int) -> Problem | None:
    """Return what is wrong with the shape of a belief's numbers."""
    shape = np.shape(numbers)
    if shape == (count,) or (field == "season" and len(shape) == 2 and shape[1] == count):
        return None
    return Problem(field, " by ".join(map(str, shape)) or "1", "is not one number for each method",
                   f"{count} of them", kind="range")  # fmt: skip


def belief_of(scenarios: Sequence[Scenario], season: float = SEASON_ON_YIELD) -> YieldBelief:
    """Return what is thought of the yields of scenarios, from their harvests.

    Parameters
    ----------
    scenarios : sequence of Scenario
        Of one crop and currency, each of another method, with single numbers.
    season : float
        Correlation of a yield with how good the season is, 0 to 1; the rest of
        its spread is what a trial could teach.

    Returns
    -------
    YieldBelief
        Named by the methods' ids. Mean and standard deviation are those of
        `yield_spread`: of the interval of weighed plots, or of low, usual and
        high.

    Raises
    ------
    RangeError
        If `season` is not from 0 to 1.
    InfeasibleError
        If the scenarios cannot stand side by side.

    Notes
    -----
    The margin is a straight line of the yield, since no cost depends on it.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> belief_of([scenario_for("medium_bag"), scenario_for("wedge_pots")]).methods
    ('medium_bag', 'wedge_pots')
    """
    if not 0 <= season <= 1:
        problem = Problem("season", f"{season:g}", "is no correlation", "0 to 1", kind="range")
        raise argument_error([problem], "belief_of")
    one_crop_and_currency(scenarios)
    rows = np.array([_thought_of(one) for one in scenarios]).T
    margins, yields, deviations, worth = rows
    return YieldBelief(
        tuple(one.method.id for one in scenarios),
        units.quantity(margins, _MONEY),
        units.quantity(yields, _YIELD_UNIT),
        units.quantity(deviations * np.sqrt(1 - season**2), _YIELD_UNIT),
        units.quantity(worth, _WORTH),
        units.quantity(deviations * season, _YIELD_UNIT),
    )


def _thought_of(scenario: Scenario) -> tuple[float, float, float, float]:
    """Return a method's margin and yield as expected, the yield's deviation, and its worth."""
    described = parameter("yield_per_area")
    spread = yield_spread(scenario)[0].within(described.minimum, described.maximum)
    found = outcome_values(scenario, ("yield_per_area", "takings_per_area", "margin_per_area"))
    harvest = float(found["yield_per_area"])
    stated = float(units.magnitude(scenario.harvest.typical, _YIELD_UNIT))
    if harvest == 0:
        return float(found["margin_per_area"]), 0.0, 0.0, 0.0
    kept = harvest / stated  # what the salt in the water leaves of a yield
    worth = float(found["takings_per_area"]) / harvest
    mean = float(spread.mean.magnitude) * kept
    deviation = float(np.sqrt(spread.variance.magnitude)) * kept
    margin = float(found["margin_per_area"]) + worth * (mean - harvest)
    return margin, mean, deviation, worth


def belief_from(found: Ensemble) -> YieldBelief:
    """Return what is thought of the yields of methods that were drawn.

    Parameters
    ----------
    found : Ensemble
        Draws of the outcomes ``margin_per_area`` and ``yield_per_area``, with
        a yield of each method among the uncertain inputs.

    Returns
    -------
    YieldBelief
        Named by the methods' ids.

    Raises
    ------
    InfeasibleError
        If an outcome was not drawn or has no value in some draw, or no yield
        is uncertain.

    Notes
    -----
    A yield's own part is what the draws show to come with its own driver,
    fitted by polynomials of degree 4; its worth is the slope of the margin on
    it along that driver alone, so that dear years or dry ones do not enter.
    """
    margins, yields = found.floats("margin_per_area"), found.floats("yield_per_area")
    if np.isnan(margins).any():
        raise InfeasibleError(tr("margin_per_area has no value in some draws"))
    scores, causes = found.scores, found.uncertainty.causes
    deviations, worth = np.zeros(len(yields)), np.zeros(len(yields))
    season = np.zeros((max(len(causes), 1), len(yields)))
    for row, place in enumerate(placed(found.scenarios, found.uncertainty)):
        for number in (which for which, path, _ in place.spreads if path == YIELD):
            own = scores[len(causes) + number]
            part = _coefficients(yields[row], own)
            deviations[row] = np.sqrt((part**2).sum())
            if part[0] != 0:
                worth[row] = _coefficients(margins[row], own)[0] / part[0]
            cause = found.uncertainty.cause_of(found.uncertainty.inputs[number])
            if cause is not None:
                season[cause, row] = _coefficients(yields[row], scores[cause])[0]
    if not deviations.any():
        raise InfeasibleError(tr("no yield is uncertain, so a trial has nothing to teach"))
    return YieldBelief(
        found.methods,
        units.quantity(margins.mean(axis=1), _MONEY),
        units.quantity(yields.mean(axis=1), _YIELD_UNIT),
        units.quantity(deviations, _YIELD_UNIT),
        units.quantity(worth, _WORTH),
        units.quantity(season, _YIELD_UNIT),
    )


def _coefficients(values: Any, scores: Any) -> Any:
    """Return the coefficients of a number's polynomial in a score, without the constant."""
    basis = score_basis(scores[np.newaxis])[1:]
    basis = basis - basis.mean(axis=1, keepdims=True)
    return np.linalg.lstsq(basis @ basis.T, basis @ (values - values.mean()), rcond=None)[0]
