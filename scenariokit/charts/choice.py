"""Charts for choosing: two outcomes with their ranges, shares, swings, crossings, and a map."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from scenariokit.charts.bars import method_bars
from scenariokit.charts.frames import Showing, axis_top
from scenariokit.charts.marks import (
    INK,
    METHOD_COLOURS,
    QUIET,
    dimmed,
    empty,
    finish,
    marked_parameter,
    rows_height,
    same,
    top_parameter,
)
from scenariokit.charts.points import method_encodings
from scenariokit.language import mark, tr

ON_FRONT, BEATEN, RULED_OUT = (
    mark("not beaten in both"),
    mark("beaten in both"),
    mark("ruled out by a limit"),
)
PLACES = (ON_FRONT, BEATEN, RULED_OUT)
LOW_END, HIGH_END = mark("at its low end"), mark("at its high end")
END_COLOURS = {LOW_END: "#3f8fb5", HIGH_END: "#ac4414"}
SWING_ROW = 40
SMALLEST = 1e-100
"""What is nearer to zero than this is zero to an axis."""


def axis_span(values: Iterable[float | None]) -> tuple[float, float]:
    """Return round ends for an axis that holds zero and all values; negative ones too.

    Examples
    --------
    >>> axis_span([-0.7, 3.9])
    (-0.8, 4.0)
    >>> axis_span([None])
    (0.0, 1.0)
    """
    known = [value for value in values if value is not None and abs(value) > SMALLEST]
    below = [-value for value in known if value < 0]
    above = [value for value in known if value > 0]
    low = -axis_top(below) if below else 0.0
    return low, axis_top(above) if above or not below else 0.0


def between(alt: Any, low: str, high: str) -> Any:
    """Return a scale from the parameter called `low` to the one called `high`."""
    return alt.Scale(
        domainMin={"expr": low}, domainMax={"expr": high}, nice=False, zero=False, clamp=False
    )


def _ends(alt: Any, *names: str) -> list[Any]:
    return [top_parameter(alt, name) for name in names]


def _zero_line(alt: Any, channel: str, title: str, scale: Any) -> Any:
    at = alt.X if channel == "x" else alt.Y  # of the same title, or both would be written
    return (
        alt.Chart(alt.InlineData(values=[{"zero": 0}]))
        .mark_rule(color=QUIET, strokeWidth=1, clip=True)
        .encode(**{channel: at("zero:Q", title=title, scale=scale)})
    )


def front_chart(methods: Sequence[tuple[str, str]], showing: Showing, x: str, y: str) -> Any:
    """Return two outcomes of every method against each other, each with its range.

    Parameters
    ----------
    methods : sequence of (id, label)
        In the order that fixes colour and shape.
    showing : Showing
        Units and currency of the axes.
    x, y : str
        Names of the two outcomes.

    Returns
    -------
    altair.LayerChart
        Reads the data source ``front`` (rows with ``method``, ``label``,
        ``place`` of `PLACES`, ``why``, and ``x``, ``x_low``, ``x_high``, ``y``,
        ``y_low``, ``y_high``) and the parameters ``marked``, ``front_left``,
        ``front_right``, ``front_bottom`` and ``front_top``.
    """
    import altair as alt

    legend = alt.Legend(
        orient="top", columns={"expr": "width < 500 ? 1 : 2"}, symbolSize=110, symbolStrokeWidth=0
    )
    colour, shape = method_encodings(alt, methods, legend)
    across = between(alt, "front_left", "front_right")
    up = between(alt, "front_bottom", "front_top")
    at_x = alt.X("x:Q", title=showing.title(x), scale=across)
    at_y = alt.Y("y:Q", title=showing.title(y), scale=up)
    base = alt.Chart(empty(alt, "front")).encode(color=colour, opacity=dimmed(alt))
    ranges = [
        base.mark_rule(strokeWidth=2, clip=True).encode(
            x=alt.X("x_low:Q", scale=across), x2="x_high:Q", y=at_y
        ),
        base.mark_rule(strokeWidth=2, clip=True).encode(
            x=at_x, y=alt.Y("y_low:Q", scale=up), y2="y_high:Q"
        ),
    ]
    tooltip = [
        alt.Tooltip("label:N", title=tr("Method")),
        alt.Tooltip("x:Q", title=showing.title(x), format=".3~g"),
        alt.Tooltip("y:Q", title=showing.title(y), format=".3~g"),
        alt.Tooltip("place:N", title=tr("Beside the others")),
        alt.Tooltip("why:N", title=tr("Because")),
    ]
    solid = base.transform_filter(same("place", tr(ON_FRONT))).mark_point(
        filled=True, size=170, stroke="#ffffff", strokeWidth=1
    )
    hollow = base.transform_filter(f"!({same('place', tr(ON_FRONT))})").mark_point(
        filled=False, size=90, strokeWidth=2, strokeDash=[3, 2]
    )
    points = [one.encode(x=at_x, y=at_y, shape=shape, tooltip=tooltip) for one in (solid, hollow)]
    names = (
        base.transform_filter("indexof(marked, datum.method) >= 0")
        .mark_text(align="left", dx=9, dy=-9, fontSize=12, fontWeight="bold")
        .encode(x=at_x, y=at_y, text="label:N", color=alt.value(INK))
    )
    zero = (
        _zero_line(alt, "x", showing.title(x), across),
        _zero_line(alt, "y", showing.title(y), up),
    )
    chart = alt.layer(*zero, *ranges, *points, names).add_params(
        marked_parameter(alt), *_ends(alt, "front_left", "front_right", "front_bottom", "front_top")
    )
    return finish(
        chart,
        tr(
            "{across} against {up} of each method, with the range that nine in ten draws fall "
            "into. A filled mark is beaten in both by no other method; a hollow one is, or a "
            "limit rules it out.",
            across=showing.title(x),
            up=showing.title(y),
        ),
        300 + 18 * ((len(methods) + 1) // 2),
    )


def share_chart(
    methods: Sequence[tuple[str, str]], source: str, title: str, description: str
) -> Any:
    """Return a share in percent of every method as bars with the number at the end.

    Parameters
    ----------
    methods : sequence of (id, label)
        In the order that fixes colour and place.
    source : str
        Name of the data source: rows with ``method``, ``label``, ``value`` (0
        to 100) and ``text``.
    title, description : str
        Of the axis, and what the picture shows.
    """
    import altair as alt

    scale = alt.Scale(domain=[0, 112], nice=False)
    chart = method_bars(alt, methods, source, title, scale, values=range(0, 101, 20))
    return finish(chart, description, rows_height(methods))


def swing_chart(title: str, inputs: int) -> Any:
    """Return how far an outcome moves when one input alone goes to its low and high end.

    Parameters
    ----------
    title : str
        What moves, with its unit.
    inputs : int
        How many inputs are drawn.

    Returns
    -------
    altair.LayerChart
        Reads the data source ``swing`` (two rows an input: ``input``,
        ``order``, ``end`` of `LOW_END` and `HIGH_END`, ``base``, ``value``,
        ``text``) and the parameters ``swing_left`` and ``swing_right``.
    """
    import altair as alt

    scale = between(alt, "swing_left", "swing_right")
    base = alt.Chart(empty(alt, "swing")).encode(
        y=alt.Y("input:N", title=None, sort=alt.EncodingSortField("order"), axis=None)
    )
    ends = [tr(end) for end in END_COLOURS]
    colour = alt.Color(
        "end:N", title=tr("With the input"), scale=alt.Scale(domain=ends, range=list(END_COLOURS.values())),
        legend=alt.Legend(orient="top"),
    )  # fmt: skip
    tooltip = [
        alt.Tooltip("input:N", title=tr("Input")),
        alt.Tooltip("text:N", title=tr("Its value")),
        alt.Tooltip("value:Q", title=title, format=".3~g"),
    ]
    at = alt.X("value:Q", title=title, scale=scale)
    bars = base.mark_bar(height=13, clip=True).encode(
        x=at, x2="base:Q", color=colour, tooltip=tooltip
    )
    # The mark at the end says by its shape which end it is, for those who do not see the colour.
    tips = base.mark_point(filled=True, size=70, clip=True).encode(
        x=at, color=colour, tooltip=tooltip,
        shape=alt.Shape(
            "end:N", legend=None, scale=alt.Scale(domain=ends, range=["circle", "diamond"])
        ),
    )  # fmt: skip
    now = (
        alt.Chart(empty(alt, "swing"))
        .transform_filter("datum.order == 0")
        .mark_rule(color=INK, strokeWidth=1.5, clip=True)
        .encode(x=alt.X("base:Q", scale=scale))
    )
    names = base.transform_filter(same("end", tr(LOW_END))).mark_text(
        align="left", baseline="middle", dy=-15, fontSize=12, color=INK
    ).encode(x=alt.value(0), text="input:N")  # fmt: skip
    chart = alt.layer(bars, tips, now, names).add_params(*_ends(alt, "swing_left", "swing_right"))
    return finish(
        chart,
        tr(
            "{outcome}: how far it moves when one input alone goes to its low or its high end, the "
            "widest at the top. The line is where it stands with every input at its middle.",
            outcome=title,
        ),
        SWING_ROW * max(inputs, 2) + 70,
    )


def crossing_chart(x_title: str, y_title: str, labels: Sequence[str]) -> Any:
    """Return an outcome of two methods over the range of one parameter, and where they meet.

    Parameters
    ----------
    x_title, y_title : str
        The parameter and the outcome, with their units.
    labels : sequence of str
        Names of the two lines.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``crossing`` (``series``, ``x``, ``y``),
        ``crossing_points`` (``x``, ``y``, ``text``) and ``crossing_today``
        (``x``, ``text``), and the parameters ``crossing_left``,
        ``crossing_right``, ``crossing_bottom`` and ``crossing_top``.
    """
    import altair as alt

    across = between(alt, "crossing_left", "crossing_right")
    up = between(alt, "crossing_bottom", "crossing_top")
    x, y = alt.X("x:Q", title=x_title, scale=across), alt.Y("y:Q", title=y_title, scale=up)
    lines = alt.Chart(empty(alt, "crossing")).mark_line(strokeWidth=2.5, clip=True).encode(
        x=x, y=y,
        color=alt.Color("series:N", title=None, legend=alt.Legend(orient="top", columns=1),
                        scale=alt.Scale(domain=list(labels), range=list(METHOD_COLOURS[:2]))),
        strokeDash=alt.StrokeDash("series:N", title=None, legend=None,
                                  scale=alt.Scale(domain=list(labels), range=[[1, 0], [6, 4]])),
    )  # fmt: skip
    points = alt.Chart(empty(alt, "crossing_points"))
    met = points.mark_point(filled=True, size=120, color=INK, clip=True).encode(
        x=x, y=y, tooltip=[alt.Tooltip("text:N", title=tr("Equal"))]
    )
    words = points.mark_text(align="left", dx=8, dy=-10, fontSize=12, fontWeight="bold",
                             color=INK).encode(x=x, y=y, text="text:N")  # fmt: skip
    today = alt.Chart(empty(alt, "crossing_today"))
    rule = today.mark_rule(strokeDash=[5, 4], color=QUIET, strokeWidth=1.5, clip=True).encode(x=x)
    now = today.mark_text(align="left", dx=4, dy=10, fontSize=11, color=QUIET).encode(
        x=x, y=alt.value(0), text="text:N"
    )
    chart = alt.layer(rule, now, lines, met, words).add_params(
        *_ends(alt, "crossing_left", "crossing_right", "crossing_bottom", "crossing_top")
    )
    return finish(
        chart,
        tr(
            "{up} of two methods over {across}; a dot where they are equal, a dashed line "
            "where the slider stands.",
            up=y_title,
            across=x_title,
        ),
        300,
    )


def winner_map_chart(methods: Sequence[tuple[str, str]], x_title: str, y_title: str) -> Any:
    """Return which method is best at each pair of values of two parameters.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``winners`` (``x``, ``x2``, ``y``, ``y2``,
        ``method``, ``label``, ``lead`` from 0 to 1, ``text``),
        ``winner_names`` (``x``, ``y``, ``label``; a symbol in the middle of
        each method's part) and ``winner_today``
        (``x``, ``y``), and the parameters ``winners_left``, ``winners_right``,
        ``winners_bottom`` and ``winners_top``.
    """
    import altair as alt

    across = between(alt, "winners_left", "winners_right")
    up = between(alt, "winners_bottom", "winners_top")
    legend = alt.Legend(orient="top", columns={"expr": "width < 500 ? 1 : 2"}, symbolStrokeWidth=0)
    colour, shape = method_encodings(alt, methods, legend)
    cells = alt.Chart(empty(alt, "winners")).mark_rect(clip=True).encode(
        x=alt.X("x:Q", title=x_title, scale=across), x2="x2:Q",
        y=alt.Y("y:Q", title=y_title, scale=up), y2="y2:Q", color=colour,
        opacity=alt.Opacity("lead:Q", legend=None, scale=alt.Scale(domain=[0, 1], range=[0.35, 1])),
        tooltip=[alt.Tooltip("label:N", title=tr("Best")), alt.Tooltip("text:N", title=tr("Ahead by"))],
    )  # fmt: skip
    names = (
        alt.Chart(empty(alt, "winner_names"))
        .mark_point(filled=True, size=190, stroke="#ffffff", strokeWidth=2, clip=True)
        .encode(
            x=alt.X("x:Q", scale=across), y=alt.Y("y:Q", scale=up), shape=shape, color=colour,
            tooltip=[alt.Tooltip("label:N", title=tr("Best around here"))],
        )
    )  # fmt: skip
    today = alt.Chart(empty(alt, "winner_today")).mark_point(
        shape="cross", size=160, filled=True, color="#ffffff", stroke=INK, strokeWidth=1.5
    ).encode(x=alt.X("x:Q", scale=across), y=alt.Y("y:Q", scale=up))  # fmt: skip
    chart = alt.layer(cells, names, today).add_params(
        *_ends(alt, "winners_left", "winners_right", "winners_bottom", "winners_top")
    )
    return finish(
        chart,
        tr(
            "Which method is best at each pair of {across} and {up}; the paler, the "
            "smaller its lead. The cross is where the sliders stand.",
            across=x_title,
            up=y_title,
        ),
        340,
    )
