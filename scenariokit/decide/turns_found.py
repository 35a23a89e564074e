"""What is found where it is asked what would make a method the best."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

from scenariokit import units
from scenariokit.units import Quantity

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class Turn:
    """A value at which a method would begin to win, or cease to.

    Parameters
    ----------
    path, label : str
        The parameter.
    unit : str
        Its unit.
    stated : float
        Where it stands, in that unit.
    at : float or None
        The nearest value at which the best method changes; None if there is
        none within the range that was looked at.
    rival : str
        Id of the method that is as good there; the best of the others.
    kind : {'equal', 'jump', ''}
        Whether both are equal there, or one leaps past the other or ceases to
        have a value; empty where there is none.
    far : float
        How far that is from where it stands, as a share of the range; infinite
        if there is none.
    wins : {'below', 'above', ''}
        On which side of it the method is the best.
    change : float
        How far it is as a share of where the number stands, with its sign; NaN
        where that is zero or there is none.
    chance : float
        Probability that the number lies beyond it, by its own spread; NaN if
        none is known.
    looked : tuple of float
        Ends of the range that was looked at.
    effect : bool
        Whether the number has any effect on the outcome of any method.
    """

    path: str
    label: str
    unit: str
    stated: float
    at: float | None
    rival: str
    kind: Literal["equal", "jump", ""]
    far: float
    wins: Literal["below", "above", ""] = ""
    change: float = math.nan
    chance: float = math.nan
    looked: tuple[float, float] = (math.nan, math.nan)
    effect: bool = True

    @property
    def value(self) -> Quantity | None:
        """The value at which the best method changes, as a quantity; None if there is none."""
        return None if self.at is None else units.quantity(self.at, self.unit)


@dataclass(frozen=True)
class ToWin:
    """What a method needs to be the best, or to lose that. Make it by `to_win`.

    Parameters
    ----------
    method, name : str
        Its id, and the outcome.
    wins : bool
        Whether it is the best as things stand.
    best_other : str
        Id of the best of the others as things stand; empty if none has a value.
    lead : quantity
        By how much it is better than that; below zero if it is worse, NaN if
        either has no value.
    turns : tuple of Turn
        One a number, the nearest first; what never turns last.
    """

    method: str
    name: str
    wins: bool
    best_other: str
    lead: Any
    turns: tuple[Turn, ...]

    @property
    def within_range(self) -> tuple[Turn, ...]:
        """The numbers that alone, within their range, change whether it is the best."""
        return tuple(one for one in self.turns if one.at is not None)

    @property
    def likeliest(self) -> tuple[Turn, ...]:
        """The same, the most probable by its spread first; those without a spread last."""
        known = [one for one in self.within_range if not math.isnan(one.chance)]
        unknown = [one for one in self.within_range if math.isnan(one.chance)]
        return (*sorted(known, key=lambda one: -one.chance), *unknown)

    def frame(self) -> pd.DataFrame:
        """Return the turns as a table, one row a number, each in its own unit."""
        import pandas as pd

        columns = {
            "path": "path", "label": "label", "unit": "unit", "stated": "stated", "at": "at",
            "change": "change_share", "far": "far_share_of_range", "chance": "chance",
            "wins": "wins", "rival": "rival", "kind": "kind", "effect": "effect",
        }  # fmt: skip
        rows = [{new: getattr(one, old) for old, new in columns.items()} for one in self.turns]
        table = pd.DataFrame(rows, columns=list(columns.values()))
        return table.astype({"stated": float, "at": float})
