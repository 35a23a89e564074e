"""Pooling many small files, beside the plain CSV reader over the same files.

Run with ``python -m pytest -o addopts="" tests/benchmarks/test_pooling.py``.
"""

from __future__ import annotations

import csv

import pytest

from scenariokit.trials.pooling import pool
from scenariokit.trials.records import record_template

FILES = 400
PLOTS = 12


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    """Return a folder of small files, as growers would send them."""
    made = tmp_path_factory.mktemp("growers")
    for number in range(FILES):
        rows = [
            {
                "study_id": f"S{number}", "plot_id": str(plot), "rep": str(plot % 3),
                "treatment": "pots", "genotype": "early", "planting_date": "2026-05-01",
                "harvest_date": "2026-09-01", "plot_area": 2.0, "ttwp": 8.0 + plot / 7,
                "mtwp": 6.0, "ntp": 12, "nph": 11, "note": "invented",
            }
            for plot in range(PLOTS)
        ]  # fmt: skip
        (made / f"{number:04}.csv").write_text(record_template(rows), encoding="utf-8")
    return made


def plain(folder):
    rows = 0
    for path in sorted(folder.glob("*.csv")):
        with path.open(encoding="utf-8", newline="") as handle:
            rows += sum(1 for _ in csv.reader(handle)) - 1
    return rows


@pytest.mark.benchmark(group="400 files of 12 plots")
def test_pool_small_files(benchmark, folder):
    pool(folder)  # pandas and pandera are loaded once
    pooled = benchmark.pedantic(pool, args=(folder,), rounds=5)
    assert (pooled.row_count, len(pooled.files)) == (FILES * PLOTS, FILES)


@pytest.mark.benchmark(group="400 files of 12 plots")
def test_plain_csv_reader_over_the_same_files(benchmark, folder):
    assert benchmark.pedantic(plain, args=(folder,), rounds=5) == FILES * PLOTS
