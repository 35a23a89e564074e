"""A cross-section of the tank, to scale: water, container, medium, sheet and plants."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.charts.marks import INK, finish
from scenariokit.language import mark, number_text, tr
from scenariokit.scenario import Method

Row = dict[str, Any]
WALL = 0.8
"""Thickness of the drawn wall, in cm; drawn only, nothing is computed with it."""
SPROUT = 9.0
"""Height of a drawn sprout above the medium, in cm; full-grown leaves would hide the tank."""

PARTS = (
    mark("tank"), mark("water"), mark("container"), mark("growing medium"), mark("sheet"),
    mark("plant"),
)  # fmt: skip
_FILL = {
    "tank": "#4a5568",
    "water": "#9fd0e6",
    "container": "#f2ede4",
    "growing medium": "#a07a55",
    "sheet": "#d08a00",
    "plant": "#2e6b1e",
}


def _first(value: Any) -> float:
    """Return the number of a leaf; of an ensemble the middle one."""
    return float(np.median(value.magnitude))


def _pitch(method: Method) -> tuple[float, int]:
    """Return the distance between containers and how many are drawn."""
    box = method.container
    footprint = _first(box.plants) / _first(method.plants_per_area) * 1e4
    breadth = max(_first(box.width), 0.1)
    pitch = max(footprint / breadth, _first(box.length) + 0.5)
    return pitch, 3 if pitch < 18 else 2 if pitch < 45 else 1


def section_size(method: Method) -> tuple[float, float]:
    """Return width and height of the drawing in cm."""
    pitch, count = _pitch(method)
    box = method.container
    top = max(
        _first(method.level.rim),
        _first(box.base_height) + _first(box.height),
        _first(box.base_height) + _first(box.medium_height) + SPROUT,
    )
    return pitch * count + 2 * WALL, WALL + top + 2


def _rect(part: str, x: float, x2: float, y: float, y2: float) -> Row:
    return {"part": tr(part), "x": x, "x2": x2, "y": y, "y2": y2}


def section_rows(method: Method, depth: float, showing: Showing) -> dict[str, list[Row]]:
    """Return the rectangles, lines and words of the cross-section; the tank's floor is at zero.

    Parameters
    ----------
    method : Method
        What is drawn; measures in cm.
    depth : float
        Depth of the water to draw, in cm.
    showing : Showing
        In which unit the words give measures.

    Returns
    -------
    dict
        Data sources ``boxes``, ``threads`` and ``words``.
    """
    pitch, count = _pitch(method)
    width, box = pitch * count + 2 * WALL, method.container
    rim, base = _first(method.level.rim), _first(box.base_height)
    has_tank = method.level.regime != "none"
    boxes, threads = [], []
    words = []
    if has_tank:
        boxes += [_rect("water", WALL, width - WALL, 0, depth)]
        boxes += [
            _rect("tank", 0, width, -WALL, 0),
            _rect("tank", 0, WALL, -WALL, rim),
            _rect("tank", width - WALL, width, -WALL, rim),
        ]
        text = tr("water {depth}", depth=_measure(depth, showing))
        words.append({"x": WALL + 0.4, "y": depth + 0.2, "text": text})
    for index in range(count):
        left = WALL + index * pitch + (pitch - _first(box.length)) / 2
        right = left + _first(box.length)
        filled, inset = _first(box.medium_height), min(0.3, (right - left) / 10)
        boxes.append(_rect("container", left, right, base, base + _first(box.height)))
        if method.medium is not None or not has_tank:
            boxes.append(_rect("growing medium", left + inset, right - inset, base, base + filled))
        if method.sheet is not None:
            threads += _sheet_thread(index, left, right, base + _first(box.height))
        threads += _sprouts(index, left, right, base + filled, _first(box.plants))
    return {"boxes": boxes, "threads": threads, "words": words}


def _sheet_thread(index: int, left: float, right: float, top: float) -> list[Row]:
    """Return the path of a sheet: from the floor up one side, over, and down the other."""
    path = [
        (left - 0.25, 0),
        (left - 0.25, top + 0.2),
        (right + 0.25, top + 0.2),
        (right + 0.25, 0),
    ]
    return [
        {"part": tr("sheet"), "piece": f"sheet-{index}", "order": order, "x": x, "y": y}
        for order, (x, y) in enumerate(path)
    ]


def _sprouts(index: int, left: float, right: float, soil: float, plants: float) -> list[Row]:
    """Return a small forked sprout for each plant that the section cuts, at most four."""
    count = int(min(max(round(plants**0.5), 1), 4))
    rows = []
    for number in range(count):
        x = left + (right - left) * (number + 0.5) / count
        strokes = (
            ((x, soil - min(1, soil)), (x, soil + SPROUT * 0.6), (x - 1.6, soil + SPROUT)),
            ((x, soil + SPROUT * 0.6), (x + 1.6, soil + SPROUT * 0.95)),
            ((x, soil + SPROUT * 0.3), (x + 1.5, soil + SPROUT * 0.5)),
        )
        for piece, stroke in enumerate(strokes):
            rows += [
                {
                    "part": tr("plant"),
                    "piece": f"plant-{index}-{number}-{piece}",
                    "order": order,
                    "x": a,
                    "y": b,
                }
                for order, (a, b) in enumerate(stroke)
            ]
    return rows


def _measure(centimetres: float, showing: Showing) -> str:
    if showing.system == "us":
        inches = float(units.quantity(centimetres, "cm").m_as("inch"))
        return f"{number_text(inches, '.1f')} in"
    return f"{number_text(centimetres, '.1f')} cm"


def section_chart(showing: Showing) -> Any:
    """Return the empty drawing; one centimetre is as long across as it is high.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``boxes``, ``threads`` and ``words`` and the
        parameters ``width_cm`` and ``height_cm``. Its frame must be given the
        shape height_cm : width_cm.
    """
    import altair as alt

    from scenariokit.charts.marks import empty, top_parameter

    inch = showing.system == "us"
    per_unit = "datum.value / 2.54" if inch else "datum.value"
    x = alt.X(
        "x:Q", title=None, axis=None,
        scale=alt.Scale(domainMin=0, domainMax={"expr": "width_cm"}, nice=False, zero=False),
    )  # fmt: skip
    y = alt.Y(
        "y:Q", title=tr("Height ({unit})", unit='in' if inch else 'cm'),
        axis=alt.Axis(labelExpr=f"format({per_unit}, '.0f')", grid=False),
        scale=alt.Scale(domainMin=-WALL, domainMax={"expr": f"height_cm - {WALL}"}, nice=False,
                        zero=False),
    )  # fmt: skip
    colours = alt.Color(
        "part:N", title=None,
        scale=alt.Scale(domain=[tr(part) for part in PARTS], range=[_FILL[part] for part in PARTS]),
        legend=alt.Legend(orient="bottom", columns=3, symbolType="square"),
    )  # fmt: skip
    tooltip = alt.Tooltip("part:N", title=tr("Part"))
    boxes = (
        alt.Chart(empty(alt, "boxes"))
        .mark_rect(stroke=INK, strokeWidth=0.6, clip=True)
        .encode(x=x, x2="x2:Q", y=y, y2="y2:Q", color=colours, tooltip=tooltip)
    )
    threads = (
        alt.Chart(empty(alt, "threads"))
        .mark_line(strokeWidth=3, clip=True, strokeJoin="round", strokeCap="round")
        .encode(x=x, y=y, color=colours, detail="piece:N", order="order:Q", tooltip=tooltip)
    )
    words = (
        alt.Chart(empty(alt, "words"))
        .mark_text(fontSize=12, fontWeight="bold", color=INK, baseline="bottom", align="left")
        .encode(x=x, y=y, text="text:N")
    )
    chart = alt.layer(boxes, threads, words).add_params(
        top_parameter(alt, "width_cm"), top_parameter(alt, "height_cm")
    )
    return finish(chart, tr("Cross-section of the tank, to scale."), 260)
