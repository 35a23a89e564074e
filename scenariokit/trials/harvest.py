"""Harvest weights from a person's file, and the yield of each method with its interval."""

from __future__ import annotations

import functools
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib import resources
from typing import Any

import numpy as np

from scenariokit import catalog, units
from scenariokit.catalog.cells import Decimal
from scenariokit.catalog.tables import read_table, write_template
from scenariokit.errors import Problem
from scenariokit.language import tr
from scenariokit.yields import per_area


@dataclass(frozen=True)
class HarvestFile:
    """What was read from a file of harvest weights.

    Parameters
    ----------
    name : str
        The file's name.
    rows : tuple of dict
        The good rows; masses in kg, areas in m². A mass of None was not harvested.
    problems : tuple of Problem
        The bad rows, each with row, column and reason.
    """

    name: str
    rows: tuple[dict[str, Any], ...]
    problems: tuple[Problem, ...]


@dataclass(frozen=True)
class MethodYield:
    """The yield of one method and crop, from weighed plots.

    Parameters
    ----------
    method, crop : str
        Their ids.
    plots : int
        Plots harvested.
    unharvested : int
        Plots whose weight is blank; they count for nothing.
    mean : quantity
        Mean of the plots' yields, in kg/m².
    low, high : quantity or None
        The 95 % interval of that mean; None where only one plot was weighed,
        because then no interval exists. The low end is not below zero.
    values : tuple of float
        The plots' yields in kg/m², in the order of the file.
    """

    method: str
    crop: str
    plots: int
    unharvested: int
    mean: Any
    low: Any | None
    high: Any | None
    values: tuple[float, ...]


@functools.cache
def harvest_schema() -> dict[str, Any]:
    """Return the shipped description of a file of harvest weights."""
    text = resources.files(__package__).joinpath("schemas/harvest.json").read_text("utf-8")
    described: dict[str, Any] = json.loads(text)
    return described


def harvest_template() -> str:
    """Return an empty CSV file of harvest weights with its headings and units."""
    return write_template(harvest_schema())


def read_harvest(
    source: Any,
    *,
    name: str = "",
    decimal: Decimal = ".",
    methods: Mapping[str, Any] | None = None,
) -> HarvestFile:
    """Read harvest weights from CSV or XLSX; keep the good rows and list the bad ones.

    Parameters
    ----------
    source : path, bytes or str
        The file or its content.
    name : str
        The file's name, for messages; "harvest file" if left out.
    decimal : {'.', ','}
        The decimal sign in the file; it is never guessed.
    methods : mapping, optional
        The known methods by id; the catalogue's if left out.

    Returns
    -------
    HarvestFile

    Raises
    ------
    RecordError
        If the file as a whole cannot be read: empty, too large, or without a
        needed column.
    """
    table = read_table(source, harvest_schema(), name=name or tr("harvest file"), decimal=decimal)
    known = methods if methods is not None else catalog.methods()
    by_word = {row["label"].casefold(): key for key, row in known.items()}
    by_word.update({key.casefold(): key for key in known})
    crops = catalog.crops()
    rows, problems = [], list(table.problems)
    for row in table.rows:
        method = by_word.get(row["method"].strip().casefold())
        crop = (row.get("crop") or "potato").strip().casefold()
        faults = []
        if method is None:
            faults.append(("method", row["method"], tr("is not a known method"), sorted(known)))
        if crop not in crops:
            faults.append(("crop", crop, tr("is not a known crop"), sorted(crops)))
        for field, value, reason, allowed in faults:
            problems.append(
                Problem(field, value, reason, ", ".join(allowed), file=name, row=row["_row"])
            )
        if not faults:
            rows.append({**row, "method": method, "crop": crop})
    return HarvestFile(name, tuple(rows), tuple(problems))


def mean_interval(values: Sequence[float], level: float = 0.95) -> tuple[float, float] | None:
    """Return the confidence interval of a mean from a few values, or None for a single one.

    mean ± t(1 − (1 − level)/2, n − 1) · s / √n

    Parameters
    ----------
    values : sequence of float
        Independent values.
    level : float
        Confidence, between 0 and 1.

    Returns
    -------
    tuple of float or None
        None if there are fewer than two values: then no interval exists.

    Raises
    ------
    ValueError
        If there is no value, or `level` is not between 0 and 1.

    References
    ----------
    Student 1908, "The probable error of a mean", Biometrika 6:1.

    Examples
    --------
    >>> from scenariokit.trials import mean_interval
    >>> [round(end, 3) for end in mean_interval([4.1, 4.9, 5.3])]
    [3.249, 6.284]
    """
    if not 0 < level < 1:
        raise ValueError(f"level = {level} must lie between 0 and 1")
    numbers = np.asarray(values, dtype=float)
    if numbers.size == 0:
        raise ValueError("there are no values to take a mean of")
    if numbers.size == 1:
        return None
    from scipy.special import stdtrit

    degrees = numbers.size - 1
    half = float(stdtrit(degrees, (1 + level) / 2)) * float(numbers.std(ddof=1))
    half /= float(np.sqrt(numbers.size))
    mean = float(numbers.mean())
    return mean - half, mean + half


def yield_by_method(harvest: HarvestFile) -> dict[tuple[str, str], MethodYield]:
    """Return the yield of each method and crop in a file of harvest weights.

    Parameters
    ----------
    harvest : HarvestFile
        What `read_harvest` gave.

    Returns
    -------
    dict
        (method, crop) to its `MethodYield`; a pair of which no plot was
        harvested is left out.
    """
    groups: dict[tuple[str, str], list[dict[str, Any]]] = {}
    for row in harvest.rows:
        groups.setdefault((row["method"], row["crop"]), []).append(row)
    found = {}
    for (method, crop), rows in groups.items():
        weighed = [row for row in rows if row["harvest_mass"] is not None]
        if not weighed:
            continue
        values = tuple(
            float(per_area.floats(row["harvest_mass"], row["tank_area"])) for row in weighed
        )
        ends = mean_interval(values)
        found[method, crop] = MethodYield(
            method=method,
            crop=crop,
            plots=len(weighed),
            unharvested=len(rows) - len(weighed),
            mean=units.quantity(float(np.mean(values)), "kg/m^2"),
            low=None if ends is None else units.quantity(max(ends[0], 0.0), "kg/m^2"),
            high=None if ends is None else units.quantity(ends[1], "kg/m^2"),
            values=values,
        )
    return found
