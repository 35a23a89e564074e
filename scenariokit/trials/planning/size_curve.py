"""What trials of every size would find."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from scenariokit.trials.planning.aim import TrialAim, chance_of_finding, smallest_difference


@dataclass(frozen=True)
class CurvePoint:
    """What a trial of one size can find.

    Parameters
    ----------
    replicates : int
        Plots of each combination.
    plots : int
        Plots in all.
    cv : float
        CV that was assumed, as a share of the mean.
    power : float
        Chance of finding the wanted difference.
    smallest : float
        Smallest difference found with the wanted power, as a share of the mean.
    """

    replicates: int
    plots: int
    cv: float
    power: float
    smallest: float


def size_curve(aim: TrialAim, most: int, variations: Sequence[float] = ()) -> list[CurvePoint]:
    """Return what trials of every size up to `most` replicates can find.

    Parameters
    ----------
    aim : TrialAim
        The aim.
    most : int
        Largest number of replicates.
    variations : sequence of float
        CVs to look at beside the aim's own, as shares of the mean.

    Returns
    -------
    list of CurvePoint
        By CV, the aim's own first; then by size. Empty if `most` is too few.
    """
    sizes = range(aim.first, most + 1, aim.step)
    ratios = {size: smallest_difference(aim, size) / aim.cv for size in sizes}
    return [
        CurvePoint(
            size,
            size * len(aim.pairs),
            float(cv),
            chance_of_finding(aim, size, cv=cv),
            ratios[size] * cv,
        )
        for cv in dict.fromkeys((aim.cv, *np.asarray(variations, dtype=float).tolist()))
        for size in sizes
    ]
