"""How narrow the interval of a difference will be, and how many plots make it so."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenariokit.quantities import checked
from scenariokit.trials.planning.degrees import Design, check_size, degrees, enough_degrees
from scenariokit.trials.planning.elementwise import each, plain
from scenariokit.trials.planning.search import fewest_replicates
from scenariokit.units import Floats


@checked(
    None,
    cv="coefficient_of_variation",
    replicates="replicates",
    treatments="treatments",
    confidence="confidence",
)
def width_of_interval(
    cv: Floats,
    replicates: Floats,
    treatments: Floats,
    *,
    confidence: Floats = 0.95,
    design: Design = "blocks",
) -> Floats:
    """Return half the width of the interval of a difference, as a share of the mean.

    w = t((1 + confidence)/2, ν) CV √(2/r), the least significant difference.

    Parameters
    ----------
    cv : float
        CV, standard deviation of plots treated alike as a share of the mean.
    replicates : int
        r, plots of each treatment, 2 or more.
    treatments : int
        t, treatments in the trial, 2 or more.
    confidence : float
        Share of such intervals that hold the true difference.
    design : {'randomised', 'blocks', 'latin_square'}
        See `error_degrees`.

    Returns
    -------
    float or array of float
        w: the difference is known to plus or minus this share of the mean.

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
    The width to expect: that of a trial varies with the variation it shows.

    Examples
    --------
    >>> round(width_of_interval(0.15, 4, 4), 4)
    0.2399
    """
    check_size("width_of_interval", treatments, replicates, design)
    error = enough_degrees("width_of_interval", treatments, replicates, design)
    return plain(relative_width(replicates, error, confidence) * cv)


def relative_width(replicates: Floats, error: Floats, confidence: Floats) -> Floats:
    """Return the half width relative to the coefficient of variation."""
    from scipy.special import stdtrit

    return stdtrit(error, (1 + np.asarray(confidence)) / 2) * np.sqrt(2 / np.asarray(replicates))


@checked(
    None,
    half_width="interval_half_width",
    cv="coefficient_of_variation",
    treatments="treatments",
    confidence="confidence",
)
def replicates_for_width(
    half_width: Floats,
    cv: Floats,
    treatments: Floats,
    *,
    confidence: Floats = 0.95,
    design: Design = "blocks",
) -> Any:
    """Return the fewest replicates that make the interval of a difference narrow enough.

    The smallest whole r for which `width_of_interval` is `half_width` or less.

    Parameters
    ----------
    half_width : float
        w, half the width wanted as a share of the mean yield, scalar or array.
    cv : float
        CV, standard deviation of plots treated alike as a share of the mean.
    treatments : int
        t, treatments in the trial, 2 or more.
    confidence : float
        Share of such intervals that hold the true difference.
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
    About half of all trials of that size show a wider interval.

    Examples
    --------
    >>> replicates_for_width(0.2, 0.15, 4)
    6
    """
    subject = "replicates_for_width"
    check_size(subject, treatments, None, design)

    def fewest(many: float, ratio: float, sure: float) -> int:
        def enough(count: int) -> bool:
            return bool(relative_width(count, degrees(many, count, design), sure) <= ratio)

        return fewest_replicates(subject, enough, many, design)

    return each(fewest, int, treatments, np.divide(half_width, cv), confidence)
