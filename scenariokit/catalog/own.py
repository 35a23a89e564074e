"""A person's own methods and growing media beside the shipped ones."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from scenariokit.catalog import checks
from scenariokit.catalog.cells import Decimal
from scenariokit.catalog.entries import (
    ANY_METHOD,
    Entries,
    Entry,
    entry_of,
    labour_shares,
    load,
)
from scenariokit.catalog.fields import schema
from scenariokit.catalog.sources import Source
from scenariokit.catalog.tables import read_table
from scenariokit.errors import Problem
from scenariokit.language import tr


@dataclass(frozen=True)
class Merged:
    """The shipped entries and a person's own.

    Parameters
    ----------
    entries : dict
        Entries by id.
    problems : tuple of Problem
        What was wrong with the rows that were not used.
    own : tuple of str
        Ids of the person's own entries.
    """

    entries: dict[str, Entry]
    problems: tuple[Problem, ...]
    own: tuple[str, ...]


def with_own_methods(
    source: Source,
    base: Entries | None = None,
    *,
    mixes: Entries | None = None,
    name: str = "",
    decimal: Decimal = ".",
) -> Merged:
    """Return the growing methods with those of a person's file added.

    Parameters
    ----------
    source : path, bytes or str
        A file with the columns of ``own_methods``: one row for each method and
        crop. `write_template("own_methods")` makes an empty one.
    base : mapping, optional
        The methods to add to; the shipped ones if left out. It is not changed.
    mixes : mapping, optional
        The mixes that may be named; the shipped ones if left out.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the file.

    Raises
    ------
    RecordError
        If no row can be read.
    """
    known = load("methods") if base is None else base
    table = read_table(source, "own_methods", name=name, decimal=decimal)
    allowed = load("mixes") if mixes is None else mixes

    def find(row: checks.Values) -> list[Problem]:
        return [
            *taken_problems(row, known),
            *checks.method_problems(row),
            *checks.yield_problems(row),
            *checks.unknown_problems(row, "mix", allowed),
            *checks.unknown_problems(row, "sheet", load("sheets")),
            *checks.unknown_problems(row, "crop", load("crops")),
            *checks.unknown_problems(row, "supplies_like", known),
        ]

    rows, problems = checks.sort_rows(table.rows, table.name, find)
    groups: dict[str, list[Any]] = {}
    agreeing, more = checks.sort_rows(rows, table.name, lambda row: _differs(row, groups))
    own = {key: _method(parts, known, table.name) for key, parts in groups.items()}
    found = (*table.problems, *problems, *more)
    return Merged({**known, **own}, found, tuple(own)) if agreeing else Merged({**known}, found, ())


def taken_problems(row: checks.Values, known: Entries) -> list[Problem]:
    """Return a problem if the id of a row is that of something else."""
    if row["id"] not in known:
        return []
    return [Problem("id", row["id"], tr("is taken"), tr("a name not in use"), f"my_{row['id']}")]


_PER_CROP = {"crop", "yield_low", "yield_typical", "yield_high", "source", "status", "note", "_row"}


def _differs(row: checks.Values, groups: dict[str, list[Any]]) -> list[Problem]:
    """Return where `row` describes its method otherwise than the first row; file it if nowhere."""
    group = groups.setdefault(row["id"], [])
    first = group[0] if group else row
    found = [
        Problem(name, str(row[name]), tr("differs from row {row} of the same method", row=first['_row']),
                str(first[name]))
        for name in row
        if name not in _PER_CROP and row[name] != first[name]
    ]  # fmt: skip
    if not found:
        group.append(row)
    return found


def _method(parts: list[Any], known: Entries, file: str) -> Entry:
    """Return a method from its rows, one for each crop."""
    names = [*schema("methods").names]
    first: Mapping[str, Any] = parts[0]
    like = first["supplies_like"]
    return Entry(
        {
            **{name: first[name] for name in names},
            "source": first["source"] or file,
            "status": first["status"] or "own",
            "supplies": known[like]["supplies"] if like else (),
            "labour_shares": known[like]["labour_shares"] if like else labour_shares()[ANY_METHOD],
            "yields": Entry(
                {
                    row["crop"]: (row["yield_low"], row["yield_typical"], row["yield_high"])
                    for row in parts
                }
            ),
        }
    )


def with_own_media(
    source: Source, base: Entries | None = None, *, name: str = "", decimal: Decimal = "."
) -> Merged:
    """Return the growing media with those of a person's file added.

    Parameters
    ----------
    source : path, bytes or str
        A file with the columns of ``own_media``.
    base : mapping, optional
        The media to add to; the shipped ones if left out. It is not changed.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the file.

    Raises
    ------
    RecordError
        If no row can be read.

    Notes
    -----
    `single_mixes` makes a mix of each medium alone, for a method to name, and
    `items_of` the items that a price list may then price.
    """
    known = load("media") if base is None else base
    taken = {**load("items"), **known}
    table = read_table(source, "own_media", name=name, decimal=decimal)
    rows, problems = checks.sort_rows(
        table.rows,
        table.name,
        lambda row: [*taken_problems(row, taken), *checks.medium_problems(row)],
    )  # fmt: skip
    own = {
        row["id"]: Entry(
            {
                **entry_of(row),
                "source": row["source"] or table.name,
                "status": row["status"] or "own",
            }
        )
        for row in rows
    }
    return Merged({**known, **own}, (*table.problems, *problems), tuple(own))
