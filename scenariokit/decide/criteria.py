"""What usually counts when a grower chooses, with what is poor and what is excellent in it."""

from __future__ import annotations

from collections.abc import Collection

from scenariokit.decide.weighting import Criterion
from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.parameters import Parameter
from scenariokit.quantities import to_floats
from scenariokit.scenario import OUTCOMES
from scenariokit.units import QuantityLike

OBJECTIVES = (
    "margin_per_area", "return_to_labour", "cost_per_usable_kilogram", "yield_per_area",
    "water_per_yield",
)  # fmt: skip
"""Outcomes by which methods may be put in order; the first is the usual one."""

_PRACTICE = mark("common practice, no published source")
_OWN = mark("invented for demonstration: set your own")

_ANCHORS: tuple[tuple[str, float, float, str], ...] = (
    ("margin_per_area", -5.0, 15.0, _OWN),
    ("yield_per_area", 0.0, 8.0,
     mark("good fields give 4 to 8 kg/m²: USDA NASS as quoted in the trade press")),
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


_HOLDS: dict[str, tuple[str, ...]] = {
    "cost_per_area": ("labour_per_area", "investment_per_area", "medium_volume_per_area"),
    "cost_per_kilogram": ("cost_per_area", "yield_per_area", "labour_per_area",
                          "labour_per_kilogram", "investment_per_area", "medium_volume_per_area"),
    "cost_per_usable_kilogram": ("cost_per_area", "cost_per_kilogram", "yield_per_area",
                                 "labour_per_area", "labour_per_kilogram", "investment_per_area",
                                 "medium_volume_per_area"),
    "takings_per_area": ("yield_per_area",),
    "margin_per_area": ("takings_per_area", "cost_per_area", "cost_per_kilogram",
                        "cost_per_usable_kilogram", "yield_per_area", "labour_per_area",
                        "investment_per_area", "medium_volume_per_area"),
    "return_to_labour": ("margin_per_area", "labour_per_area", "yield_per_area"),
    "water_per_yield": ("season_water", "yield_per_area"),
    "labour_per_kilogram": ("labour_per_area", "yield_per_area"),
}  # fmt: skip
"""Outcomes that are reckoned from others."""


def double_counted(names: Collection[str]) -> tuple[tuple[str, str], ...]:
    """Return pairs of outcomes of which the first is counted in the second already.

    Weighing both counts the first twice. That may be meant: hours can be short
    in themselves, whatever they cost.

    Parameters
    ----------
    names : collection of str
        Outcomes that are weighed.

    Examples
    --------
    >>> double_counted(["margin_per_area", "labour_per_area", "season_water"])
    (('labour_per_area', 'margin_per_area'),)
    """
    return tuple(
        (part, whole) for whole in names for part in _HOLDS.get(whole, ()) if part in names
    )


def criterion(
    name: str, poor: QuantityLike, excellent: QuantityLike, source: str = mark("stated by hand")
) -> Criterion:
    """Return a criterion with anchors of one's own.

    Parameters
    ----------
    name : str
        An outcome of `OUTCOMES`.
    poor, excellent : quantity
        What is worth 0 and what is worth 1; one value each.
    source : str
        Where the anchors come from.

    Raises
    ------
    ArgumentError
        If there is no such outcome, an anchor has the wrong unit or is no
        single number, or they are equal or the wrong way round for the outcome.

    Examples
    --------
    >>> round(float(criterion("yield_per_area", "0 kg/m^2", "1 lb/ft^2").worth(4.8824276)), 6)
    1.0
    """
    subject = "criterion"
    if name not in OUTCOMES:
        problem = Problem("name", name, "is no outcome", ", ".join(OUTCOMES), kind="range")
        raise argument_error([problem], subject)
    outcome = OUTCOMES[name]
    described = Parameter(name, "", outcome.label, outcome.unit, None, None, (0, 1, 1), 1, "", "")
    found, problems = [], []
    for key, value in (("poor", poor), ("excellent", excellent)):
        number, wrong = to_floats(key, value, described)
        if wrong is None and not isinstance(number, float):
            wrong = Problem(
                key, f"{value}", tr("holds several values"), tr("one value"), kind="range"
            )
        if wrong is not None:
            problems.append(wrong)
        found.append(number)
    if not problems and outcome.better != "neither":
        upward = found[1] > found[0]
        if upward != (outcome.better == "higher"):
            reason = (
                tr("are equal or the wrong way round: higher is better")
                if outcome.better == "higher"
                else tr("are equal or the wrong way round: lower is better")
            )
            problems.append(Problem("poor, excellent", f"{found[0]:g}, {found[1]:g}", reason,
                                    kind="range"))  # fmt: skip
    if problems:
        raise argument_error(problems, subject)
    return Criterion(name, outcome.label, outcome.unit, found[0], found[1], source)
