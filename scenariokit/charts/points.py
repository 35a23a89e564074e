"""Charts made of points: yield against cost, and where the nutrients go."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scenariokit.charts.frames import Showing
from scenariokit.charts.marks import (
    INK,
    METHOD_COLOURS,
    METHOD_SHAPES,
    QUIET,
    dimmed,
    empty,
    finish,
    from_zero,
    marked_parameter,
    names_above,
    rows_height,
    same,
    top_parameter,
)
from scenariokit.language import tr

ELEMENT_COLOURS = ("#3f5fa8", "#c88400", "#7a3b69")
"""Of nitrogen, phosphorus and potassium."""


def method_encodings(alt: Any, methods: Sequence[tuple[str, str]], legend: Any = None) -> Any:
    """Return colour and shape of each method; both say the same, so one may be lost."""
    words = [label for _, label in methods]
    colours, shapes = list(METHOD_COLOURS[: len(words)]), list(METHOD_SHAPES[: len(words)])
    colour = alt.Color(
        "label:N", title=None, scale=alt.Scale(domain=words, range=colours), legend=legend
    )
    shape = alt.Shape(
        "label:N", title=None, scale=alt.Scale(domain=words, range=shapes), legend=legend
    )
    return colour, shape


def tradeoff_chart(methods: Sequence[tuple[str, str]], showing: Showing) -> Any:
    """Return yield against cost per kilogram, each with its range, named beside the point.

    Parameters
    ----------
    methods : sequence of (id, label)
        In the order that fixes colour and shape.
    showing : Showing
        Units and currency of the axes.

    Returns
    -------
    altair.LayerChart
        Reads the data source ``tradeoff`` and the parameters ``marked``,
        ``yield_top`` and ``cost_top``.
    """
    import altair as alt

    legend = alt.Legend(
        orient="top", columns={"expr": "width < 500 ? 1 : 2"}, symbolSize=110, symbolStrokeWidth=0
    )
    colour, shape = method_encodings(alt, methods, legend)
    x = alt.X("yield:Q", title=showing.title("yield_per_area"), scale=from_zero(alt, "yield_top"))
    y = alt.Y("cost:Q", title=showing.title("cost_per_kilogram"), scale=from_zero(alt, "cost_top"))
    base = alt.Chart(empty(alt, "tradeoff")).encode(color=colour, opacity=dimmed(alt))
    across = base.mark_rule(strokeWidth=2, clip=True).encode(
        x=alt.X("yield_low:Q"), x2="yield_high:Q", y=y
    )
    # A low yield of zero leaves the cost without an upper end: the line runs out of the chart.
    up = (
        base.transform_calculate(cost_end="datum.cost_high == null ? cost_top : datum.cost_high")
        .mark_rule(strokeWidth=2, clip=True)
        .encode(x=x, y=alt.Y("cost_low:Q"), y2="cost_end:Q")
    )
    number = alt.Tooltip
    points = base.mark_point(filled=True, size=150, stroke="#ffffff", strokeWidth=1).encode(
        x=x,
        y=y,
        shape=shape,
        tooltip=[
            alt.Tooltip("label:N", title=tr("Method")),
            number("yield:Q", title=showing.title("yield_per_area"), format=".2f"),
            number("yield_low:Q", title=showing.title("yield_low"), format=".2f"),
            number("yield_high:Q", title=showing.title("yield_high"), format=".2f"),
            number("cost:Q", title=showing.title("cost_per_kilogram"), format=".2f"),
        ],
    )
    names = (
        base.transform_filter("indexof(marked, datum.method) >= 0")
        .mark_text(align="left", dx=9, dy=-9, fontSize=12, fontWeight="bold")
        .encode(x=x, y=y, text="label:N", color=alt.value(INK))
    )
    chart = alt.layer(across, up, points, names).add_params(
        marked_parameter(alt), top_parameter(alt, "yield_top"), top_parameter(alt, "cost_top")
    )
    return finish(
        chart,
        tr(
            "Yield per tank area against cost per kilogram of each method, each with its range. "
            "Down and to the right is better."
        ),
        300 + 18 * ((len(methods) + 1) // 2),
    )


def fate_chart(methods: Sequence[tuple[str, str]], showing: Showing) -> Any:
    """Return which share of the nitrogen, phosphorus and potassium fed leaves with the produce.

    Returns
    -------
    altair.LayerChart
        Reads the data source ``fate`` and the parameters ``marked`` and ``share_top``.
    """
    import altair as alt

    order = [label for _, label in methods]
    elements, unit = [tr("Nitrogen"), tr("Phosphorus"), tr("Potassium")], showing.unit("n_supplied")
    base = alt.Chart(empty(alt, "fate")).encode(
        y=alt.Y("label:N", title=None, sort=order, axis=None),
        opacity=dimmed(alt),
    )
    points = base.mark_point(filled=True, size=110, clip=True).encode(
        x=alt.X(
            "share:Q", title=tr("Carried off in the produce (% of what is fed)"),
            scale=from_zero(alt, "share_top"),
        ),
        color=alt.Color(
            "element:N", title=None,
            scale=alt.Scale(domain=elements, range=list(ELEMENT_COLOURS)),
            legend=alt.Legend(orient="top"),
        ),
        shape=alt.Shape(
            "element:N", title=None,
            scale=alt.Scale(domain=elements, range=["circle", "square", "triangle-up"]),
            legend=alt.Legend(orient="top"),
        ),
        tooltip=[
            alt.Tooltip("label:N", title=tr("Method")),
            alt.Tooltip("element:N", title=tr("Nutrient")),
            alt.Tooltip("share:Q", title=tr("% carried off"), format=".0f"),
            alt.Tooltip("supplied:Q", title=tr("Fed ({unit})", unit=unit), format=".3~g"),
            alt.Tooltip("removed:Q", title=tr("Carried off ({unit})", unit=unit), format=".3~g"),
        ],
    )  # fmt: skip
    limit = (
        alt.Chart(alt.InlineData(values=[{"share": 100}]))
        .mark_rule(strokeDash=[5, 4], color=QUIET, strokeWidth=1.5)
        .encode(x="share:Q")
    )
    names = names_above(alt, base, same("element", elements[0]))
    chart = alt.layer(limit, points, names).add_params(
        marked_parameter(alt), top_parameter(alt, "share_top")
    )
    return finish(
        chart,
        tr(
            "Share of the nitrogen, phosphorus and potassium fed that leaves with the produce. "
            "Right of the dashed line at 100 % the crop takes more than it is fed."
        ),
        rows_height(methods) + 24,
    )
