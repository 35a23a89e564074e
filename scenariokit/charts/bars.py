"""Charts made of bars: the cost stack, and one outcome for every method."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scenariokit.charts.frames import Showing
from scenariokit.charts.marks import (
    INK,
    PART_COLOURS,
    dimmed,
    empty,
    finish,
    from_zero,
    marked_parameter,
    names_above,
    rows_height,
    top_parameter,
)
from scenariokit.charts.points import method_encodings
from scenariokit.language import tr
from scenariokit.scenario import COST_PARTS, part_label


def cost_stack_chart(methods: Sequence[tuple[str, str]], showing: Showing) -> Any:
    """Return what a kilogram costs, part upon part, with the sum at the end of each bar.

    Returns
    -------
    altair.LayerChart
        Reads the data source ``costs`` and the parameters ``marked`` and ``total_top``.
    """
    import altair as alt

    order = [label for _, label in methods]
    words = [tr(part_label(part)) for part in COST_PARTS]
    y = alt.Y("label:N", title=None, sort=order, axis=None)
    base = alt.Chart(empty(alt, "costs")).encode(y=y, opacity=dimmed(alt))
    bars = base.mark_bar(height=16, stroke="#ffffff", strokeWidth=1, clip=True).encode(
        x=alt.X(
            "value:Q", stack="zero", title=showing.title("cost_per_kilogram"),
            scale=from_zero(alt, "total_top"),
        ),
        color=alt.Color(
            "part:N", title=None, sort=words,
            scale=alt.Scale(domain=words, range=[PART_COLOURS[part] for part in COST_PARTS]),
            legend=alt.Legend(orient="top", columns={"expr": "width < 370 ? 2 : 3"}),
        ),
        order=alt.Order("order:Q"),
        tooltip=[
            alt.Tooltip("label:N", title=tr("Method")),
            alt.Tooltip("part:N", title=tr("Part")),
            alt.Tooltip("value:Q", title=showing.unit("cost_per_kilogram"), format=".3f"),
        ],
    )  # fmt: skip
    sums = base.mark_text(align="left", dx=5, fontSize=12, fontWeight="bold", color=INK).encode(
        x=alt.X("total:Q", scale=from_zero(alt, "total_top")),
        text=alt.Text("total:Q", format=".2f"),
    )
    chart = alt.layer(bars, sums, names_above(alt, base, "datum.order == 0")).add_params(
        marked_parameter(alt), top_parameter(alt, "total_top")
    )
    return finish(
        chart,
        tr(
            "Cost of the produce by method: growing medium, sheet, consumables, equipment, "
            "nutrients, water and labour stacked."
        ),
        rows_height(methods) + 70,
    )


def resource_chart(
    methods: Sequence[tuple[str, str]], showing: Showing, name: str, source: str
) -> Any:
    """Return one outcome of every method as bars with the number at the end.

    Parameters
    ----------
    methods : sequence of (id, label)
        In the order that fixes colour and place.
    showing : Showing
        Units of the axis.
    name : str
        The outcome.
    source : str
        Name of the data source; the parameter ``<source>_top`` ends the axis.
    """
    import altair as alt

    title, top = showing.title(name), f"{source}_top"
    chart = method_bars(alt, methods, source, title, from_zero(alt, top)).add_params(
        top_parameter(alt, top)
    )
    return finish(
        chart, tr("{title} for each method.", title=showing.title(name)), rows_height(methods)
    )


def method_bars(
    alt: Any,
    methods: Sequence[tuple[str, str]],
    source: str,
    title: str,
    scale: Any,
    values: Sequence[float] | None = None,
) -> Any:
    """Return one bar a method, its name above it and its number at the end.

    Parameters
    ----------
    alt : module
        Altair.
    methods : sequence of (id, label)
        In the order that fixes colour and place.
    source : str
        Name of the data source: rows with ``method``, ``label``, ``value`` and ``text``.
    title : str
        Of the axis.
    scale : altair.Scale
        Of the axis.
    values : sequence of float, optional
        Where the axis has marks; as it likes if left out.
    """
    colour, _ = method_encodings(alt, methods)
    axis = alt.Undefined if values is None else alt.Axis(values=list(values))
    base = alt.Chart(empty(alt, source)).encode(
        y=alt.Y("label:N", title=None, sort=[label for _, label in methods], axis=None),
        opacity=dimmed(alt),
    )
    bars = base.mark_bar(height=14, clip=True).encode(
        x=alt.X("value:Q", title=title, scale=scale, axis=axis),
        color=colour,
        tooltip=[alt.Tooltip("label:N", title=tr("Method")), alt.Tooltip("text:N", title=title)],
    )
    # A method without a value has no bar; its word stands where the bar would begin.
    words = (
        base.transform_calculate(end="datum.value == null ? 0 : datum.value")
        .mark_text(align="left", dx=5, fontSize=12, fontWeight="bold", color=INK)
        .encode(x=alt.X("end:Q", title=title, scale=scale, axis=axis), text="text:N")
    )
    return alt.layer(bars, words, names_above(alt, base)).add_params(marked_parameter(alt))
