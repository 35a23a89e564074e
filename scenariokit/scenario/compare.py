"""Several scenarios side by side."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError
from scenariokit.language import list_text, tr
from scenariokit.parameters import Outcome, UnitSystem
from scenariokit.scenario.evaluate import Evaluation, evaluate
from scenariokit.scenario.model import Scenario
from scenariokit.scenario.outcomes import OUTCOMES

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Comparison:
    """Evaluations that may be compared: one currency, one crop.

    Parameters
    ----------
    evaluations : tuple of Evaluation
        In the order given.
    """

    evaluations: tuple[Evaluation, ...]

    def __iter__(self) -> Iterator[Evaluation]:
        """Go through the evaluations."""
        return iter(self.evaluations)

    def __len__(self) -> int:
        """Return how many scenarios there are."""
        return len(self.evaluations)

    @property
    def currency(self) -> str:
        """The one currency of all scenarios."""
        return self.evaluations[0].scenario.prices.currency

    def values(self, name: str, unit: str = "") -> Any:
        """Return the outcome called `name` of every scenario, one row each, as plain numbers.

        Parameters
        ----------
        name : str
            Name of an outcome in `OUTCOMES`.
        unit : str
            The unit wanted; the outcome's own if left out.
        """
        wanted = unit or OUTCOMES[name].unit
        return np.array([units.magnitude(found[name], wanted) for found in self.evaluations])

    def frame(self, system: UnitSystem = "metric", rate: float = 1.0) -> pd.DataFrame:
        """Return all outcomes as a table of plain numbers, one row per scenario.

        Parameters
        ----------
        system : {'metric', 'us'}
            Which unit of each outcome.
        rate : float
            Money shown for one unit of the price lists' currency.

        Returns
        -------
        pandas.DataFrame
            Columns carry the unit as a suffix, for example ``yield_per_area_kg_per_m2``.
        """
        import pandas as pd

        rows = []
        for found in self.evaluations:
            row: dict[str, Any] = {
                "scenario": found.scenario.name,
                "method": found.scenario.method.id,
                "crop": found.scenario.crop.id,
                "site": found.scenario.site.id,
                "price_list": found.scenario.prices.id,
                "currency": found.scenario.prices.currency,
            }
            for name, described in OUTCOMES.items():
                row[column_name(described, system)] = shown(found[name], described, system, rate)
            rows.append(row)
        return pd.DataFrame(rows)


def shown(value: Any, described: Outcome, system: UnitSystem, rate: float = 1.0) -> Any:
    """Return the plain number of an outcome in the unit that a person chose.

    Parameters
    ----------
    value : quantity
        The outcome.
    described : Outcome
        Its description.
    system : {'metric', 'us'}
        The person's unit system.
    rate : float
        Money shown for one unit of the price list's currency.
    """
    number = units.magnitude(value, described.shown_unit(system))
    return number * rate if "money" in described.unit else number


def column_name(described: Outcome, system: UnitSystem) -> str:
    """Return the column of an outcome: its name and its unit in plain ASCII.

    Examples
    --------
    >>> from scenariokit.scenario import OUTCOMES, column_name
    >>> column_name(OUTCOMES["yield_per_area"], "metric")
    'yield_per_area_kg_per_m2'
    """
    unit = described.shown_unit(system)
    if not unit:
        return described.name
    plain = unit.replace("(", "").replace(")", "").replace("^", "").replace("*", "_")
    return f"{described.name}_{plain.replace('/', '_per_')}"


def compare(scenarios: Sequence[Scenario]) -> Comparison:
    """Evaluate several scenarios and put them side by side.

    Parameters
    ----------
    scenarios : sequence of Scenario
        At least one; all of one currency and one crop.

    Returns
    -------
    Comparison

    Raises
    ------
    InfeasibleError
        If there is none, or if currencies or crops differ: a kilogram of one
        crop is not a kilogram of another.

    Examples
    --------
    >>> from scenariokit.scenario import compare, scenario_for
    >>> both = compare([scenario_for("wedge_pots"), scenario_for("medium_bag")])
    >>> len(both)
    2
    """
    if not scenarios:
        raise InfeasibleError(tr("there is no scenario to compare; choose at least one method"))
    currencies = sorted({scenario.prices.currency for scenario in scenarios})
    if len(currencies) > 1:
        raise InfeasibleError(
            tr(
                "the price lists are in {currencies}; convert them to one currency at a stated rate "
                "before comparing",
                currencies=list_text(currencies),
            )
        )
    crops = sorted({scenario.crop.id for scenario in scenarios})
    if len(crops) > 1:
        raise InfeasibleError(
            tr(
                "the scenarios grow {crops}; compare methods for one crop at a time",
                crops=list_text(crops),
            )
        )
    return Comparison(tuple(evaluate(scenario) for scenario in scenarios))
