"""What one more trial would be worth before it is made, by its size."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.decide.best_of_normals import gain_of_best
from scenariokit.decide.yield_beliefs import YieldBelief
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.language import tr
from scenariokit.quantities import to_floats
from scenariokit.trials.planning.aim import TrialAim, plots_behind
from scenariokit.units import Floats, Quantity, QuantityLike

MOST_REPLICATES = 10_000


@dataclass(frozen=True)
class TrialTerms:
    """What a trial costs, how exact its plots are, and what hangs on it.

    Parameters
    ----------
    variation : float
        CV, standard deviation of plots of one method as a share of their mean.
    cost_per_plot, set_up : quantity
        What each plot costs to lay out, tend and weigh, and what the trial
        costs whatever its size [money].
    area : quantity
        Tank that will be planted with the method chosen [m²].
    crops : float
        Number of crops for which the choice holds, above 0.
    interaction : float
        By how much methods differ otherwise in one season than on the whole:
        standard deviation as a share of the mean yield, 0 to 1. More plots in
        the same season do not lessen it.

    Raises
    ------
    ArgumentError
        If a value has the wrong unit or lies outside its range. All at once.
    """

    variation: Any = 0.12
    cost_per_plot: QuantityLike = "20 money"
    set_up: QuantityLike = "0 money"
    area: QuantityLike = "10 m^2"
    crops: float = 4
    interaction: float = 0.0

    def __post_init__(self) -> None:
        """Check; keep single numbers, money and area as quantities."""
        problems: list[Problem] = []
        for field, name in (
            ("variation", "coefficient_of_variation"), ("cost_per_plot", "amount"),
            ("set_up", "amount"), ("area", "tank_area"),
        ):  # fmt: skip
            described = parameter(name)
            number, problem = to_floats(field, getattr(self, field), described)
            if problem is None and not isinstance(number, float):
                problem = Problem(field, f"{number}", "is an array", "one value", kind="range")
            if problem is not None:
                problems.append(problem)
            else:
                value = units.quantity(number, described.unit) if described.unit else number
                object.__setattr__(self, field, value)
        if not 0 < self.crops <= 1e6:
            problems.append(Problem("crops", f"{self.crops:g}", "is no number of crops",
                                    "more than 0, up to 1000000", kind="range"))  # fmt: skip
        if not 0 <= self.interaction <= 1:
            problems.append(Problem("interaction", f"{self.interaction:g}", "is no share", "0 to 1",
                                    kind="range"))  # fmt: skip
        if problems:
            raise argument_error(problems, "TrialTerms")


@dataclass(frozen=True)
class TrialValue:
    """What a trial of some size is worth. Make it by `trial_value_curve`.

    Parameters
    ----------
    replicates, plots : int
        Plots of each method, and in all.
    gain : quantity
        Expected gain for each square metre and crop from choosing after it
        (EVSI) [money/m²].
    worth : quantity
        The same over the area and crops stated [money].
    cost : quantity
        What the trial costs [money].
    changes : float
        Chance that another method is chosen after it than would be now.
    """

    replicates: int
    plots: int
    gain: Any
    worth: Any
    cost: Any
    changes: float = math.nan

    @property
    def net(self) -> Any:
        """What it is worth less what it costs [money]; below zero it does not pay."""
        return self.worth - self.cost


def best_trial(values: Sequence[TrialValue]) -> TrialValue | None:
    """Return the size with the greatest net worth, or None if no trial is worth its cost.

    Of sizes that come to the same the first is returned.
    """
    best = max(values, key=lambda one: one.net.magnitude, default=None)
    return best if best is not None and best.net.magnitude > 0 else None


def trial_value_curve(
    belief: YieldBelief,
    replicates: Sequence[int],
    terms: TrialTerms | None = None,
    tested: Sequence[str] = (),
    seed: int = 0,
) -> tuple[TrialValue, ...]:
    """Return what trials of several sizes are worth before they are made.

    EVSI = E[max_i M_i] - max_i m_i, with M the margins as they will be
    expected after the trial: normal about m with the covariance
    W S (S + E)⁻¹ S W (conjugate normal).

    Parameters
    ----------
    belief : YieldBelief
        What is thought of the methods: m, the margins; S, the variances of
        their yields' own parts; W, the worth of a kilogram.
    replicates : sequence of int
        r, plots of each tested method, 1 or more.
    terms : TrialTerms, optional
        Exactness, costs, area and crops.
    tested : sequence of str
        Methods that are in the trial; all if left out. The others stay as
        they are thought of.
    seed : int
        0 or more, of the imagined trials; it does not enter with two methods.

    Returns
    -------
    tuple of TrialValue
        In the order of `replicates`.

    Raises
    ------
    RangeError
        If a number of replicates cannot be.
    InfeasibleError
        If a tested method is not among those of the belief, or nothing that is
        tested is uncertain.

    Notes
    -----
    The error E of the trial's means has the variance ((CV y)² / r + (g y)²)
    for a method of yield y, g being the interaction, and that of the season,
    which all means share. A trial thus tells little of a method that is grown
    in it alone, if seasons differ. Yields, CV and the plots' errors are taken
    as normal and the CV as known,
    which is bold where few plots were ever weighed. Money is not discounted.

    With two methods, or one in doubt beside any others, the gain is exact (unit
    normal loss); else it is the mean over 4,096 evenly spread imagined trials
    and their mirror images, the same for all sizes. Without season and
    interaction it rises with r to `value_of_yields`.

    References
    ----------
    Raiffa, H., Schlaifer, R. (1961), Applied Statistical Decision Theory,
    chapter 5 (preposterior analysis; from memory, not checked against a copy).

    Examples
    --------
    >>> from scenariokit import quantity
    >>> belief = YieldBelief(
    ...     ["bag", "pots"], quantity([3.0, 2.0], "money/m^2"), quantity([5.0, 4.5], "kg/m^2"),
    ...     quantity([0.8, 1.0], "kg/m^2"), quantity([1.5, 1.5], "money/kg"),
    ... )
    >>> best_trial(trial_value_curve(belief, range(1, 9))) is None
    True
    >>> holding = TrialTerms(area="200 m^2", crops=6)
    >>> best_trial(trial_value_curve(belief, range(1, 9), holding)).replicates
    2
    """
    counts = _read_counts(replicates, "trial_value_curve")
    rows = _tested_rows(belief, tested)
    plots = [count * len(rows) for count in counts]
    return _curve(belief, counts, counts, plots, terms or TrialTerms(), rows, seed)


def trial_value_for(
    belief: YieldBelief,
    aim: TrialAim,
    most: int,
    terms: TrialTerms | None = None,
    seed: int = 0,
) -> tuple[TrialValue, ...]:
    """Return what a planned trial would be worth at every size up to `most` replicates.

    Parameters
    ----------
    belief : YieldBelief
        What is thought of what the aim compares, under the same names; there
        may be others beside them.
    aim : TrialAim
        What is compared, in which design, and the CV, which takes the place of
        that of the terms.
    most : int
        Largest number of replicates.
    terms : TrialTerms, optional
        Costs, area and crops.
    seed : int
        0 or more.

    Returns
    -------
    tuple of TrialValue
        For the sizes that the design can have, as in the curve of what such
        trials find; empty if `most` is too few. In a split plot each section
        counts as a plot.

    Raises
    ------
    RangeError
        If there are more than 10,000 replicates.
    InfeasibleError
        If something compared is not in the belief, or nothing compared is uncertain.

    Examples
    --------
    >>> from scenariokit.decide.yield_beliefs import belief_of
    >>> from scenariokit.scenario import scenario_for
    >>> names = ["medium_bag", "wedge_pots"]
    >>> belief = belief_of([scenario_for(name) for name in names])
    >>> [one.replicates for one in trial_value_for(belief, TrialAim(names), 5)]
    [3, 4, 5]
    """
    rows = _tested_rows(belief, aim.compared)
    sizes = list(range(aim.first, most + 1, aim.step))
    if not sizes:
        return ()
    sizes = _read_counts(sizes, "trial_value_for")
    behind = [plots_behind(aim, size) for size in sizes]
    plots = [size * len(aim.pairs) for size in sizes]
    exact = replace(terms or TrialTerms(), variation=aim.cv)
    return _curve(belief, sizes, behind, plots, exact, rows, seed)


def value_of_yields(belief: YieldBelief, seed: int = 0) -> Quantity:
    """Return what it would be worth to know every yield's own part before choosing.

    The most that any trial can be worth (EVPPI), for each square metre and
    crop [money/m²].

    Parameters
    ----------
    belief : YieldBelief
        What is thought of the methods.
    seed : int
        0 or more.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> belief = YieldBelief(
    ...     ["bag", "pots"], quantity([4.0, 2.0], "money/m^2"), quantity([5.0, 4.5], "kg/m^2"),
    ...     quantity([4.0, 0.0], "kg/m^2"), quantity([1.0, 1.0], "money/kg"),
    ... )
    >>> round(value_of_yields(belief).m, 6)
    0.791186
    """
    spread = belief.worth.magnitude * belief.deviations.magnitude
    gain, _ = gain_of_best(belief.margins.magnitude, np.diag(spread**2), seed)
    return units.quantity(gain, "money/m^2")


def read_replicates(replicates: Sequence[int]) -> list[Problem]:
    """Return what is wrong with numbers of replicates."""
    fit = [
        not isinstance(count, bool) and count == count // 1 and 1 <= count <= MOST_REPLICATES
        for count in replicates
    ]
    if fit and all(fit):
        return []
    return [Problem("replicates", f"{list(replicates)}", "are no numbers of plots",
                    f"whole numbers, 1 to {MOST_REPLICATES}", kind="range")]  # fmt: skip


def _read_counts(replicates: Sequence[int], subject: str) -> list[int]:
    problems = read_replicates(replicates)
    if problems:
        raise argument_error(problems, subject)
    return [int(count) for count in replicates]


def _tested_rows(belief: YieldBelief, tested: Sequence[str]) -> Floats:
    """Return the rows of the methods that are tried, or refuse a trial that teaches nothing."""
    unknown = [name for name in tested if name not in belief.methods]
    if unknown:
        raise InfeasibleError(
            f"nothing is thought of the yield of {', '.join(unknown)}; known: "
            f"{', '.join(belief.methods)}"
        )
    rows = np.array([n for n, name in enumerate(belief.methods) if not tested or name in tested])
    if not belief.deviations.magnitude[rows].any():
        raise InfeasibleError(tr("no yield is uncertain, so a trial has nothing to teach"))
    return rows


def _curve(
    belief: YieldBelief, sizes: Sequence[int], behind: Sequence[int], plots: Sequence[int],
    terms: TrialTerms, rows: Floats, seed: int,
) -> tuple[TrialValue, ...]:  # fmt: skip
    means = belief.margins.magnitude
    hangs = float(terms.area.magnitude) * terms.crops
    result = []
    for size, count, number in zip(sizes, behind, plots, strict=True):
        gain, changes = gain_of_best(means, _learned(belief, rows, terms, count), seed)
        cost = float(terms.set_up.magnitude) + number * float(terms.cost_per_plot.magnitude)
        result.append(
            TrialValue(
                size, number, units.quantity(gain, "money/m^2"), units.quantity(gain * hangs, "money"),
                units.quantity(cost, "money"), changes,
            )
        )  # fmt: skip
    return tuple(result)


def _learned(belief: YieldBelief, rows: Floats, terms: TrialTerms, count: int) -> Floats:
    """Return the covariance of the margins as they will be expected after the trial."""
    yields, own = belief.yields.magnitude[rows], belief.deviations.magnitude[rows]
    season = np.atleast_2d(belief.season.magnitude)[:, rows]
    error = yields**2 * (terms.variation**2 / count + terms.interaction**2)
    seen = np.diag(own**2 + error) + season.T @ season
    gain = (belief.worth.magnitude[rows] * own**2)[:, np.newaxis]
    found = np.zeros((len(belief.methods),) * 2)
    # A method that yields nothing for certain leaves a row of zeros, hence no plain inverse.
    found[np.ix_(rows, rows)] = gain * np.linalg.pinv(seen, hermitian=True) * gain.T
    return found
