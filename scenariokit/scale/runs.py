"""Running a grid: on this machine, or on a Dask cluster, with the same numbers to the bit."""

from __future__ import annotations

import importlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TypeAlias

from scenariokit.errors import InfeasibleError, ScenarioFileError
from scenariokit.scale.grid import Grid
from scenariokit.scale.store import ENDING, is_done, make_part, open_folder
from scenariokit.scale.work import CHUNK, Chunk, chunks

Cluster: TypeAlias = Any
"""A number of processes on this machine, the address of a scheduler, or a Dask client."""
WAITING = 4
"""Chunks handed out for each worker at a time; more would only fill the scheduler's memory."""


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
    chunk: int = CHUNK,
    cluster: Cluster = None,
    progress: Callable[[int, int], None] | None = None,
) -> Run:
    """Work a grid out into a folder of Parquet files; a run broken off goes on where it stopped.

    Parameters
    ----------
    grid : Grid
        What to work out.
    folder : path
        Where to. With workers on other machines it must be one that they and
        this machine share.
    chunk : int
        Draws in one file at most. A later run of the same folder must keep it,
        or begins anew beside what is there; the numbers are the same.
    cluster : int, str or distributed.Client, optional
        How many processes on this machine, the address of a Dask scheduler, or
        a client of one; this process alone if left out.
    progress : callable, optional
        Told after each chunk how many are done, of how many; what it raises
        stops the run, and what was written stays.

    Returns
    -------
    Run

    Raises
    ------
    InfeasibleError
        If the folder holds another grid or the same one cut otherwise, pyarrow
        or distributed is not installed, or workers do not see the folder.
    ScenarioFileError
        If the folder cannot be written to.
    ScenarioKitError
        What a chunk raised; it is not tried again.

    Notes
    -----
    A worker that is lost takes nothing with it but the chunk that it was at,
    which another does again. Two runs into one folder do some work twice and
    harm nothing, because a file appears whole or not at all.

    Examples
    --------
    >>> import tempfile
    >>> from scenariokit.scale import Grid, run
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     run(Grid(("medium_bag", "wedge_pots"), draws=100), folder).parts
    1
    """
    place = open_folder(folder, grid)
    work = list(chunks(grid, chunk))
    _refuse_other_cut(place, work)
    notes, waiting = [], []
    for one in work:
        answer = is_done(grid, one, place)
        if answer != "yes":
            waiting.append(one)
        if answer not in ("yes", "no"):
            notes.append(answer)
    done = len(work) - len(waiting)
    for _ in _worked(grid, waiting, place, cluster):
        done += 1
        if progress is not None:
            progress(done, len(work))
    return Run(place, len(work), len(waiting), tuple(notes))


def _refuse_other_cut(place: Path, work: Sequence[Chunk]) -> None:
    """Refuse to lay files of other chunks beside those there, which would count draws twice."""
    wanted = {f"{one.name}{ENDING}" for one in work}
    others = sorted(path.name for path in place.glob(f"part-*{ENDING}") if path.name not in wanted)
    if others:
        raise InfeasibleError(
            f"{place} holds chunks of another size, such as {others[0]}; go on with the chunk size "
            "that it was begun with, or take an empty folder"
        )


def _worked(grid: Grid, waiting: Sequence[Chunk], place: Path, cluster: Cluster) -> Iterator[str]:
    """Yield the name of each file as it is written."""
    if not waiting:
        return
    if cluster is None:
        for one in waiting:
            yield make_part(grid, one, place)
        return
    with _client(cluster) as client:
        yield from _on_cluster(client, grid, waiting, place)


@contextmanager
def _client(cluster: Cluster) -> Iterator[Any]:
    """Give a client of the cluster, and close what was opened for it."""
    try:
        distributed = importlib.import_module("distributed")
    except ImportError as error:
        raise InfeasibleError(
            'clusters need distributed; install it with:  pip install "scenariokit[scale]"'
        ) from error
    if isinstance(cluster, distributed.Client):
        yield cluster
    elif isinstance(cluster, str):
        with distributed.Client(cluster) as client:
            yield client
    elif isinstance(cluster, int) and not isinstance(cluster, bool) and cluster >= 1:
        with (
            distributed.LocalCluster(
                n_workers=cluster, threads_per_worker=1, processes=True, dashboard_address=None,
            ) as local,
            distributed.Client(local) as client,
        ):  # fmt: skip
            yield client
    else:
        raise InfeasibleError(
            f"cluster = {cluster!r} is no number of processes, no address and no Dask client"
        )


def _on_cluster(client: Any, grid: Grid, waiting: Sequence[Chunk], place: Path) -> Iterator[str]:
    """Hand chunks out, a few for each worker at a time, and yield each one's file."""
    distributed: Any = importlib.import_module("distributed")
    left = iter(waiting)
    folder = str(place.absolute())

    def hand_out() -> Any:
        one = next(left, None)
        return None if one is None else client.submit(make_part, grid, one, folder, pure=False)

    workers = max(len(client.scheduler_info(n_workers=-1)["workers"]), 1)
    first = [future for _ in range(WAITING * workers) if (future := hand_out()) is not None]
    running = distributed.as_completed(first)
    for future in running:
        name = future.result()
        if not (place / name).exists():
            raise ScenarioFileError(
                f"{name} was written by a worker and is not in {place}: the folder must be one "
                "that all workers share"
            )
        following = hand_out()
        if following is not None:
            running.add(following)
        yield str(name)
