"""Which method is best at each pair of values of two parameters."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.decide.over_range import ends_of, outcome_over, parameter_at
from scenariokit.errors import Problem, argument_error
from scenariokit.scenario import OUTCOMES, Scenario
from scenariokit.uncertainty.placing import one_crop_and_currency

MOST_CELLS = 100_000


@dataclass(frozen=True)
class WinMap:
    """The best of several methods over two parameters. Make it by `win_map`.

    Parameters
    ----------
    methods : tuple of str
        Ids, in the order of `best`.
    x, y : quantity
        Values of the two parameters.
    best : ndarray of int
        Number of the best method, ``[y, x]``; -1 where none has the outcome.
        Of equal ones the first.
    lead : quantity
        By how much it is ahead of the second, ``[y, x]``; NaN without a second.
    """

    methods: tuple[str, ...]
    x: Any
    y: Any
    best: Any
    lead: Any


def win_map(
    scenarios: Sequence[Scenario],
    x_path: str,
    y_path: str,
    name: str = "margin_per_area",
    cells: tuple[int, int] = (24, 24),
) -> WinMap:
    """Return which method is best over the sliders' ranges of two parameters.

    Parameters
    ----------
    scenarios : sequence of Scenario
        What is compared.
    x_path, y_path : str
        Two different paths; each moves in all methods that have it.
    name : str
        The outcome.
    cells : tuple of int
        How many values of each, 2 or more.

    Raises
    ------
    RangeError
        If the paths are alike or unknown, or there are too few or many cells.
    InfeasibleError
        If the scenarios cannot stand side by side.
    """
    one_crop_and_currency(scenarios)
    wide, high = cells
    problems = []
    if x_path == y_path:
        problems.append(Problem("y_path", y_path, "is the same parameter twice", kind="range"))
    if min(cells) < 2 or wide * high > MOST_CELLS:
        problems.append(Problem("cells", f"{cells}", "are too few or too many",
                                f"2 by 2 to {MOST_CELLS} in all", kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "win_map")
    described = [parameter_at(scenarios, path) for path in (x_path, y_path)]
    x, y = (
        np.linspace(*ends_of(one, None, None), count)
        for one, count in zip(described, cells, strict=True)
    )
    across, up = (part.ravel() for part in np.meshgrid(x, y))
    sign = -1.0 if OUTCOMES[name].better == "lower" else 1.0
    table = sign * np.stack(
        [outcome_over(one, {x_path: across, y_path: up}, name) for one in scenarios]
    )
    none = np.isnan(table).all(axis=0)
    filled = np.where(np.isnan(table), -np.inf, table)
    best = np.where(none, -1, filled.argmax(axis=0))
    lead = np.full(best.shape, np.nan)
    if len(scenarios) > 1:
        ordered = np.sort(filled, axis=0)
        both = np.isfinite(ordered[-2])
        lead[both] = ordered[-1][both] - ordered[-2][both]
    return WinMap(
        tuple(one.method.id for one in scenarios),
        units.quantity(x, described[0].unit),
        units.quantity(y, described[1].unit),
        best.reshape(high, wide),
        units.quantity(lead.reshape(high, wide), OUTCOMES[name].unit),
    )
