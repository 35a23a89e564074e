"""The search for the fewest replicates."""

from __future__ import annotations

from collections.abc import Callable

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.trials.planning.degrees import Design, first_replicates, replicate_step

MOST_REPLICATES = 10_000
"""Beyond this the search stops: nobody plants such a trial."""


def fewest_replicates(
    subject: str, enough: Callable[[int], bool], treatments: float, design: Design
) -> int:
    """Return the fewest replicates that are `enough`, which more always are."""
    first, step = first_replicates(treatments, design), replicate_step(treatments, design)
    if enough(first):
        return first
    low, high = 0, 1
    while not enough(first + high * step):
        low, high = high, 2 * high
        if first + low * step > MOST_REPLICATES:
            raise InfeasibleError(
                tr(
                    "{subject}: more than {most} replicates would be needed; look for a "
                    "larger difference or make plots more alike",
                    subject=subject,
                    most=MOST_REPLICATES,
                )
            )
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (low, middle) if enough(first + middle * step) else (middle, high)
    return first + high * step
