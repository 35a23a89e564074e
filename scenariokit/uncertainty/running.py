"""What a very long run of draws comes to, kept in a few numbers as it goes along."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit import units
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.scenario import OUTCOMES, Scenario
from scenariokit.uncertainty.ensemble import ensemble
from scenariokit.uncertainty.inputs import Uncertainty
from scenariokit.uncertainty.progress import Progress
from scenariokit.uncertainty.streaming import BLOCK, Block, checked_outcomes, stream
from scenariokit.uncertainty.summaries import checked_levels, level_column, sign_of
from scenariokit.uncertainty.tally import Tally, bins_from
from scenariokit.units import Quantity

if TYPE_CHECKING:
    import pandas as pd

PANEL = 4096
"""Draws whose sums are taken together; a set of draws holds a whole number of panels."""
PILOT = 2048
"""First draws, from which the bins are laid out."""
BINS = 4096


class RunningSummary:
    """Mean, variance, extremes, quantiles and the chance of being best, from draws as they come.

    Make it by `RunningSummary.begin`, then `add` the blocks of `stream` in
    their order; or make one for each of several stretches of draws, add each
    its own blocks, and `merge` them in the order of the draws.

    Parameters
    ----------
    scenarios : sequence of Scenario
        Whose outcomes.
    tallies : dict
        Outcome name to its `Tally`, still empty.
    start : int
        Number of the first draw that will come, a multiple of `PANEL`.

    Notes
    -----
    Draws are summed in panels of 4096 that begin at multiples of 4096, and the
    sums of panels are added without rounding: the results are the same to the
    last bit however the draws were cut into blocks or stretches, and wherever
    these were worked out.
    """

    def __init__(
        self, scenarios: Sequence[Scenario], tallies: dict[str, Tally], start: int = 0
    ) -> None:
        if start < 0 or start % PANEL:
            problem = Problem("start", f"{start}", "is not the first draw of a panel",
                              f"multiples of {PANEL}", kind="range")  # fmt: skip
            raise argument_error([problem], "RunningSummary")
        self.scenarios = tuple(scenarios)
        self.start = self.stop = start
        self._tallies = tallies
        self._worked_off = start
        self._waiting: list[dict[str, Any]] = []
        """Draws that do not fill a panel yet."""

    @classmethod
    def begin(
        cls,
        scenarios: Sequence[Scenario],
        uncertainty: Uncertainty,
        seed: int = 0,
        outcomes: Collection[str] | None = None,
        *,
        start: int = 0,
    ) -> RunningSummary:
        """Return an empty summary, its bins laid out by the first 2048 draws of the seed.

        Parameters
        ----------
        scenarios, uncertainty, seed, outcomes
            As for `ensemble`. All stretches of one run need the same.
        start : int
            Number of the first draw that will be added, a multiple of `PANEL`.

        Raises
        ------
        ArgumentError, InfeasibleError
            As `ensemble` does, or if `start` is no multiple of `PANEL`.
        """
        names = checked_outcomes(outcomes)
        first = ensemble(scenarios, uncertainty, PILOT, seed, names)
        tallies = {
            name: Tally(
                bins_from(first.floats(name), BINS),
                0.0 if OUTCOMES[name].better == "neither" else sign_of(name),
            )
            for name in names
        }
        return cls(scenarios, tallies, start)

    # -- counting in -----------------------------------------------------------------

    def add(self, block: Block) -> None:
        """Count in the next draws.

        Raises
        ------
        InfeasibleError
            If they do not begin where the last ones ended, or lack an outcome.
        """
        if block.start != self.stop:
            raise InfeasibleError(
                f"draw {block.start} does not follow: the next one is {self.stop}; add blocks in "
                "their order"
            )
        missing = [name for name in self._tallies if name not in block.outcomes]
        if missing:
            raise InfeasibleError(f"the block lacks {', '.join(missing)}")
        self.stop = block.stop
        self._waiting.append({name: block.outcomes[name] for name in self._tallies})
        whole = (self.stop - self._worked_off) // PANEL * PANEL
        if not whole:
            return
        joined = self._joined()
        for name, tally in self._tallies.items():
            for first in range(0, whole, PANEL):
                tally.take(joined[name][:, first : first + PANEL])
        self._worked_off += whole
        # A copy, so that a block is not kept for its last draws.
        rest = {name: rows[:, whole:].copy() for name, rows in joined.items()}
        self._waiting = [rest] if self.stop > self._worked_off else []

    def _joined(self) -> dict[str, Any]:
        """Return the draws that wait, side by side."""
        if len(self._waiting) == 1:
            return self._waiting[0]
        return {
            name: np.concatenate([one[name] for one in self._waiting], axis=1)
            for name in self._tallies
        }

    def merge(self, other: RunningSummary) -> None:
        """Add the draws of the next stretch.

        Raises
        ------
        InfeasibleError
            If it does not begin where this one ended, at a multiple of `PANEL`,
            or was laid out for other scenarios, outcomes or another seed.
        """
        if other.start != self.stop:
            raise InfeasibleError(
                f"the stretch from draw {other.start} does not follow one up to {self.stop}; a "
                f"stretch that others follow ends at a multiple of {PANEL}"
            )
        alike = self.methods == other.methods and self._tallies.keys() == other._tallies.keys()
        if not alike or not all(
            tally.bins.same_as(other._tallies[name].bins) for name, tally in self._tallies.items()
        ):
            raise InfeasibleError(
                "the stretches are not of one run: scenarios, outcomes or seed differ"
            )
        for name, tally in self._tallies.items():
            tally.merge(other._tallies[name])
        self.stop = other.stop
        self._worked_off = other._worked_off
        self._waiting = list(other._waiting)

    # -- what it comes to ------------------------------------------------------------

    @property
    def methods(self) -> tuple[str, ...]:
        """Ids of the methods, in the order of the rows."""
        return tuple(one.method.id for one in self.scenarios)

    @property
    def names(self) -> tuple[str, ...]:
        """Names of the outcomes."""
        return tuple(self._tallies)

    @property
    def draws(self) -> int:
        """How many draws were counted in."""
        return self.stop - self.start

    def _whole(self, name: str) -> Tally:
        """Return the tally of an outcome with the draws that still wait for their panel."""
        if name not in self._tallies:
            known = ", ".join(self._tallies)
            raise InfeasibleError(f"the outcome {name!r} was not drawn; {known} were")
        if not self.draws:
            raise InfeasibleError("no draws were counted in yet")
        tally = self._tallies[name]
        if self._waiting:
            tally = tally.copy()
            tally.take(self._joined()[name])
        return tally

    def _quantity(self, name: str, values: Any) -> Quantity:
        return units.quantity(values, OUTCOMES[name].unit)

    def undefined(self, name: str) -> Any:
        """Return for each method in how many draws the outcome does not exist."""
        return self.draws - self._whole(name).defined

    def mean(self, name: str) -> Quantity:
        """Return the mean of an outcome for each method, of the draws in which it exists."""
        return self._quantity(name, self._whole(name).mean())

    def deviation(self, name: str) -> Quantity:
        """Return the standard deviation of an outcome for each method."""
        return self._quantity(name, np.sqrt(self._whole(name).variance()))

    def extremes(self, name: str) -> tuple[Quantity, Quantity]:
        """Return the least and the greatest value of an outcome for each method."""
        tally = self._whole(name)
        none = tally.defined == 0
        ends = (np.where(none, np.nan, end) for end in (tally.least, tally.greatest))
        least, greatest = (self._quantity(name, end) for end in ends)
        return least, greatest

    def quantiles(
        self, name: str, levels: Sequence[float] = (0.05, 0.5, 0.95)
    ) -> tuple[Quantity, Quantity]:
        """Return quantiles of an outcome, one row a method, and by how much they may be out.

        Returns
        -------
        values, within : quantity
            The quantile of all draws lies no further than `within` from the
            value: the width of its bin, which is a 2700th of the range of the
            first draws. In the far tails, beyond all bins, it is wider.

        Raises
        ------
        RangeError
            If a level is not from 0 to 1.
        InfeasibleError
            If the outcome was not drawn, or no draws were counted in.
        """
        found, off = self._whole(name).quantiles(checked_levels(levels))
        return self._quantity(name, found), self._quantity(name, off)

    def share_best(self, name: str) -> Any:
        """Return for each method the share of draws in which it has the best outcome, ties shared.

        Raises
        ------
        InfeasibleError
            If the outcome was not drawn, or neither direction of it is better.
        """
        tally = self._whole(name)
        sign_of(name)
        return tally.share_best(self.draws)

    def frame(self, levels: Sequence[float] = (0.05, 0.5, 0.95)) -> pd.DataFrame:
        """Return mean and quantiles of all outcomes as plain numbers, one row a method."""
        import pandas as pd

        columns: dict[str, Any] = {
            "method": self.methods,
            "draws": [self.draws] * len(self.methods),
        }
        for name in self._tallies:
            columns[level_column(name, "mean")] = self.mean(name).magnitude
            values = self.quantiles(name, levels)[0].magnitude
            for at, level in enumerate(levels):
                columns[level_column(name, level)] = values[:, at]
            columns[f"{name}_undefined"] = self.undefined(name)
        return pd.DataFrame(columns)


def summarise_draws(
    scenarios: Sequence[Scenario],
    uncertainty: Uncertainty,
    draws: int,
    seed: int = 0,
    outcomes: Collection[str] | None = None,
    *,
    block: int = BLOCK,
    progress: Progress | None = None,
) -> RunningSummary:
    """Return what any number of draws comes to, in memory that does not grow with it.

    Parameters and errors are those of `ensemble`.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> from scenariokit.uncertainty import summarise_draws, usual_uncertainty
    >>> both = [scenario_for("medium_bag"), scenario_for("wedge_pots")]
    >>> found = summarise_draws(both, usual_uncertainty(both), 4096, outcomes=["yield_per_area"])
    >>> found.methods, found.draws
    (('medium_bag', 'wedge_pots'), 4096)
    """
    pieces = stream(scenarios, uncertainty, draws, seed, outcomes, block=block, progress=progress)
    found = RunningSummary.begin(scenarios, uncertainty, seed, outcomes)
    for piece in pieces:
        found.add(piece)
    return found
