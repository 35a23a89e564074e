"""A person's own weather: a table of days or months, read and checked."""

from __future__ import annotations

import datetime
import functools
import itertools
import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from importlib.resources import files
from typing import Literal, NamedTuple, TypeAlias

from scenariokit.catalog.cells import Decimal
from scenariokit.catalog.fields import Schema, from_json
from scenariokit.catalog.sources import Source
from scenariokit.catalog.tables import Row, read_table, write_template
from scenariokit.errors import Problem, RecordError
from scenariokit.language import mark, tr
from scenariokit.months import day_of_year

Step: TypeAlias = Literal["day", "month"]

_DAY = re.compile(r"^(\d{4})-(\d{1,2})-(\d{1,2})(?:[T ]00:00(?::00)?)?$")
_MONTH = re.compile(r"^(\d{4})-(\d{1,2})$")
_NUMBER = re.compile(r"^(\d{1,2})$")
_FORMS = mark("2024-07-06 for a day, 2024-07 for a month, 7 for the usual July")

_ORDERED = (
    ("minimum_temperature", "maximum_temperature", "degC"),
    ("dew_point", "maximum_temperature", "degC"),
    ("minimum_humidity", "maximum_humidity", "%"),
    ("minimum_humidity", "mean_humidity", "%"),
    ("mean_humidity", "maximum_humidity", "%"),
)
"""Columns of which the first must not be above the second, and their unit."""


@dataclass(frozen=True)
class Gap:
    """Days or months for which there is nothing.

    Parameters
    ----------
    column : str
        ``"date"`` where the whole row is missing or was not usable, else the
        column whose cells are blank.
    first, last : str
        The first and last date of the gap.
    count : int
        Number of days or months in it.
    """

    column: str
    first: str
    last: str
    count: int


@dataclass(frozen=True)
class Weather:
    """Weather that can be used, and everything that is wrong or missing.

    Parameters
    ----------
    rows : tuple of dict
        The good rows in the order of their dates: every column of the schema in
        the schema's unit, ``None`` for a blank; ``"date"`` as text, ``"year"``
        (``None`` for means over many years), ``"day_of_year"`` (of a month its
        15th), ``"_position"`` (counts days or months) and ``"_row"``, the row
        in the file.
    problems : tuple of Problem
        Rows that were not used or stood out of order, and unknown columns.
    gaps : tuple of Gap
        What is missing between the first row and the last. Nothing is filled in.
    step : {'day', 'month'}
        What a row stands for.
    name : str
        The file's name.
    """

    rows: tuple[Row, ...]
    problems: tuple[Problem, ...]
    gaps: tuple[Gap, ...]
    step: Step
    name: str = ""

    def require(self) -> Weather:
        """Return the weather if no row had to be left out or moved.

        Raises
        ------
        RecordError
            With all problems.
        """
        if self.problems:
            raise RecordError(self.problems, self.name)
        return self


class _Moment(NamedTuple):
    """What a date says; `step` is ``"year"`` for a month of no year."""

    step: Literal["day", "month", "year"]
    year: int | None
    month: int
    day: int
    position: int


@functools.cache
def weather_schema() -> Schema:
    """Return the columns that a table of weather may have."""
    path = files("scenariokit.climate").joinpath("schemas", "weather.json")
    return from_json(json.loads(path.read_text(encoding="utf-8")))


def weather_template(*, system: Literal["metric", "us"] = "metric") -> str:
    """Return the heading line of a table of weather, ready to be filled in.

    Parameters
    ----------
    system : {'metric', 'us'}, optional
        Which units stand in the heading. Columns you have no values for may go.

    Returns
    -------
    str
        One line of CSV.

    Examples
    --------
    >>> weather_template().split(",")[:2]
    ['date', 'maximum_temperature [degC]']
    """
    return write_template(weather_schema(), system=system)


def read_weather(
    source: Source, *, step: Step | None = None, name: str = "", decimal: Decimal = "."
) -> Weather:
    r"""Read a table of weather, one row for each day or month.

    Parameters
    ----------
    source : path, bytes or str
        A CSV or XLSX file, its bytes or its text. The column ``date`` must be
        there, the others may; see `weather_template`. The heading says the unit
        of a column, ``maximum_temperature [degF]`` or ``wind_speed [km/h]``,
        and values are converted; a column without a unit is refused.
    step : {'day', 'month'}, optional
        What a row stands for, if not what the form of the dates says: a
        spreadsheet program may turn the month 2024-07 into the day 2024-07-01.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the numbers.

    Returns
    -------
    Weather
        The good rows by date, what is wrong with the others, and the gaps.

    Raises
    ------
    RecordError
        If the table cannot be read at all: no file, no column ``date``, or a
        unit of another dimension in the heading.

    Notes
    -----
    A row is left out, and named, if a value has no unit or lies outside its
    range (humidity above 100 %), if the lowest temperature or humidity is above
    the highest, if the dew point is above the highest temperature, or if its
    date is no date or stood before. A row out of order is named and put in its
    place. Nothing is filled in. A season may cross the end of the year; months
    without a year may begin with any.

    Examples
    --------
    >>> text = (
    ...     "date,maximum_temperature [degF],minimum_temperature [degF],wind_speed [km/h]\n"
    ...     "2024-12-30,86,59,9\n"
    ...     "2025-01-01,84,60,7.2\n")
    >>> weather = read_weather(text)
    >>> round(weather.rows[0]["maximum_temperature"], 6), round(weather.rows[1]["wind_speed"], 6)
    (30.0, 2.0)
    >>> weather.gaps
    (Gap(column='date', first='2024-12-31', last='2024-12-31', count=1),)
    """
    if step not in (None, "day", "month"):
        problem = Problem("step", repr(step), tr("is no step"), "'day', 'month' or None")
        raise RecordError([problem], "read_weather")
    table = read_table(source, weather_schema(), name=name, decimal=decimal)
    problems = list(table.problems)
    dated: list[tuple[Row, _Moment]] = []
    for row in table.rows:
        found: list[Problem] = []
        moment = _moment(row["date"], step, dated[0][1].step if dated else None, found)
        found += _crossed(row)
        problems += [_placed(problem, table.name, row["_row"]) for problem in found]
        if moment is not None and not found:
            dated.append((row, moment))
    rows, faults = _in_order(dated)
    problems += [_placed(problem, table.name, problem.row) for problem in faults]
    kind: Step = step or ("month" if dated and dated[0][1].step != "day" else "day")
    ordered = tuple(sorted(problems, key=lambda problem: problem.row or 0))
    return Weather(rows, ordered, _gaps(rows, table.columns, kind), kind, table.name)


def _placed(problem: Problem, file: str, row: int | None) -> Problem:
    """Return `problem` with its place."""
    return Problem(
        problem.field, problem.value, problem.reason, problem.allowed, problem.example,
        file, row, problem.kind,
    )  # fmt: skip


def _moment(
    text: str, step: Step | None, first: str | None, problems: list[Problem]
) -> _Moment | None:
    """Return what a date says, or add what is wrong with it to `problems`."""
    moment = _parse(text)
    if moment is None:
        problems.append(
            Problem("date", text, tr("is no date that can be read one way only"), tr(_FORMS))
        )
        return None
    if step == "month" and moment.step == "day" and moment.year is not None:
        moment = moment._replace(step="month", position=moment.year * 12 + moment.month - 1)
    if step == "day" and moment.step != "day":
        problems.append(Problem("date", text, tr("is a month, not a day"), "2024-07-06"))
    elif first is not None and moment.step != first:
        words = {
            "day": tr("a day"),
            "month": tr("a month of a year"),
            "year": tr("a month of no year"),
        }
        reason = tr(
            "is {words}, but the table begins with {words2}",
            words=words[moment.step],
            words2=words[first],
        )
        problems.append(Problem("date", text, reason, tr("one form of date in the whole table")))
    return moment


def _parse(text: str) -> _Moment | None:
    """Return the day or month that a text names; its 15th stands for a month."""
    try:
        if found := _DAY.match(text):
            year, month, day = map(int, found.groups())
            date = datetime.date(year, month, day)
            return _Moment("day", year, month, day, date.toordinal())
        if found := _MONTH.match(text):
            year, month = map(int, found.groups())
            datetime.date(year, month, 15)
            return _Moment("month", year, month, 15, year * 12 + month - 1)
    except ValueError:
        return None
    found = _NUMBER.match(text)
    if found and 1 <= int(found.group(1)) <= 12:
        month = int(found.group(1))
        return _Moment("year", None, month, 15, month - 1)
    return None


def _crossed(row: Row) -> list[Problem]:
    """Return a problem for each pair of values that cannot hold together."""
    found = []
    for low, high, unit in _ORDERED:
        below, above = row[low], row[high]
        if below is not None and above is not None and below > above:
            reason = tr("lies above {high}, {above:g} {unit}", high=high, above=above, unit=unit)
            found.append(
                Problem(
                    low, f"{below:g} {unit}", reason, tr("{high} or less", high=high), kind="range"
                )
            )
    return found


def _in_order(dated: Iterable[tuple[Row, _Moment]]) -> tuple[tuple[Row, ...], list[Problem]]:
    """Return the rows by date, each date once, and what was wrong with their order."""
    kept: dict[int, Row] = {}
    problems: list[Problem] = []
    latest: Row | None = None
    for row, moment in dated:
        number = row["_row"]
        if moment.step == "year" and kept and moment.position < min(kept):
            # Means of many years have no beginning: after December comes January.
            moment = moment._replace(position=moment.position + 12)
        if moment.position in kept:
            reason = tr("repeats row {row}, which was used", row=kept[moment.position]["_row"])
            problems.append(Problem("date", row["date"], reason, tr("each date once"), row=number))
            continue
        entry = _entry(row, moment)
        if latest is not None and moment.position < latest["_position"]:
            reason = tr(
                "stands after row {row}, a later date; it was put in its place", row=latest["_row"]
            )
            problems.append(Problem("date", row["date"], reason, tr("dates in order"), row=number))
        else:
            latest = entry
        kept[moment.position] = entry
    return tuple(kept[position] for position in sorted(kept)), problems


def _entry(row: Row, moment: _Moment) -> Row:
    """Return a row with what its date means."""
    if moment.step == "day" and moment.year is not None:
        number = datetime.date(moment.year, moment.month, moment.day).timetuple().tm_yday
    else:
        number = day_of_year(moment.month, 15)
    added = {"year": moment.year, "day_of_year": number, "_position": moment.position}
    kind: Step = "day" if moment.step == "day" else "month"
    return {**row, **added, "date": _label(moment.position, kind, moment.year is None)}


def _label(position: int, step: Step, any_year: bool) -> str:
    """Return the date at a position, as it is written in a table."""
    if step == "day":
        return datetime.date.fromordinal(position).isoformat()
    month = position % 12 + 1
    return str(month) if any_year else f"{position // 12:04d}-{month:02d}"


def _gaps(rows: Sequence[Row], columns: Sequence[str], step: Step) -> tuple[Gap, ...]:
    """Return missing dates and, in columns that hold something, runs of blank cells."""
    found = []
    for before, after in itertools.pairwise(rows):
        first, last = before["_position"] + 1, after["_position"] - 1
        if first <= last:
            any_year = before["year"] is None
            ends = (_label(first, step, any_year), _label(last, step, any_year))
            found.append(Gap("date", *ends, last - first + 1))
    numbers = {field.name for field in weather_schema().fields if not field.is_text}
    for column in columns:
        if column in numbers and any(row[column] is not None for row in rows):
            found += _blanks(rows, column)
    return tuple(found)


def _blanks(rows: Sequence[Row], column: str) -> list[Gap]:
    """Return the runs of blank cells in a column."""
    found: list[Gap] = []
    run: list[Row] = []
    for row in [*rows, None]:
        if row is not None and row[column] is None:
            run.append(row)
        elif run:
            found.append(Gap(column, run[0]["date"], run[-1]["date"], len(run)))
            run = []
    return found
