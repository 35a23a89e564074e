"""Colours, shapes and the parts that every chart shares.

The colours are our own. They differ in lightness as well as hue, so that they stay
apart for people who do not see red or green, and a shape or a label says the same
thing a second time.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from typing import Any

from scenariokit.language import signs

INK = "#1d2b2a"
QUIET = "#5f706c"
GRID = "#e3e9e6"

METHOD_COLOURS = (
    "#107e83", "#c88400", "#960048", "#973612", "#3e3c9a", "#72995b", "#cf66ce", "#11200e",
)  # fmt: skip
METHOD_SHAPES = (
    "circle", "square", "triangle-up", "diamond", "cross", "triangle-down", "triangle-left",
    "triangle-right",
)  # fmt: skip

PART_COLOURS = {
    "planting": "#e0b23c",
    "medium": "#4a3018",
    "sheet": "#cdbfa6",
    "consumables": "#ac4414",
    "equipment": "#4a5568",
    "nutrients": "#85a350",
    "water": "#3f8fb5",
    "labour": "#d9b3c9",
}

MARKED = "marked"
"""Name of the chart parameter that holds the marked methods, in every chart."""

IS_MARKED = "length(marked) == 0 || indexof(marked, datum.method) >= 0"


def empty(alt: Any, name: str) -> Any:
    """Return a named data source without rows; the rows are sent when they change."""
    return alt.NamedData(name=name)


def marked_parameter(alt: Any) -> Any:
    """Return the parameter that holds the marked methods."""
    return alt.param(name=MARKED, value=[])


def top_parameter(alt: Any, name: str) -> Any:
    """Return a parameter that holds the end of an axis."""
    return alt.param(name=name, value=1)


def from_zero(alt: Any, top: str) -> Any:
    """Return a scale from zero to the parameter called `top`."""
    return alt.Scale(domainMin=0, domainMax={"expr": top}, nice=False, zero=True)


def same(column: str, text: str) -> str:
    """Return the condition that a row's column holds a text, whatever signs are in it."""
    return f"datum.{column} == {json.dumps(text)}"


def dimmed(alt: Any) -> Any:
    """Return the opacity of a mark: full if its method is marked or none is."""
    return alt.condition(IS_MARKED, alt.value(1.0), alt.value(0.22))


def names_above(alt: Any, base: Any, only: str = "") -> Any:
    """Return the methods' names, each above its own row, so that no width is lost to them.

    Parameters
    ----------
    alt : module
        Altair.
    base : altair.Chart
        With the rows' place on the vertical axis.
    only : str
        Which rows are named, where there are several for a method.
    """
    if only:
        base = base.transform_filter(only)
    return base.mark_text(align="left", baseline="middle", dy=-15, fontSize=12, color=INK).encode(
        x=alt.value(0), text="label:N"
    )


ROW_HEIGHT = 44
"""Pixels for a name and the bar or points below it."""


def rows_height(methods: Sequence[Any]) -> int:
    """Return the height of a chart with one row for each method."""
    return ROW_HEIGHT * max(len(methods), 2)


def number_locale() -> dict[str, Any]:
    """Return the settings by which a chart writes numbers as the language in use does."""
    decimal, group = signs()
    if (decimal, group) == (".", ","):
        return {}
    number = {"decimal": decimal, "thousands": group, "grouping": [3], "currency": ["", ""]}
    return {"locale": {"number": number}}


def finish(chart: Any, description: str, height: int) -> Any:
    """Return `chart` with our type, grid and size; width follows its place on the page."""
    return (
        chart.properties(width="container", height=height, description=description)
        .configure(
            font="system-ui, sans-serif", background="#ffffff", padding=6, **number_locale()
        )
        .configure_axis(
            labelColor=INK, titleColor=INK, gridColor=GRID, domainColor=QUIET, tickColor=QUIET,
            labelFontSize=12, titleFontSize=12, titleFontWeight="normal", labelLimit=190,
            labelOverlap="greedy", tickCount=6,
        )
        .configure_legend(
            labelColor=INK, titleColor=INK, labelFontSize=12, titleFontSize=12, labelLimit=320,
        )
        .configure_view(stroke=None)
    )  # fmt: skip
