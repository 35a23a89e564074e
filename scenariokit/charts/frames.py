"""From a comparison to the rows that a chart draws; shaping, no arithmetic of the field."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from scenariokit import units
from scenariokit.language import mark, number_text, tr
from scenariokit.parameters import UnitSystem
from scenariokit.scenario import COST_PARTS, OUTCOMES, Comparison, part_label, shown

Row = dict[str, Any]
SHARES = (("n", mark("Nitrogen")), ("p", mark("Phosphorus")), ("k", mark("Potassium")))


@dataclass(frozen=True)
class Showing:
    """How a person reads numbers: unit system, and money at a rate.

    Parameters
    ----------
    system : {'metric', 'us'}
        Which unit of each outcome.
    currency : str
        The currency shown.
    rate : float
        Money shown for one unit of the price lists' currency.
    """

    system: UnitSystem = "metric"
    currency: str = "EUR"
    rate: float = 1.0

    def number(self, found: Any, name: str) -> float | None:
        """Return an outcome as this person reads it, or None where it has no value."""
        value = float(shown(found[name], OUTCOMES[name], self.system, self.rate))
        return None if math.isnan(value) else value

    def unit(self, name: str) -> str:
        """Return the unit of an outcome as this person reads it."""
        return units.unit_label(OUTCOMES[name].shown_unit(self.system), self.currency)

    def title(self, name: str) -> str:
        """Return label and unit of an outcome, for an axis."""
        unit = self.unit(name)
        label = tr(OUTCOMES[name].label)
        return f"{label} ({unit})" if unit else label


def axis_top(values: Iterable[float | None]) -> float:
    """Return a round end for an axis that begins at zero, just above the largest value.

    It moves in coarse steps, so that an axis stands still while a slider moves.
    """
    largest = max((value for value in values if value is not None), default=0.0)
    if largest <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(largest))
    steps = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0)
    return next(float(f"{step * power:.6g}") for step in steps if step * power >= largest * 1.02)


def tradeoff_rows(comparison: Comparison, showing: Showing) -> list[Row]:
    """Return one row per method: yield and cost, each with its range."""
    return [
        {
            "method": found.scenario.method.id,
            "label": tr(found.scenario.method.label),
            "yield": showing.number(found, "yield_per_area"),
            "yield_low": showing.number(found, "yield_low"),
            "yield_high": showing.number(found, "yield_high"),
            "cost": showing.number(found, "cost_per_kilogram"),
            "cost_low": showing.number(found, "cost_per_kilogram_low"),
            "cost_high": showing.number(found, "cost_per_kilogram_high"),
        }
        for found in comparison
    ]


def cost_rows(comparison: Comparison, showing: Showing) -> list[Row]:
    """Return one row per method and part of its cost, in the order of the stack."""
    rows = []
    for found in comparison:
        total = showing.number(found, "cost_per_kilogram")
        for order, part in enumerate(COST_PARTS):
            rows.append(
                {
                    "method": found.scenario.method.id,
                    "label": tr(found.scenario.method.label),
                    "part": tr(part_label(part)),
                    "order": order,
                    "value": showing.number(found, f"cost_{part}"),
                    "total": total if order == 0 else None,
                }
            )
    return rows


def resource_rows(comparison: Comparison, showing: Showing, name: str) -> list[Row]:
    """Return one row per method with a single outcome and its text."""
    rows = []
    for found in comparison:
        value = showing.number(found, name)
        digits = OUTCOMES[name].digits
        text = tr("none") if value is None else number_text(value, f".{digits}f")
        rows.append(
            {
                "method": found.scenario.method.id,
                "label": tr(found.scenario.method.label),
                "value": value,
                "text": text,
            }
        )
    return rows


def fate_rows(comparison: Comparison, showing: Showing) -> list[Row]:
    """Return one row per method and nutrient: which share of what is fed the produce carries off."""
    rows = []
    for found in comparison:
        for short, word in SHARES:
            rows.append(
                {
                    "method": found.scenario.method.id,
                    "label": tr(found.scenario.method.label),
                    "element": tr(word),
                    "share": showing.number(found, f"{short}_share"),
                    "supplied": showing.number(found, f"{short}_supplied"),
                    "removed": showing.number(found, f"{short}_removed"),
                }
            )
    return rows
