"""How far an outcome moves when one uncertain input alone goes to its low or high end."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit import units
from scenariokit.decide.over_range import outcome_named
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.parameters import UnitSystem
from scenariokit.scenario import OUTCOMES, Scenario, column_name, outcome_values, shown
from scenariokit.uncertainty import Uncertainty, input_scores, placed
from scenariokit.uncertainty.leaf_paths import leaf_parameters, like_paths
from scenariokit.uncertainty.placing import Placed, one_crop_and_currency
from scenariokit.units import Floats

if TYPE_CHECKING:
    import pandas as pd


@dataclass(frozen=True)
class SwingRow:
    """One input of a swing.

    Parameters
    ----------
    path, label : str
        The input; of a cause the path is empty.
    low_input, high_input : quantity or None
        Its value at the low and the high end; None for a cause, and where it
        differs between the two methods of a difference.
    low, high : quantity
        The outcome there; NaN where it does not exist.
    middle_input : quantity or None
        Its value at the median.
    method : str
        Id of the one method that the input belongs to; empty for all.
    """

    path: str
    label: str
    low_input: Any
    high_input: Any
    low: Any
    high: Any
    middle_input: Any = None
    method: str = ""

    @property
    def width(self) -> float:
        """How far apart the outcomes at the two ends are, as a plain number; 0 if undefined."""
        gap = abs(float((self.high - self.low).magnitude))
        return 0.0 if np.isnan(gap) else gap

    @property
    def undefined(self) -> bool:
        """Whether the outcome does not exist at one of the ends."""
        return bool(np.isnan((self.high - self.low).magnitude))


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
        One an input; those with an end where the outcome does not exist last.
    low_share, high_share : float
        Which quantiles the ends are.
    methods : tuple of str
        Id of the method; or of two, where the outcome is that of the first
        less that of the second.
    """

    name: str
    base: Any
    rows: tuple[SwingRow, ...]
    low_share: float
    high_share: float
    methods: tuple[str, ...] = ()

    @property
    def note(self) -> str:
        """What a swing shows and what it does not, in words."""
        return tr(
            "Each input alone goes to its {low_share:.0%} and {high_share:.0%} quantile while "
            "all others stay at their medians; what several do together is not seen here.",
            low_share=self.low_share,
            high_share=self.high_share,
        )

    def frame(self, system: UnitSystem = "metric", rate: float = 1.0) -> pd.DataFrame:
        """Return the swing as a table of plain numbers, one row an input.

        Parameters
        ----------
        system : {'metric', 'us'}
            The reader's units of the outcome; inputs stand in the unit named beside them.
        rate : float
            Money shown for one unit of the price list's currency, for the outcome.

        Returns
        -------
        pandas.DataFrame
            Columns of the outcome carry its unit as a suffix.
        """
        import pandas as pd

        described = OUTCOMES[self.name]
        column = column_name(described, system)
        ends = {"low": "low_input", "median": "middle_input", "high": "high_input"}
        rows = [
            {
                "path": one.path,
                "label": one.label,
                "method": one.method,
                **{f"input_{end}": _number(getattr(one, given)) for end, given in ends.items()},
                "input_unit": "" if one.low_input is None else _unit(one.low_input),
                f"low_{column}": float(shown(one.low, described, system, rate)),
                f"base_{column}": float(shown(self.base, described, system, rate)),
                f"high_{column}": float(shown(one.high, described, system, rate)),
            }
            for one in self.rows
        ]
        return pd.DataFrame(rows)


def _number(value: Any) -> float:
    return float("nan") if value is None else float(value.magnitude)


def _unit(value: Any) -> str:
    return f"{value.units:~C}" if not value.dimensionless else ""


def swing_floats(
    function: Callable[[Floats], Floats], low: Floats, middle: Floats, high: Floats
) -> tuple[float, Floats, Floats]:
    """Return a plain function with each input alone at its low and its high end.

    Parameters
    ----------
    function : callable
        Takes an array of inputs by cases, returns one value a case.
    low, middle, high : ndarray
        One value an input.

    Returns
    -------
    base : float
        The function with all inputs at their middle.
    low, high : ndarray
        The function with one input at its end.

    Raises
    ------
    RangeError
        If the three do not hold one value an input.

    Examples
    --------
    >>> base, low, high = swing_floats(lambda x: x[0] * x[1], [1, 1], [2, 3], [3, 5])
    >>> base, low.tolist(), high.tolist()
    (6.0, [3.0, 2.0], [9.0, 10.0])
    """
    ends = [np.asarray(part, dtype=float) for part in (low, middle, high)]
    if ends[1].ndim != 1 or any(part.shape != ends[1].shape for part in ends):
        shapes = ", ".join(f"{part.shape}" for part in ends)
        problem = Problem("low, middle, high", shapes, "do not hold one value an input",
                          "arrays of one length", kind="range")  # fmt: skip
        raise argument_error([problem], "swing_floats")
    count = len(ends[1])
    cases = np.repeat(ends[1][:, np.newaxis], 1 + 2 * count, axis=1)
    row = np.arange(count)
    cases[row, 1 + 2 * row], cases[row, 2 + 2 * row] = ends[0], ends[2]
    found = np.asarray(function(cases), dtype=float)
    return float(found[0]), found[1::2], found[2::2]


def swing(
    scenarios: Sequence[Scenario],
    uncertainty: Uncertainty,
    name: str,
    low_share: float = 0.1,
    high_share: float = 0.9,
    with_causes: bool = False,
) -> Swing:
    """Return the swing of an outcome of one scenario, or of the difference of two.

    Parameters
    ----------
    scenarios : sequence of Scenario
        One; or two, for the outcome of the first less that of the second.
    uncertainty : Uncertainty
        The inputs; numbers that these scenarios do not have are left out.
    name : str
        The outcome.
    low_share, high_share : float
        Quantiles of an input at its ends, 0.1 and 0.9 by default.
    with_causes : bool
        Whether causes have rows too: a cause at its end moves all its inputs
        as far as their strength says. An input's own row is without its cause.

    Raises
    ------
    RangeError
        If there are not one or two scenarios, the quantiles are out of order,
        or there is no such outcome.
    ArgumentError
        If a path is no number of any scenario, or a spread does not fit.
    InfeasibleError
        If two scenarios cannot stand side by side, or measures of a method at
        an end do not fit into each other.

    Notes
    -----
    All other inputs stay at their medians: what two inputs do together is not
    seen here; `driver_shares` shows it. All ends of a scenario are worked out
    in one vectorised pass.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> from scenariokit.uncertainty import usual_uncertainty
    >>> bag = [scenario_for("medium_bag")]
    >>> found = swing(bag, usual_uncertainty(bag), "cost_per_kilogram")
    >>> found.rows[0].label
    'Yield: Sub-irrigated medium bag'
    """
    problems = []
    if len(scenarios) not in (1, 2):
        problems.append(Problem("scenarios", f"{len(scenarios)}", "is not one or two", "1 or 2",
                                kind="range"))  # fmt: skip
    if not 0 < low_share < high_share < 1:
        problems.append(Problem("low_share, high_share", f"{low_share:g}, {high_share:g}",
                                "are no quantiles in order", "0 to 1", kind="range"))  # fmt: skip
    if name not in OUTCOMES:
        problems.append(Problem("name", name, "is no outcome", ", ".join(OUTCOMES), kind="range"))
    if problems:
        raise argument_error(problems, "swing")
    one_crop_and_currency(scenarios)
    places = parts_drawn(scenarios, uncertainty)
    inputs = sorted({number for place in places for number, _, _ in place.spreads})
    causes = _causes(uncertainty, inputs) if with_causes else []
    first = len(uncertainty.causes)
    moved = [*causes, *(first + number for number in inputs)]
    ends = _end_scores(low_share, high_share)

    def outcome(cases: Floats) -> Floats:
        drivers = np.zeros((len(uncertainty.drivers), cases.shape[1]))
        drivers[moved] = cases
        return difference_over(places, _scores(uncertainty, drivers), name)

    low, middle, high = (np.full(len(moved), score) for score in ends)
    base, low_values, high_values = swing_floats(outcome, low, middle, high)
    unit = outcome_named(name).unit
    rows = [
        _row(places, uncertainty, driver, ends,
             (units.quantity(float(a), unit), units.quantity(float(b), unit)))
        for driver, a, b in zip(moved, low_values, high_values, strict=True)
    ]  # fmt: skip
    rows.sort(key=lambda row: (row.undefined, -row.width))
    methods = tuple(one.method.id for one in scenarios)
    return Swing(name, units.quantity(base, unit), tuple(rows), low_share, high_share, methods)


def _end_scores(low_share: float, high_share: float) -> tuple[float, float, float]:
    """Return the normal scores of the low end, the median and the high end."""
    from scipy.special import ndtri

    return float(ndtri(low_share)), 0.0, float(ndtri(high_share))


def _causes(uncertainty: Uncertainty, inputs: Sequence[int]) -> list[int]:
    """Return the numbers of the causes that move any of these inputs."""
    found = {
        uncertainty.cause_of(uncertainty.inputs[number])
        for number in inputs
        if uncertainty.inputs[number].strength
    }
    return sorted(one for one in found if one is not None)


def _scores(uncertainty: Uncertainty, drivers: Floats) -> Floats:
    """Return the scores of all inputs: an input's own end is its whole spread, cause or not."""
    first = len(uncertainty.causes)
    own = drivers[first:]
    with_cause = input_scores(uncertainty, np.concatenate([drivers[:first], np.zeros_like(own)]))
    return own + with_cause


def parts_drawn(scenarios: Sequence[Scenario], uncertainty: Uncertainty) -> tuple[Placed, ...]:
    """Return what is uncertain about each scenario; what none of them has is left out.

    Raises
    ------
    ArgumentError
        If a path is no number of any scenario, or a spread does not fit its leaf.
    """
    unknown = [
        Problem("path", one.path, "is no number of a scenario", like_paths(one.path), kind="range")
        for one in uncertainty.inputs
        if one.path not in leaf_parameters()
    ]
    if unknown:
        raise argument_error(unknown, "uncertainty")
    return placed(scenarios, uncertainty, strict=False)


def difference_over(places: Sequence[Placed], scores: Floats, name: str) -> Floats:
    """Return the outcome of one scenario, or of the first less the second, for input scores."""
    seen: dict[Any, Any] = {}
    parts = [
        np.broadcast_to(
            np.asarray(outcome_values(place.drawn(scores, seen), [name])[name], dtype=float),
            (scores.shape[1],),
        )
        for place in places
    ]
    return parts[0] if len(parts) == 1 else parts[0] - parts[1]


def _row(
    places: Sequence[Placed],
    uncertainty: Uncertainty,
    driver: int,
    ends: tuple[float, float, float],
    outcomes: tuple[Any, Any],
) -> SwingRow:
    """Return the row of a cause or an input."""
    number = driver - len(uncertainty.causes)
    if number < 0:
        return SwingRow("", uncertainty.drivers[driver], None, None, *outcomes)
    one = uncertainty.inputs[number]
    low, middle, high = _input_ends(places, number, ends)
    return SwingRow(one.path, uncertainty.drivers[driver], low, high, *outcomes, middle, one.method)


def _input_ends(
    places: Sequence[Placed], number: int, ends: tuple[float, float, float]
) -> tuple[Any, Any, Any]:
    """Return an input's values at its ends and median; None where they differ between methods."""
    found = {
        tuple(float(value) for value in spread.at_scores(np.array(ends))): spread.unit
        for place in places
        for where, _, spread in place.spreads
        if where == number
    }
    if len(found) != 1:
        return None, None, None
    (values, unit), *_ = found.items()
    low, middle, high = (units.quantity(value, unit) for value in values)
    return low, middle, high
