"""One curve: how a result follows one of its arguments, with a mark where the sliders stand."""

from __future__ import annotations

from typing import Any

from scenariokit.charts.marks import INK, METHOD_COLOURS, empty, finish, from_zero, top_parameter
from scenariokit.language import tr


def curve_chart(across: str, up: str) -> Any:
    """Return an empty curve.

    Parameters
    ----------
    across, up : str
        Titles of the axes, with their units.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``curve`` and ``here`` (columns x and y) and the
        parameters ``x_low``, ``x_high`` and ``y_top``.
    """
    import altair as alt

    x = alt.X(
        "x:Q", title=across,
        scale=alt.Scale(domainMin={"expr": "x_low"}, domainMax={"expr": "x_high"}, nice=False,
                        zero=False),
    )  # fmt: skip
    y = alt.Y("y:Q", title=up, scale=from_zero(alt, "y_top"))
    tooltip = [
        alt.Tooltip("x:Q", title=across, format=".3~g"),
        alt.Tooltip("y:Q", title=up, format=".3~g"),
    ]
    line = (
        alt.Chart(empty(alt, "curve"))
        .mark_line(color=METHOD_COLOURS[0], strokeWidth=3, clip=True)
        .encode(x=x, y=y)
    )
    here = alt.Chart(empty(alt, "here")).encode(x=x, y=y, tooltip=tooltip)
    point = here.mark_point(
        filled=True, size=170, color=METHOD_COLOURS[3], shape="diamond", clip=True
    )
    words = here.mark_text(
        align="left", dx=10, dy=-10, fontSize=13, fontWeight="bold", color=INK
    ).encode(text="text:N")
    chart = alt.layer(line, point, words).add_params(
        *(top_parameter(alt, name) for name in ("x_low", "x_high", "y_top"))
    )
    return finish(
        chart,
        tr(
            "{up} as it follows {across}; the mark is where the sliders stand.",
            up=up,
            across=across,
        ),
        280,
    )
