"""What a trial is to find out, and what it can find with a given number of plots."""

from __future__ import annotations

import functools
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import Literal, TypeAlias, get_args

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats
from scenariokit.trials.planning.degrees import (
    LEAST_ERROR_DEGREES,
    Design,
    degrees,
    first_replicates,
    replicate_step,
)
from scenariokit.trials.planning.names import Pair, count_faults, treatment_pairs
from scenariokit.trials.planning.power import pair_power, ratio_for
from scenariokit.trials.planning.search import fewest_replicates
from scenariokit.trials.planning.width import relative_width

PlannedDesign: TypeAlias = Literal["randomised", "blocks", "latin_square", "split_plot"]
Compared: TypeAlias = Literal["treatment", "variety", "combination"]

_ratio = functools.lru_cache(maxsize=4096)(ratio_for)
"""The same sizes are asked for again each time a slider of the CV moves."""

_SHARES = {
    "cv": "coefficient_of_variation",
    "difference": "relative_difference",
    "alpha": "significance_level",
    "power": "power",
}


@dataclass(frozen=True)
class TrialAim:
    """What a trial is to find out.

    Parameters
    ----------
    treatments : sequence of str
        What is compared, such as growing methods; a single one if varieties are.
    varieties : sequence of str
        With several, every treatment is combined with every variety; a single
        one is grown throughout.
    design : {'randomised', 'blocks', 'latin_square', 'split_plot'}
        How plots are drawn. In a split plot whole tanks get the treatments and
        their sections the varieties.
    compare : {'treatment', 'variety', 'combination'}, optional
        Whose means the wanted difference is between; treatments if there are
        several, else varieties.
    cv : float
        CV, standard deviation of plots treated alike as a share of the mean. In
        a split plot that of whole tanks when treatments are compared.
    difference : float
        d, difference worth finding between two means, as a share of the mean.
    alpha : float
        α, risk of calling two means different that are alike; two-sided.
    power : float
        Chance of finding the difference, above `alpha`.

    Raises
    ------
    ArgumentError
        If a name or a number cannot be, or there is nothing to compare. All
        problems at once where they can be seen at once.

    Examples
    --------
    >>> from scenariokit.trials.planning.aim import TrialAim
    >>> aim = TrialAim(["bag", "pots"], ["early", "late"], cv="15 %")
    >>> aim.compare, aim.cv, len(aim.pairs)
    ('treatment', 0.15, 4)
    """

    treatments: Sequence[str]
    varieties: Sequence[str] = ()
    design: PlannedDesign = "blocks"
    compare: Compared | None = None
    cv: float = 0.12
    difference: float = 0.2
    alpha: float = 0.05
    power: float = 0.8

    def __post_init__(self) -> None:
        """Check the aim; keep names as tuples and shares as plain numbers."""
        treatment_pairs("TrialAim", self.treatments, self.varieties)
        found = checked_floats(
            "TrialAim", {key: (getattr(self, key), name) for key, name in _SHARES.items()}
        )
        changes: dict[str, object] = {key: float(value) for key, value in found.items()}
        changes |= {"treatments": tuple(self.treatments), "varieties": tuple(self.varieties)}
        if self.compare is None:
            changes["compare"] = "treatment" if len(self.treatments) > 1 else "variety"
        for name, value in changes.items():
            object.__setattr__(self, name, value)
        problems = [*_choice_problems(self), *_size_problems(self)]
        if problems:
            raise argument_error(problems, "TrialAim")

    @property
    def pairs(self) -> tuple[Pair, ...]:
        """Every treatment with every variety, in the order stated."""
        return tuple(treatment_pairs("TrialAim", self.treatments, self.varieties))

    @property
    def compared(self) -> tuple[str, ...]:
        """What is compared, by name."""
        if self.compare == "treatment":
            return tuple(self.treatments)
        if self.compare == "variety":
            return tuple(self.varieties)
        return tuple(" ".join(part for part in pair if part) for pair in self.pairs)

    @property
    def questions(self) -> int:
        """How many pairs could be compared, of which one is named before the trial."""
        return len(list(combinations(self.compared, 2)))

    @property
    def step(self) -> int:
        """By how many replicates the design grows."""
        return 1 if self.design == "split_plot" else replicate_step(len(self.pairs), self.design)

    @property
    def first(self) -> int:
        """The fewest replicates that leave two degrees of freedom for error."""
        if self.design == "split_plot":
            return first_replicates(len(self.treatments), "blocks")
        return first_replicates(len(self.pairs), self.design)


def _choice_problems(aim: TrialAim) -> list[Problem]:
    """Return which words are not known."""
    return [
        Problem(field, repr(value), tr("is not known"), ", ".join(get_args(known)), kind="range")
        for field, value, known in (
            ("design", aim.design, PlannedDesign),
            ("compare", aim.compare, Compared),
        )
        if value not in get_args(known)
    ]


def _size_problems(aim: TrialAim) -> list[Problem]:
    """Return what the comparison or the design lacks."""
    found = []
    if aim.compare in get_args(Compared) and len(aim.compared) < 2:
        reason = tr("there is only one of them, so nothing is compared")
        found.append(Problem("compare", str(aim.compare), reason, tr("two or more"), kind="range"))
    if aim.design == "split_plot":
        found += [
            Problem(field, ", ".join(names), tr("a split plot needs two or more"), kind="range")
            for field, names in (("treatments", aim.treatments), ("varieties", aim.varieties))
            if len(names) < 2
        ]
    if aim.power <= aim.alpha:
        reason = tr("must be above alpha: no plots at all would find as much by chance")
        found.append(Problem("power", f"{aim.power:g}", reason, "0.8", kind="range"))
    return found


def error_behind(aim: TrialAim, replicates: int) -> float:
    """Return ν, the degrees of freedom of the error that the compared means are held against.

    As `error_degrees` of the treatment-variety combinations. Split plot, with t
    treatments, v varieties and r blocks: treatments and combinations
    (t - 1)(r - 1), varieties t (v - 1)(r - 1).

    Parameters
    ----------
    aim : TrialAim
        The aim.
    replicates : int
        r, plots of each combination.

    Notes
    -----
    A difference between combinations of a split plot has both errors in it; here
    it is held against that of whole tanks alone, which leaves the fewer degrees.
    """
    if aim.design != "split_plot":
        return float(degrees(len(aim.pairs), replicates, aim.design))
    many = len(aim.treatments)
    if aim.compare == "variety":
        return float(many * (len(aim.varieties) - 1) * (replicates - 1))
    return float(degrees(many, replicates, "blocks"))


def plots_behind(aim: TrialAim, replicates: int) -> int:
    """Return n, how many independent plots stand behind each compared mean.

    n = r c / k: r replicates of c combinations over k compared names. In a split
    plot a whole tank is one plot of a treatment.
    """
    if aim.design == "split_plot" and aim.compare != "variety":
        return replicates
    return replicates * len(aim.pairs) // len(aim.compared)


def chance_of_finding(
    aim: TrialAim, replicates: int, *, cv: float | None = None, difference: float | None = None
) -> float:
    """Return the chance that the trial finds the wanted difference.

    P(|T| > t(1 - α/2, ν)), T noncentral t with ν degrees of freedom and
    noncentrality d / (CV √(2/n)).

    Parameters
    ----------
    aim : TrialAim
        The aim.
    replicates : int
        r, plots of each combination.
    cv, difference : float, optional
        Others than the aim's own, as shares of the mean.

    Returns
    -------
    float
        0 to 1.

    Raises
    ------
    InfeasibleError
        If fewer than two degrees of freedom are left for error.

    Notes
    -----
    As `power_of_difference`, of which this is the form for combined treatments:
    the mean of a treatment over varieties has more plots behind it.

    Examples
    --------
    >>> from scenariokit.trials.planning.aim import TrialAim, chance_of_finding
    >>> aim = TrialAim(["bag", "pots", "wick", "tray"], cv=0.12, difference=0.2)
    >>> round(chance_of_finding(aim, 7), 3)
    0.838
    """
    error, behind = _enough(aim, replicates)
    ratio = (aim.difference if difference is None else difference) / (aim.cv if cv is None else cv)
    return float(pair_power(ratio, behind, error, aim.alpha))


def smallest_difference(aim: TrialAim, replicates: int) -> float:
    """Return the smallest difference that the trial finds with the wanted power.

    The d at which `chance_of_finding` is the aim's power, as a share of the mean.

    Raises
    ------
    InfeasibleError
        If fewer than two degrees of freedom are left for error.
    """
    error, behind = _enough(aim, replicates)
    return _ratio(behind, error, aim.alpha, aim.power) * aim.cv


def smallest_interaction(aim: TrialAim, replicates: int) -> float | None:
    """Return the smallest difference of differences that the trial finds, or None if it has none.

    (a₁ - a₂) - (b₁ - b₂) of two treatments and two varieties has the variance of
    a difference between two means of r / 2 plots each.

    Raises
    ------
    InfeasibleError
        If fewer than two degrees of freedom are left for error.

    Notes
    -----
    As a share of the mean. In a split plot only the error of sections enters;
    the aim's CV stands for it, so the true one is smaller.
    """
    if len(aim.treatments) < 2 or len(aim.varieties) < 2:
        return None
    error, _ = _enough(aim, replicates)
    if aim.design == "split_plot":
        error = float(len(aim.treatments) * (len(aim.varieties) - 1) * (replicates - 1))
    return _ratio(replicates / 2, error, aim.alpha, aim.power) * aim.cv


def half_interval(aim: TrialAim, replicates: int) -> float:
    """Return half the width of the interval of a difference, as a share of the mean.

    w = t(1 - α/2, ν) CV √(2/n)

    Raises
    ------
    InfeasibleError
        If fewer than two degrees of freedom are left for error.
    """
    error, behind = _enough(aim, replicates)
    return float(relative_width(behind, error, 1 - aim.alpha)) * aim.cv


def replicates_for_aim(aim: TrialAim, *, alpha: float | None = None) -> int:
    """Return the fewest replicates with which the trial finds what it is to find.

    The smallest r for which `chance_of_finding` is the aim's power or more.

    Parameters
    ----------
    aim : TrialAim
        The aim.
    alpha : float, optional
        Another risk of a false alarm, such as α divided by `TrialAim.questions`.

    Returns
    -------
    int
        r, plots of each combination; blocks, in blocks and split plots.

    Raises
    ------
    InfeasibleError
        If more than 10,000 replicates would be needed.

    Examples
    --------
    >>> from scenariokit.trials.planning.aim import TrialAim, replicates_for_aim
    >>> replicates_for_aim(TrialAim(["bag", "pots", "wick", "tray"]))
    7
    >>> replicates_for_aim(TrialAim(["bag", "pots", "wick", "tray"], ["early", "late"]))
    4
    """
    risk = aim.alpha if alpha is None else alpha
    split = aim.design == "split_plot"
    many = len(aim.treatments) if split else len(aim.pairs)
    design: Design = "blocks" if aim.design == "split_plot" else aim.design

    def enough(count: int) -> bool:
        behind, error = plots_behind(aim, count), error_behind(aim, count)
        return bool(pair_power(aim.difference / aim.cv, behind, error, risk) >= aim.power)

    return fewest_replicates("trial", enough, many, design)


def _enough(aim: TrialAim, replicates: int) -> tuple[float, int]:
    """Return degrees of freedom and plots behind each mean, or refuse too few."""
    problems = count_faults(replicates=replicates)
    if problems:
        raise argument_error(problems, "trial")
    error = error_behind(aim, replicates)
    if error < LEAST_ERROR_DEGREES:
        raise InfeasibleError(
            tr(
                "trial: {treatments} treatments with {replicates} replicates leave {error:g} degrees of "
                "freedom for error, and at least {least} are needed; possible: {possible} "
                "replicates",
                treatments=len(aim.pairs),
                replicates=replicates,
                error=error,
                least=LEAST_ERROR_DEGREES,
                possible=aim.first,
            )
        )
    return error, plots_behind(aim, replicates)
