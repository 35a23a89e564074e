"""The plot record: its columns from the shipped Table Schema, and what validates them."""

from __future__ import annotations

import datetime
import functools
import json
import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from importlib import resources
from typing import Any

from scenariokit.catalog.cells import CellError, convert
from scenariokit.catalog.fields import Field, Schema, from_json
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr

_ISO_DATE = re.compile(r"\d{4}-\d{2}-\d{2}")

Test = Callable[[Any], Any]
"""From a column or a frame to one truth value for each row."""


@functools.cache
def record_document() -> dict[str, Any]:
    """Return the shipped Table Schema of a plot record, as its JSON document.

    Examples
    --------
    >>> from scenariokit.trials.records import record_document
    >>> record_document()["primaryKey"]
    ['study_id', 'plot_id']
    """
    text = resources.files(__package__).joinpath("plot_record.json").read_text("utf-8")
    document: dict[str, Any] = json.loads(text)
    return document


@functools.cache
def record_schema() -> Schema:
    """Return the columns of a plot record as the reader of tables knows them.

    A number with a unit is a quantity; a date is text, of the form that
    `iso_date` accepts.
    """
    document = record_document()
    return from_json({**document, "fields": [_known_field(row) for row in document["fields"]]})


def _known_field(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return a field with the type that the reader has for it."""
    if row["type"] == "date":
        needed = row["constraints"].get("required", False)
        return {**row, "type": "string", "constraints": {"required": needed}}
    return {**row, "type": "quantity" if "unit" in row else row["type"]}


def reading_schema(units: Mapping[str, str] | None = None) -> Schema:
    """Return the columns without their limits, so that all limits are tested together.

    Parameters
    ----------
    units : mapping, optional
        Column to the unit of its bare numbers, where headings do not carry it.
        The values read are then in that unit.

    Raises
    ------
    RecordError
        If a column is not known, takes no unit, or takes one of another dimension.
    """
    return _reading_schema(tuple((units or {}).items()))


@functools.lru_cache(maxsize=32)
def _reading_schema(units: tuple[tuple[str, str], ...]) -> Schema:
    declared = dict(units)
    rules = record_schema()
    problems = [fault for item in declared.items() if (fault := _unit_fault(rules, *item))]
    if problems:
        raise RecordError(problems, "units")
    return replace(
        rules, fields=tuple(_bare(field, declared) for field in rules.fields), primary_key=()
    )


def _bare(field: Field, declared: Mapping[str, str]) -> Field:
    """Return `field` without limits, in the declared unit if there is one."""
    free = replace(field, required=False, minimum=None, maximum=None, enum=(), pattern="")
    if field.type == "integer":
        # A broken number of plants is a broken limit, told with the others.
        free = replace(free, type="number")
    if field.name in declared:
        free = replace(free, type="number", unit=declared[field.name])
    return free


def _unit_fault(rules: Schema, name: str, unit: str) -> Problem | None:
    takers = [field.name for field in rules.fields if field.needs_unit]
    if name not in takers:
        return Problem(name, unit, tr("is no column with a unit"), ", ".join(takers), kind="unit")
    try:
        convert(0.0, unit, rules.field(name).unit)
    except CellError as error:
        wanted = tr("{unit} or one like it", unit=rules.field(name).unit)
        return Problem(name, unit, error.reason, wanted, kind="unit")
    return None


@functools.lru_cache(maxsize=4096)
def iso_date(text: str) -> datetime.date | None:
    """Return the date that `text` gives as year-month-day, or None.

    Examples
    --------
    >>> from scenariokit.trials.records.schema import iso_date
    >>> iso_date("2026-05-01"), iso_date("1/5/2026")
    (datetime.date(2026, 5, 1), None)
    """
    if _ISO_DATE.fullmatch(text) is None:
        return None
    try:
        return datetime.date.fromisoformat(text)
    except ValueError:
        return None


def frame_schema(document: Mapping[str, Any], wide: Iterable[tuple[str, Test]] = ()) -> Any:
    """Return what validates a data frame of plot records: a pandera schema made from JSON.

    Parameters
    ----------
    document : mapping
        A Table Schema. Numbers are floats in the unit of their field, dates are
        text, and what is missing is null.
    wide : iterable of tuple
        Name and test of each rule on whole rows.

    Returns
    -------
    pandera.pandas.DataFrameSchema
        Each failure case names its rule in ``check``. A column ``file`` belongs
        to the key, so that several files may stand in one frame.
    """
    import pandera.pandas as pandera

    columns = {
        field["name"]: pandera.Column(
            checks=[pandera.Check(test, error=rule) for rule, test in _field_tests(field)],
            nullable=not field.get("constraints", {}).get("required", False),
        )
        for field in document["fields"]
    }
    return pandera.DataFrameSchema(
        {"file": pandera.Column(), **columns},
        checks=[pandera.Check(test, error=rule) for rule, test in wide],
        unique=["file", *document["primaryKey"]],
        report_duplicates="exclude_first",
    )


def _field_tests(field: Mapping[str, Any]) -> list[tuple[str, Test]]:
    """Return the name and the test of each constraint of a field."""
    limits = field.get("constraints", {})
    tests: list[tuple[str, Test]] = []
    if field["type"] == "integer":
        tests.append(("whole", lambda column: column % 1 == 0))
    if "maxLength" in limits:
        tests.append(("length", lambda column: column.str.len() <= limits["maxLength"]))
    within: list[tuple[str, Test]] = []
    if "minimum" in limits:
        within.append(("minimum", lambda column: column >= limits["minimum"]))
    if "maximum" in limits:
        within.append(("maximum", lambda column: column <= limits["maximum"]))
    if field["type"] != "date":
        return tests + within
    # Dates are compared as text: year-month-day sorts as the dates do.
    tests.append(("date", _are_dates))
    tests += [(rule, functools.partial(_if_dates, test)) for rule, test in within]
    return tests


def _if_dates(test: Test, column: Any) -> Any:
    """Return the test of a limit, passed by what is no date: that is told already."""
    return test(column) | ~_are_dates(column)


def _are_dates(column: Any) -> Any:
    return column.map(lambda text: iso_date(text) is not None).astype(bool)
