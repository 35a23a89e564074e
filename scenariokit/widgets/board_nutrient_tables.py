"""The tables behind the charts of the nutrient panel, as text."""

from __future__ import annotations

from collections.abc import Sequence

from scenariokit.charts.frames import Row
from scenariokit.language import number_text, tr
from scenariokit.scenario import ElementSupply

BALANCE_STEP = 8
"""Of how many days one stands in the table of the balance; the chart itself has all."""


def element_table(supply: Sequence[ElementSupply]) -> list[list[str]]:
    """Return the elements as text, headings first."""
    head = [
        tr("Element"), tr("From the water (mg/L)"), tr("From fertilisers (mg/L)"),
        tr("Allowed (mg/L)"),
    ]  # fmt: skip
    return [
        head,
        *(
            [one.element, number_text(one.from_water, ".3g"), number_text(one.from_salts, ".3g"),
             tr("{low:.3g} to {high:.3g}", low=one.low, high=one.high)]
            for one in supply
        ),
    ]  # fmt: skip


def feed_balance_table(rows: list[Row]) -> list[list[str]]:
    """Return every few days of the balance, and the harvest, as text, headings first."""
    last = max(row["day"] for row in rows)
    kept = [row for row in rows if row["day"] % BALANCE_STEP == 0 or row["day"] == last]
    return [
        [tr("Element"), tr("Day"), "mg/L", tr("% of the first filling")],
        *(
            [row["element"], f"{row['day']:.0f}",
             *("–" if row[name] is None else number_text(row[name], ".3g")
               for name in ("amount", "share"))]
            for row in kept
        ),
    ]  # fmt: skip
