"""Work handed out to the processes of a Dask cluster, on this machine or others."""

from __future__ import annotations

import importlib
import logging
import signal
import threading
from collections import deque
from collections.abc import Callable, Generator, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any, TypeAlias

from scenariokit.errors import InfeasibleError, ProblemsError, ScenarioKitError
from scenariokit.language import tr

Cluster: TypeAlias = Any
"""A number of processes on this machine, the address of a scheduler, or a Dask client."""
WAITING = 4
"""Tasks handed out for each worker at a time; more would only fill the scheduler's memory."""
MOST_PROCESSES = 1024


@dataclass(frozen=True)
class Refusal:
    """An error that a worker met, taken apart so that it reaches another process as it was.

    Parameters
    ----------
    kind : type
        Class of the error.
    arguments : tuple
        What it is made from.
    """

    kind: type[ScenarioKitError]
    arguments: tuple[Any, ...]

    @classmethod
    def of(cls, error: ScenarioKitError) -> Refusal:
        """Return an error taken apart."""
        if isinstance(error, ProblemsError):
            return cls(type(error), (error.problems, error.subject))
        return cls(type(error), error.args)

    def error(self) -> ScenarioKitError:
        """Return the error put together again."""
        return self.kind(*self.arguments)


def guarded(work: Callable[..., Any], task: tuple[Any, ...]) -> Any:
    """Do a task in a worker; an error of ours is a result, so that no other worker tries it."""
    try:
        return work(*task)
    except ScenarioKitError as error:
        return Refusal.of(error)


def checked_cluster(cluster: Cluster) -> None:
    """Refuse what is no cluster, or one that cannot be had, before anything is done.

    Raises
    ------
    InfeasibleError
        If `cluster` is no number of processes, no address and no client, or
        distributed is not installed.
    """
    if cluster is None:
        return
    distributed = _distributed()
    if isinstance(cluster, distributed.Client) or (isinstance(cluster, str) and cluster):
        return
    whole = isinstance(cluster, int) and not isinstance(cluster, bool)
    if not whole or not 1 <= cluster <= MOST_PROCESSES:
        raise InfeasibleError(
            tr(
                "cluster = {cluster!r} is no number of processes from 1 to {most}, no "
                "address such as 'tcp://127.0.0.1:8786', and no Dask client",
                cluster=cluster,
                most=MOST_PROCESSES,
            )
        )


def _distributed() -> Any:
    try:
        return importlib.import_module("distributed")
    except ImportError as error:
        raise InfeasibleError(
            tr('clusters need distributed; install it with:  pip install "scenariokit[scale]"')
        ) from error


@contextmanager
def _client(cluster: Cluster) -> Iterator[Any]:
    """Give a client of the cluster, and close what was opened for it."""
    distributed = _distributed()
    if isinstance(cluster, distributed.Client):
        yield cluster
    elif isinstance(cluster, str):
        try:
            client = distributed.Client(cluster, set_as_default=False)
        except (OSError, ValueError) as error:
            raise InfeasibleError(
                tr("no Dask scheduler answers at {cluster} ({error})", cluster=cluster, error=error)
            ) from error
        with client:
            yield client
    else:
        with (
            _local_cluster(distributed, cluster) as local,
            distributed.Client(local, set_as_default=False) as client,
        ):
            yield client


def _local_cluster(distributed: Any, processes: int) -> Any:
    """Return a cluster on this machine; Dask gives each worker one thread of linear algebra.

    What goes wrong is raised here; Dask's log would only repeat it, and complain of closing.
    """
    with _without_interrupts():
        return distributed.LocalCluster(
            n_workers=processes, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0",
            host="127.0.0.1", silence_logs=logging.CRITICAL,
        )  # fmt: skip


@contextmanager
def _without_interrupts() -> Iterator[None]:
    """Start processes that ignore Ctrl-C: this process hears it, and closes them in order."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return
    before = signal.signal(signal.SIGINT, signal.SIG_IGN)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)


def on_cluster(
    cluster: Cluster, work: Callable[..., Any], tasks: Iterable[tuple[Any, ...]]
) -> Generator[Any, None, None]:
    """Have tasks done by a cluster, a few for each worker at a time; yield results in order.

    Parameters
    ----------
    cluster : int, str or distributed.Client
        Which.
    work : callable
        What is done, called with each task's parts; workers import it.
    tasks : iterable of tuple
        Its arguments. They are gone through as workers become free.

    Raises
    ------
    InfeasibleError
        If the scheduler does not answer or goes away, or several workers were
        lost over one task.
    ScenarioKitError
        What a task raised.
    """
    left = iter(tasks)
    running: deque[Any] = deque()
    with _client(cluster) as client:
        try:
            while _hand_out(client, work, left, running):
                found = _result(running.popleft())
                if isinstance(found, Refusal):
                    raise found.error()
                yield found
        finally:
            if running and client.status == "running":
                client.cancel(list(running))


def _hand_out(
    client: Any, work: Callable[..., Any], left: Iterator[tuple[Any, ...]], running: deque[Any]
) -> bool:
    """Fill up what is under way, as many workers as there are by now; return whether any is."""
    wanted = WAITING * max(len(client.nthreads()), 1)
    while len(running) < wanted:
        task = next(left, None)
        if task is None:
            break
        running.append(client.submit(guarded, work, task, pure=False))
    return bool(running)


def _result(future: Any) -> Any:
    """Return what a task gave, or say what became of its workers."""
    from concurrent.futures import CancelledError

    try:
        return future.result()
    except _distributed().KilledWorker as error:
        raise InfeasibleError(
            tr(
                "several workers were lost over the same task, most likely for want of memory: take "
                "smaller chunks, or workers with more memory ({error})",
                error=error,
            )
        ) from error
    except CancelledError as error:
        raise InfeasibleError(
            tr(
                "the cluster was closed or lost before the work was done; run it again, it goes on "
                "where it stopped ({error})",
                error=error,
            )
        ) from error
