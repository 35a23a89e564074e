"""The charts of the board, made once and then only given new rows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping
from typing import Any

from scenariokit import units
from scenariokit.charts import (
    axis_top,
    cost_rows,
    cost_stack_chart,
    fate_chart,
    fate_rows,
    resource_chart,
    resource_rows,
    section_chart,
    section_rows,
    section_size,
    tradeoff_chart,
    tradeoff_rows,
)
from scenariokit.charts.frames import Row, Showing
from scenariokit.language import mark, number_text, tr
from scenariokit.scenario import Comparison, Evaluation
from scenariokit.widgets.chart_view import ChartView
from scenariokit.widgets.wording import Wording

RESOURCES = (
    ("water", "water_per_yield", mark("Water for the produce")),
    ("days", "autonomy", mark("Days until dry if nobody comes")),
)


TABLE_STEP = 5
"""Of how many rows of a series one stands in the table; the chart itself has all."""


def headed(wording: Wording, heading: str) -> ChartView:
    """Return a chart whose heading follows the language."""
    return wording.on(ChartView(), "heading", heading)


class BoardCharts:
    """Six linked charts; a method marked in one is marked in all.

    Parameters
    ----------
    on_mark : callable
        Called with a method's id when it is clicked.
    wording : Wording, optional
        That says the headings again in another language.
    """

    def __init__(self, on_mark: Callable[[str], None], wording: Wording | None = None) -> None:
        wording = wording or Wording()
        self.tradeoff = headed(wording, mark("Yield against cost"))
        self.costs = headed(wording, mark("What the produce costs"))
        self.fate = headed(wording, mark("Where the nutrients go"))
        self.resources = {key: headed(wording, heading) for key, _, heading in RESOURCES}
        self.section = headed(wording, mark("Cross-section, to scale"))
        self.tradeoff.add_class("sk-wide")
        self._on_mark = on_mark
        for view in self._marking():
            view.selection_field = "method"
            view.observe(self._clicked, names="selected")

    def _marking(self) -> list[ChartView]:
        return [self.tradeoff, self.costs, self.fate, *self.resources.values()]

    @property
    def widgets(self) -> list[ChartView]:
        """The charts in the order of the page."""
        return [self.tradeoff, self.costs, self.fate, self.section, *self.resources.values()]

    def _clicked(self, change: dict[str, Any]) -> None:
        picked = [one for one in change["new"] if one not in change["old"]]
        for view in self._marking():
            view.selected = list(change["new"])
        if picked:
            self._on_mark(picked[-1])

    def rebuild(self, methods: list[tuple[str, str]], showing: Showing) -> None:
        """Draw the charts anew, for other methods or other units."""
        self.tradeoff.draw(tradeoff_chart, methods, showing)
        self.costs.draw(cost_stack_chart, methods, showing)
        self.fate.draw(fate_chart, methods, showing)
        for key, name, _ in RESOURCES:
            self.resources[key].draw(resource_chart, methods, showing, name, key)
        self.rebuild_section(showing)
        known = [key for key, _ in methods]
        for view in self._marking():
            view.selected = [key for key in view.selected if key in known]

    def rebuild_section(self, showing: Showing) -> None:
        """Draw the cross-section anew, in other units."""
        self.section.draw(section_chart, showing)

    def update(self, comparison: Comparison, showing: Showing, focus: str) -> None:
        """Give every chart its new rows."""
        rows = tradeoff_rows(comparison, showing)
        self.tradeoff.update(
            {"tradeoff": rows},
            {
                "yield_top": axis_top(row["yield_high"] for row in rows),
                "cost_top": axis_top(row[end] for row in rows for end in ("cost", "cost_high")),
            },
            _table(rows, _tradeoff_headings(showing)),
        )
        stack = cost_rows(comparison, showing)
        self.costs.update(
            {"costs": stack},
            {"total_top": _room(row["total"] for row in stack)},
            _table(
                stack,
                {
                    "label": tr("Method"),
                    "part": tr("Part"),
                    "value": showing.title("cost_per_kilogram"),
                },
            ),
        )
        fates = fate_rows(comparison, showing)
        self.fate.update(
            {"fate": fates},
            {"share_top": max(120.0, axis_top(row["share"] for row in fates))},
            _table(fates, _fate_headings(showing)),
        )
        for key, name, _ in RESOURCES:
            bars = resource_rows(comparison, showing, name)
            self.resources[key].update(
                {key: bars}, {f"{key}_top": _room(row["value"] for row in bars)},
                _table(bars, {"label": tr("Method"), "text": showing.title(name)}),
            )  # fmt: skip
        self.draw_section(
            next(one for one in comparison if one.scenario.method.id == focus), showing
        )

    def draw_section(self, found: Evaluation, showing: Showing) -> None:
        """Draw the tank of one method, filled to its deepest."""
        method = found.scenario.method
        width, height = section_size(method)
        depth = float(units.magnitude(found["fullest_depth"], "cm"))
        sources = section_rows(method, depth, showing)
        self.section.heading = tr("Cross-section, to scale: {method}", method=tr(method.label))
        self.section.aspect = height / width
        self.section.update(
            sources,
            {"width_cm": width, "height_cm": height},
            _table(sources["words"], {"text": tr("Drawn")}),
        )


def thinned(rows: list[Row]) -> list[Row]:
    """Return every few rows of each series, the same places of all."""
    seen: Counter[str] = Counter()
    kept = []
    for row in rows:
        if seen[row["series"]] % TABLE_STEP == 0:
            kept.append(row)
        seen[row["series"]] += 1
    return kept


def _room(values: Any) -> float:
    """Return the end of an axis with room for the number beside the longest bar."""
    known = [value for value in values if value is not None]
    return axis_top(value * 1.12 for value in known)


def _tradeoff_headings(showing: Showing) -> dict[str, str]:
    """Return column and heading of the table of yield and cost."""
    outcomes = {
        "yield": "yield_per_area", "yield_low": "yield_low", "yield_high": "yield_high",
        "cost": "cost_per_kilogram", "cost_low": "cost_per_kilogram_low",
        "cost_high": "cost_per_kilogram_high",
    }  # fmt: skip
    titles = {column: showing.title(name) for column, name in outcomes.items()}
    return {"label": tr("Method"), **titles}


def _fate_headings(showing: Showing) -> dict[str, str]:
    """Return column and heading of the table of nutrients."""
    unit = showing.unit("n_supplied")
    return {
        "label": tr("Method"), "element": tr("Nutrient"), "share": tr("Carried off (% of what is fed)"),
        "supplied": tr("Fed ({unit})", unit=unit), "removed": tr("Carried off ({unit})", unit=unit),
    }  # fmt: skip


def _table(rows: list[Row], headings: Mapping[str, str]) -> list[list[str]]:
    """Return the rows behind a chart as text, headings first."""
    return [[*headings.values()], *([_text(row[column]) for column in headings] for row in rows)]


def _text(value: Any) -> str:
    if value is None:
        return "–"
    if isinstance(value, str):
        return value
    return number_text(value, ".2f" if abs(value) >= 0.1 or value == 0 else ".2g")
