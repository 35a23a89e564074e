"""What is thought of an uncertain number, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from scenariokit.language import number_text, tr

if TYPE_CHECKING:
    from scenariokit.uncertainty.spread import Spread


def spread_words(spread: Spread, unit: str) -> str:
    """Return a spread in words, with its unit as it is shown."""
    numbers = spread.numbers
    if spread.kind == "fixed":
        return f"{number_text(numbers[0], '.4g')} {unit}".rstrip()
    if spread.kind == "uniform":
        low, high = numbers
        said = tr("anything from {low:.4g} to {high:.4g} {unit}", low=low, high=high, unit=unit)
    elif spread.kind in ("triangular", "pert"):
        low, middle, high = numbers
        said = tr("most likely {middle:.4g}, from {low:.4g} to {high:.4g} {unit}",
                  low=low, middle=middle, high=high, unit=unit)  # fmt: skip
    else:
        low, middle, high = (float(x) for x in spread.quantile_floats(np.array([0.05, 0.5, 0.95])))
        said = tr("about {middle:.4g}, nine times in ten from {low:.4g} to {high:.4g} {unit}",
                  low=low, middle=middle, high=high, unit=unit)  # fmt: skip
    return _with_cuts(said.rstrip(), spread, unit).rstrip()


def _with_cuts(said: str, spread: Spread, unit: str) -> str:
    """Return the words for a spread with what was cut off, if anything was."""
    below, above = math.isfinite(spread.floor), math.isfinite(spread.ceiling)
    if below and above:
        return tr("{spread}, never below {floor:.4g} nor above {ceiling:.4g} {unit}",
                  spread=said, floor=spread.floor, ceiling=spread.ceiling, unit=unit)  # fmt: skip
    if below:
        return tr("{spread}, never below {floor:.4g} {unit}",
                  spread=said, floor=spread.floor, unit=unit)  # fmt: skip
    if above:
        return tr("{spread}, never above {ceiling:.4g} {unit}",
                  spread=said, ceiling=spread.ceiling, unit=unit)  # fmt: skip
    return said
