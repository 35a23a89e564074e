"""Any number of draws, a piece at a time, in memory that does not grow."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.scenario import OUTCOMES, Scenario, outcome_values
from scenariokit.uncertainty.draws import MOST_DRAWS, score_pieces
from scenariokit.uncertainty.inputs import Uncertainty
from scenariokit.uncertainty.placing import Placed, Seen, one_crop_and_currency, placed
from scenariokit.uncertainty.progress import Progress

BLOCK = 16_384
"""Draws worked on at a time: few enough to stay in a processor's cache."""
DEFAULT_OUTCOMES = (
    "yield_per_area", "cost_per_kilogram", "cost_per_usable_kilogram", "cost_per_area",
    "margin_per_area", "season_water", "water_per_yield", "labour_per_area", "return_to_labour",
    "investment_per_area",
)  # fmt: skip


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

    @property
    def stop(self) -> int:
        """Number of the draw after the last."""
        return self.start + int(next(iter(self.outcomes.values())).shape[1])


def checked_outcomes(outcomes: Collection[str] | None) -> tuple[str, ...]:
    """Return the names of the outcomes asked for, the usual ones for None.

    Raises
    ------
    RangeError
        If a name is no outcome, or there is none.
    """
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
    for first, scores in score_pieces(uncertainty, start, stop, seed, block):
        width = scores.shape[1]
        found = {name: np.empty((len(places), width)) for name in outcomes}
        seen: Seen = {}
        for number, place in enumerate(places):
            values = outcome_values(place.drawn(scores, seen), outcomes)
            for name in outcomes:
                found[name][number] = values[name]
        yield Block(first, found)


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
    names = checked_outcomes(outcomes)
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
            progress(piece.stop, draws)
