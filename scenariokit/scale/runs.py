"""Running a grid: on this machine, or on a Dask cluster, with the same numbers to the bit."""

from __future__ import annotations

from collections.abc import Callable, Generator, Iterator, Sequence
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from scenariokit.errors import InfeasibleError, ScenarioFileError
from scenariokit.language import tr
from scenariokit.scale.clusters import Cluster, checked_cluster, on_cluster
from scenariokit.scale.documents import Origin, origin
from scenariokit.scale.grid import Grid
from scenariokit.scale.store import (
    is_done,
    make_part,
    open_folder,
    parquet,
    part_path,
    stated_in,
)
from scenariokit.scale.work import CHUNK, Chunk, chunks
from scenariokit.uncertainty import placed

__all__ = ["Run", "batches", "run"]


@dataclass(frozen=True)
class Run:
    """What became of a run.

    Parameters
    ----------
    folder : Path
        Where the results are.
    parts : int
        Files that hold them.
    made : int
        How many of them this run made; the others were there already.
    notes : tuple of str
        Files that were damaged and made again.
    """

    folder: Path
    parts: int
    made: int
    notes: tuple[str, ...]


def run(
    grid: Grid,
    folder: str | Path,
    *,
    chunk: int | None = None,
    cluster: Cluster = None,
    progress: Callable[[int, int], None] | None = None,
) -> Run:
    """Work a grid out into a folder of Parquet files; a run broken off goes on where it stopped.

    Parameters
    ----------
    grid : Grid
        What to work out.
    folder : path
        Where to. Workers write into it themselves, so that results pass through
        no other process; with workers on other machines it must be a folder
        that they and this machine share under the same path.
    chunk : int, optional
        Draws in one file at most; if left out, what the folder was begun with,
        or `CHUNK`. The numbers do not depend on it. A process needs about
        24 bytes for each draw of a chunk, method and outcome.
    cluster : int, str or distributed.Client, optional
        How many processes on this machine, the address of a Dask scheduler, or
        a client of one; this process alone if left out. In a script, call it
        below ``if __name__ == "__main__":``, because new processes read the
        script.
    progress : callable, optional
        Told how many chunks are done, of how many; what it raises stops the
        run, and what was written stays.

    Returns
    -------
    Run

    Raises
    ------
    InfeasibleError
        If the folder holds another grid or the same one cut otherwise, pyarrow
        or distributed is not installed, a cluster cannot be reached, loses the
        processes that work on one batch again and again, has another
        scenariokit, or does not see the folder.
    ScenarioFileError
        If the folder cannot be written to, or its disk is full; chunks that are
        finished stay.
    RangeError
        If `chunk` is no whole number from 1 on.
    ScenarioKitError
        What a chunk raised; it is not tried again.

    Notes
    -----
    A worker that is lost takes nothing with it but the chunks that it was at,
    which another does again. Two runs into one folder do some work twice and
    harm nothing, because a file appears whole or not at all. Chunks of few
    draws are handed out in batches, so that a scheduler has fewer tasks.

    The same draw gives the same bits on machines of one kind with the same
    NumPy and SciPy; others may differ in the last digit of some functions.

    Examples
    --------
    >>> import tempfile
    >>> from scenariokit.scale import Grid, run
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     run(Grid(("medium_bag", "wedge_pots"), draws=100), folder).parts
    1
    """
    parquet()
    checked_cluster(cluster)
    chunks(grid, CHUNK if chunk is None else chunk)
    _try_out(grid)
    place = open_folder(folder, grid, chunk)
    work = list(chunks(grid, stated_in(place).chunk))
    answers = [is_done(grid, one, place) for one in work]
    waiting = [one for one, answer in zip(work, answers, strict=True) if answer != "yes"]
    notes = tuple(answer for answer in answers if answer not in ("yes", "no"))
    done = len(work) - len(waiting)
    # What stops the loop closes the cluster at once, not when its traceback is forgotten.
    with closing(_worked(grid, waiting, place, cluster)) as made:
        for count in made:
            done += count
            if progress is not None:
                progress(done, len(work))
    return Run(place, len(work), len(waiting), notes)


def _try_out(grid: Grid) -> None:
    """Refuse what no cell could be worked out with, before anything is written."""
    # The first cells differ in their price lists, which may lack something.
    for cell in grid.cells()[: len(grid.price_lists)]:
        scenarios = grid.scenarios(cell)
        placed(scenarios, grid.drawn(scenarios))


def _worked(
    grid: Grid, waiting: Sequence[Chunk], place: Path, cluster: Cluster
) -> Generator[int, None, None]:
    """Work all chunks off; yield how many are done each time that some are."""
    if not waiting:
        return
    if cluster is None:
        for one in waiting:
            make_part(grid, one, place)
            yield 1
        return
    folder, source = str(place.absolute()), origin()
    tasks = ((grid, one, folder, source) for one in batches(waiting))
    for names in on_cluster(cluster, work_off, tasks):
        yield len(names)


def batches(waiting: Sequence[Chunk], draws: int = CHUNK) -> Iterator[tuple[Chunk, ...]]:
    """Yield chunks that follow each other, together at most `draws` draws, or one chunk."""
    batch: list[Chunk] = []
    held = 0
    for one in waiting:
        if batch and held + one.rows > draws:
            yield tuple(batch)
            batch, held = [], 0
        batch.append(one)
        held += one.rows
    if batch:
        yield tuple(batch)


def work_off(grid: Grid, batch: tuple[Chunk, ...], folder: str, source: Origin) -> list[str]:
    """Work some chunks out, in a worker; return the names of their files.

    A batch of a worker that was lost is done again by another, which keeps what is there.

    Raises
    ------
    InfeasibleError
        If the worker has another scenariokit, or does not see the folder.
    ScenarioFileError
        If a file cannot be written.
    """
    if origin() != source:
        raise InfeasibleError(
            tr(
                "a worker has {origin} and this machine {source}; install the same on all of them",
                origin=origin(),
                source=source,
            )
        )
    place = Path(folder)
    try:
        same = stated_in(place).grid.digest == grid.digest
    except ScenarioFileError as error:
        raise InfeasibleError(
            tr(
                "a worker does not see the folder ({error}); take one that all workers and this "
                "machine share",
                error=error,
            )
        ) from error
    if not same:
        raise InfeasibleError(
            tr("{folder} is another folder for a worker; take one that all share", folder=folder)
        )
    return [
        part_path(place, one).name
        if is_done(grid, one, place) == "yes"
        else make_part(grid, one, place)
        for one in batch
    ]
