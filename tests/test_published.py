from __future__ import annotations

import csv
from pathlib import Path

import pytest

FILES = sorted((Path(__file__).parent / "published").glob("*.csv"))
REQUIRED = {"source", "table", "page", "unit", "printed_digits", "status"}
STATUS = {"seen", "seen-2nd", "seen-pkg", "computed", "memory", "trade", "invented"}


def test_published_files_are_there():
    assert len(FILES) >= 10


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.name)
def test_published_every_row_names_source_status_and_digits(path):
    with path.open(newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    assert rows
    assert set(rows[0]) >= REQUIRED
    for number, row in enumerate(rows, start=2):
        assert row["source"], number
        assert row["status"] in STATUS, number
        assert row["unit"], number
        assert int(row["printed_digits"]) >= 0, number
