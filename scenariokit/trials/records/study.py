"""The sheet of a study: what the trial was, where, and how its figures may be used."""

from __future__ import annotations

import csv
import datetime
import io
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scenariokit.catalog.cells import CellError, Decimal, split_number
from scenariokit.catalog.sources import Source
from scenariokit.catalog.tables import read_table
from scenariokit.errors import Problem, RecordError
from scenariokit.language import mark, tr
from scenariokit.trials.records.schema import iso_date

_SHEET = {
    "name": "study",
    "fields": [
        {"name": "key", "constraints": {"required": True}},
        {"name": "value"},
        {"name": "meaning"},
    ],
    "primaryKey": "key",
}

_KEYS = {
    "study_id": mark("The study's name in the plot record"),
    "title": mark("What was compared, in a sentence (needed)"),
    "place": mark("A district or region; no address is asked for"),
    "country": mark("Two-letter code or name (needed)"),
    "latitude": mark("In degrees, north positive; kept to 0.1 degree"),
    "longitude": mark("In degrees, east positive; kept to 0.1 degree"),
    "planting": mark("Date of the first planting as year-month-day (needed)"),
    "licence": mark("On what terms the figures may be used, such as CC BY 4.0 (needed)"),
    "contact": mark("Only if its owner agrees; may stay blank"),
}
_NEEDED = ("title", "country", "planting", "licence")
_LARGEST = {"latitude": 90.0, "longitude": 180.0}

COARSE = 0.1
"""Degrees to which a place is rounded: about 11 km from north to south."""

_PAIR = re.compile(r"^\s*(-?\d{1,3}[.]\d+)\s*[,; ]\s*(-?\d{1,3}[.]\d+)\s*$")


@dataclass(frozen=True)
class Study:
    """What a study was.

    Parameters
    ----------
    title, place, country : str
        What was compared, and where: a district or region.
    planting : datetime.date
        First planting.
    licence : str
        On what terms the figures may be used.
    contact : str, optional
        Whom to ask; nothing personal is needed.
    study_id : str, optional
        The study's name in the plot record.
    latitude, longitude : float or None
        In degrees.
    notes : tuple of str
        What was done to the sheet when it was read.
    """

    title: str
    place: str
    country: str
    planting: datetime.date
    licence: str
    contact: str = ""
    study_id: str = ""
    latitude: float | None = None
    longitude: float | None = None
    notes: tuple[str, ...] = ()


def study_template() -> str:
    """Return an empty CSV sheet of a study, with the meaning of each line.

    Examples
    --------
    >>> from scenariokit.trials.records import study_template
    >>> study_template().splitlines()[0]
    'key,value,meaning'
    """
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["key", "value", "meaning"])
    writer.writerows([key, "", tr(meaning)] for key, meaning in _KEYS.items())
    return out.getvalue()


def read_study(
    source: Source, *, name: str = "", decimal: Decimal = ".", exact: bool = False
) -> Study:
    r"""Read the sheet of a study: one key and its value in each row.

    Parameters
    ----------
    source : path, bytes or str
        The sheet as CSV or XLSX, or its text.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the coordinates.
    exact : bool, optional
        Whether to keep coordinates as they are. By default they are rounded to
        0.1 degree, so that a sheet passed on does not show the way to a door.

    Returns
    -------
    Study

    Raises
    ------
    RecordError
        If the file cannot be read, a key is unknown, stands twice or is
        missing, or a value is not a date or a coordinate. All problems at once.

    Examples
    --------
    >>> from scenariokit.trials.records import read_study
    >>> sheet = "key,value\ntitle,Wedge pots beside bags\ncountry,NZ\n"
    >>> sheet += "planting,2026-09-20\nlicence,CC BY 4.0\nlatitude,-41.2865\n"
    >>> study = read_study(sheet)
    >>> study.latitude, study.notes
    (-41.3, ('latitude was rounded to 0.1 degree',))
    """
    table = read_table(source, _SHEET, name=name, decimal=decimal)
    values = {row["key"].casefold(): row["value"] for row in table.rows}
    rows = {row["key"].casefold(): row["_row"] for row in table.rows}
    problems = list(table.problems)
    for key in values:
        if key not in _KEYS:
            problems.append(Problem(key, "", tr("is not a known key"), ", ".join(_KEYS)))
    problems += [
        Problem(key, "", tr("is missing"), tr(_KEYS[key])) for key in _NEEDED if not values.get(key)
    ]
    planting = iso_date(values.get("planting", ""))
    if values.get("planting") and planting is None:
        reason = tr("is not a date of the form year-month-day")
        problems.append(Problem("planting", values["planting"], reason, example="2026-05-01"))
    place, given = _coordinates(values)
    spots, faults = _degrees(given, decimal)
    problems += faults
    if problems or planting is None:
        raise RecordError([_placed(one, table.name, rows) for one in problems], table.name)
    rounded = {key: spot if exact or spot is None else coarse(spot) for key, spot in spots.items()}
    notes = tuple(
        tr("{key} was rounded to {coarse:g} degree", key=key, coarse=COARSE)
        for key in spots
        if rounded[key] != spots[key]
    )
    plain = ("title", "country", "licence", "contact", "study_id")
    return Study(
        **{key: values.get(key, "") for key in plain},
        place=place, planting=planting, notes=notes,
        latitude=rounded["latitude"], longitude=rounded["longitude"],
    )  # fmt: skip


def coarse(degrees: float) -> float:
    """Return a coordinate in degrees, rounded to 0.1 degree.

    Examples
    --------
    >>> from scenariokit.trials.records.study import coarse
    >>> coarse(51.4779), coarse(-0.0015)
    (51.5, 0.0)
    """
    # Adding zero takes the sign off a rounded -0.0.
    return round(degrees, 1) + 0.0


def _coordinates(values: Mapping[str, str]) -> tuple[str, dict[str, str]]:
    """Return the place in words and the coordinates, which may stand in `place`."""
    place = values.get("place", "")
    given = {key: values.get(key, "") for key in _LARGEST}
    pair = _PAIR.match(place)
    if pair and not any(given.values()):
        return "", dict(zip(_LARGEST, pair.groups(), strict=True))
    return place, given


def _degrees(
    given: Mapping[str, str], decimal: Decimal
) -> tuple[dict[str, float | None], list[Problem]]:
    """Return the coordinates as numbers, and what is wrong with them."""
    spots: dict[str, float | None] = {}
    problems = []
    for key, text in given.items():
        spots[key] = None
        allowed = tr("-{largest:g} to {largest:g} degrees", largest=_LARGEST[key])
        try:
            number, unit = split_number(text, decimal) if text else (math.nan, "")
        except CellError as error:
            problems.append(Problem(key, text, error.reason, error.allowed, "51.5"))
            continue
        if unit not in ("", "°", "deg", "degree", "degrees"):
            problems.append(
                Problem(key, text, tr("has the unit {unit!r}", unit=unit), allowed, "51.5")
            )
        elif abs(number) > _LARGEST[key]:
            problems.append(
                Problem(key, text, tr("is no coordinate"), allowed, "51.5", kind="range")
            )
        elif text:
            spots[key] = number
    return spots, problems


def _placed(problem: Problem, file: str, rows: Mapping[str, Any]) -> Problem:
    """Return `problem` with its file and row."""
    row = problem.row if problem.row is not None else rows.get(problem.field)
    return Problem(
        problem.field, problem.value, problem.reason, problem.allowed, problem.example, file, row,
        problem.kind,
    )  # fmt: skip
