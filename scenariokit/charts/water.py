"""Charts of one tank: depth and EC through the season, water and air in the medium."""

from __future__ import annotations

from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Row, Showing
from scenariokit.charts.marks import METHOD_COLOURS, QUIET, empty, finish, from_zero, top_parameter
from scenariokit.language import mark, tr
from scenariokit.scenario import TankSeason

PLANNED, MISHAP = mark("as planned"), mark("with the mishap")
WATER, AIR = mark("water"), mark("air")
PAIR = (METHOD_COLOURS[0], METHOD_COLOURS[3])
HEIGHT = 230


def depth_unit(showing: Showing) -> str:
    """Return the unit in which this person reads a depth."""
    return "inch" if showing.system == "us" else "cm"


def season_rows(name: str, found: TankSeason, showing: Showing) -> tuple[list[Row], list[Row]]:
    """Return the rows of depth and of EC of one season, called `name`."""
    days = found.season.day.m_as(units.unit_of("day"))
    depth = found.season.depth.m_as(units.unit_of(depth_unit(showing)))
    ec = found.ec.m_as(units.unit_of("dS/m"))
    return _series(name, days, depth), _series(name, days, ec)


def _series(name: str, days: Any, values: Any) -> list[Row]:
    """Return one row for each day; a value that does not exist is a gap."""
    return [
        {"series": tr(name), "day": float(day), "value": float(value) if value == value else None}
        for day, value in zip(days, values, strict=True)
    ]


def profile_rows(profile: Any, showing: Showing) -> list[Row]:
    """Return water and air over the height of a medium, in percent by volume."""
    heights = profile.height.m_as(units.unit_of(depth_unit(showing)))
    return [
        {"series": tr(name), "height": float(height), "value": 100 * float(value)}
        for name, values in ((WATER, profile.water_content.m), (AIR, profile.air_content.m))
        for height, value in zip(heights, values, strict=True)
    ]


def _two_colours(alt: Any, names: tuple[str, str]) -> tuple[Any, Any]:
    """Return colour and dash of two series; each says the same."""
    words = [tr(name) for name in names]
    colour = alt.Color(
        "series:N", title=None, scale=alt.Scale(domain=words, range=list(PAIR)),
        legend=alt.Legend(orient="top"),
    )  # fmt: skip
    dash = alt.StrokeDash(
        "series:N", title=None, scale=alt.Scale(domain=words, range=[[1, 0], [6, 4]]),
        legend=alt.Legend(orient="top"),
    )  # fmt: skip
    return colour, dash


def season_chart(source: str, title: str, description: str) -> Any:
    """Return an empty line over the days of a season, with marked levels.

    Parameters
    ----------
    source : str
        Name of the data source (columns series, day, value); ``<source>_marks``
        holds marked levels (columns value, text), and the parameters
        ``<source>_days`` and ``<source>_top`` end the axes.
    title : str
        Of the upright axis, with its unit.
    description : str
        For those who do not see it.
    """
    import altair as alt

    colour, dash = _two_colours(alt, (PLANNED, MISHAP))
    x = alt.X("day:Q", title=tr("Days from planting"), scale=from_zero(alt, f"{source}_days"))
    y = alt.Y("value:Q", title=title, scale=from_zero(alt, f"{source}_top"))
    lines = (
        alt.Chart(empty(alt, source))
        .mark_line(strokeWidth=2.5, clip=True)
        .encode(
            x=x, y=y, color=colour, strokeDash=dash,
            tooltip=[
                alt.Tooltip("series:N", title=tr("Series")),
                alt.Tooltip("day:Q", title=tr("Day"), format=".0f"),
                alt.Tooltip("value:Q", title=title, format=".2f"),
            ],
        )
    )  # fmt: skip
    marks = alt.Chart(empty(alt, f"{source}_marks")).encode(y=y)
    rules = marks.mark_rule(color=QUIET, strokeDash=[3, 3], clip=True)
    words = marks.mark_text(align="left", dx=4, dy=-6, color=QUIET, fontSize=11, clip=True).encode(
        x=alt.value(0), text="text:N"
    )
    chart = alt.layer(rules, words, lines).add_params(
        top_parameter(alt, f"{source}_days"), top_parameter(alt, f"{source}_top")
    )
    return finish(chart, description, HEIGHT)


def profile_chart(showing: Showing) -> Any:
    """Return an empty picture of water and air over the height of a medium.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``profile`` (columns series, height, value) and
        ``profile_marks`` (height, text) and the parameter ``profile_top``.
    """
    import altair as alt

    colour, dash = _two_colours(alt, (WATER, AIR))
    title = tr("Height in the medium ({unit})", unit=units.unit_label(depth_unit(showing)))
    across = tr("Share of the volume (%)")
    y = alt.Y("height:Q", title=title, scale=from_zero(alt, "profile_top"))
    lines = (
        alt.Chart(empty(alt, "profile"))
        .mark_line(strokeWidth=3, clip=True)
        .encode(
            x=alt.X("value:Q", title=across, scale=alt.Scale(domain=[0, 100])),
            y=y, color=colour, strokeDash=dash, order="height:Q",
            tooltip=[
                alt.Tooltip("series:N", title=tr("What")),
                alt.Tooltip("height:Q", title=title, format=".1f"),
                alt.Tooltip("value:Q", title=across, format=".0f"),
            ],
        )
    )  # fmt: skip
    marks = alt.Chart(empty(alt, "profile_marks")).encode(y=alt.Y("height:Q"))
    rules = marks.mark_rule(color=QUIET, strokeDash=[3, 3], clip=True)
    words = marks.mark_text(align="left", dx=4, dy=-6, color=QUIET, fontSize=11, clip=True).encode(
        x=alt.value(0), text="text:N"
    )
    chart = alt.layer(rules, words, lines).add_params(top_parameter(alt, "profile_top"))
    return finish(
        chart,
        tr("Water and air in the growing medium from the container's base upwards, at rest."),
        HEIGHT,
    )
