"""How far an outcome moves when one uncertain input alone goes to its low or high end."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from scipy import special

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.scenario import OUTCOMES, Scenario, outcome_values
from scenariokit.uncertainty import Uncertainty, name_of, placed


@dataclass(frozen=True)
class SwingRow:
    """One input of a swing.

    Parameters
    ----------
    path, label : str
        The input.
    low_input, high_input : quantity or None
        Its value at the low and the high end; None where it differs between the
        two methods of a difference.
    low, high : quantity
        The outcome there.
    """

    path: str
    label: str
    low_input: Any
    high_input: Any
    low: Any
    high: Any

    @property
    def width(self) -> float:
        """How far apart the outcomes at the two ends are, as a plain number; 0 if undefined."""
        gap = abs(float((self.high - self.low).magnitude))
        return 0.0 if np.isnan(gap) else gap


@dataclass(frozen=True)
class Swing:
    """What moves an outcome, the widest first. Make it by `swing`.

    Parameters
    ----------
    name : str
        The outcome.
    base : quantity
        It with every input at its median.
    rows : tuple of SwingRow
        One an input.
    low_share, high_share : float
        Which quantiles the ends are.
    """

    name: str
    base: Any
    rows: tuple[SwingRow, ...]
    low_share: float
    high_share: float


def swing(
    scenarios: Sequence[Scenario],
    uncertainty: Uncertainty,
    name: str,
    low_share: float = 0.1,
    high_share: float = 0.9,
) -> Swing:
    """Return the swing of an outcome of one scenario, or of the difference of two.

    Parameters
    ----------
    scenarios : sequence of Scenario
        One; or two, for the outcome of the first less that of the second.
    uncertainty : Uncertainty
        The inputs; those that the scenarios do not have are left out.
    name : str
        The outcome.
    low_share, high_share : float
        Quantiles of an input at its ends, 0.1 and 0.9 by default.

    Raises
    ------
    RangeError
        If there are not one or two scenarios, or the quantiles are out of order.
    ArgumentError
        If the outcome or a path does not exist.

    Notes
    -----
    All other inputs stay at their medians, and causes are left aside: what two
    inputs do together is not seen here; `driver_shares` shows it. All ends of
    a scenario are worked out in one vectorised pass.
    """
    problems = []
    if len(scenarios) not in (1, 2):
        problems.append(Problem("scenarios", f"{len(scenarios)}", "is not one or two", "1 or 2",
                                kind="range"))  # fmt: skip
    if not 0 < low_share < high_share < 1:
        problems.append(Problem("low_share, high_share", f"{low_share:g}, {high_share:g}",
                                "are no quantiles in order", "0 to 1", kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, "swing")
    places = placed(scenarios, uncertainty)
    used = sorted({number for place in places for number, _, _ in place.spreads})
    ends = special.ndtri(np.array([low_share, high_share]))
    scores = np.zeros((len(uncertainty.inputs), 1 + 2 * len(used)))
    for column, number in enumerate(used):
        scores[number, 1 + 2 * column : 3 + 2 * column] = ends
    parts = [
        np.broadcast_to(outcome_values(place.drawn(scores), [name])[name], scores.shape[1])
        for place in places
    ]
    found = parts[0] if len(parts) == 1 else parts[0] - parts[1]
    unit = OUTCOMES[name].unit
    rows = []
    for column, number in enumerate(used):
        low, high = found[1 + 2 * column : 3 + 2 * column]
        values = _input_ends(places, number, ends)
        rows.append(
            SwingRow(
                uncertainty.inputs[number].path, name_of(uncertainty.inputs[number]), *values,
                units.quantity(float(low), unit), units.quantity(float(high), unit),
            )
        )  # fmt: skip
    rows.sort(key=lambda row: -row.width)
    return Swing(name, units.quantity(float(found[0]), unit), tuple(rows), low_share, high_share)


def _input_ends(places: Any, number: int, ends: Any) -> tuple[Any, Any]:
    """Return an input's values at its ends, or nothing where they differ between methods."""
    found = {
        tuple(float(value) for value in spread.at_scores(ends)): spread.unit
        for place in places
        for where, _, spread in place.spreads
        if where == number
    }
    if len(found) != 1:
        return None, None
    (values, unit), *_ = found.items()
    return units.quantity(values[0], unit), units.quantity(values[1], unit)
