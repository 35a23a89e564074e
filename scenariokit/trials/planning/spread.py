"""Power of the test that all treatments are alike, for a stated spread of their means."""

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
    treatments="treatments",
)
def effect_of_difference(difference: Floats, cv: Floats, treatments: Floats) -> Floats:
    """Return the smallest spread of treatments of which two differ by `difference`.

    f = d / (CV √(2 t)): two treatments lie d apart and all others half way.

    Parameters
    ----------
    difference : float
        d, the largest difference as a share of the mean yield, scalar or array.
    cv : float
        CV, standard deviation of plots treated alike as a share of the mean.
    treatments : int
        t, treatments in the trial, 2 or more.

    Returns
    -------
    float or array of float
        f, Cohen's effect size.

    Raises
    ------
    UnitError
        If a value is not a plain number or a ratio.
    RangeError
        If a value lies outside its range, or `treatments` is not whole.

    References
    ----------
    Cohen 1988, Statistical Power Analysis, 2nd edition, chapter 8, pattern 1;
    from memory.

    Examples
    --------
    >>> round(effect_of_difference(0.2, 0.1, 2), 12)
    1.0
    """
    check_size("effect_of_difference", treatments, None, "blocks")
    return plain(np.divide(difference, cv) / np.sqrt(2 * np.asarray(treatments)))


@checked(
    None,
    effect="effect_size",
    replicates="replicates",
    treatments="treatments",
    alpha="significance_level",
)
def power_of_effect(
    effect: Floats,
    replicates: Floats,
    treatments: Floats,
    *,
    alpha: Floats = 0.05,
    design: Design = "blocks",
) -> Floats:
    """Return the chance that the F test finds that treatments are not all alike.

    P(F' > F(1 - α; t - 1, ν)), F' noncentral F with noncentrality r t f².

    Parameters
    ----------
    effect : float
        f, standard deviation of the true means (divided by t) over that of plots
        treated alike, scalar or array; see `effect_of_difference`.
    replicates : int
        r, plots of each treatment, 2 or more.
    treatments : int
        t, treatments in the trial, 2 or more.
    alpha : float
        α, risk of a false alarm.
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
    Says that some treatments differ, not which. Assumes independent plots,
    equally variable, and yields near the normal.

    References
    ----------
    Cohen 1988, Statistical Power Analysis, 2nd edition, chapter 8; from memory.

    Examples
    --------
    >>> round(power_of_effect(0.4, 19, 4, design="randomised"), 3)
    0.823
    """
    check_size("power_of_effect", treatments, replicates, design)
    error = enough_degrees("power_of_effect", treatments, replicates, design)
    return plain(spread_power(effect, replicates, treatments, error, alpha))


def spread_power(
    effect: Floats, replicates: Floats, treatments: Floats, error: Floats, alpha: Floats
) -> Floats:
    """Return the power of the F test, on floats and without a check."""
    from scipy.special import fdtri

    between = np.subtract(treatments, 1)
    critical = fdtri(between, error, 1 - np.asarray(alpha))
    return noncentral_beyond(
        critical, between, error, np.square(effect) * np.multiply(replicates, treatments)
    )


@checked(
    None,
    effect="effect_size",
    treatments="treatments",
    alpha="significance_level",
    power="power",
)
def replicates_for_effect(
    effect: Floats,
    treatments: Floats,
    *,
    alpha: Floats = 0.05,
    power: Floats = 0.8,
    design: Design = "blocks",
) -> Any:
    """Return the fewest replicates with which the F test has the wanted power.

    The smallest whole r for which `power_of_effect` is `power` or more.

    Parameters
    ----------
    effect : float
        f, spread of the true means over that of plots treated alike, scalar or
        array.
    treatments : int
        t, treatments in the trial, 2 or more.
    alpha : float
        α, risk of a false alarm.
    power : float
        Chance of finding the spread, above `alpha`.
    design : {'randomised', 'blocks', 'latin_square'}
        See `error_degrees`; Latin squares are added whole.

    Returns
    -------
    int or array of int
        r, plots of each treatment.

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
    As `power_of_effect`.

    Examples
    --------
    >>> replicates_for_effect(0.4, 4, design="randomised")
    19
    """
    subject = "replicates_for_effect"
    check_size(subject, treatments, None, design, power=power, alpha=alpha)

    def fewest(many: float, spread: float, risk: float, wanted: float) -> int:
        def enough(count: int) -> bool:
            error = degrees(many, count, design)
            return bool(spread_power(spread, count, many, error, risk) >= wanted)

        return fewest_replicates(subject, enough, many, design)

    return each(fewest, int, treatments, effect, alpha, power)
