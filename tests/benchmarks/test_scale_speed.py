"""A large grid on one process beside one and two Dask workers, and what it costs as it grows.

Ratios are measured in one run, on a machine that does nothing else; two workers of two cores
should take no more than a 1.7th of the time of one. Run with
``python -m pytest -s -o addopts="" tests/benchmarks/test_scale_speed.py``.
"""

from __future__ import annotations

import dataclasses
import itertools
import os
import time
import tracemalloc

import pandas as pd
import pytest

from scenariokit.scale import Grid, fold, read, run, summarise
from scenariokit.widgets.board_state import DEFAULT_METHODS

distributed = pytest.importorskip("distributed")
pytest.importorskip("pyarrow")

GRID = Grid(tuple(DEFAULT_METHODS), planting_months=tuple(range(1, 13)), draws=65_536)
SMALL = dataclasses.replace(GRID, planting_months=(4,), draws=512)
ROUNDS = 1 if os.environ.get("CI") else 3


@pytest.fixture(scope="module", params=[1, 2])
def workers(request):
    with client_of(request.param) as client:
        yield client


def client_of(count):
    """Return a client of warm workers: what a long run has after its first second."""
    cluster = distributed.LocalCluster(
        n_workers=count, threads_per_worker=1, dashboard_address="127.0.0.1:0", host="127.0.0.1",
        silence_logs="CRITICAL",
    )  # fmt: skip
    client = distributed.Client(cluster, set_as_default=False)
    client.run(fold, SMALL)
    return Both(cluster, client)


class Both:
    """A cluster and its client, closed together."""

    def __init__(self, cluster, client):
        self.cluster, self.client = cluster, client

    def __enter__(self):
        return self.client

    def __exit__(self, *_):
        self.client.close()
        self.cluster.close()


@pytest.fixture
def folders(tmp_path):
    """Return new folders, one after another."""
    return (tmp_path / f"run-{number}" for number in itertools.count())


def seconds(work):
    begun = time.perf_counter()
    work()
    return time.perf_counter() - begun


@pytest.mark.benchmark(group="6 methods, 12 months, 65,536 draws to Parquet")
def test_run_in_this_process(benchmark, folders):
    found = benchmark.pedantic(lambda: run(GRID, next(folders)), rounds=ROUNDS, warmup_rounds=1)
    assert found.made == 12


@pytest.mark.benchmark(group="6 methods, 12 months, 65,536 draws to Parquet")
def test_run_on_workers(benchmark, folders, workers):
    found = benchmark.pedantic(
        lambda: run(GRID, next(folders), cluster=workers), rounds=ROUNDS, warmup_rounds=1
    )
    assert found.made == 12


@pytest.mark.benchmark(group="6 methods, 12 months, 65,536 draws, summaries only")
def test_fold_in_this_process(benchmark):
    assert len(benchmark.pedantic(lambda: fold(GRID), rounds=ROUNDS)) == 72


@pytest.mark.benchmark(group="6 methods, 12 months, 65,536 draws, summaries only")
def test_fold_on_workers(benchmark, workers):
    found = benchmark.pedantic(lambda: fold(GRID, cluster=workers), rounds=ROUNDS)
    assert len(found) == 72


def test_two_workers_beside_one(folders, capsys):
    """Turn about, so that what else the machine does falls on both; the best of each counts."""
    with client_of(1) as one, client_of(2) as two:
        alone, both = [], []
        for _ in range(ROUNDS):
            alone.append(seconds(lambda: run(GRID, next(folders), cluster=one)))
            both.append(seconds(lambda: run(GRID, next(folders), cluster=two)))
    here, there = next(folders), next(folders)
    run(SMALL, here)
    with client_of(2) as two:
        run(SMALL, there, cluster=two)
    with capsys.disabled():
        print(f"\none worker {min(alone):.2f} s, two {min(both):.2f} s, "
              f"ratio {min(alone) / min(both):.2f}; {GRID.size / 1e6:.2f} million scenarios")  # fmt: skip
    pd.testing.assert_frame_equal(read(here), read(there), check_exact=True)


def test_time_grows_with_the_draws(capsys):
    """Seconds for a million scenarios, which stay what they are as draws grow."""
    each = []
    for power in (18, 20, 21):
        grid = dataclasses.replace(GRID, planting_months=(4,), draws=2**power)
        each.append(seconds(lambda grid=grid: fold(grid)) / (grid.size / 1e6))
    with capsys.disabled():
        said = ", ".join(
            f"2^{power}: {one:.3f}" for power, one in zip((18, 20, 21), each, strict=True)
        )
        print(f"\nseconds for a million scenarios, by draws: {said}")
    assert all(one > 0 for one in each)


@pytest.mark.parametrize("work", ["run", "fold"])
def test_memory_does_not_grow_with_the_draws(work, folders):
    """Chunks and blocks are of one size: four times the draws take no more memory."""
    peaks = []
    for draws in (2**17, 2**19):
        grid = dataclasses.replace(GRID, planting_months=(4,), draws=draws)
        run(SMALL, next(folders))
        tracemalloc.start()
        if work == "run":
            run(grid, next(folders))
        else:
            fold(grid)
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
    assert peaks[1] < 1.2 * peaks[0]


@pytest.mark.benchmark(group="summary of 4 million draws in files")
def test_summarise_one_outcome(benchmark, folders):
    folder = next(folders)
    run(GRID, folder)
    assert len(benchmark.pedantic(lambda: summarise(folder, "margin_per_area"), rounds=2)) == 72
