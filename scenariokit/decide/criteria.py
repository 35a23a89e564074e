"""What usually counts when a grower chooses, with what is poor and what is excellent in it."""

from __future__ import annotations

from scenariokit.decide.weighting import Criterion
from scenariokit.scenario import OUTCOMES

OBJECTIVES = (
    "margin_per_area", "return_to_labour", "cost_per_usable_kilogram", "yield_per_area",
    "water_per_yield",
)  # fmt: skip
"""Outcomes by which methods may be put in order; the first is the usual one."""

_PRACTICE = "common practice, no published source"
_OWN = "invented for demonstration: set your own"

_ANCHORS: tuple[tuple[str, float, float, str], ...] = (
    ("margin_per_area", -5.0, 15.0, _OWN),
    ("yield_per_area", 0.0, 8.0, "good fields give 4 to 8 kg/m²: USDA NASS as quoted in the trade press"),
    ("labour_per_area", 2.0, 0.0, _PRACTICE),
    ("water_per_yield", 150.0, 20.0, _PRACTICE),
    ("medium_volume_per_area", 45.0, 0.0, _PRACTICE),
    ("investment_per_area", 80.0, 0.0, _OWN),
)  # fmt: skip


def usual_criteria() -> tuple[Criterion, ...]:
    """Return the criteria that the board begins with, each with fixed anchors.

    Examples
    --------
    >>> [one.name for one in usual_criteria()][:2]
    ['margin_per_area', 'yield_per_area']
    """
    return tuple(
        Criterion(name, OUTCOMES[name].label, OUTCOMES[name].unit, poor, excellent, source)
        for name, poor, excellent, source in _ANCHORS
    )
