"""Which unknowns an outcome's spread comes from: Sobol indices of the drivers."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit import units
from scenariokit.decide.sobol import Sampling, Shares, sobol_estimate, sobol_shares
from scenariokit.decide.swing import difference_over, parts_drawn
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.scenario import OUTCOMES, Scenario
from scenariokit.uncertainty import Progress, Uncertainty, input_scores
from scenariokit.uncertainty.placing import Placed, one_crop_and_currency
from scenariokit.units import Floats

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "DriverShare",
    "Sampling",
    "VarianceShares",
    "driver_shares",
    "groups_by_cause",
    "sobol_shares",
    "variance_shares",
]


@dataclass(frozen=True)
class DriverShare:
    """What one driver, or a group of drivers, accounts for.

    Parameters
    ----------
    driver : str
        A cause, or an input's own part; or what the group is called.
    first : float
        Share of the variance that would be gone, on average, if it were known
        and nothing else (first-order index).
    total : float
        Share that stays, on average, if everything else were known
        (total index); the excess over `first` is what it does together with
        others.
    first_range, total_range : tuple of float
        Bootstrap intervals of the two.
    """

    driver: str
    first: float
    total: float
    first_range: tuple[float, float] = (float("nan"), float("nan"))
    total_range: tuple[float, float] = (float("nan"), float("nan"))


@dataclass(frozen=True)
class VarianceShares:
    """What the spread of an outcome comes from. Make it by `variance_shares`.

    Parameters
    ----------
    name : str
        The outcome.
    methods : tuple of str
        Id of the method; or of two, where the outcome is that of the first
        less that of the second.
    rows : tuple of DriverShare
        The largest total first.
    mean, deviation : quantity
        Of the outcome over the draws.
    without_part : tuple of str
        Drivers that move none of these methods.
    sampling : Sampling
        How the draws were made.
    """

    name: str
    methods: tuple[str, ...]
    rows: tuple[DriverShare, ...]
    mean: Any
    deviation: Any
    without_part: tuple[str, ...]
    sampling: Sampling

    @property
    def together(self) -> float:
        """Share of the variance that no driver alone accounts for; noise can make it negative."""
        return 1.0 - sum(one.first for one in self.rows)

    def frame(self) -> pd.DataFrame:
        """Return the shares as a table, one row a driver."""
        import pandas as pd

        return pd.DataFrame(
            {
                "driver": one.driver,
                "first_order": one.first,
                "first_order_low": one.first_range[0],
                "first_order_high": one.first_range[1],
                "total": one.total,
                "total_low": one.total_range[0],
                "total_high": one.total_range[1],
            }
            for one in self.rows
        )


def groups_by_cause(uncertainty: Uncertainty) -> dict[str, tuple[int, ...]]:
    """Return drivers grouped: each cause with the inputs that it moves, all others alone.

    Returns
    -------
    dict
        Label to the numbers of the drivers in ``uncertainty.drivers``.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> from scenariokit.uncertainty import usual_uncertainty
    >>> list(groups_by_cause(usual_uncertainty([scenario_for("medium_bag")])))[:2]
    ['How good the season is', 'How dear the market is']
    """
    first = len(uncertainty.causes)
    groups = {label: [number] for number, label in enumerate(uncertainty.drivers[:first])}
    for number, one in enumerate(uncertainty.inputs, start=first):
        cause = uncertainty.cause_of(one) if one.strength else None
        if cause is None:
            groups[uncertainty.drivers[number]] = [number]
        else:
            groups[uncertainty.drivers[cause]].append(number)
    return {label: tuple(numbers) for label, numbers in groups.items()}


def driver_shares(
    scenarios: Sequence[Scenario],
    uncertainty: Uncertainty,
    name: str,
    count: int = 1024,
    seed: int = 0,
    progress: Progress | None = None,
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
        As `variance_shares`, which tells more.
    """
    sampling = Sampling(count, seed)
    return variance_shares(scenarios, uncertainty, name, sampling=sampling, progress=progress).rows


def variance_shares(
    scenarios: Sequence[Scenario],
    uncertainty: Uncertainty,
    name: str,
    groups: Mapping[str, Sequence[int]] | None = None,
    sampling: Sampling | None = None,
    progress: Progress | None = None,
) -> VarianceShares:
    """Return what drivers, or groups of them, account for of the spread of an outcome.

    Parameters
    ----------
    scenarios : sequence of Scenario
        One; or two, for the outcome of the first less that of the second.
    uncertainty : Uncertainty
        Its drivers, causes and own parts of inputs, are independent standard
        normals, as Sobol indices need.
    name : str
        The outcome.
    groups : mapping, optional
        What a group is called, to the numbers of its drivers in
        `uncertainty.drivers`, as `groups_by_cause` gives them; each driver
        alone if left out.
    sampling : Sampling, optional
        How many draws, seed and intervals.
    progress : callable, optional
        Told how many evaluations are done, of how many; it may raise
        `Stopped`; then nothing is returned.

    Raises
    ------
    RangeError
        If there are not one or two scenarios, there is no such outcome, the
        draws cannot be so many, or groups leave a driver out or name it twice.
    ArgumentError
        If a path is no number of any scenario, or a spread does not fit.
    InfeasibleError
        If nothing is uncertain, the outcome is constant, or it has no value in
        some draw.

    Notes
    -----
    Drivers that move none of the scenarios have no share and are only named.
    The outcome is worked out in blocks, so memory does not grow with the
    number of drivers squared.

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for
    >>> from scenariokit.uncertainty import usual_uncertainty
    >>> bag = [scenario_for("medium_bag")]
    >>> found = variance_shares(bag, usual_uncertainty(bag), "margin_per_area",
    ...                         sampling=Sampling(256, resamples=50))
    >>> found.rows[0].driver
    'Price of the produce'
    """
    problems = []
    if len(scenarios) not in (1, 2):
        problems.append(Problem("scenarios", f"{len(scenarios)}", "is not one or two", "1 or 2",
                                kind="range"))  # fmt: skip
    if name not in OUTCOMES:
        problems.append(Problem("name", name, "is no outcome", ", ".join(OUTCOMES), kind="range"))
    if groups is not None:
        problems.extend(_bad_groups(groups, uncertainty))
    if problems:
        raise argument_error(problems, "variance_shares")
    one_crop_and_currency(scenarios)
    places = parts_drawn(scenarios, uncertainty)
    moved = _moved(places, uncertainty)
    if not moved:
        raise InfeasibleError(tr("nothing of these scenarios is uncertain, so nothing has a share"))
    named = groups or {str(n): (n,) for n in range(len(uncertainty.drivers))}
    parts = [
        (label if groups else uncertainty.drivers[numbers[0]],
         [moved.index(number) for number in numbers if number in moved])
        for label, numbers in named.items()
    ]  # fmt: skip

    def outcome(scores: Floats) -> Floats:
        drivers = np.zeros((len(uncertainty.drivers), scores.shape[1]))
        drivers[moved] = scores
        return difference_over(places, input_scores(uncertainty, drivers), name)

    shares = sobol_estimate(
        outcome, [_standard_normal] * len(moved), [part for _, part in parts if part],
        sampling or Sampling(), progress,
    )  # fmt: skip
    rows = _rows([label for label, part in parts if part], shares)
    unit = OUTCOMES[name].unit
    return VarianceShares(
        name, tuple(one.method.id for one in scenarios), rows,
        units.quantity(shares.mean, unit), units.quantity(shares.deviation, unit),
        tuple(label for label, part in parts if not part), sampling or Sampling(),
    )  # fmt: skip


def _standard_normal(share: Floats) -> Floats:
    from scipy.special import ndtri

    return ndtri(share)


def _rows(labels: Sequence[str], shares: Shares) -> tuple[DriverShare, ...]:
    """Return the shares by name, the largest total first."""
    rows = [
        DriverShare(
            label, float(shares.first[number]), float(shares.total[number]),
            (float(shares.first_range[0, number]), float(shares.first_range[1, number])),
            (float(shares.total_range[0, number]), float(shares.total_range[1, number])),
        )
        for number, label in enumerate(labels)
    ]  # fmt: skip
    return tuple(sorted(rows, key=lambda row: -row.total))


def _bad_groups(groups: Mapping[str, Sequence[int]], uncertainty: Uncertainty) -> list[Problem]:
    """Return what is wrong about groups: each driver must stand in one of them, once."""
    listed = sorted(number for numbers in groups.values() for number in numbers)
    if listed == list(range(len(uncertainty.drivers))):
        return []
    allowed = f"each number from 0 to {len(uncertainty.drivers) - 1} once"
    reason = "do not name each driver once"
    return [Problem("groups", ", ".join(map(str, listed)), reason, allowed, kind="range")]


def _moved(places: Sequence[Placed], uncertainty: Uncertainty) -> list[int]:
    """Return the numbers of the drivers that move any of these scenarios."""
    first = len(uncertainty.causes)
    inputs = sorted(
        {
            number
            for place in places
            for number, _, spread in place.spreads
            if spread.kind != "fixed"
        }
    )
    causes = {
        cause
        for number in inputs
        if uncertainty.inputs[number].strength
        and (cause := uncertainty.cause_of(uncertainty.inputs[number])) is not None
    }
    own = [first + number for number in inputs if abs(uncertainty.inputs[number].strength) < 1]
    return [*sorted(causes), *own]
