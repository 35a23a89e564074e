"""Charts of one feed: elements against what is aimed at, and what the season leaves of them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Row
from scenariokit.charts.marks import (
    INK,
    METHOD_COLOURS,
    empty,
    finish,
    from_zero,
    top_parameter,
)
from scenariokit.language import mark, number_text, tr
from scenariokit.scenario import ElementSupply, FeedSeason

WATER, SALTS = mark("from the water"), mark("from fertilisers")
SOURCES = ("#3f8fb5", "#85a350")
NAMES = {
    "N": mark("Nitrogen"), "P": mark("Phosphorus"), "K": mark("Potassium"), "Ca": mark("Calcium"), "Mg": mark("Magnesium"),
    "S": mark("Sulfur"), "Fe": mark("Iron"), "Mn": mark("Manganese"), "Zn": mark("Zinc"), "B": mark("Boron"), "Cu": mark("Copper"),
    "Mo": mark("Molybdenum"), "Cl": mark("Chloride"), "Na": mark("Sodium"), "N_ammonium": mark("of it ammonium"),
    "N_nitrate": mark("of it nitrate"),
}  # fmt: skip
MOST_SHARE = 200.0
"""Percent of an aim at which the axis ends; a longer bar is cut, its number is not."""
ROOM = 320.0
"""Percent at which the picture ends, with room for the numbers beside the bars."""
BAND = "#d3e0da"
ROW, HEIGHT = 26, 270
DRAWN_DAYS = 4


def element_name(element: str) -> str:
    """Return the name of an element as a person reads it."""
    return tr(NAMES.get(element, element))


def element_rows(supply: Sequence[ElementSupply]) -> tuple[list[Row], list[Row]]:
    """Return the parts of each bar in percent of what is aimed at, and the bands behind them.

    Bars and bands end at `MOST_SHARE`; the number beside them does not.
    """
    parts, bands = [], []
    for one in supply:
        if one.target <= 0:
            continue
        name, begin = element_name(one.element), 0.0
        for source, value in ((WATER, one.from_water), (SALTS, one.from_salts)):
            end = min(begin + 100 * value / one.target, MOST_SHARE)
            parts.append(
                {"element": name, "source": tr(source), "begin": begin, "end": end, "amount": value}
            )
            begin = end
        low, high = (min(100 * end / one.target, MOST_SHARE) for end in (one.low, one.high))
        total = one.from_water + one.from_salts
        bands.append({"element": name, "low": low, "high": high, "text": _supply_text(one, total)})
    return parts, bands


def _supply_text(one: ElementSupply, total: float) -> str:
    if one.inside:
        return f"{number_text(total, '.3g')} mg/L"
    if total < one.low:
        return tr("{total:.3g} mg/L – too little", total=total)
    return tr("{total:.3g} mg/L – too much", total=total)


def element_chart(supply: Sequence[ElementSupply]) -> Any:
    """Return an empty chart of elements in percent of the aim, for the elements in `supply`.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``elements`` (columns element, source, begin,
        end, amount) and ``bands`` (element, low, high, text).
    """
    import altair as alt

    names = [element_name(one.element) for one in supply if one.target > 0]
    y = alt.Y("element:N", title=None, sort=names)
    axis = alt.Axis(values=[0, 50, 100, 150, 200])
    title = tr("Percent of what is aimed at")

    def across(field: str) -> Any:
        return alt.X(field, scale=alt.Scale(domain=[0, ROOM]), title=title, axis=axis)

    band = alt.Chart(empty(alt, "bands")).encode(y=y)
    behind = band.mark_bar(color=BAND, height=20).encode(x=across("low:Q"), x2="high:Q")
    bars = (
        alt.Chart(empty(alt, "elements"))
        .mark_bar(height=10)
        .encode(
            y=y,
            x=across("begin:Q"),
            x2="end:Q",
            color=alt.Color(
                "source:N", title=None, scale=alt.Scale(domain=[tr(WATER), tr(SALTS)], range=list(SOURCES)),
                legend=alt.Legend(orient="top"),
            ),
            tooltip=[
                alt.Tooltip("element:N", title=tr("Element")),
                alt.Tooltip("source:N", title=tr("Source")),
                alt.Tooltip("amount:Q", title="mg/L", format=".3g"),
            ],
        )
    )  # fmt: skip
    aim = band.mark_tick(color=INK, thickness=2, height=20).encode(x=across("aim:Q"))
    words = band.mark_text(align="left", fontSize=11, color=INK).encode(
        x=across("place:Q"), text="text:N"
    )
    return finish(
        alt.layer(
            behind,
            bars,
            aim.transform_calculate(aim="100"),
            words.transform_calculate(place=str(MOST_SHARE + 4)),
        ),
        tr(
            "Each element in the solution as made, in percent of what is aimed at; the pale band "
            "is what is allowed, the tick the aim, and words say what is missed."
        ),
        ROW * max(len(names), 4),
    )


def balance_rows(season: FeedSeason) -> list[Row]:
    """Return each element's concentration, in mg/L and in percent of the first filling.

    Every fourth day is drawn, and the last one: more points than that no eye tells apart.
    """
    days = season.day.m_as(units.unit_of("day"))
    rows = []
    for element, found in season.elements.items():
        values = found.concentration.m_as(units.unit_of("mg/L"))
        first = float(values[0])
        if not first > 0:
            continue
        rows += [
            {"element": element_name(element), "day": float(day),
             "share": 100 * float(value) / first if value == value else None,
             "amount": float(value) if value == value else None}
            for day, value in zip(days, values, strict=True)
            if day % DRAWN_DAYS == 0 or day == days[-1]
        ]  # fmt: skip
    return rows


ELEMENTS = tuple(NAMES[symbol] for symbol in ("N", "P", "K", "Ca", "Mg", "S"))
DASHES = ([1, 0], [8, 3], [3, 2], [10, 3, 2, 3], [6, 6], [2, 4])


def balance_chart() -> Any:
    """Return an empty chart of what is in the tank through the season, element by element.

    Returns
    -------
    altair.LayerChart
        Reads the data source ``balance`` (columns element, day, share, amount)
        and the parameters ``balance_days`` and ``balance_top``.
    """
    import altair as alt

    names = [tr(element) for element in ELEMENTS]
    title = tr("In the tank (% of the first filling)")
    colours = list(METHOD_COLOURS[: len(names)])
    base = alt.Chart(empty(alt, "balance")).encode(
        x=alt.X("day:Q", title=tr("Days from planting"), scale=from_zero(alt, "balance_days")),
        y=alt.Y("share:Q", title=title, scale=from_zero(alt, "balance_top")),
        color=alt.Color(
            "element:N", title=None, scale=alt.Scale(domain=names, range=colours),
            legend=alt.Legend(orient="top", columns={"expr": "width < 370 ? 2 : 3"}),
        ),
        strokeDash=alt.StrokeDash(
            "element:N", title=None, scale=alt.Scale(domain=names, range=list(DASHES)), legend=None
        ),
    )  # fmt: skip
    lines = base.mark_line(strokeWidth=2.5, clip=True).encode(
        tooltip=[
            alt.Tooltip("element:N", title=tr("Element")),
            alt.Tooltip("day:Q", title=tr("Day"), format=".0f"),
            alt.Tooltip("amount:Q", title="mg/L", format=".3g"),
            alt.Tooltip("share:Q", title=title, format=".0f"),
        ]
    )
    chart = alt.layer(lines).add_params(
        top_parameter(alt, "balance_days"), top_parameter(alt, "balance_top")
    )
    return finish(
        chart,
        tr(
            "Concentration of each main element in the tank day by day, in percent of the first "
            "filling, if plants take up what their yield needs."
        ),
        HEIGHT,
    )
