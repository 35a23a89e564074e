"""A cluster gives the numbers of one machine, and a lost worker loses nothing."""

from __future__ import annotations

import dataclasses
import importlib
import os
import signal
import threading
from concurrent.futures import CancelledError

import pandas as pd
import pytest

from scenariokit.errors import (
    InfeasibleError,
    Problem,
    RangeError,
    RecordError,
    ScenarioFileError,
    argument_error,
)
from scenariokit.scale import Grid, fold, folding, read, run
from scenariokit.scale.clusters import Refusal, _result, _without_interrupts, guarded, on_cluster
from scenariokit.uncertainty import Uncertain, Uncertainty, uniform
from scenariokit.uncertainty.running import PANEL

distributed = pytest.importorskip("distributed")
dask_config = pytest.importorskip("dask.config")
pytest.importorskip("pyarrow")

GRID = Grid(("medium_bag", "wedge_pots"), draws=4000, seed=2, outcomes=("margin_per_area",))
BURSTING = Uncertainty(
    (Uncertain("method.medium.volume_per_plant", uniform("1 L/plant", "40 L/plant")),)
)
"""A spread that its leaf allows, with draws that no pot holds."""


@pytest.fixture(scope="module")
def client():
    with (
        distributed.LocalCluster(
            n_workers=2, threads_per_worker=1, processes=True, dashboard_address="127.0.0.1:0",
            host="127.0.0.1", silence_logs="CRITICAL",
        ) as cluster,
        distributed.Client(cluster, set_as_default=False) as client,
    ):  # fmt: skip
        yield client


@pytest.fixture(scope="module")
def here(tmp_path_factory):
    folder = tmp_path_factory.mktemp("here")
    run(GRID, folder, chunk=500)
    return table(folder)


def table(folder):
    return read(folder).sort_values(["method", "draw"], ignore_index=True)


def same(folder, here):
    pd.testing.assert_frame_equal(table(folder), here, check_exact=True)


# What workers do; they read this file for it.


def double(number):
    return 2 * number


def fail_on_three(number, tries):
    """Raise on one task, as a fault of the numbers would; count its tries in a file."""
    if number == 3:
        with open(tries, "a", encoding="utf-8") as file:
            file.write("x")
        problem = Problem("draws", "3", "is too many", "2 at most", kind="range")
        raise argument_error([problem], "three")
    return number


def die(number):
    """End the worker as the system would for want of memory."""
    os.kill(os.getpid(), signal.SIGKILL)
    return number


def threads_of_linear_algebra():
    names = ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
    return [os.environ.get(name) for name in names]


# -- the same numbers ----------------------------------------------------------------


def test_run_on_a_cluster_equals_this_machine_to_the_bit(client, here, tmp_path):
    told = []
    found = run(GRID, tmp_path, chunk=500, cluster=client,
                progress=lambda done, total: told.append((done, total)))  # fmt: skip
    assert (found.parts, found.made) == (8, 8)
    assert told[-1] == (8, 8)
    same(tmp_path, here)
    assert run(GRID, tmp_path, cluster=client).made == 0


def test_run_by_the_address_of_a_scheduler(client, here, tmp_path):
    run(GRID, tmp_path, chunk=800, cluster=client.scheduler.address)
    same(tmp_path, here)


def test_run_on_processes_of_its_own_equals_this_machine_to_the_bit(here, tmp_path):
    before = signal.getsignal(signal.SIGINT)
    run(GRID, tmp_path, cluster=1)
    same(tmp_path, here)
    assert signal.getsignal(signal.SIGINT) == before


def test_fold_on_a_cluster_equals_this_machine_to_the_bit(client, monkeypatch):
    monkeypatch.setattr(folding, "STRETCH", PANEL)
    grid = dataclasses.replace(GRID, draws=3 * PANEL + 7, planting_months=(4, 9))
    pd.testing.assert_frame_equal(fold(grid, cluster=client), fold(grid), check_exact=True)
    small = dataclasses.replace(GRID, draws=100, planting_months=(4, 9))
    pd.testing.assert_frame_equal(fold(small, cluster=client), fold(small), check_exact=True)


def test_workers_use_one_thread_of_linear_algebra(client):
    """Unless the environment says how many: that is heeded."""
    expected = [one or "1" for one in threads_of_linear_algebra()]
    for found in client.run(threads_of_linear_algebra).values():
        assert found == expected


# -- what goes wrong -----------------------------------------------------------------


@pytest.mark.skipif(os.name != "posix", reason="needs signals")
def test_run_with_a_worker_killed_loses_nothing(client, here, tmp_path):
    """Batches of one chunk, so that there is work left when the worker dies."""
    pids = set(client.run(os.getpid).values())
    killed = []

    def kill(_done, _total):
        if not killed:
            killed.append(min(pids))
            os.kill(killed[0], signal.SIGKILL)

    grid = dataclasses.replace(GRID, planting_months=tuple(range(1, 13)), draws=30_000)
    found = run(grid, tmp_path, cluster=client, progress=kill)
    assert (found.parts, found.made) == (12, 12)
    assert killed
    assert killed[0] not in client.run(os.getpid).values()
    found = read(tmp_path, planting_months=[4])
    found = found[found["draw"] < 4000].sort_values(["method", "draw"], ignore_index=True)
    pd.testing.assert_frame_equal(found, here, check_exact=True)


def test_run_chunk_that_fails_stops_the_run_with_its_message(client, tmp_path):
    grid = dataclasses.replace(GRID, uncertainty=BURSTING)
    with pytest.raises(InfeasibleError) as here:
        run(grid, tmp_path / "here", chunk=500)
    with pytest.raises(InfeasibleError, match="some draws cannot be built") as there:
        run(grid, tmp_path / "there", chunk=500, cluster=client)
    assert str(there.value) == str(here.value)


def test_on_cluster_error_is_raised_as_it_was_and_not_tried_again(client, tmp_path):
    tries = tmp_path / "tries"
    found = []
    results = on_cluster(client, fail_on_three, ((n, str(tries)) for n in range(50)))
    with pytest.raises(RangeError) as caught:
        found.extend(results)
    assert found == [0, 1, 2]
    assert str(caught.value) == "three: draws = 3: is too many; allowed: 2 at most"
    assert caught.value.problems[0].field == "draws"
    assert tries.read_text() == "x"


def test_on_cluster_gives_results_in_order_and_hands_out_a_few_at_a_time(client):
    client.wait_for_workers(2, timeout=30)
    taken = []

    def tasks():
        for number in range(60):
            taken.append(number)
            yield (number,)

    results = on_cluster(client, double, tasks())
    assert next(results) == 0
    assert len(taken) == 8  # four for each of two workers
    assert list(results) == [2 * number for number in range(1, 60)]


def test_on_cluster_worker_lost_again_and_again_is_said(client, monkeypatch):
    monkeypatch.setattr(client.cluster.scheduler, "allowed_failures", 0)
    with pytest.raises(InfeasibleError, match="most likely for want of memory"):
        list(on_cluster(client, die, [(1,)]))
    client.wait_for_workers(2, timeout=30)


def test_result_of_a_cluster_that_is_gone_is_said():
    class Future:
        def result(self):
            raise CancelledError("lost")

    with pytest.raises(InfeasibleError, match="run it again, it goes on"):
        _result(Future())


def test_run_where_no_scheduler_answers_is_said(tmp_path):
    with (
        dask_config.set({"distributed.comm.timeouts.connect": "300ms"}),
        pytest.raises(InfeasibleError, match=r"no Dask scheduler answers at tcp://127\.0\.0\.1:9"),
    ):
        run(GRID, tmp_path, cluster="tcp://127.0.0.1:9")


@pytest.mark.parametrize("cluster", [0, -1, True, 2.5, ["here"], "", 5000])
def test_run_cluster_that_is_none_is_refused(tmp_path, cluster):
    with pytest.raises(InfeasibleError, match="is no number of processes"):
        run(GRID, tmp_path / "new", cluster=cluster)
    assert not (tmp_path / "new").exists()
    with pytest.raises(InfeasibleError, match="is no number of processes"):
        fold(GRID, cluster=cluster)


def test_run_without_distributed_says_how_to_install(tmp_path, monkeypatch):
    def missing(name):
        raise ImportError(name)

    monkeypatch.setattr(importlib, "import_module", missing)
    with pytest.raises(InfeasibleError, match=r"scenariokit\[scale\]"):
        run(GRID, tmp_path, cluster=1)


def test_workers_started_in_another_thread_leave_its_signals_alone():
    """A notebook may run it beside its kernel, where signals cannot be set."""
    seen = []

    def start():
        with _without_interrupts():
            seen.append(signal.getsignal(signal.SIGINT))

    before = signal.getsignal(signal.SIGINT)
    other = threading.Thread(target=start)
    other.start()
    other.join()
    with _without_interrupts():
        seen.append(signal.getsignal(signal.SIGINT))
    assert seen == [before, signal.SIG_IGN]
    assert signal.getsignal(signal.SIGINT) == before


def test_guarded_passes_results_and_takes_errors_apart():
    assert guarded(double, (4,)) == 8
    refusal = guarded(fail_on_three, (3, os.devnull))
    assert isinstance(refusal, Refusal)
    assert isinstance(refusal.error(), RangeError)


@pytest.mark.parametrize(
    "error",
    [
        InfeasibleError("cannot be"),
        ScenarioFileError("full"),
        RecordError([Problem("a", "b", "c"), Problem("d", "e", "f")], "both"),
    ],
)
def test_refusal_gives_the_error_back(error):
    again = Refusal.of(error).error()
    assert type(again) is type(error)
    assert str(again) == str(error)
