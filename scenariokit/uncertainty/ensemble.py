"""Many draws of several scenarios side by side, with the same chance for all of them."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats
from scenariokit.scenario import OUTCOMES, Scenario
from scenariokit.uncertainty.draws import draw_scores, input_scores
from scenariokit.uncertainty.inputs import Uncertainty
from scenariokit.uncertainty.placing import one_crop_and_currency, placed
from scenariokit.uncertainty.progress import Progress, Stopped
from scenariokit.uncertainty.streaming import (
    BLOCK,
    DEFAULT_OUTCOMES,
    Block,
    blocks,
    checked_outcomes,
    stream,
)
from scenariokit.uncertainty.summaries import (
    Difference,
    best_rows,
    level_column,
    quantile_rows,
    sign_of,
)
from scenariokit.units import Quantity, QuantityLike

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "BLOCK", "DEFAULT_OUTCOMES", "Block", "Difference", "Ensemble", "Stopped", "blocks", "ensemble",
    "quantile_rows", "stream",
]  # fmt: skip

MOST_HELD = 150_000_000
"""Numbers that one ensemble may hold, 1.2 GB; more are for `stream`."""


@dataclass(frozen=True)
class Ensemble:
    """Outcomes of several scenarios in many draws. Make it by `ensemble`.

    Parameters
    ----------
    scenarios : tuple of Scenario
        At their stated values.
    uncertainty : Uncertainty
        What was drawn.
    seed : int
        Of the draws.
    outcomes : dict
        Outcome name to plain numbers in the outcome's own unit, one row a
        scenario, one column a draw. All scenarios have the same draw of what
        they share, so that a difference of two rows is one of the methods.
    notes : tuple of str
        What was cut from spreads.
    """

    scenarios: tuple[Scenario, ...]
    uncertainty: Uncertainty
    seed: int
    outcomes: dict[str, Any]
    notes: tuple[str, ...] = ()

    @property
    def methods(self) -> tuple[str, ...]:
        """Ids of the methods, in the order of the rows."""
        return tuple(one.method.id for one in self.scenarios)

    @property
    def labels(self) -> tuple[str, ...]:
        """What a person reads for each method."""
        return tuple(one.method.label for one in self.scenarios)

    @property
    def draws(self) -> int:
        """How many draws there are."""
        return int(next(iter(self.outcomes.values())).shape[1])

    def row(self, method: str) -> int:
        """Return the row of the method called `method`.

        Raises
        ------
        InfeasibleError
            If it is not among them.
        """
        if method not in self.methods:
            raise InfeasibleError(f"no method {method!r} was drawn; {', '.join(self.methods)} were")
        return self.methods.index(method)

    def floats(self, name: str) -> Any:
        """Return an outcome as plain numbers in its own unit, one row a method.

        Raises
        ------
        InfeasibleError
            If it was not asked for when the draws were made.
        """
        if name not in self.outcomes:
            known = ", ".join(self.outcomes)
            raise InfeasibleError(f"the outcome {name!r} was not drawn; {known} were")
        return self.outcomes[name]

    def values(self, name: str) -> Quantity:
        """Return an outcome, one row a method and one column a draw."""
        return units.quantity(self.floats(name), OUTCOMES[name].unit)

    @property
    def scores(self) -> Any:
        """Normal scores of all drivers, one row a driver; made anew from the seed when asked for."""
        return draw_scores(self.uncertainty, 0, self.draws, self.seed)

    @property
    def input_scores(self) -> Any:
        """Normal scores of all inputs, one row an input."""
        return input_scores(self.uncertainty, self.scores)

    def undefined(self, name: str) -> Any:
        """Return for each method in which share of the draws the outcome does not exist."""
        return np.isnan(self.floats(name)).mean(axis=1)

    def quantiles(self, name: str, levels: Sequence[float] = (0.05, 0.5, 0.95)) -> Quantity:
        """Return quantiles of an outcome, one row a method.

        Draws in which the outcome does not exist are left out; `undefined`
        says how many. A method without any has NaN.
        """
        return units.quantity(quantile_rows(self.floats(name), levels), OUTCOMES[name].unit)

    def probability(
        self, name: str, *, above: QuantityLike = None, below: QuantityLike = None
    ) -> Any:
        """Return for each method the share of draws with the outcome above or below a value.

        Parameters
        ----------
        name : str
            Of the outcome.
        above, below : quantity
            One of them: a value in a unit of the outcome's dimension.

        Returns
        -------
        ndarray
            One share a method, of all draws: a draw in which the outcome does
            not exist counts as neither above nor below. An array of values
            adds a last axis.

        Raises
        ------
        InfeasibleError
            If the outcome was not drawn, or not just one of `above` and `below` is given.
        ArgumentError
            If the value cannot be read in the outcome's unit.
        """
        if (above is None) == (below is None):
            raise InfeasibleError("probability: give one of `above` and `below`, and only one")
        rows = self.floats(name)
        key, value = ("above", above) if below is None else ("below", below)
        limits = _limit(name, key, value)
        # One value at a time: draws times values need not fit into memory.
        found = [
            ((rows > at) if key == "above" else (rows < at)).mean(axis=1) for at in np.ravel(limits)
        ]
        return np.stack(found, axis=-1).reshape(len(rows), *np.shape(limits))

    def share_best(self, name: str) -> Any:
        """Return for each method the share of draws in which it has the best outcome.

        Methods that tie share the draw. A method without the outcome in a draw
        is not best there; where none has it, none is, and the shares sum to less
        than 1.

        Raises
        ------
        InfeasibleError
            If the outcome was not drawn, or neither direction of it is better.
        """
        best = best_rows(self.floats(name), higher=sign_of(name) > 0)
        return (best / np.maximum(best.sum(axis=0), 1)).mean(axis=1)

    def frame(
        self, names: Sequence[str] = (), levels: Sequence[float] = (0.05, 0.5, 0.95)
    ) -> pd.DataFrame:
        """Return quantiles of outcomes as a table of plain numbers, one row a method.

        Parameters
        ----------
        names : sequence of str
            Of the outcomes; all that were drawn if left out.
        levels : sequence of float
            Of the quantiles, 0 to 1.

        Returns
        -------
        pandas.DataFrame
            Columns such as ``yield_per_area_p5_kg_per_m2``, and for each outcome
            ``…_undefined``: in how many draws it does not exist. The quantiles
            are those of the other draws.
        """
        import pandas as pd

        columns: dict[str, Any] = {
            "method": self.methods,
            "draws": [self.draws] * len(self.methods),
        }
        for name in names or self.outcomes:
            found = self.quantiles(name, levels).magnitude
            for at, level in enumerate(levels):
                columns[level_column(name, level)] = found[:, at]
            columns[f"{name}_undefined"] = np.isnan(self.floats(name)).sum(axis=1)
        return pd.DataFrame(columns)

    def difference(self, name: str, one: str, other: str) -> Difference:
        """Return by how much the outcome of one method exceeds that of another, draw by draw."""
        rows = self.floats(name)
        gap = rows[self.row(one)] - rows[self.row(other)]
        return Difference(name, one, other, units.quantity(gap, OUTCOMES[name].unit))


def _limit(name: str, key: str, value: QuantityLike) -> Any:
    """Return a value as plain numbers in an outcome's unit."""
    described = OUTCOMES[name]
    read = Parameter(name, "", described.label, described.unit, None, None, (0, 1, 1), 1, "", "")
    found, problem = to_floats(key, value, read)
    if problem is not None:
        raise argument_error([problem], "probability")
    return found


def ensemble(
    scenarios: Sequence[Scenario],
    uncertainty: Uncertainty,
    draws: int = 2048,
    seed: int = 0,
    outcomes: Collection[str] | None = None,
    *,
    block: int = BLOCK,
    progress: Progress | None = None,
) -> Ensemble:
    """Return the outcomes of several scenarios in many draws of what is uncertain.

    Parameters
    ----------
    scenarios : sequence of Scenario
        Of one crop and currency, each of another method.
    uncertainty : Uncertainty
        What is drawn.
    draws : int
        How many. Powers of two fill the space most evenly.
    seed : int
        0 or more. The same seed gives the same draws, and the first draws of a
        longer run are those of a shorter one.
    outcomes : collection of str, optional
        Names of outcomes; `DEFAULT_OUTCOMES` if left out.
    block : int
        Draws worked on at a time; it changes nothing but speed and memory.
    progress : callable, optional
        Told after each block how many draws are done, of how many. It may
        raise `Stopped`; then nothing is returned.

    Returns
    -------
    Ensemble

    Raises
    ------
    ArgumentError
        If a number of draws or an outcome's name cannot be, a path is unknown,
        or a spread does not fit its leaf.
    InfeasibleError
        If the scenarios cannot stand side by side, or drawn measures of a
        method do not fit into each other.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> from scenariokit.uncertainty import Uncertain, Uncertainty, ensemble, pert
    >>> price = Uncertain("prices.produce_price", pert("1 money/kg", "2 money/kg", "4 money/kg"))
    >>> both = [scenario_for("medium_bag"), scenario_for("wedge_pots")]
    >>> ensemble(both, Uncertainty((price,)), draws=256).draws
    256
    """
    names = checked_outcomes(outcomes)
    _check_size(draws, len(scenarios) * len(names), block)
    one_crop_and_currency(scenarios)
    places = placed(scenarios, uncertainty)
    found = {name: np.empty((len(places), draws)) for name in names}
    for piece in blocks(places, uncertainty, 0, draws, seed, names, block):
        for name in names:
            found[name][:, piece.start : piece.stop] = piece.outcomes[name]
        if progress is not None:
            progress(piece.stop, draws)
    for rows in found.values():
        rows.flags.writeable = False
    notes = tuple(dict.fromkeys(note for place in places for note in place.notes))
    return Ensemble(tuple(scenarios), uncertainty, seed, found, notes)


def _check_size(draws: int, each: int, block: int) -> None:
    problems = []
    most = max(MOST_HELD // max(each, 1), 1)
    if not 1 <= draws <= most:
        reason = "cannot be held at once" if draws > most else "is too few"
        problems.append(Problem("draws", f"{draws}", reason, f"1 to {most}; more by stream()",
                                kind="range"))  # fmt: skip
    if block < 1:
        problems.append(Problem("block", f"{block}", "is too few", "1 or more", kind="range"))
    if problems:
        raise argument_error(problems, "ensemble")
