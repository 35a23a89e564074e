"""Which unknowns an outcome's spread comes from: Sobol indices of the drivers."""

from __future__ import annotations

import inspect
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.scenario import Scenario, outcome_values
from scenariokit.uncertainty import Uncertainty, input_scores, placed

MOST_EVALUATIONS = 4_000_000
_PIECE = 16_384


@dataclass(frozen=True)
class DriverShare:
    """What one driver accounts for.

    Parameters
    ----------
    driver : str
        A cause, or an input's own part.
    first : float
        Share of the variance that would be gone, on average, if it were known
        and nothing else (first-order index).
    total : float
        Share that stays, on average, if everything else were known
        (total index); the excess over `first` is what it does together with
        others.
    """

    driver: str
    first: float
    total: float


def sobol_shares(
    function: Callable[[Any], Any], spreads: Sequence[Any], count: int = 1024, seed: int = 0
) -> tuple[Any, Any]:
    """Return first-order and total Sobol indices of a plain function.

    Parameters
    ----------
    function : callable
        Takes an array of inputs by draws, returns one value a draw.
    spreads : sequence
        Of each input an object with ``ppf``, such as a distribution of SciPy.
    count : int
        Base draws, a power of 2; the function sees ``count * (inputs + 2)``.
    seed : int
        0 or more.

    Returns
    -------
    first, total : ndarray
        One index an input.

    Raises
    ------
    RangeError
        If `count` is no power of 2, or there are too many evaluations.
    InfeasibleError
        If the function is constant, so that nothing has a share, or has no
        value somewhere.

    References
    ----------
    Saltelli et al. (2010), Computer Physics Communications 181:259-270, as
    `scipy.stats.sobol_indices` computes it.
    """
    from scipy import stats

    inputs = len(spreads)
    if count < 2 or count & (count - 1) or count * (inputs + 2) > MOST_EVALUATIONS:
        problem = Problem(
            "count", f"{count}", "is no power of 2, or too many",
            f"2 to {MOST_EVALUATIONS // (inputs + 2)}", kind="range",
        )  # fmt: skip
        raise argument_error([problem], "sobol_shares")
    name = "rng" if "rng" in inspect.signature(stats.sobol_indices).parameters else "random_state"
    with np.errstate(divide="ignore", invalid="ignore"):
        found = stats.sobol_indices(
            func=_checked(function), n=count, dists=list(spreads),
            **{name: np.random.default_rng(seed)},
        )  # fmt: skip
    first, total = np.ravel(found.first_order), np.ravel(found.total_order)
    if not np.isfinite(first).all():
        raise InfeasibleError("the outcome does not vary at all, so nothing has a share in it")
    return first, total


def _checked(function: Callable[[Any], Any]) -> Callable[[Any], Any]:
    def checked(points: Any) -> Any:
        values = np.asarray(function(points))
        if not np.isfinite(values).all():
            raise InfeasibleError(
                "the outcome has no value in some draws (nothing harvested, or nothing sold); "
                "choose another outcome, such as the margin"
            )
        return values

    return checked


def driver_shares(
    scenarios: Sequence[Scenario],
    uncertainty: Uncertainty,
    name: str,
    count: int = 1024,
    seed: int = 0,
    progress: Callable[[int, int], None] | None = None,
) -> tuple[DriverShare, ...]:
    """Return what each driver accounts for of the spread of an outcome, the largest first.

    Parameters
    ----------
    scenarios : sequence of Scenario
        One; or two, for the outcome of the first less that of the second.
    uncertainty : Uncertainty
        Its drivers, causes and own parts of inputs, are independent, as Sobol
        indices need; inputs themselves are not where a cause moves several.
    name : str
        The outcome.
    count : int
        Base draws, a power of 2.
    seed : int
        0 or more.
    progress : callable, optional
        Told how many evaluations are done, of how many; may raise `Stopped`.

    Raises
    ------
    RangeError, InfeasibleError
        As in `sobol_shares`.
    """
    from scipy import stats

    places = placed(scenarios, uncertainty)
    if len(places) not in (1, 2):
        problem = Problem(
            "scenarios", f"{len(places)}", "is not one or two", "1 or 2", kind="range"
        )
        raise argument_error([problem], "driver_shares")
    drivers = uncertainty.drivers
    moved = _moved(places, uncertainty)
    total = count * (len(moved) + 2)
    done = 0

    def outcome(points: Any) -> Any:
        nonlocal done
        flat = points.reshape(len(moved), -1)
        values = np.empty(flat.shape[1])
        for start in range(0, flat.shape[1], _PIECE):
            stop = min(start + _PIECE, flat.shape[1])
            scores = np.zeros((len(drivers), stop - start))
            scores[moved] = flat[:, start:stop]
            given = input_scores(uncertainty, scores)
            parts = [outcome_values(place.drawn(given), [name])[name] for place in places]
            values[start:stop] = parts[0] if len(parts) == 1 else parts[0] - parts[1]
            done += stop - start
            if progress is not None:
                progress(min(done, total), total)
        return values.reshape(points.shape[1:])

    first, whole = sobol_shares(outcome, [stats.norm()] * len(moved), count, seed)
    rows = [
        DriverShare(drivers[number], float(one), float(all_))
        for number, one, all_ in zip(moved, first, whole, strict=True)
    ]
    return tuple(sorted(rows, key=lambda row: -row.total))


def _moved(places: Any, uncertainty: Uncertainty) -> list[int]:
    """Return the numbers of the drivers that move any of these scenarios."""
    first = len(uncertainty.causes)
    inputs = sorted({number for place in places for number, _, _ in place.spreads})
    causes = {
        cause
        for number in inputs
        if uncertainty.inputs[number].strength
        and (cause := uncertainty.cause_of(uncertainty.inputs[number])) is not None
    }
    own = [first + number for number in inputs if abs(uncertainty.inputs[number].strength) < 1]
    return [*sorted(causes), *own]
