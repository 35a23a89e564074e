"""The picture on the results wall: one mark for each room, large enough for a projector."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scenariokit.charts.frames import Row, Showing, axis_top
from scenariokit.charts.marks import (
    GRID,
    INK,
    METHOD_COLOURS,
    METHOD_SHAPES,
    QUIET,
    empty,
    from_zero,
    top_parameter,
)
from scenariokit.charts.trials import yield_number, yield_unit
from scenariokit.language import number_text, tr
from scenariokit.trials.room_results import MethodInRooms, RoomMean, RoomResults

MOST_METHODS = 8
"""Rows of the picture; a ninth colour and shape could not be told apart."""
MOST_NAMED = 6
"""Rooms of a method up to which each bears its name."""

TYPE = 24
"""Pixels of the letters. On a picture 2 m wide and 1,280 pixels across they are 37 mm high,
for 8 m (a two-hundredth of the distance: common practice, no published source)."""
NARROW = 700
"""Pixels of width below which the letters are those of a page, not of a projector."""
BAND, MOST_BAND, MORE = 150, 330, 10
"""Pixels for a method: its name, its rooms one below the other, their mean; and for each
room beyond those that are named."""


def wall_methods(found: RoomResults) -> tuple[MethodInRooms, ...]:
    """Return the methods that are drawn: those that stood in most rooms, by name."""
    return tuple(sorted(found.methods[:MOST_METHODS], key=lambda one: tr(one.method)))


def wall_band(found: RoomResults) -> int:
    """Return the pixels for a method: more of them where many rooms stand below each other."""
    most = max((len(one.rooms) for one in wall_methods(found)), default=0)
    return min(BAND + MORE * max(most - MOST_NAMED, 0), MOST_BAND)


def wall_rows(found: RoomResults, showing: Showing) -> tuple[list[Row], list[Row], list[Row]]:
    """Return a row for each room, each mean over rooms, and each method's name.

    A mean beyond every record stands at the end of the axis, with its number.
    """
    rooms, pooled, names = [], [], []
    edge = wall_top(found, showing)
    for place, one in enumerate(wall_methods(found)):
        label = tr(one.method)
        named = len(one.rooms) <= MOST_NAMED
        step = 0.55 / max(len(one.rooms), 2)
        for number, room in enumerate(one.rooms):
            y = place + 0.28 + step * (number + 0.5)
            rooms.append(_room_row(room, {"label": label, "y": y}, showing, edge, named=named))
        names.append({"label": label, "y": place + 0.13, "text": _heading(one)})
        if one.pooled is not None:
            values = {
                name: yield_number(getattr(one.pooled, name), showing)
                for name in ("estimate", "low", "high")
            }
            text = tr(
                "Mean of rooms: {mean:.2f} ({low:.2f} to {high:.2f})",
                mean=values["estimate"], low=max(values["low"], 0.0), high=values["high"],
            )  # fmt: skip
            pooled.append(
                {"label": label, "y": place + 0.9, "head": place + 0.13, "mean": values["estimate"],
                 "low": max(values["low"], 0.0), "high": min(values["high"], edge), "text": text}
            )  # fmt: skip
    return rooms, pooled, names


def _room_row(one: RoomMean, row: Row, showing: Showing, edge: float, *, named: bool) -> Row:
    mean = yield_number(one.mean, showing)
    low, high = (None if end is None else yield_number(end, showing) for end in (one.low, one.high))
    said = number_text(mean, ",.0f" if one.beyond else ".2f")
    if one.beyond:
        text = tr("{room}: {number}, beyond every record", room=one.room, number=said)
        low = high = None
    elif one.plots == 1:
        text = tr("{room} (one plot)", room=one.room)
    else:
        text = one.room
    if low is None or high is None or low >= edge:
        low = high = None
    else:
        high = min(high, edge)
    return {
        **row,
        "mean": min(mean, edge),
        "low": low,
        "high": high,
        "left": min(mean, edge) if low is None else low,
        "right": min(mean, edge) if high is None else high,
        "plots": one.plots,
        "room": one.room,
        "value": said,
        "single": one.low is None or one.beyond,
        "text": text if named or one.beyond else "",
    }


def _heading(one: MethodInRooms) -> str:
    count = len(one.rooms)
    if count == 1:
        return tr("{method}: 1 room", method=tr(one.method))
    return tr("{method}: {count} rooms", method=tr(one.method), count=count)


def wall_top(found: RoomResults, showing: Showing) -> float:
    """Return the end of the axis: beyond all means that can be, with room for their intervals.

    One very wide interval must not squeeze all others: its line is cut, its numbers are not.
    """
    known = [room for one in wall_methods(found) for room in one.rooms if not room.beyond]
    means = [yield_number(room.mean, showing) for room in known]
    ends = [yield_number(room.high, showing) for room in known if room.high is not None]
    ends += [
        yield_number(one.pooled.high, showing)
        for one in wall_methods(found)
        if one.pooled is not None
    ]
    most = 1.6 * max(means, default=1.0)
    return axis_top([1.1 * max(means, default=1.0), *(min(end, most) for end in ends)])


def wall_table(found: RoomResults, showing: Showing) -> list[list[str]]:
    """Return what the picture shows as text, headings first."""
    unit = yield_unit(showing)
    heads = [tr("Method"), tr("Room"), tr("Plots"), tr("Mean ({unit})", unit=unit),
             tr("95 % interval ({unit})", unit=unit)]  # fmt: skip
    rows = []
    for one in found.methods:
        for room in one.rooms:
            rows.append(
                [tr(one.method), room.room, str(room.plots),
                 number_text(yield_number(room.mean, showing), ".2f"),
                 _ends(room.low, room.high, showing)]
            )  # fmt: skip
        if one.pooled is not None:
            rows.append(
                [tr(one.method), tr("mean of rooms"), "",
                 number_text(yield_number(one.pooled.estimate, showing), ".2f"),
                 _ends(one.pooled.low, one.pooled.high, showing)]
            )  # fmt: skip
    return [heads, *rows]


def _ends(low: Any, high: Any, showing: Showing) -> str:
    if low is None or high is None:
        return tr("none exists")
    ends = (max(yield_number(low, showing), 0.0), yield_number(high, showing))
    return tr("{low:.2f} to {high:.2f}", low=ends[0], high=ends[1])


def wall_chart(labels: Sequence[str], showing: Showing, band: int = BAND) -> Any:
    """Return an empty picture for the results wall.

    Parameters
    ----------
    labels : sequence of str
        The methods drawn, in their order; they fix height, colours and shapes.
    showing : Showing
        Unit of the axis.
    band : int
        Pixels for a method.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``rooms`` (columns label, y, mean, low, high,
        left, right, plots, room, value, single, text), ``pooled`` (label, y,
        head, mean, low, high, text) and ``names`` (y, text), and the parameter ``wall_top``.
    """
    import altair as alt

    title = tr("Yield per tank area ({unit})", unit=yield_unit(showing))
    letters = _size(alt, TYPE)
    axis = alt.Axis(labelFontSize=letters, titleFontSize=letters, tickCount=6, titlePadding=10)
    x = alt.X("mean:Q", title=title, scale=from_zero(alt, "wall_top"), axis=axis)
    y = alt.Y("y:Q", axis=None, scale=alt.Scale(domain=[0, max(len(labels), 1)], reverse=True,
                                                nice=False, zero=True))  # fmt: skip
    shape, colour = _encodings(alt, labels)
    rooms = alt.Chart(empty(alt, "rooms")).encode(y=y)
    layers = [
        rooms.mark_rule(strokeWidth=4, clip=True, opacity=0.75).encode(
            x=_along(x, "low:Q"), x2="high:Q", color=colour
        ),
        _room_points(alt, rooms, x, colour, shape, title),
        *_texts(alt, x, y),
    ]  # fmt: skip
    chart = alt.layer(*layers).add_params(top_parameter(alt, "wall_top"))
    return _finished(chart, max(len(labels), 2) * band)


def _encodings(alt: Any, labels: Sequence[str]) -> tuple[Any, Any]:
    names = list(labels)
    count = len(names)
    colours = alt.Scale(domain=names, range=list(METHOD_COLOURS[:count]))
    shapes = alt.Scale(domain=names, range=list(METHOD_SHAPES[:count]))
    return (
        alt.Shape("label:N", legend=None, scale=shapes),
        alt.Color("label:N", legend=None, scale=colours),
    )


def _room_points(alt: Any, rooms: Any, x: Any, colour: Any, shape: Any, title: str) -> Any:
    """Return the marks of rooms: filled with an interval, hollow without one."""
    tips = [
        alt.Tooltip("room:N", title=tr("Room")),
        alt.Tooltip("label:N", title=tr("Method")),
        alt.Tooltip("value:N", title=title),
        alt.Tooltip("plots:Q", title=tr("Plots")),
    ]
    return rooms.mark_point(size=330, strokeWidth=3, clip=False, opacity=1).encode(
        x=x, shape=shape, stroke=colour, tooltip=tips,
        fill=alt.condition("datum.single", alt.value("#ffffff"), colour),
    )  # fmt: skip


def _texts(alt: Any, x: Any, y: Any) -> list[Any]:
    """Return the means over rooms, the names of methods and of rooms."""
    pooled = alt.Chart(empty(alt, "pooled")).encode(y=y)
    words: dict[str, Any] = {"baseline": "middle", "fontSize": _size(alt, TYPE), "color": INK}
    spans = pooled.mark_rule(strokeWidth=7, color=INK, clip=True).encode(
        x=_along(x, "low:Q"), x2="high:Q"
    )
    middles = pooled.mark_point(
        shape="diamond", filled=True, size=650, color=INK, stroke="#ffffff", strokeWidth=2,
        opacity=1,
    ).encode(x=x)  # fmt: skip
    heads = (
        alt.Chart(empty(alt, "names"))
        .mark_text(**words, align="left", fontWeight="bold")
        .encode(x=alt.value(0), y=y, text="text:N")
    )
    # On a narrow page there is no place beside the method's name; the table has the mean.
    means = pooled.mark_text(
        **words, align="right", opacity=alt.expr(f"width < {NARROW} ? 0 : 1")
    ).encode(x=alt.value("width"), y=alt.Y("head:Q", axis=None), text="text:N")
    return [spans, middles, heads, means, *_room_names(alt, x, y)]


def _room_names(alt: Any, x: Any, y: Any) -> list[Any]:
    """Return the names of rooms: behind their mark, or before it where that is near the end."""
    rooms = alt.Chart(empty(alt, "rooms")).encode(y=y)
    words: dict[str, Any] = {"baseline": "middle", "fontSize": _size(alt, TYPE - 4), "color": INK}
    behind = rooms.transform_filter("datum.right <= 0.62 * wall_top")
    before = rooms.transform_filter("datum.right > 0.62 * wall_top")
    return [
        behind.mark_text(**words, align="left", dx=16).encode(
            x=_along(x, "right:Q"), text="text:N"
        ),
        before.mark_text(**words, align="right", dx=-16).encode(
            x=_along(x, "left:Q"), text="text:N"
        ),
    ]


def _along(x: Any, field: str) -> Any:
    """Return the horizontal place of another column on the same axis."""
    other = x.copy()
    other.shorthand = field
    return other


def _size(alt: Any, pixels: int) -> Any:
    return alt.expr(f"width < {NARROW} ? 13 : {pixels}")


def _finished(chart: Any, height: int) -> Any:
    return (
        chart.properties(
            width="container", height=height,
            description=tr(
                "Yield per tank area by method: one mark for each room, with its interval where the "
                "room's own plots give one, hollow where they do not; a diamond for the mean of "
                "rooms where three or more rooms repeated their plots."
            ),
        )
        .configure(font="system-ui, sans-serif", background="#ffffff", padding=8)
        .configure_axis(labelColor=INK, titleColor=INK, gridColor=GRID, domainColor=QUIET,
                        tickColor=QUIET, titleFontWeight="normal", labelOverlap="greedy")
        .configure_view(stroke=None)
    )  # fmt: skip
