"""Many draws of several scenarios side by side, with the same chance for all of them."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, ScenarioKitError, argument_error
from scenariokit.scenario import OUTCOMES, Scenario, outcome_values
from scenariokit.uncertainty.draws import MOST_DRAWS, draw_scores, input_scores
from scenariokit.uncertainty.inputs import Uncertainty
from scenariokit.uncertainty.placing import Placed, one_crop_and_currency, placed
from scenariokit.units import Quantity, QuantityLike

BLOCK = 16_384
"""Draws worked on at a time: few enough to stay in a processor's cache."""
MOST_HELD = 20_000_000
"""Numbers that one ensemble may hold; more are for `stream`."""
DEFAULT_OUTCOMES = (
    "yield_per_area", "cost_per_kilogram", "cost_per_usable_kilogram", "cost_per_area",
    "margin_per_area", "season_water", "water_per_yield", "labour_per_area", "return_to_labour",
    "investment_per_area",
)  # fmt: skip

Progress = Callable[[int, int], None]
"""Told how many draws are done, and of how many; it may raise `Stopped`."""


class Stopped(ScenarioKitError):  # noqa: N818 - nothing failed
    """A person stopped a long computation; nothing of it is kept."""


@dataclass(frozen=True)
class Block:
    """A piece of an ensemble: outcomes of the draws from `start` on.

    Parameters
    ----------
    start : int
        Number of the first draw.
    outcomes : dict
        Outcome name to plain numbers, one row a method, one column a draw.
    """

    start: int
    outcomes: dict[str, Any]


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

        A draw in which the outcome does not exist counts as neither.

        Raises
        ------
        TypeError
            Unless one of `above` and `below` is given.
        """
        if (above is None) == (below is None):
            raise TypeError("give either above or below")
        rows, unit = self.floats(name), OUTCOMES[name].unit
        if above is not None:
            return (rows > units.magnitude(units.quantity(above), unit)).mean(axis=1)
        return (rows < units.magnitude(units.quantity(below), unit)).mean(axis=1)

    def difference(self, name: str, one: str, other: str) -> Difference:
        """Return by how much the outcome of one method exceeds that of another, draw by draw."""
        rows = self.floats(name)
        gap = rows[self.row(one)] - rows[self.row(other)]
        return Difference(name, one, other, units.quantity(gap, OUTCOMES[name].unit))


@dataclass(frozen=True)
class Difference:
    """One method's outcome less another's, in the same draws.

    Parameters
    ----------
    name, one, other : str
        The outcome and the two methods.
    values : quantity
        One value a draw.
    """

    name: str
    one: str
    other: str
    values: Quantity

    def quantiles(self, levels: Sequence[float] = (0.05, 0.5, 0.95)) -> Quantity:
        """Return quantiles of the difference."""
        rows = quantile_rows(self.values.magnitude[np.newaxis], levels)
        return units.quantity(rows[0], OUTCOMES[self.name].unit)

    @property
    def share_better(self) -> float:
        """In which share of the draws the first is better; equal draws count half."""
        gap = self.values.magnitude
        sign = -1.0 if OUTCOMES[self.name].better == "lower" else 1.0
        return float(np.mean((sign * gap > 0) + 0.5 * (gap == 0)))


def quantile_rows(rows: Any, levels: Sequence[float]) -> Any:
    """Return quantiles of each row, leaving out NaN; NaN for a row of nothing else.

    Raises
    ------
    RangeError
        If a level is not from 0 to 1.
    """
    asked = np.asarray(levels, dtype=float)
    if not np.all((asked >= 0) & (asked <= 1)):
        problem = Problem("levels", f"{levels}", "hold what is no probability", "0 to 1",
                          kind="range")  # fmt: skip
        raise argument_error([problem], "quantiles")
    if not np.isnan(rows).any():
        return np.quantile(rows, asked, axis=1).T
    found = np.full((len(rows), len(asked)), np.nan)
    for number, row in enumerate(rows):
        known = row[~np.isnan(row)]
        if known.size:
            found[number] = np.quantile(known, asked)
    return found


def _checked_outcomes(outcomes: Collection[str] | None) -> tuple[str, ...]:
    names = tuple(DEFAULT_OUTCOMES if outcomes is None else outcomes)
    unknown = [name for name in names if name not in OUTCOMES]
    if unknown or not names:
        reason = "are no outcomes" if unknown else "none is named"
        problem = Problem("outcomes", ", ".join(unknown), reason, ", ".join(OUTCOMES), kind="range")
        raise argument_error([problem], "ensemble")
    return names


def blocks(
    places: Sequence[Placed],
    uncertainty: Uncertainty,
    start: int,
    stop: int,
    seed: int,
    outcomes: Sequence[str],
    block: int = BLOCK,
) -> Iterator[Block]:
    """Yield the outcomes of the draws from `start` up to `stop`, a piece at a time.

    Each draw is the same to the last bit whatever `block` is.
    """
    for first in range(start, stop, block):
        last = min(first + block, stop)
        scores = input_scores(uncertainty, draw_scores(uncertainty, first, last, seed))
        found = {name: np.empty((len(places), last - first)) for name in outcomes}
        for number, place in enumerate(places):
            values = outcome_values(place.drawn(scores), outcomes)
            for name in outcomes:
                found[name][number] = values[name]
        yield Block(first, found)


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
    names = _checked_outcomes(outcomes)
    _check_size(draws, len(scenarios) * len(names), block)
    one_crop_and_currency(scenarios)
    places = placed(scenarios, uncertainty)
    found = {name: np.empty((len(places), draws)) for name in names}
    for piece in blocks(places, uncertainty, 0, draws, seed, names, block):
        done = piece.start + next(iter(piece.outcomes.values())).shape[1]
        for name in names:
            found[name][:, piece.start : done] = piece.outcomes[name]
        if progress is not None:
            progress(done, draws)
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


def stream(
    scenarios: Sequence[Scenario],
    uncertainty: Uncertainty,
    draws: int,
    seed: int = 0,
    outcomes: Collection[str] | None = None,
    *,
    block: int = BLOCK,
    progress: Progress | None = None,
) -> Iterator[Block]:
    """Yield the outcomes of any number of draws, a piece at a time and in order.

    Parameters, errors and numbers are those of `ensemble`; the memory needed
    does not grow with `draws`.
    """
    names = _checked_outcomes(outcomes)
    if not 1 <= draws <= MOST_DRAWS or block < 1:
        problem = Problem("draws, block", f"{draws}, {block}", "are not numbers of draws",
                          f"1 to {MOST_DRAWS}", kind="range")  # fmt: skip
        raise argument_error([problem], "stream")
    one_crop_and_currency(scenarios)
    places = placed(scenarios, uncertainty)
    return _told(blocks(places, uncertainty, 0, draws, seed, names, block), draws, progress)


def _told(pieces: Iterator[Block], draws: int, progress: Progress | None) -> Iterator[Block]:
    for piece in pieces:
        yield piece
        if progress is not None:
            progress(piece.start + next(iter(piece.outcomes.values())).shape[1], draws)
