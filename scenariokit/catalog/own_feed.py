"""A person's own fertilisers, water analyses and targets, beside the shipped ones."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from scenariokit.catalog import checks
from scenariokit.catalog.cells import Decimal
from scenariokit.catalog.entries import Entries, Entry, entry_of, load
from scenariokit.catalog.fields import schema
from scenariokit.catalog.own import Merged, taken_problems
from scenariokit.catalog.sources import Source
from scenariokit.catalog.tables import read_table
from scenariokit.errors import ArgumentError, Problem
from scenariokit.language import mark, tr

NO_HAZARD_WORDS = mark("hazards not stated: read the label and the maker's safety data sheet")
"""What stands where a person gave no words of hazard."""

EXTRA_CONTENT = ("N", "N_urea")
"""Columns of percent beside those of the shipped salts: total nitrogen, and urea."""

_BESIDES = ("calcium", "magnesium", "sulfur")
_FORMS = ("nitrate", "ammonium", "urea")
_TRACES = (
    "iron", "manganese", "zinc", "boron", "copper", "molybdenum", "chlorine", "sodium",
)  # fmt: skip
_DECLARED = (*_BESIDES, *_FORMS, *_TRACES)
_GRADE = re.compile(r"\d{1,3}(\.\d+)?(\s*-\s*\d{1,3}(\.\d+)?){2}")

_AMOUNTS = {"mg/l": "mg/L", "mmol/l": "mmol/L", "meq/l": "meq/L", "me/l": "meq/L"}
_CONDUCTIVITIES = {
    "ds/m": "dS/m", "ms/cm": "mS/cm", "us/cm": "uS/cm", "µs/cm": "uS/cm", "μs/cm": "uS/cm",
}  # fmt: skip
_NO_UNIT = {"": "", "ph": ""}
_NO_CHARGE = ("Fe", "B", "Mo")
_SAME = {"N_nitrate": "NO3", "N_ammonium": "NH4", "S": "SO4", "H2PO4": "P"}
_MISTAKABLE = {
    "ms/m": mark("is easily taken for mS/cm; convert it, 100 mS/m are 1 dS/m"),
    "ppm": mark("means other things elsewhere; in water write mg/L"),
}


@dataclass(frozen=True)
class OwnRows:
    """What a person's file holds, where nothing shipped is joined to it.

    Parameters
    ----------
    entries : dict
        Entries by id.
    problems : tuple of Problem
        What was wrong with the rows that were not used.
    """

    entries: dict[str, Entry]
    problems: tuple[Problem, ...]


def with_own_fertilisers(
    source: Source,
    base: Entries | None = None,
    *,
    complete: Callable[[Mapping[str, Any]], Mapping[str, Any]] | None = None,
    name: str = "",
    decimal: Decimal = ".",
) -> Merged:
    """Return the fertiliser salts with those of a person's file added.

    Parameters
    ----------
    source : path, bytes or str
        A file with the columns of ``own_fertilisers``.
        `write_template("own_fertilisers")` makes an empty one.
    base : mapping, optional
        The salts to add to; the shipped ones if left out. It is not changed.
    complete : callable, optional
        Takes an entry and returns the values that follow from its formula or
        grade. An `ArgumentError` of it is reported with the row's place, and
        the row is not used. `nutrients.own_fertilisers` gives the one that
        works out the mass percents.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the file; a grade always has points.

    Returns
    -------
    Merged
        Own entries have every column of the shipped salts, and besides
        ``grade``, the percents as declared (``calcium``, ..., ``sodium``),
        ``stated_as``, ``price`` [money/kg], and the mass percents ``N`` (total
        nitrogen) and ``N_urea``. Mass percents are None until `complete` fills
        them.

    Raises
    ------
    RecordError
        If no row can be read.

    Warnings
    --------
    Where no hazard words are given, the entry says that they are not stated; it
    does not say that there are none.
    """
    known = load("salts") if base is None else base
    taken = {**load("items"), **known}
    table = read_table(source, "own_fertilisers", name=name, decimal=decimal)
    made: dict[str, Entry] = {}

    def find(row: checks.Values) -> list[Problem]:
        found = [*taken_problems(row, taken), *_fertiliser_problems(row)]
        if found:
            return found
        entry = _fertiliser(row, table.name)
        try:
            made[row["id"]] = entry.replace(**(complete(entry) if complete else {}))
        except ArgumentError as error:
            return list(error.problems)
        return []

    _, problems = checks.sort_rows(table.rows, table.name, find)
    return Merged({**known, **made}, (*table.problems, *problems), tuple(made))


def _fertiliser_problems(row: checks.Values) -> list[Problem]:
    """Return what cannot go together in a row of a fertiliser."""
    found = []
    declared = [name for name in _DECLARED if row[name] is not None]
    if bool(row["formula"]) == bool(row["grade"]):
        given = tr("both are given") if row["formula"] else tr("neither is given")
        reason = f"a product has a formula or a grade, but {given}"
        found.append(Problem("formula, grade", "", reason, tr("one of the two"), "15.5-0-0"))
    elif row["formula"] and declared:
        names = ", ".join(declared)
        reason = tr("goes with a grade; with a formula it is worked out")
        found.append(Problem(names, "", reason, tr("blank, or a grade instead of the formula")))
    if row["grade"] and not _GRADE.fullmatch(row["grade"]):
        reason = tr("is no grade N-P2O5-K2O; a spreadsheet may have made a date of it")
        allowed = tr("three percents joined by hyphens, in a cell formatted as text")
        found.append(Problem("grade", row["grade"], reason, allowed, "15.5-0-0"))
    besides = [name for name in _BESIDES if row[name] is not None]
    if besides and not row["stated_as"]:
        reason = tr("must say what {names} count", names=", ".join(besides))
        found.append(Problem("stated_as", "", reason, tr("element or oxide"), "element"))
    return found


def _fertiliser(row: checks.Values, file: str) -> Entry:
    """Return a row as an entry with the columns of the shipped salts, and its own."""
    columns = dict.fromkeys((*schema("salts").names, *EXTRA_CONTENT))
    return Entry(
        {
            **columns,
            **entry_of(row),
            "hazard": row["hazard"] or NO_HAZARD_WORDS,
            "source": row["source"] or file,
            "status": row["status"] or "own",
        }
    )


def read_water(source: Source, *, name: str = "", decimal: Decimal = ".") -> OwnRows:
    r"""Return the water analyses of a person's file.

    Parameters
    ----------
    source : path, bytes or str
        A file with the columns of ``own_water``: one row for each water and
        parameter. `write_template("own_water")` makes an empty one.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the file.

    Returns
    -------
    OwnRows
        By the name of the water an entry with ``id``, ``label``, ``rows``,
        ``source``, ``status`` and ``note``; ``rows`` is a tuple of (parameter,
        value, unit text) as measured. Units are written mg/L, mmol/L, meq/L,
        dS/m, mS/cm, uS/cm, or blank for pH.

    Raises
    ------
    RecordError
        If no row can be read.

    Notes
    -----
    Nothing is converted and no charge is balanced here. Alkalinity and
    bicarbonate may both stand, as on most reports. A water of which a row was
    refused is kept without it: look at the problems before using it.

    Examples
    --------
    >>> found = read_water("water,parameter,value,unit\nwell,Ca,80,mg/L\nwell,pH,7.4,\n")
    >>> found.entries["well"].rows
    (('Ca', 80.0, 'mg/L'), ('pH', 7.4, ''))
    """
    table = read_table(source, "own_water", name=name, decimal=decimal)
    seen: dict[tuple[str, str], Any] = {}

    def find(row: checks.Values) -> list[Problem]:
        return _unit_problems(row) or _twice_problems(row, seen)

    rows, problems = checks.sort_rows(table.rows, table.name, find)
    good, more = _labelled(rows, "water", table.name)
    entries = {
        key: Entry(
            {
                **_head(key, parts, table.name),
                "rows": tuple(
                    (row["parameter"], float(row["value"]), _unit(row) or "") for row in parts
                ),
            }
        )
        for key, parts in good.items()
    }
    return OwnRows(entries, (*table.problems, *problems, *more))


def _units_of(parameter: str) -> Mapping[str, str]:
    """Return the ways to write the units of a parameter, each to the one kept."""
    if parameter == "EC":
        return _CONDUCTIVITIES
    if parameter == "pH":
        return _NO_UNIT
    if parameter in _NO_CHARGE:
        return {key: unit for key, unit in _AMOUNTS.items() if unit != "meq/L"}
    return _AMOUNTS


def _unit(row: checks.Values) -> str | None:
    """Return the unit of a row as it is kept, or None if it is not one for its parameter."""
    return _units_of(row["parameter"]).get(row["unit"].replace(" ", "").casefold())


def _unit_problems(row: checks.Values) -> list[Problem]:
    """Return a problem if the unit does not suit the parameter, or a pH is none."""
    allowed = ", ".join(dict.fromkeys(_units_of(row["parameter"]).values())) or "blank"
    if _unit(row) is None:
        folded = row["unit"].replace(" ", "").casefold()
        reason = _MISTAKABLE.get(folded) or (
            f"is no unit for {row['parameter']}"
            if row["unit"]
            else tr("is missing; it is not guessed")
        )
        return [Problem("unit", row["unit"], reason, allowed, allowed.split(", ")[0], kind="unit")]
    if row["parameter"] == "pH" and row["value"] > 14:
        return [
            Problem("value", f"{row['value']:g}", tr("is no pH"), "0 to 14", "7.2", kind="range")
        ]
    return []


def _twice_problems(row: checks.Values, seen: dict[tuple[str, str], Any]) -> list[Problem]:
    """Return a problem if the same thing stands in an earlier row under another name."""
    parameter = str(row["parameter"])
    key = (row["water"], _SAME.get(parameter, parameter))
    first = seen.setdefault(key, row)
    if first is row:
        return []
    reason = tr(
        "is the same as {parameter} in row {row}", parameter=first["parameter"], row=first["_row"]
    )
    return [Problem("parameter", row["parameter"], reason, tr("one of the two"))]


def read_targets(source: Source, *, name: str = "", decimal: Decimal = ".") -> OwnRows:
    r"""Return the sets of targets of a person's file.

    Parameters
    ----------
    source : path, bytes or str
        A file with the columns of ``own_targets``: one row for each set and
        element. `write_template("own_targets")` makes an empty one.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the file.

    Returns
    -------
    OwnRows
        By the name of the set an entry with ``id``, ``label``, ``bands``,
        ``source``, ``status`` and ``note``; ``bands`` maps an element to an
        entry with ``low``, ``target``, ``high`` (None where not stated) as
        plain numbers in ``unit``: mg/L, mmol/L or umol/L.
        `nutrients.own_targets` gives them in mg/L.

    Raises
    ------
    RecordError
        If no row can be read.

    Examples
    --------
    >>> found = read_targets("id,element,low,target,high,unit\nmine,N,140,150,160,mg/L\n")
    >>> found.entries["mine"].bands["N"].target
    150.0
    """
    table = read_table(source, "own_targets", name=name, decimal=decimal)
    rows, problems = checks.sort_rows(table.rows, table.name, _order_problems)
    good, more = _labelled(rows, "id", table.name)
    keys = ("low", "target", "high", "unit", "source", "status", "note")
    entries = {
        key: Entry(
            {
                **_head(key, parts, table.name),
                "bands": Entry(
                    {
                        row["element"]: Entry(
                            {
                                **{column: row[column] for column in keys},
                                "source": row["source"] or table.name,
                                "status": row["status"] or "own",
                            }
                        )
                        for row in parts
                    }
                ),
            }
        )
        for key, parts in good.items()
    }
    return OwnRows(entries, (*table.problems, *problems, *more))


def _order_problems(row: checks.Values) -> list[Problem]:
    """Return a problem unless low, target and high, as far as stated, rise in this order."""
    stated = {name: row[name] for name in ("low", "target", "high") if row[name] is not None}
    values = list(stated.values())
    if values == sorted(values):
        return []
    text = ", ".join(f"{value:g}" for value in values)
    return [Problem(", ".join(stated), text, tr("do not rise in this order"), kind="range")]


def _labelled(
    rows: Iterable[Any], key: str, file: str
) -> tuple[dict[str, list[Any]], list[Problem]]:
    """Return the rows by `key`, without those whose label differs from an earlier one."""
    labels: dict[str, Any] = {}

    def find(row: checks.Values) -> list[Problem]:
        first = labels.setdefault(row[key], row) if row["label"] else row
        if first["label"] == row["label"]:
            return []
        reason = tr("differs from row {row} of {row2}", row=first["_row"], row2=row[key])
        return [Problem("label", row["label"], reason, first["label"])]

    good, problems = checks.sort_rows(rows, file, find)
    groups: dict[str, list[Any]] = {}
    for row in good:
        groups.setdefault(row[key], []).append(row)
    return groups, problems


def _head(key: str, parts: list[Any], file: str) -> dict[str, Any]:
    """Return what the rows of one thing say together."""
    first = {
        column: next((row[column] for row in parts if row[column]), "")
        for column in ("label", "source", "status")
    }
    return {
        "id": key,
        "label": first["label"] or key,
        "source": first["source"] or file,
        "status": first["status"] or "own",
        "note": "; ".join(dict.fromkeys(row["note"] for row in parts if row["note"])),
    }
