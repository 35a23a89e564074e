"""From a scenario to its outcomes: one vectorised pass, no widget, no chart."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import cautions, units
from scenariokit.cautions import Caution, Situation
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.outcomes import OUTCOMES
from scenariokit.scenario.values import outcome_values, undefined_reasons


@dataclass(frozen=True)
class Evaluation:
    """The outcomes of one scenario.

    Parameters
    ----------
    scenario : Scenario
        What was evaluated.
    outcomes : dict
        Outcome name to quantity; names, units and formulas are in `OUTCOMES`.
        An outcome that does not exist is NaN, and `undefined` says why.
    undefined : dict
        Outcome name to the reason why it has no value.
    cautions : tuple of Caution
        What can hurt or mislead, each tied to the outcome beside which it stands.
    """

    scenario: Scenario
    outcomes: dict[str, Any]
    undefined: dict[str, str]
    cautions: tuple[Caution, ...]

    def __getitem__(self, name: str) -> Any:
        """Return the quantity of the outcome called `name`."""
        return self.outcomes[name]


def evaluate(scenario: Scenario) -> Evaluation:
    """Return yield, costs, water, tank and nutrients of one scenario.

    Parameters
    ----------
    scenario : Scenario
        Its leaves may be scalars, or arrays of mutually broadcastable shapes;
        then every outcome is an array of that shape.

    Returns
    -------
    Evaluation

    Notes
    -----
    Water: four-stage crop coefficient (FAO-56 eq. 66) times the month's
    reference evapotranspiration, plus evaporation from the open share of the
    tank. Nutrients: the recipe is made as strong as the stated EC asks in the
    source water, by the EC of its ions; what the water itself brings counts as
    fed. Where the yield is zero there is no cost per kilogram: those outcomes
    are NaN and `undefined` says so.

    Examples
    --------
    >>> from scenariokit.scenario import evaluate, scenario_for
    >>> found = evaluate(scenario_for("wedge_pots"))
    >>> found["yield_per_area"].units == found["yield_low"].units
    True
    """
    values = outcome_values(scenario)
    outcomes = {
        name: units.registry().Quantity(values[name], units.unit_of(described.unit))
        for name, described in OUTCOMES.items()
    }
    found = cautions.cautions_for(outcomes, _situation(scenario))
    return Evaluation(scenario, outcomes, undefined_reasons(scenario, values), found)


def _situation(scenario: Scenario) -> Situation:
    """Return what the cautions look at besides numbers."""
    method, level = scenario.method, scenario.method.level
    box = method.container
    covered = np.any(plain(level.fullest) >= plain(box.base_height) + plain(box.medium_height))
    return Situation(
        crop=scenario.crop.id,
        regime=level.regime,
        ec=float(np.max(plain(scenario.feed.ec))),
        open_fraction=float(np.max(plain(level.open_fraction))),
        medium_below_water=bool(level.regime != "none" and method.medium is not None and covered),
        reach_gap=float(np.max(plain(box.base_height) - plain(level.low))),
        has_wick=method.sheet is not None,
        supplies=(
            *(supply.item for supply in method.supplies),
            *(() if method.sheet is None else (method.sheet.item,)),
        ),
        harvest_status=scenario.harvest.status,
        interval=scenario.harvest.interval,
    )
