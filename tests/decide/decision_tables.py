"""Published and hand-worked decision tables, read from their file."""

from __future__ import annotations

import csv
from pathlib import Path

with (Path(__file__).parents[1] / "published" / "decision_tables.csv").open(
    newline="", encoding="utf-8"
) as _file:
    ROWS = list(csv.DictReader(_file))


def rows_of(case: str, quantity: str) -> list[tuple[str, float, float]]:
    """Return option, value and half a unit of the last printed digit of each row."""
    found = [
        (row["option"], float(row["value"]), 0.5 * 10.0 ** -int(row["printed_digits"]))
        for row in ROWS
        if (row["case"], row["quantity"]) == (case, quantity)
    ]
    assert found, (case, quantity)
    return found
