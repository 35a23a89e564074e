"""The forest picture: one method over several studies."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scenariokit.charts.frames import Row, Showing
from scenariokit.charts.marks import (
    INK,
    METHOD_COLOURS,
    QUIET,
    empty,
    finish,
    rows_height,
    top_parameter,
)
from scenariokit.charts.trials import yield_number, yield_unit
from scenariokit.language import mark, number_text, tr
from scenariokit.trials.meta import ForestRow, MethodOverStudies

STUDY, APART, ALL, NEXT = (
    mark("one study"),
    mark("not pooled"),
    mark("all studies"),
    mark("another such study"),
)
KINDS = (STUDY, APART, ALL, NEXT)
KIND_COLOURS = (METHOD_COLOURS[0], METHOD_COLOURS[1], METHOD_COLOURS[2], METHOD_COLOURS[4])
KIND_SHAPES = ("square", "circle", "diamond", "triangle-up")


def forest_rows(one: MethodOverStudies, showing: Showing) -> list[Row]:
    """Return a row for each study of a method, for all together, and for another such study."""
    rows = [_forest_row(row, one, showing, STUDY) for row in one.rows]
    rows += [_forest_row(row, one, showing, APART) for row in one.apart if row.estimate is not None]
    if one.random is not None and one.pool is not None:
        words = tr("All studies: {size}, I² {share:.0f} %",
                   size=_size_text(one.random, one, showing), share=100 * one.pool.i_squared)  # fmt: skip
        rows.append({**_ends(one.random, one, showing), "kind": tr(ALL), "weight": 0.5,
                     "text": words})  # fmt: skip
    if one.prediction is not None:
        ends = _ends(one.prediction, one, showing)
        text = tr(
            "Another such study: {low} to {high}",
            low=_number(ends["low"], one),
            high=_number(ends["high"], one),
        )
        rows.append({**ends, "estimate": None, "kind": tr(NEXT), "weight": 0.5, "text": text})
    return [{**row, "order": order} for order, row in enumerate(rows)]


def _forest_row(row: ForestRow, one: MethodOverStudies, showing: Showing, kind: str) -> Row:
    size = _size_text(row, one, showing)
    if kind == APART or not row.weight:
        text = tr("{study}: {size}, not pooled", study=row.study, size=size)
    else:
        text = tr("{study}: {size}, weight {weight:.0f} %", study=row.study, size=size,
                  weight=100 * row.weight)  # fmt: skip
    return {**_ends(row, one, showing), "kind": tr(kind), "weight": row.weight, "text": text}


def _ends(found: Any, one: MethodOverStudies, showing: Showing) -> Row:
    return {name: _size(getattr(found, name), one, showing) for name in ("estimate", "low", "high")}


def _size(value: Any, one: MethodOverStudies, showing: Showing) -> float | None:
    if value is None:
        return None
    return float(value.m) if one.scale == "ratio" else yield_number(value, showing)


def _number(value: float | None, one: MethodOverStudies) -> str:
    return "–" if value is None else number_text(value, ".2f" if one.scale == "ratio" else ".3g")


def _size_text(found: Any, one: MethodOverStudies, showing: Showing) -> str:
    ends = _ends(found, one, showing)
    middle, low, high = (_number(ends[name], one) for name in ("estimate", "low", "high"))
    if ends["low"] is None:
        return middle
    return tr("{middle} ({low} to {high})", middle=middle, low=low, high=high)


def forest_ends(one: MethodOverStudies, rows: Sequence[Row]) -> tuple[float, float]:
    """Return the ends of the axis: all estimates, and of the widest intervals what fits.

    A ratio's axis ends at a tenth and at ten at most, or beyond the outermost
    estimate: intervals that go on are cut, their numbers are not.
    """
    values = [row[name] for row in rows for name in ("estimate", "low", "high")]
    known = [value for value in values if value is not None]
    middles = [row["estimate"] for row in rows if row["estimate"] is not None]
    if one.scale != "ratio":
        most = 1.1 * max(abs(value) for value in known) or 1.0
        return -most, most
    low = min(max(min(known), 0.1), *middles, 0.8) / 1.05
    high = max(min(max(known), 10.0), *middles, 1.25) * 1.05
    return low, high


def forest_chart(one: MethodOverStudies, showing: Showing) -> Any:
    """Return an empty forest picture of one method over several studies.

    Parameters
    ----------
    one : MethodOverStudies
        Its studies fix the height, its scale the axis.
    showing : Showing
        Unit of differences.

    Returns
    -------
    altair.LayerChart
        Reads the data source ``forest`` (columns order, estimate, low, high,
        weight, kind, text) and the parameters ``forest_low`` and ``forest_high``.
    """
    import altair as alt

    ratio = one.scale == "ratio"
    title = (
        tr("Times the yield of {common}", common=one.common)
        if ratio
        else tr("Yield beside {common} ({unit})", common=one.common, unit=yield_unit(showing))
    )
    scale = alt.Scale(
        type="log" if ratio else "linear", nice=False,
        domainMin={"expr": "forest_low"}, domainMax={"expr": "forest_high"},
    )  # fmt: skip
    y = alt.Y("order:O", title=None, axis=None)
    colour = alt.Color(
        "kind:N", title=None, scale=alt.Scale(domain=[tr(kind) for kind in KINDS], range=list(KIND_COLOURS)),
        legend=alt.Legend(orient="top", columns={"expr": "width < 370 ? 2 : 4"}),
    )  # fmt: skip
    shape = alt.Shape("kind:N", title=None, legend=alt.Legend(orient="top"),
                      scale=alt.Scale(domain=[tr(kind) for kind in KINDS], range=list(KIND_SHAPES)))  # fmt: skip
    base = alt.Chart(empty(alt, "forest")).encode(y=y)
    spans = base.mark_rule(strokeWidth=2.5, clip=True).encode(
        x=alt.X("low:Q", title=title, scale=scale), x2="high:Q", color=colour
    )
    points = base.mark_point(filled=True, clip=True, opacity=1).encode(
        x=alt.X("estimate:Q", title=title, scale=scale), color=colour, shape=shape,
        size=alt.Size("weight:Q", legend=None, scale=alt.Scale(domain=[0, 1], range=[60, 320])),
        tooltip=[alt.Tooltip("text:N", title=tr("Study")), alt.Tooltip("kind:N", title=tr("What"))],
    )  # fmt: skip
    even = (
        alt.Chart(alt.InlineData(values=[{"estimate": 1 if ratio else 0}]))
        .mark_rule(color=QUIET, strokeDash=[4, 3])
        .encode(x=alt.X("estimate:Q", scale=scale))
    )
    words: dict[str, Any] = {"align": "left", "baseline": "middle", "dy": -15, "fontSize": 12}
    place: dict[str, Any] = {"x": alt.value(0), "text": "text:N"}
    # A white edge below the names keeps them readable where lines cross them.
    edge = base.mark_text(**words, stroke="#ffffff", strokeWidth=4).encode(**place)
    names = base.mark_text(**words, color=INK).encode(**place)
    chart = alt.layer(even, edge, spans, points, names)
    return finish(
        chart.add_params(top_parameter(alt, "forest_low"), top_parameter(alt, "forest_high")),
        tr(
            "{method} against {common}, study by study with intervals, then all studies and what "
            "another such study may give. The dashed line stands where both yield alike.",
            method=one.method,
            common=one.common,
        ),
        rows_height([*one.rows, *one.apart, one.random, one.prediction]) + 40,
    )
