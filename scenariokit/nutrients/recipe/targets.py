"""What a solution shall hold: a target for each element, and the band that will do."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple, TypeAlias

import numpy as np

from scenariokit.catalog.entries import load
from scenariokit.errors import Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.contents import CONTENT, key_problems
from scenariokit.quantities import Expect, checked_floats, to_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

AIMS = tuple(key for key in CONTENT if key != "HCO3")
"""Keys that a target may be set for."""

_EXAMPLE = 'targets={"N": "210 mg/L", "K": ("200 mg/L", "235 mg/L", "260 mg/L")}'


@dataclass(frozen=True)
class Band:
    """What will do for one element.

    Parameters
    ----------
    low, high : quantity or None
        Lowest and highest concentration that will do [mg/L]. None leaves that
        side to the tolerance of whoever works with the target.
    target : quantity
        Concentration aimed at [mg/L], 0 or more. 0 asks for none of it: then
        `high` is a ceiling, and nothing is allowed where `high` is None.
    """

    low: Quantity | None
    target: Quantity
    high: Quantity | None


@dataclass(frozen=True)
class TargetSet:
    """Targets for a solution at full strength.

    Parameters
    ----------
    id, label : str
        Its name, and what a person reads.
    bands : mapping of str to Band
        Content key to its band. ``N`` is total nitrogen; ``N_nitrate``,
        ``N_ammonium`` and ``N_urea`` are parts of it, counted as N.
    """

    id: str
    label: str
    bands: Mapping[str, Band]


class FloatBand(NamedTuple):
    """A band as plain numbers of mg/L."""

    low: float | None
    target: float
    high: float | None


Targets: TypeAlias = TargetSet | str | Mapping[str, Any]
"""A target set, the id of a shipped one, or a person's own mapping."""


def target_set(id: str) -> TargetSet:
    """Return a shipped set of targets.

    Parameters
    ----------
    id : str
        ``"hoagland_1"``, ``"hoagland_2"``, ``"steiner"`` or ``"potato_window"``.

    Returns
    -------
    TargetSet

    Raises
    ------
    ArgumentError
        If there is no such set.

    Notes
    -----
    The bands of the published solutions are 10 % to either side, which is
    common practice without a published source. ``potato_window`` runs from half
    of Hoagland's solution 1 to the whole of it and aims at 7/12 of it, between
    a half and two thirds; see the sources in the catalogue.

    References
    ----------
    .. [1] Hoagland, D.R. and Arnon, D.I. 1950. The water-culture method for
       growing plants without soil. California Agricultural Experiment Station
       Circular 347, solutions 1 and 2 (amounts read in a secondary document;
       solution 2 from memory).
    .. [2] Steiner, A.A. 1984. The universal nutrient solution. Proceedings 6th
       International Congress on Soilless Culture (from memory).
    .. [3] Cao, W. and Tibbitts, T.W. 1990. HortScience 25:1151 (abstract).

    Examples
    --------
    >>> f"{target_set('hoagland_1').bands['Ca'].target:.1f~P}"
    '200.4 mg/l'
    """
    rows = load("targets")
    if not isinstance(id, str) or id not in rows:
        problem = Problem(
            "id", str(id), tr("is no set of targets"), ", ".join(rows), 'id="hoagland_1"'
        )
        raise argument_error([problem], "target_set")
    row = rows[id]
    plain = {
        element: FloatBand(band["low"], band["target"], band["high"])
        for element, band in row["bands"].items()
    }
    return _with_units(id, row["label"], plain)


def targets_from(
    targets: Mapping[str, Any], *, id: str = "own", label: str = mark("Own targets")
) -> TargetSet:
    """Return a person's own targets as a set.

    Parameters
    ----------
    targets : mapping
        Content key to one concentration [mg/L], to three (low, target, high),
        or to a `Band`. Low and high may be None. A target of 0 or None with a
        high is a ceiling: ``(None, None, "15 mg/L")``.
    id, label : str, optional
        Names.

    Returns
    -------
    TargetSet
        In mg/L.

    Raises
    ------
    ArgumentError
        If the mapping is empty, a key is unknown, a value has the wrong unit,
        is below zero or is an array, or low, target and high do not rise; all
        at once.

    Examples
    --------
    >>> own = targets_from({"N": "120 mg/L", "Ca": ("80 mg/L", "100 mg/L", None)})
    >>> f"{own.bands['Ca'].low:.0f~P}", own.bands["N"].low
    ('80 mg/l', None)
    """
    return _with_units(id, label, band_floats(targets, "targets_from"))


def scaled(targets: Targets, factor: QuantityLike) -> TargetSet:
    """Return a set of targets at another strength, every number times f.

    Parameters
    ----------
    targets : TargetSet, str or mapping
        A set, the id of a shipped one, or what `targets_from` takes.
    factor : float
        f, strength relative to the set, above 0: 0.5 or ``"50 %"`` is half.

    Returns
    -------
    TargetSet

    Raises
    ------
    ArgumentError
        As `target_set` and `targets_from`.
    RangeError
        If the factor is zero, negative, or above 20.

    Examples
    --------
    >>> f"{scaled('hoagland_1', 0.5).bands['Ca'].target:.1f~P}"
    '100.2 mg/l'
    """
    chosen = as_target_set(targets)
    expected = Expect("solution_strength", above_zero=True, why=mark("no strength is no target"))
    times = float(checked_floats("scaled", {"factor": (factor, expected)})["factor"])
    plain = {
        element: FloatBand(
            None if band.low is None else band.low * times,
            band.target * times,
            None if band.high is None else band.high * times,
        )
        for element, band in band_floats(chosen.bands, "scaled").items()
    }
    return _with_units(chosen.id, chosen.label, plain)


def as_target_set(targets: Targets) -> TargetSet:
    """Return a set of targets from a set, an id or a mapping."""
    if isinstance(targets, TargetSet):
        return targets
    return target_set(targets) if isinstance(targets, str) else targets_from(targets)


def _with_units(id: str, label: str, plain: Mapping[str, FloatBand]) -> TargetSet:
    bands = {
        element: Band(*(None if part is None else with_unit(part, "mg/L") for part in band))
        for element, band in plain.items()
    }
    return TargetSet(id, label, bands)


def band_floats(bands: Mapping[str, Any], subject: str) -> dict[str, FloatBand]:
    """Return bands as plain numbers of mg/L, or raise one error with all that is wrong.

    Parameters
    ----------
    bands : mapping
        As for `targets_from`.
    subject : str
        Name of the function, for the message.
    """
    if not isinstance(bands, Mapping) or not bands:
        problem = Problem("targets", str(bands), tr("must map elements to concentrations, at least one"), ", ".join(AIMS), _EXAMPLE)  # fmt: skip
        raise argument_error([problem], subject)
    problems = key_problems(bands, AIMS, "targets")
    found: dict[str, FloatBand] = {}
    for key, value in bands.items():
        if key in AIMS:
            found[key], wrong = _one_band(key, value)
            problems += wrong
    if problems:
        raise argument_error(problems, subject)
    return found


def _one_band(key: str, value: Any) -> tuple[FloatBand, list[Problem]]:
    """Return one band in mg/L and what is wrong with it."""
    field = f"targets[{key}]"
    if isinstance(value, Band):
        value = (value.low, value.target, value.high)
    elif not isinstance(value, list | tuple):
        value = (None, value, None)
    empty = FloatBand(None, 0.0, None)
    if len(value) != 3 or (value[1] is None and value[2] is None):
        reason = tr("must be one concentration, or low, target and high")
        return empty, [Problem(field, str(value), reason, example=_EXAMPLE)]
    parts: list[float | None] = []
    problems = []
    for name, part in zip(("low", "target", "high"), value, strict=True):
        number, problem = None, None
        if part is not None:
            place = field if name == "target" else f"{field}.{name}"
            number, problem = to_floats(place, part, parameter("concentration"))
            if problem is None and np.ndim(number) > 0:
                problem = Problem(place, str(part), tr("must be one value, not an array"))
        parts.append(number)
        problems += [problem] if problem else []
    if problems:
        return empty, problems
    band = FloatBand(parts[0], parts[1] or 0.0, parts[2])
    present = [part for part in band if part is not None]
    if present != sorted(present):
        shown = ", ".join(f"{part:g}" for part in present)
        reason = tr("low, target and high do not rise in this order")
        return empty, [Problem(field, f"{shown} mg/L", reason, kind="range")]
    return band, []
