"""Many files of plot records as one table, with where each row stood."""

from __future__ import annotations

import functools
import shutil
import tempfile
import weakref
from collections import deque
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from scenariokit.catalog.cells import Decimal
from scenariokit.errors import Problem, RecordError, shorten
from scenariokit.language import tr
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooling.reading import FileRead, Options, as_options, read_chunk
from scenariokit.trials.pooling.sources import FileLike, PoolFile, chunks, files_of
from scenariokit.trials.pooling.store import (
    FLAGGED,
    NOT_USED,
    PLOTS,
    PROBLEMS,
    PooledFile,
    Store,
    read_problems,
    read_rows,
)
from scenariokit.trials.records.merging import Per, plots_of
from scenariokit.trials.records.schema import reading_schema
from scenariokit.trials.records.study import Study, read_study

Progress = Callable[[int, int], None]


@dataclass(frozen=True, eq=False)
class Pooled:
    """The plots of many files.

    Parameters
    ----------
    folder : Path
        Where the pool is: ``plots.csv``, ``problems.csv`` and the journal. A
        temporary folder is removed with this object.
    files : tuple of PooledFile
        What became of each file, in the order in which they were done.
    studies : dict of str to Study
        The sheets of the studies, by ``study_id``.
    study_problems : tuple of Problem
        What was wrong with sheets.
    notes : tuple of str
        How the table came about.
    """

    folder: Path
    files: tuple[PooledFile, ...]
    studies: Mapping[str, Study]
    study_problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def plots_path(self) -> Path:
        """The table of plots, as CSV: the plot record with file, row and hash."""
        return self.folder / PLOTS

    @property
    def problems_path(self) -> Path:
        """The table of problems, as CSV: a report to send back, for all files."""
        return self.folder / PROBLEMS

    @property
    def row_count(self) -> int:
        """The number of plots pooled."""
        return sum(file.rows for file in self.files)

    @property
    def refused_count(self) -> int:
        """The number of rows refused in files that could be read."""
        return sum(file.refused for file in self.files)

    def rows(self) -> Iterator[dict[str, Any]]:
        """Yield the plots one by one, each with ``"_file"``, ``"_row"`` and ``"_hash"``."""
        yield from read_rows(self.plots_path)

    def problems(self) -> Iterator[Problem]:
        """Yield what was refused, one by one."""
        yield from read_problems(self.problems_path, NOT_USED)

    def flags(self) -> Iterator[Problem]:
        """Yield what was taken but wants a second look, one by one."""
        yield from read_problems(self.problems_path, FLAGGED)

    def plots(self, *, per: Per = "tank") -> PlotTable:
        """Return all plots as experimental units; the whole table then is in memory.

        Parameters
        ----------
        per : {'tank', 'occupied'}, optional
            Whether yields are per tank area or per area occupied.

        Raises
        ------
        RecordError
            As `scenariokit.trials.records.plots_of`.
        """
        table = plots_of(list(self.rows()), per=per)
        return replace(table, notes=(*self.notes, *table.notes))


def pool(
    source: str | Path | Iterable[FileLike],
    *,
    progress: Progress | None = None,
    resume: str | Path | None = None,
    workers: int | None = None,
    decimal: Decimal = ".",
    units: Mapping[str, str] | None = None,
) -> Pooled:
    """Put the plot records of many files into one table.

    Parameters
    ----------
    source : path or iterable
        A folder, with all below it; or paths of files, or pairs of a name and
        bytes. Files called ``study`` or ending in ``_study`` are sheets of
        studies.
    progress : callable, optional
        Called with the number of files done and their total, after each chunk.
    resume : path, optional
        The folder for the pool. Files that it has done are not read into it
        again, so that a run broken off is gone on with. A temporary folder if
        left out.
    workers : int, optional
        Processes that read; none besides this one if left out.
    decimal : {'.', ','}, optional
        The decimal sign of all files.
    units : mapping, optional
        Column to unit, for columns whose headings carry none.

    Returns
    -------
    Pooled

    Raises
    ------
    RecordError
        If there is no file, `resume` is the folder of something else or of a
        pool with other options, or `units` or `workers` cannot be used. A bad
        file is never a reason: it stands among the problems.

    Notes
    -----
    A file in another declared unit is converted; one with numbers without a
    unit, or with two units in a column, is refused as a whole. A plot that
    stands in two files is taken from the first and refused from the second,
    with both places. A file that changed since it was pooled makes the pool
    begin anew.

    Rows go to disk in chunks of at most 64 files or 2 MB. What stays in memory
    is a short key for each plot, about 200 bytes.

    Examples
    --------
    >>> from scenariokit.trials.pooling import pool
    >>> from scenariokit.trials.records import record_template
    >>> row = {"study_id": "S", "rep": "1", "treatment": "pots", "genotype": "early",
    ...        "planting_date": "2026-05-01", "plot_area": 2.0, "ttwp": 8.0}
    >>> files = [(f"{plot}.csv", record_template([{**row, "plot_id": plot}]).encode())
    ...          for plot in ("1", "2")]
    >>> pooled = pool(files)
    >>> pooled.row_count, pooled.plots().yields.tolist()
    (2, [4.0, 4.0])
    """
    reading_schema(units)
    if workers is not None and (not isinstance(workers, int) or workers < 1):
        raise RecordError(
            [Problem("workers", str(workers), tr("is no number"), tr("1 or more"))], "pool"
        )
    folder = None if resume is None else Path(resume)
    given = files_of(source, folder)
    options = as_options(decimal, units)
    made = folder is None
    folder = folder or Path(tempfile.mkdtemp(prefix="pool-"))
    try:
        pooled = _pooled(given, folder, options, workers, progress)
    except BaseException:
        if made:
            shutil.rmtree(folder, ignore_errors=True)
        raise
    if made:
        weakref.finalize(pooled, shutil.rmtree, folder, ignore_errors=True)
    return pooled


def _pooled(
    given: Sequence[PoolFile],
    folder: Path,
    options: Options,
    workers: int | None,
    progress: Progress | None,
) -> Pooled:
    """Return the pool of `given` in `folder`."""
    records = [file for file in given if not file.is_study]
    notes = []
    with Store(folder, options) as store:
        before = set(store.files)
        hashes = {file.name: file.hash() for file in records if file.name in before}
        changed = [name for name, known in hashes.items() if store.files[name].hash != known]
        if changed:
            store.clear()
            names = shorten(", ".join(changed), 200)
            notes.append(tr("{files} changed since the last run: pooled anew", files=names))
        todo = [file for file in records if file.name not in store.files]
        done = len(records) - len(todo)
        for results in _results(list(chunks(todo)), options, workers):
            store.add(results)
            done += len(results)
            if progress is not None:
                progress(done, len(records))
        kept = set(store.files) - {file.name for file in records}
        if kept:
            notes.append(
                tr("files of earlier runs that are still in the pool: {count}", count=len(kept))
            )
        files = tuple(store.files.values())
    studies, problems = _studies([file for file in given if file.is_study], options.decimal)
    notes.append(
        tr(
            "plots pooled: {plots}; rows refused: {refused}; files of which nothing was used: {empty} "
            "of {files}",
            plots=sum(file.rows for file in files),
            refused=sum(file.refused for file in files),
            empty=sum(not file.rows for file in files),
            files=len(files),
        )
    )
    return Pooled(folder, files, studies, tuple(problems), tuple(notes))


def _results(
    groups: Sequence[list[PoolFile]], options: Options, workers: int | None
) -> Iterator[list[FileRead]]:
    """Yield what each chunk gave, in order; a few chunks at most are ahead."""
    work = functools.partial(read_chunk, options=options)
    if workers is None or workers == 1 or len(groups) < 2:
        yield from map(work, groups)
        return
    from concurrent.futures import ProcessPoolExecutor
    from multiprocessing import get_context

    # A fresh interpreter: a fork of a process with threads, such as a notebook's, may hang.
    with ProcessPoolExecutor(workers, mp_context=get_context("spawn")) as processes:
        waiting: deque[Any] = deque()
        for group in groups:
            waiting.append(processes.submit(work, group))
            if len(waiting) > 2 * workers:
                yield waiting.popleft().result()
        while waiting:
            yield waiting.popleft().result()


def _studies(
    sheets: Sequence[PoolFile], decimal: Decimal
) -> tuple[dict[str, Study], list[Problem]]:
    """Return the studies by id, and what is wrong with their sheets."""
    studies: dict[str, Study] = {}
    problems: list[Problem] = []
    for sheet in sheets:
        try:
            study = read_study(sheet.read(), name=sheet.name, decimal=decimal)
        except RecordError as error:
            problems += error.problems
            continue
        if not study.study_id or study.study_id in studies:
            reason = tr("has another sheet too") if study.study_id else tr("is missing")
            problems.append(Problem("study_id", study.study_id, reason, file=sheet.name))
            continue
        studies[study.study_id] = study
    return studies, problems
