"""The rules of a plot record: limits of a column, and what columns say about each other."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from scenariokit.errors import Problem
from scenariokit.language import mark, tr
from scenariokit.trials.records.schema import (
    Test,
    frame_schema,
    iso_date,
    record_document,
    record_schema,
)

Row = Mapping[str, Any]

_SLACK = 1 + 1e-9
"""Rounding of a converted unit."""

_WEIGHING = 1.02
"""Parts may weigh up to 2 % more than the whole: they are weighed apart, with soil and scale."""

FIELD_RECORD = 12.4
"""Largest tuber yield of field plots, kg/m²: 124 t/ha, Kunkel and Campbell 1987 (abstract)."""


@dataclass(frozen=True)
class Rule:
    """A rule that ties columns of a row together.

    Parameters
    ----------
    name : str
        Its name in a report.
    field : str
        The column that the message names.
    holds : callable
        From a data frame to one truth value for each row.
    reason : str
        What is wrong where it does not hold.
    allowed : callable
        From a row to what would be allowed.
    refuses : bool
        Whether the row is refused; otherwise it is kept and flagged.
    """

    name: str
    field: str
    holds: Test
    reason: str
    allowed: Callable[[Row], str]
    refuses: bool = True


def _at_most(name: str, part: str, whole: str, reason: str, unit: str = "") -> Rule:
    return Rule(
        name,
        part,
        lambda frame: ~(frame[part] > frame[whole] * _SLACK),
        reason,
        lambda row: tr("{most:g}{unit} or less", most=row[whole], unit=unit),
    )


def _days(column: Any) -> Any:
    """Return dates as numbers of days; not a number where there is no date."""
    return column.map(
        lambda text: day.toordinal() if (day := iso_date(text or "")) else float("nan")
    ).astype(float)


RULES: tuple[Rule, ...] = (
    _at_most("marketable within total", "mtwp", "ttwp",
             mark("is more than ttwp, the weight of all tubers"), " kg"),
    _at_most("other within total", "nomtwp", "ttwp",
             mark("is more than ttwp, the weight of all tubers"), " kg"),
    _at_most("marketable tubers within all", "nmtp", "tntp",
             mark("is more than tntp, the number of all tubers")),
    _at_most("harvested within planted", "nph", "ntp",
             mark("is more than ntp, the number of plants planted")),
    Rule(
        "harvest after planting",
        "harvest_date",
        lambda frame: ~(_days(frame["harvest_date"]) < _days(frame["planting_date"])),
        mark("is before the date of planting"),
        lambda row: tr("{date} or later", date=row['planting_date']),
    ),
    Rule(
        "parts without total",
        "ttwp",
        lambda frame: frame["ttwp"].notna() | (frame["mtwp"].isna() & frame["nomtwp"].isna()),
        mark("is blank, which means not harvested, though a part of the harvest has a weight"),
        lambda _row: tr("the weight of all tubers"),
    ),
    Rule(
        "parts add up",
        "ttwp",
        lambda frame: ~(frame["mtwp"] + frame["nomtwp"] > frame["ttwp"] * _WEIGHING),
        mark("is less than mtwp and nomtwp together"),
        lambda row: tr("about {weight:g} kg", weight=row['mtwp'] + row['nomtwp']),
        refuses=False,
    ),
    Rule(
        "tubers without weight",
        "ttwp",
        lambda frame: ~((frame["ttwp"] == 0) & (frame["tntp"] > 0)),
        mark("is zero though tubers were counted; leave it blank if they were not weighed"),
        lambda row: tr("the weight of {count:g} tubers", count=row['tntp']),
        refuses=False,
    ),
    Rule(
        "yield above field record",
        "ttwp",
        lambda frame: ~(frame["ttwp"] > FIELD_RECORD * frame["plot_area"]),
        mark("gives a yield above the largest recorded from field plots; look at unit and area"),
        lambda row: tr("about {most:g} kg or less from this area", most=FIELD_RECORD * row['plot_area']),
        refuses=False,
    ),
)  # fmt: skip

_BY_NAME = {rule.name: rule for rule in RULES}


@dataclass(frozen=True)
class Checked:
    """What the rules say about some rows.

    Parameters
    ----------
    good : tuple of int
        Positions of the rows that may be used.
    problems, flags : tuple of tuple
        Position and `Problem`: of rows refused, and of rows kept that want a
        second look.
    """

    good: tuple[int, ...]
    problems: tuple[tuple[int, Problem], ...]
    flags: tuple[tuple[int, Problem], ...]


@functools.cache
def _validator() -> Any:
    return frame_schema(record_document(), [(rule.name, rule.holds) for rule in RULES])


def check_rows(rows: Sequence[Row], files: Sequence[str]) -> Checked:
    """Return which rows of plot records may be used, and what is wrong with the others.

    Parameters
    ----------
    rows : sequence of mapping
        Rows as read: floats in the units of the schema, dates as text, None or
        ``""`` for what is missing, ``"_row"`` for the row's number.
    files : sequence of str
        The name of the file of each row. A key may stand once in a file.

    Returns
    -------
    Checked
        Problems in the order of the rows.
    """
    if not rows:
        return Checked((), (), ())
    import pandera.errors

    try:
        _validator().validate(_frame(rows, files), lazy=True)
    except pandera.errors.SchemaErrors as errors:
        cases = errors.failure_cases
    else:
        return Checked(tuple(range(len(rows))), (), ())
    first = _first_places(rows, files)
    problems: list[tuple[int, Problem]] = []
    flags: list[tuple[int, Problem]] = []
    # A rule on whole rows yields a case for every column of the row: one is enough.
    found = dict.fromkeys(
        (int(index), column if context == "Column" else "", str(check))
        for context, column, check, index in zip(
            cases["schema_context"], cases["column"], cases["check"], cases["index"], strict=True
        )
    )
    for index, column, check in sorted(found, key=lambda one: (one[0], _order(one[1]), one[2])):
        problem, refuses = _problem(rows[index], files[index], column, check, first)
        (problems if refuses else flags).append((index, problem))
    bad = {index for index, _ in problems}
    good = tuple(index for index in range(len(rows)) if index not in bad)
    return Checked(good, tuple(problems), tuple(flags))


def _frame(rows: Sequence[Row], files: Sequence[str]) -> Any:
    """Return the rows as a data frame: floats, and objects of text with None."""
    import pandas as pd

    columns: dict[str, Any] = {"file": pd.Series(list(files), dtype=object)}
    for field in record_schema().fields:
        values = [row[field.name] for row in rows]
        if field.is_text:
            columns[field.name] = pd.Series([text or None for text in values], dtype=object)
        else:
            columns[field.name] = pd.Series(values, dtype=float)
    return pd.DataFrame(columns)


def _first_places(rows: Sequence[Row], files: Sequence[str]) -> dict[tuple[str, str, str], int]:
    """Return the number of the row in which each key stands first."""
    places: dict[tuple[str, str, str], int] = {}
    for row, file in zip(rows, files, strict=True):
        places.setdefault((file, row["study_id"], row["plot_id"]), row["_row"])
    return places


def _order(column: str) -> int:
    """Return the place of a column in the record; rules on whole rows come last."""
    names = record_schema().names
    return names.index(column) if column else len(names)


def _problem(
    row: Row, file: str, column: str, check: str, first: Mapping[tuple[str, str, str], int]
) -> tuple[Problem, bool]:
    """Return the message of a failure case, and whether its row is refused."""
    place = {"file": file, "row": row["_row"]}
    if check in _BY_NAME:
        rule = _BY_NAME[check]
        text = _shown(row, rule.field)
        return Problem(rule.field, text, tr(rule.reason), rule.allowed(row), **place), rule.refuses
    if not column:
        key = f"{row['study_id']}, {row['plot_id']}"
        number = first[file, row["study_id"], row["plot_id"]]
        reason = tr("repeats row {number}", number=number)
        return Problem("study_id, plot_id", key, reason, tr("each plot once"), **place), True
    text, allowed = _shown(row, column), record_schema().field(column).allowed
    if check == "date":
        reason, hint = tr("is not a date of the form year-month-day"), tr("a cell of text or date")
        return Problem(column, text, reason, hint, "2026-05-01", **place), True
    limits = _limits(column)
    if check == "length":
        hint = tr("{most} characters or fewer", most=limits["maxLength"])
        return Problem(
            column, text, tr("has {count} characters", count=len(text)), hint, **place
        ), True
    if check in ("minimum", "maximum"):
        allowed = allowed or tr("{low} to {high}", low=limits["minimum"], high=limits["maximum"])
        if check == "minimum":
            reason = tr("is below the allowed range")
        else:
            reason = tr("is above the allowed range")
        return Problem(column, text, reason, allowed, **place,
                       kind="range"), True  # fmt: skip
    if check == "whole":
        return Problem(
            column, text, tr("is not a whole number"), allowed, **place, kind="range"
        ), True
    return Problem(column, "", tr("is missing"), allowed or tr("a value"), **place), True


def _limits(column: str) -> Mapping[str, Any]:
    fields = {field["name"]: field for field in record_document()["fields"]}
    limits: Mapping[str, Any] = fields[column].get("constraints", {})
    return limits


def _shown(row: Row, column: str) -> str:
    """Return a value with its unit, as a message shows it."""
    value = row[column]
    if value is None or isinstance(value, str):
        return value or ""
    return f"{value:g} {record_schema().field(column).unit}".strip()
