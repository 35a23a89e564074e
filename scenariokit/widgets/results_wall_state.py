"""What the results wall knows: files handed in, what became of each, all rooms together."""

from __future__ import annotations

import logging
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from scenariokit import catalog
from scenariokit.catalog.cells import Decimal
from scenariokit.catalog.sources import MAX_BYTES, read_grid
from scenariokit.catalog.tables import read_table
from scenariokit.charts.frames import Showing
from scenariokit.errors import Problem, ProblemsError, RecordError, ScenarioKitError
from scenariokit.language import language, mark, tr
from scenariokit.parameters import UnitSystem
from scenariokit.report.safe_text import short_name
from scenariokit.trials import (
    MethodYield,
    harvest_schema,
    read_harvest,
    record_template,
    yield_by_method,
)
from scenariokit.trials.pooling.reading import Options, read_chunk
from scenariokit.trials.pooling.sources import PoolFile, content_hash
from scenariokit.trials.pooling.wall_folder import (
    LONGEST_GROUP,
    MAX_FILES,
    FoundFile,
    files_in,
    keep_file,
    plain_stem,
    sent_group,
)
from scenariokit.trials.records import plots_of, record_schema
from scenariokit.trials.room_results import RoomResults, room_results
from scenariokit.widgets.board_file import read_board

log = logging.getLogger(__name__)

Row = dict[str, Any]

CROP = "potato"
"""The records of plots are of tubers, and so is the wall."""
FAULT = mark("could not be used, because of a fault in this program; its log holds the details")
NO_NAME = mark("a group without a name")


@dataclass(frozen=True, eq=False)
class WallFile:
    """What became of one file.

    Parameters
    ----------
    name : str
        The file's name.
    rows : tuple of dict
        The plots that it gave.
    rooms : tuple of str
        The groups that they are of, as they are shown.
    problems, flags : tuple of Problem
        What was refused, and what was taken but wants a second look.
    hash : str
        Of its content.
    """

    name: str
    rows: tuple[Row, ...] = ()
    rooms: tuple[str, ...] = ()
    problems: tuple[Problem, ...] = ()
    flags: tuple[Problem, ...] = ()
    hash: str = ""


@dataclass
class WallState:
    """Files handed in by the rooms of a class, and all rooms together.

    Parameters
    ----------
    folder : Path, optional
        The folder that is watched; without one, only what is loaded at the page counts.
    decimal : {'.', ','}
        The decimal sign of files that people made themselves. Files sent from
        a page have a point.
    system : {'metric', 'us'}
        Units of the reader.

    Attributes
    ----------
    files : tuple of WallFile
        What became of each file.
    found : RoomResults
        All rooms together.
    """

    folder: Path | None = None
    decimal: Decimal = "."
    system: UnitSystem = "metric"
    files: tuple[WallFile, ...] = ()
    found: RoomResults = field(default_factory=lambda: RoomResults((), 0, ()))
    _loaded: list[tuple[str, bytes]] = field(default_factory=list)
    _seen: tuple[Any, ...] | None = None
    _read: dict[Any, WallFile] = field(default_factory=dict)

    @property
    def showing(self) -> Showing:
        """The units of the reader."""
        return Showing(system=self.system)

    @property
    def plots(self) -> int:
        """The number of plots on the wall."""
        return self.found.plots

    def look(self) -> bool:
        """Look into the folder; read what is new, and put all rooms together.

        Returns
        -------
        bool
            Whether anything is other than at the last look.

        Raises
        ------
        RecordError
            If the folder cannot be looked into; what is known stays.
        """
        listed = () if self.folder is None else files_in(self.folder)
        seen = (listed, self.decimal, len(self._loaded), language())
        if seen == self._seen:
            return False
        before = self._read
        read: dict[Any, WallFile] = {}
        for one in listed[:MAX_FILES]:
            place = (one, self.decimal, language())  # what is wrong is said in words
            read[place] = before.get(place) or _read_path(one, self.decimal)
        for name, content in self._loaded:
            key = (name, content_hash(content), self.decimal, language())
            read[key] = before.get(key) or read_wall_file(name, content, self.decimal)
        over = tuple(_too_many(one) for one in listed[MAX_FILES:])
        self.files = (*named_apart(tuple(read.values())), *over)
        self.found, self.files = _together(self.files)
        self._read, self._seen = read, seen
        return True

    def add(self, files: Sequence[tuple[str, bytes]]) -> tuple[WallFile, ...]:
        """Take files that were loaded at the page; those with plots are kept in the folder.

        Returns
        -------
        tuple of WallFile
            What became of each, before the rooms are put together.
        """
        results = []
        for name, content in files:
            found = read_wall_file(name, content, self.decimal)
            results.append(found)
            if found.rows and self.folder is not None:
                keep_file(self.folder, name, content)
            elif found.rows:
                self._loaded.append((name, content))
        return tuple(results)

    def table(self) -> str:
        """Return all plots on the wall as one plot record, CSV."""
        return record_template([row for one in self.files for row in one.rows])


# -- one file ----------------------------------------------------------------------------------


def _read_path(one: FoundFile, decimal: Decimal) -> WallFile:
    """Return what a file of the folder gives."""
    try:
        if one.size > MAX_BYTES:
            reason = tr("has {size:.1f} MB", size=one.size / 1e6)
            allowed = tr("{size:.0f} MB or less", size=MAX_BYTES / 1e6)
            return WallFile(one.name, problems=(_about(one.name, reason, allowed),))
        content = one.path.read_bytes()
    except OSError as error:
        reason = tr("cannot be opened: {why}", why=error.strerror or str(error))
        return WallFile(one.name, problems=(_about(one.name, reason),))
    return read_wall_file(one.name, content, decimal)


def read_wall_file(name: str, content: bytes, decimal: Decimal = ".") -> WallFile:
    """Return what a file gives: a plot record, a harvest sheet or a saved board.

    Parameters
    ----------
    name : str
        The file's name; what its ending says, counts.
    content : bytes
        What it holds.
    decimal : {'.', ','}
        The decimal sign, of a file that was not sent from a page.

    Returns
    -------
    WallFile
        With its problems; nothing that a file holds is a reason to stop.
    """
    sign: Decimal = "." if sent_group(name) else decimal
    try:
        found = _contents(name, content, sign)
    except ProblemsError as error:
        found = WallFile(name, problems=tuple(replace(one, file=name) for one in error.problems))
    except ScenarioKitError as error:
        found = WallFile(name, problems=(_about(name, str(error)),))
    except Exception:  # one file must never stop the others; the traceback goes to the log
        log.exception("reading %s for the wall", name)
        found = WallFile(name, problems=(_about(name, tr(FAULT)),))
    return replace(found, hash=content_hash(content))


def _contents(name: str, content: bytes, decimal: Decimal) -> WallFile:
    if Path(name).suffix.casefold() == ".json":
        board = read_board(content, name)
        if not board.own_harvest:
            reason = tr("this saved board holds no harvest weights of its own")
            raise RecordError([_about(name, reason, tr("a board with weights loaded into it"))])
        return _of_harvest(name, board.own_harvest, board.methods, ())
    file = PoolFile(name, content)
    if file.is_study:
        reason = tr("is the sheet of a study; the wall takes the plot records")
        raise RecordError([_about(name, reason)])
    if _is_harvest_sheet(name, content):
        methods = _methods_in(content, name, decimal)
        sheet = read_harvest(content, name=name, decimal=decimal, methods=methods)
        return _of_harvest(name, yield_by_method(sheet), methods, sheet.problems)
    (found,) = read_chunk([file], Options(decimal))
    rows = tuple(_shown_row(row) for row in found.rows)
    return WallFile(name, rows, (), tuple(found.problems), tuple(found.flags))


def _is_harvest_sheet(name: str, content: bytes) -> bool:
    """Return whether a table has the headings of a harvest sheet."""
    heading = read_grid(content, name, record_schema().names).rows[0][1]
    return any(str(cell).strip().casefold().startswith("harvest_mass") for cell in heading)


def _methods_in(content: bytes, name: str, decimal: Decimal) -> dict[str, Mapping[str, Any]]:
    """Return the catalogue's methods, and those that a sheet names besides: a group's own."""
    known: dict[str, Mapping[str, Any]] = dict(catalog.methods())
    words = {
        row["method"].strip()
        for row in read_table(content, harvest_schema(), name=name, decimal=decimal).rows
    }
    return known | {word: {"label": word} for word in words if word.casefold() not in _labels()}


def _of_harvest(
    name: str,
    harvest: Mapping[tuple[str, str], MethodYield],
    methods: Mapping[str, Mapping[str, Any]],
    problems: Sequence[Problem],
) -> WallFile:
    """Return weights of harvest as rows; the file's name is that of the group."""
    group = plain_stem(name)
    rows, left = [], list(problems)
    for (method, crop), found in harvest.items():
        if crop != CROP:
            reason = tr("is not shown: the wall compares potatoes")
            left.append(Problem("crop", crop, reason, CROP, file=name))
            continue
        label = str(methods[method]["label"])
        rows += [_harvest_row(group, label, value) for value in found.values]
    numbered = tuple({**row, "plot_id": str(n), "_row": n} for n, row in enumerate(rows, 1))
    return WallFile(name, numbered, (), tuple(left))


def _harvest_row(group: str, method: str, value: float) -> Row:
    """Return a weighed plot as if it were of one square metre."""
    blank = {one.name: "" if one.is_text else None for one in record_schema().fields}
    row = {**blank, "planting_date": None, "harvest_date": None, "study_id": group,
           "rep": "1", "treatment": method, "genotype": CROP, "plot_area": 1.0,
           "ttwp": value}  # fmt: skip
    return _shown_row(row)


def _shown_row(row: Row) -> Row:
    """Return a row with its group as it is shown, and the method by its label."""
    room = short_name(row["study_id"], LONGEST_GROUP) or tr(NO_NAME)
    method = short_name(row["treatment"], LONGEST_GROUP)
    label = _labels().get(method.casefold(), method)
    return {**row, "study_id": room, "treatment": label}


def _labels() -> dict[str, str]:
    """Return the label of each method of the catalogue by its id and by its label."""
    found = {}
    for key, row in catalog.methods().items():
        found[key.casefold()] = found[row["label"].casefold()] = str(row["label"])
    return found


def _about(name: str, reason: str, allowed: str = "") -> Problem:
    return Problem("file", "", reason, allowed, file=name)


def _too_many(one: FoundFile) -> WallFile:
    reason = tr("is one too many; the wall reads the first {count} by name", count=MAX_FILES)
    return WallFile(one.name, problems=(_about(one.name, reason),))


# -- all files ---------------------------------------------------------------------------------


def named_apart(files: Sequence[WallFile]) -> tuple[WallFile, ...]:
    """Return files with groups told apart, and without what was handed in twice.

    Two files of one study make one room if they hold other plots; else the second
    becomes a room of its own, because two groups may have chosen one name.
    """
    hashes: dict[str, str] = {}
    plots: dict[str, set[str]] = {}
    result = []
    for one in files:
        if one.rows and one.hash in hashes:
            reason = tr("has the same content as {other} and counts once", other=hashes[one.hash])
            result.append(replace(one, rows=(), problems=(_about(one.name, reason),)))
            continue
        if one.rows:
            hashes[one.hash] = one.name
        result.append(_with_rooms(one, plots))
    return tuple(result)


def _with_rooms(one: WallFile, plots: dict[str, set[str]]) -> WallFile:
    """Return a file whose rooms do not hold a plot that another file gave them."""
    own: dict[str, set[str]] = {}
    for row in one.rows:
        own.setdefault(row["study_id"], set()).add(row["plot_id"])
    names, flags = {}, list(one.flags)
    for room, ids in own.items():
        free = next(name for name in _numbered(room) if not ids & plots.get(name, set()))
        names[room] = free
        plots.setdefault(free, set()).update(ids)
        if free != room:
            reason = tr(
                "another file calls its group so too, with the same plots: shown as {name}. If "
                "one corrects the other, take the old one out of the folder", name=free,
            )  # fmt: skip
            flags.append(Problem("study_id", room, reason, file=one.name))
    rows = tuple({**row, "study_id": names[row["study_id"]]} for row in one.rows)
    return replace(one, rows=rows, rooms=tuple(names.values()), flags=tuple(flags))


def _numbered(room: str) -> Iterator[str]:
    """Yield a name, and then the name with 2, 3 and so on."""
    yield room
    for number in range(2, MAX_FILES + 2):
        yield f"{room} ({number})"


def _together(files: Sequence[WallFile]) -> tuple[RoomResults, tuple[WallFile, ...]]:
    """Return all rooms together; a file of which nothing can be worked out is left out."""
    try:
        return _worked_out(files), tuple(files)
    except Exception:  # rooms one by one, so that one cannot hide the others
        log.exception("putting all rooms together")
    kept = []
    for one in files:
        try:
            _worked_out([one])
            kept.append(one)
        except Exception:
            log.exception("working out %s", one.name)
            problem = _about(one.name, tr(FAULT))
            kept.append(replace(one, rows=(), problems=(*one.problems, problem)))
    return _worked_out(kept), tuple(kept)


def _worked_out(files: Sequence[WallFile]) -> RoomResults:
    rows = [row for one in files for row in one.rows]
    # Names of plots of several rooms may be alike once joined; numbers are not.
    return room_results(plots_of([{**row, "plot_id": str(n)} for n, row in enumerate(rows, 1)]))
