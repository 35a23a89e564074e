"""What is found where two methods are compared over the range of one parameter."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from scenariokit.decide.over_range import path_column, shown_number
from scenariokit.parameters import Parameter, UnitSystem
from scenariokit.scenario import OUTCOMES, column_name, shown

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Crossing:
    """A value of the parameter at which the better of two methods changes.

    Parameters
    ----------
    at : quantity
        The value; of a leap, the last value below it.
    kind : {'equal', 'jump', 'touch'}
        Whether both are equal there; one leaps past the other, as where one
        more filling becomes due; or they are equal there and only there, the
        same one being better on both sides.
    below, above : str
        Id of the better method just below and above; empty where that is the
        end of the range.
    outcome : quantity
        The outcome of both there; of a leap, that of the first.
    """

    at: Any
    kind: Literal["equal", "jump", "touch"]
    below: str
    above: str
    outcome: Any


@dataclass(frozen=True)
class Stretch:
    """A part of the range throughout which one method is better, or neither.

    Parameters
    ----------
    low, high : quantity
        Its ends.
    better : str
        Id of the better method; empty if both are equal or one has no value.
    kind : {'better', 'equal', 'undefined'}
        Which of these.
    reason : str
        Why one has no value there.
    """

    low: Any
    high: Any
    better: str
    kind: Literal["better", "equal", "undefined"]
    reason: str = ""


@dataclass(frozen=True)
class Nearest:
    """Where two methods come nearest to each other.

    Parameters
    ----------
    at : quantity
        The value of the parameter.
    gap : quantity
        Outcome of the first less that of the second there.
    """

    at: Any
    gap: Any


@dataclass(frozen=True)
class BreakEven:
    """Two methods over the range of one parameter. Make it by `break_even`.

    Parameters
    ----------
    one, other, path, name : str
        The methods, the parameter's path, and the outcome. `other` is
        ``"target"`` where one method is compared with a target.
    values : quantity
        Values of the parameter for a chart.
    first, second : quantity
        Outcomes of the two there; NaN where a value cannot be.
    crossings : tuple of Crossing
        Where the better one changes, in rising order; empty if never in range.
    always : str
        Id of the method that is better wherever both have a value; empty if
        there is a crossing, both are equal throughout, or nothing can be compared.
    equal : bool
        Whether both are equal throughout.
    undefined : bool
        Whether some values of the range cannot be, or give no outcome.
    stretches : tuple of Stretch
        The whole range, from its low to its high end.
    touches : tuple of Crossing
        Where both are equal but the better one stays the same.
    nearest : Nearest or None
        Where they come nearest, of the values looked at; None if nowhere do
        both have a value.
    stated : tuple of (quantity or None)
        Where the parameter stands in each of the two; None without it.
    labels : tuple of str
        What a person reads for the two, and for the parameter.
    currency : str
        Of the price lists.
    described : Parameter
        The parameter.
    """

    one: str
    other: str
    path: str
    name: str
    values: Any
    first: Any
    second: Any
    crossings: tuple[Crossing, ...]
    always: str
    equal: bool
    undefined: bool
    stretches: tuple[Stretch, ...]
    touches: tuple[Crossing, ...]
    nearest: Nearest | None
    stated: tuple[Any, Any]
    labels: tuple[str, str, str]
    currency: str
    described: Parameter

    def label(self, side: str) -> str:
        """Return what a person reads for the id of a method."""
        return self.labels[0] if side == self.one else self.labels[1]

    def frame(self, system: UnitSystem = "metric", rate: float = 1.0) -> pd.DataFrame:
        """Return both outcomes over the range as a table of plain numbers.

        Parameters
        ----------
        system : {'metric', 'us'}
            The reader's units.
        rate : float
            Money shown for one unit of the price list's currency.

        Returns
        -------
        pandas.DataFrame
            One row a method and value; columns carry the unit as a suffix.
        """
        import pandas as pd

        outcome = OUTCOMES[self.name]
        tables = [
            pd.DataFrame(
                {
                    "method": method,
                    path_column(self.path, self.described, system): shown_number(
                        self.values, self.described, system, rate
                    ),
                    column_name(outcome, system): shown(values, outcome, system, rate),
                }
            )
            for method, values in ((self.one, self.first), (self.other, self.second))
        ]
        return pd.concat(tables, ignore_index=True)
