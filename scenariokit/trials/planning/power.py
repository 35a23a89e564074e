"""How many plots a trial needs, and what a trial of a given size can find."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenariokit.quantities import checked
from scenariokit.trials.planning.degrees import Design, check_size, degrees, enough_degrees
from scenariokit.trials.planning.elementwise import each, plain
from scenariokit.trials.planning.noncentral import noncentral_beyond
from scenariokit.trials.planning.search import fewest_replicates
from scenariokit.units import Floats


@checked(
    None,
    difference="relative_difference",
    cv="coefficient_of_variation",
    replicates="replicates",
    treatments="treatments",
    alpha="significance_level",
)
def power_of_difference(
    difference: Floats,
    cv: Floats,
    replicates: Floats,
    treatments: Floats,
    *,
    alpha: Floats = 0.05,
    design: Design = "blocks",
) -> Floats:
    """Return the chance that a trial finds a difference between two treatments.

    P(|T| > t(1 - α/2, ν)), T noncentral t with ν degrees of freedom for error
    and noncentrality d / (CV √(2/r)).

    Parameters
    ----------
    difference : float
        d, true difference as a share of the mean yield, scalar or array.
    cv : float
        CV, standard deviation of plots treated alike as a share of the mean.
    replicates : int
        r, plots of each treatment, 2 or more.
    treatments : int
        t, treatments in the trial, 2 or more; they set the degrees of freedom.
    alpha : float
        α, risk of calling two treatments different that are alike; two-sided.
    design : {'randomised', 'blocks', 'latin_square'}
        See `error_degrees`.

    Returns
    -------
    float or array of float
        The power, 0 to 1.

    Raises
    ------
    UnitError
        If a value is not a plain number or a ratio.
    RangeError
        If a value lies outside its range, or a count is not whole.
    InfeasibleError
        If fewer than two degrees of freedom are left for error.

    Notes
    -----
    Valid for a pair named before the trial, plots that are independent and
    equally variable, and yields near the normal. All pairs of many treatments
    need a smaller α, for example 0.05 divided by the number of pairs. Sections
    that share one reservoir are one plot. The mean of a factor over the levels
    of another has more replicates than a combination has.

    References
    ----------
    Cohen 1988, Statistical Power Analysis, 2nd edition, chapter 2; from memory.

    Examples
    --------
    >>> round(power_of_difference(0.2, 0.12, 7, 4), 3)
    0.838
    """
    check_size("power_of_difference", treatments, replicates, design)
    found = enough_degrees("power_of_difference", treatments, replicates, design)
    return plain(pair_power(np.divide(difference, cv), replicates, found, alpha))


def pair_power(ratio: Floats, replicates: Floats, error: Floats, alpha: Floats) -> Floats:
    """Return the power; a squared noncentral t is a noncentral F with 1 and ν degrees."""
    from scipy.special import stdtrit

    critical = stdtrit(error, 1 - np.asarray(alpha) / 2)
    return noncentral_beyond(critical**2, 1.0, error, np.square(ratio) * replicates / 2)


@checked(
    None,
    difference="relative_difference",
    cv="coefficient_of_variation",
    treatments="treatments",
    alpha="significance_level",
    power="power",
)
def replicates_for_difference(
    difference: Floats,
    cv: Floats,
    treatments: Floats,
    *,
    alpha: Floats = 0.05,
    power: Floats = 0.8,
    design: Design = "blocks",
) -> Any:
    """Return the fewest replicates that find a difference with the wanted power.

    The smallest whole r for which `power_of_difference` is `power` or more.

    Parameters
    ----------
    difference : float
        d, difference worth finding as a share of the mean yield, scalar or array.
    cv : float
        CV, standard deviation of plots treated alike as a share of the mean.
    treatments : int
        t, treatments in the trial, 2 or more.
    alpha : float
        α, risk of a false alarm, two-sided.
    power : float
        Chance of finding the difference, above `alpha`.
    design : {'randomised', 'blocks', 'latin_square'}
        See `error_degrees`; Latin squares are added whole.

    Returns
    -------
    int or array of int
        r, plots of each treatment; never so few that less than two degrees of
        freedom are left for error.

    Raises
    ------
    UnitError
        If a value is not a plain number or a ratio.
    RangeError
        If a value lies outside its range, or a count is not whole.
    InfeasibleError
        If more than 10,000 replicates would be needed.

    Notes
    -----
    As `power_of_difference`. The CV is a guess before the trial: look at the
    replicates for a low and a high one, 0.05 and 0.35.

    References
    ----------
    Cochran and Cox 1957, Experimental Designs, section 2.21; from memory.

    Examples
    --------
    >>> replicates_for_difference(0.2, 0.12, 4)
    7
    >>> replicates_for_difference(0.2, [0.05, 0.12, 0.35], 4).tolist()
    [3, 7, 49]
    """
    subject = "replicates_for_difference"
    check_size(subject, treatments, None, design, power=power, alpha=alpha)

    def fewest(many: float, ratio: float, risk: float, wanted: float) -> int:
        def enough(count: int) -> bool:
            return bool(pair_power(ratio, count, degrees(many, count, design), risk) >= wanted)

        return fewest_replicates(subject, enough, many, design)

    return each(fewest, int, treatments, np.divide(difference, cv), alpha, power)


@checked(
    None,
    cv="coefficient_of_variation",
    replicates="replicates",
    treatments="treatments",
    alpha="significance_level",
    power="power",
)
def detectable_difference(
    cv: Floats,
    replicates: Floats,
    treatments: Floats,
    *,
    alpha: Floats = 0.05,
    power: Floats = 0.8,
    design: Design = "blocks",
) -> Floats:
    """Return the smallest difference that a trial finds with the wanted power.

    The d at which `power_of_difference` equals `power`.

    Parameters
    ----------
    cv : float
        CV, standard deviation of plots treated alike as a share of the mean.
    replicates : int
        r, plots of each treatment, 2 or more.
    treatments : int
        t, treatments in the trial, 2 or more.
    alpha : float
        α, risk of a false alarm, two-sided.
    power : float
        Chance of finding the difference, above `alpha`.
    design : {'randomised', 'blocks', 'latin_square'}
        See `error_degrees`.

    Returns
    -------
    float or array of float
        d, as a share of the mean yield. Above 1 the trial cannot tell a
        treatment from one that gives half as much again.

    Raises
    ------
    UnitError
        If a value is not a plain number or a ratio.
    RangeError
        If a value lies outside its range, or a count is not whole.
    InfeasibleError
        If fewer than two degrees of freedom are left for error.

    Notes
    -----
    As `power_of_difference`.

    Examples
    --------
    >>> round(detectable_difference(0.12, 4, 4), 3)
    0.267
    """
    subject = "detectable_difference"
    check_size(subject, treatments, replicates, design, power=power, alpha=alpha)
    error = enough_degrees(subject, treatments, replicates, design)
    ratio = each(ratio_for, float, replicates, error, alpha, power)
    return plain(ratio * cv)


def ratio_for(replicates: float, error: float, alpha: float, power: float) -> float:
    """Return d / CV at which the power is as wanted."""
    from scipy.optimize import brentq

    def short(ratio: float) -> float:
        return float(pair_power(ratio, replicates, error, alpha)) - power

    high = 1.0
    while short(high) < 0:
        high *= 2
    return float(brentq(short, 0.0, high, xtol=1e-12))
