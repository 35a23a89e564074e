"""A chunk of files read and checked at once; a bad file never stops the others."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from scenariokit.catalog.cells import Decimal
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr
from scenariokit.trials.pooling.sources import PoolFile, content_hash
from scenariokit.trials.records.checks import check_rows
from scenariokit.trials.records.reading import Cells, finished, read_cells


@dataclass(frozen=True)
class Options:
    """How the files of a pool are read.

    Parameters
    ----------
    decimal : {'.', ','}
        Their decimal sign.
    units : dict of str to str
        Units of columns whose headings carry none.
    """

    decimal: Decimal = "."
    units: dict[str, str] = field(default_factory=dict)


@dataclass
class FileRead:
    """What one file of a pool gave.

    Parameters
    ----------
    name, hash : str
        The file's name and the hash of its content, empty if it could not be read.
    rows : list of dict
        Good rows, finished.
    problems, flags : list of Problem
        Of what was refused, and of what wants a second look.
    heading_row : int
        The number of the row of headings.
    """

    name: str
    hash: str
    rows: list[dict[str, Any]] = field(default_factory=list)
    problems: list[Problem] = field(default_factory=list)
    flags: list[Problem] = field(default_factory=list)
    heading_row: int = 1

    @property
    def refused(self) -> int:
        """The number of rows refused; zero of a file refused as a whole."""
        return len({problem.row for problem in self.problems} - {None, self.heading_row})


def read_chunk(files: Sequence[PoolFile], options: Options) -> list[FileRead]:
    """Return what each file of a chunk gave.

    The rules are tested on the rows of all its files together: testing has a
    cost for each call that is far above that for each row.
    """
    found: list[FileRead] = []
    rows: list[dict[str, Any]] = []
    owners: list[int] = []
    for number, file in enumerate(files):
        result, cells = _read_file(file, options)
        found.append(result)
        rows += cells
        owners += [number] * len(cells)
    checked = check_rows(rows, [files[owner].name for owner in owners])
    for index in checked.good:
        found[owners[index]].rows.append(finished(rows[index]))
    for index, problem in checked.problems:
        found[owners[index]].problems.append(problem)
    for index, flag in checked.flags:
        found[owners[index]].flags.append(flag)
    return found


def _read_file(file: PoolFile, options: Options) -> tuple[FileRead, list[dict[str, Any]]]:
    """Return the result of a file so far, and its rows to be checked."""
    try:
        content = file.read()
    except RecordError as error:
        return FileRead(file.name, "", problems=list(error.problems)), []
    result = FileRead(file.name, content_hash(content))
    try:
        cells = read_cells(content, name=file.name, decimal=options.decimal, units=options.units)
    except RecordError as error:
        result.problems = list(error.problems)
        return result, []
    mixed = _unit_problems(cells)
    if mixed:
        # A number of unknown unit beside known ones is worse than a file less.
        result.problems = mixed
        return result, []
    result.problems = list(cells.problems)
    result.heading_row = cells.heading_row
    return result, cells.rows


def _unit_problems(cells: Cells) -> list[Problem]:
    """Return why the numbers of a file may not stand beside those of others."""
    found = []
    for column, units in cells.units.items():
        named = ", ".join(unit or "none" for unit in units)
        if "" in units:
            reason = tr("has numbers without a unit; the file was not pooled")
            found.append(
                Problem(column, named, reason, tr("a unit in the heading"), file=cells.name)
            )
        elif len(units) > 1:
            reason = tr("has numbers in more than one unit; the file was not pooled")
            found.append(
                Problem(column, named, reason, tr("one unit for each column"), file=cells.name)
            )
    return found


def as_options(decimal: Decimal, units: Mapping[str, str] | None) -> Options:
    """Return the options of a pool in a form that can be compared and passed on."""
    return Options(decimal, dict(sorted((units or {}).items())))
