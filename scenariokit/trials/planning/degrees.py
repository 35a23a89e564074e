"""Degrees of freedom that a design leaves for error, and the checks of its size."""

from __future__ import annotations

from typing import Literal, get_args

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked
from scenariokit.trials.planning.elementwise import plain
from scenariokit.units import Floats

Design = Literal["randomised", "blocks", "latin_square"]

LEAST_ERROR_DEGREES = 2
"""With one degree of freedom Student's t is 12.7: such a trial finds next to nothing."""


@checked(None, treatments="treatments", replicates="replicates")
def error_degrees(treatments: Floats, replicates: Floats, *, design: Design = "blocks") -> Floats:
    """Return the degrees of freedom for error of a trial.

    randomised: t (r - 1); blocks: (t - 1)(r - 1);
    Latin squares: (t - 1)(m (t - 1) - 1) with m = r / t squares.

    Parameters
    ----------
    treatments : int
        t, treatments or combinations of them, scalar or array, 2 or more.
    replicates : int
        r, plots of each treatment, 2 or more; in Latin squares a multiple of t.
    design : {'randomised', 'blocks', 'latin_square'}
        Plots drawn freely, each treatment once in every block, or each once in
        every row and column.

    Returns
    -------
    float or array of float
        Degrees of freedom.

    Raises
    ------
    RangeError
        If a number lies outside its range or is not whole, or the design is not
        known.
    InfeasibleError
        If Latin squares cannot have that many replicates.

    Notes
    -----
    For complete trials without missing plots. Every square has rows and columns
    of its own. The main plots of a split plot are blocks of whole tanks.

    References
    ----------
    Cochran and Cox 1957, Experimental Designs, chapter 4; from memory.

    Examples
    --------
    >>> error_degrees(4, 5, design="blocks")
    12.0
    """
    check_size("error_degrees", treatments, replicates, design)
    return plain(degrees(treatments, replicates, design))


def degrees(treatments: Floats, replicates: Floats, design: Design) -> Floats:
    """Return the degrees of freedom for error, on floats and without a check."""
    if design == "randomised":
        return treatments * (replicates - 1)
    if design == "blocks":
        return (treatments - 1) * (replicates - 1)
    return (treatments - 1) * (replicates / treatments * (treatments - 1) - 1)


def check_size(
    subject: str, treatments: Floats, replicates: Floats | None, design: str, **shares: Floats
) -> None:
    """Refuse what no trial can be: parts of plots, an unknown design, ends of a share.

    Raises
    ------
    RangeError
        With every fault.
    InfeasibleError
        If Latin squares cannot have that many replicates.
    """
    problems = [
        Problem(
            name, f"{np.asarray(value)}", tr("is not a whole number"), "2, 3, 4 ...", kind="range"
        )
        for name, value in (("treatments", treatments), ("replicates", replicates))
        if value is not None and np.any(np.mod(value, 1))
    ]
    if design not in get_args(Design):
        known = ", ".join(get_args(Design))
        problems.append(Problem("design", repr(design), tr("is not known"), known, kind="range"))
    if {"power", "alpha"} <= set(shares) and np.any(
        np.asarray(shares["power"]) <= np.asarray(shares["alpha"])
    ):
        reason = tr("must be above alpha: no plots at all would find as much by chance")
        problems.append(Problem("power", f"{shares['power']}", reason, "0.8", kind="range"))
    if problems:
        raise argument_error(problems, subject)
    if design != "latin_square" or replicates is None:
        return
    if np.any(np.mod(replicates, treatments)):
        raise InfeasibleError(
            tr(
                "{subject}: Latin squares of {treatments} treatments have as many replicates, or a "
                "multiple of it, not {replicates}",
                subject=subject,
                treatments=np.asarray(treatments),
                replicates=np.asarray(replicates),
            )
        )


def enough_degrees(subject: str, treatments: Floats, replicates: Floats, design: Design) -> Floats:
    """Return the degrees of freedom for error, or refuse a trial that has too few.

    Raises
    ------
    InfeasibleError
        If fewer than two are left; the message says what would do.
    """
    found = np.asarray(degrees(treatments, replicates, design), dtype=float)
    if np.any(found < LEAST_ERROR_DEGREES):
        place = np.argmin(found)
        many, each = (
            float(np.broadcast_to(value, found.shape).flat[place])
            for value in (treatments, replicates)
        )
        raise InfeasibleError(
            tr(
                "{subject}: {treatments:g} treatments with {replicates:g} replicates leave {error:g} degrees of "
                "freedom for error, and at least {least} are needed; possible: "
                "{possible:g} replicates",
                subject=subject,
                treatments=many,
                replicates=each,
                error=found.flat[place],
                least=LEAST_ERROR_DEGREES,
                possible=first_replicates(many, design),
            )
        )
    return found[()]


def first_replicates(treatments: float, design: Design) -> int:
    """Return the fewest replicates that leave two degrees of freedom for error."""
    step = replicate_step(treatments, design)
    count = step if step > 1 else 2
    while degrees(treatments, count, design) < LEAST_ERROR_DEGREES:
        count += step
    return count


def replicate_step(treatments: float, design: Design) -> int:
    """Return by how many replicates a design grows: a whole square at a time, or one."""
    return int(treatments) if design == "latin_square" else 1
