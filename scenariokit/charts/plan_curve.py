"""What trials of other sizes would find: chance and smallest difference against replicates."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

from scenariokit.charts.frames import Row, axis_top
from scenariokit.charts.marks import (
    INK,
    METHOD_COLOURS,
    QUIET,
    empty,
    finish,
    from_zero,
    top_parameter,
)
from scenariokit.language import mark, number_text, tr
from scenariokit.trials.planning.aim import TrialAim
from scenariokit.trials.planning.proposal import TrialPlan
from scenariokit.trials.planning.size_curve import CurvePoint, size_curve
from scenariokit.trials.unreplicated import USUAL_VARIATION

Sought = Literal["power", "smallest"]

ALIKE, UNLIKE = min(USUAL_VARIATION), max(USUAL_VARIATION)
AS_SET = mark("CV as set")
MUCH_ALIKE, ALL_UNLIKE = mark("CV {cv:.2f}, plots much alike"), mark("CV {cv:.2f}, plots unlike")
LOW, HIGH = MUCH_ALIKE.format(cv=ALIKE), ALL_UNLIKE.format(cv=UNLIKE)
SERIES = (AS_SET, LOW, HIGH)
"""What the curves are called in English."""
TITLES = {
    "power": mark("Found in 100 trials"),
    "smallest": mark("Smallest difference (%)"),
}
MOST = 40
"""Replicates at which the picture ends at the latest."""
HEIGHT = 300


def curve_end(plan: TrialPlan) -> int:
    """Return the number of replicates at which the curves end."""
    wanted = max(plan.needed or 0, plan.replicates, 4)
    end = min(max(8, round(wanted * 1.5)), max(MOST, plan.replicates))
    return max(end, plan.aim.first + 2 * plan.aim.step)


def curve_points(plan: TrialPlan) -> list[CurvePoint]:
    """Return what trials of every size would find, at the CV as set, a low and a high one."""
    return size_curve(plan.aim, curve_end(plan), (ALIKE, UNLIKE))


def _series(point: CurvePoint, aim: TrialAim) -> str:
    if point.cv == aim.cv:
        return tr(AS_SET)
    return tr(MUCH_ALIKE, cv=ALIKE) if point.cv == ALIKE else tr(ALL_UNLIKE, cv=UNLIKE)


def curve_names() -> list[str]:
    """Return what a person reads for each of `SERIES`."""
    return [tr(AS_SET), tr(MUCH_ALIKE, cv=ALIKE), tr(ALL_UNLIKE, cv=UNLIKE)]


def curve_rows(
    plan: TrialPlan, points: Sequence[CurvePoint], sought: Sought
) -> dict[str, list[Row]]:
    """Return the curves, the mark of the plan and the level that is wanted, in percent.

    Parameters
    ----------
    plan : TrialPlan
        The plan.
    points : sequence of CurvePoint
        Its `curve_points`.
    sought : {'power', 'smallest'}
        What is drawn upward.

    Returns
    -------
    dict
        Data sources named after `sought`: the curves, ``<sought>_here`` and
        ``<sought>_wanted``.
    """
    aim = plan.aim
    rows = [
        {"series": _series(point, aim), "replicates": point.replicates, "plots": point.plots,
         "value": 100 * getattr(point, sought)}
        for point in points
    ]  # fmt: skip
    found = plan.power if sought == "power" else plan.smallest
    here = [] if found is None else [
        {"replicates": plan.counted, "value": 100 * found, "text": tr("this plan: {found:.0%}", found=found)}
    ]  # fmt: skip
    level = aim.power if sought == "power" else aim.difference
    wanted = [{"value": 100 * level, "text": tr("wanted: {level:.0%}", level=level)}]
    return {sought: rows, f"{sought}_here": here, f"{sought}_wanted": wanted}


def curve_signals(plan: TrialPlan, sought: Sought) -> dict[str, float]:
    """Return the ends of the axes.

    The smallest difference is cut at three times what is wanted or found: few
    plots that are unlike find nothing worth drawing.
    """
    top = 100.0
    if sought == "smallest":
        top = axis_top([300 * plan.aim.difference, 120 * (plan.smallest or 0)])
    return {f"{sought}_end": float(curve_end(plan)) + 0.5, f"{sought}_top": top}


def curve_table(points: Sequence[CurvePoint]) -> list[list[str]]:
    """Return both curves as rows of text, headings first."""
    return [
        [tr("Replicates"), tr("Plots"), "CV", tr(TITLES["power"]), tr(TITLES["smallest"])],
        *(
            [
                str(point.replicates),
                str(point.plots),
                number_text(point.cv, ".2f"),
                f"{100 * point.power:.0f}",
                f"{100 * point.smallest:.0f}",
            ]
            for point in points
        ),
    ]


def plan_curve_chart(sought: Sought) -> Any:
    """Return the empty curves against replicates.

    Parameters
    ----------
    sought : {'power', 'smallest'}
        What is drawn upward.

    Returns
    -------
    altair.LayerChart
        Reads what `curve_rows` and `curve_signals` give.
    """
    import altair as alt

    end, top = f"{sought}_end", f"{sought}_top"
    x = alt.X(
        "replicates:Q", title=tr("Replicates"),
        axis=alt.Axis(tickMinStep=1, format="d"),
        scale=alt.Scale(domainMin=1, domainMax={"expr": end}, nice=False, zero=False),
    )  # fmt: skip
    y = alt.Y("value:Q", title=tr(TITLES[sought]), scale=from_zero(alt, top))
    colours = [METHOD_COLOURS[0], METHOD_COLOURS[1], METHOD_COLOURS[2]]
    legend = alt.Legend(
        orient="top", columns=1, symbolType="stroke", symbolSize=500, symbolStrokeWidth=2.5
    )
    colour = alt.Color("series:N", title=None, legend=legend,
                       scale=alt.Scale(domain=curve_names(), range=colours))  # fmt: skip
    dash = alt.StrokeDash("series:N", title=None, legend=legend,
                          scale=alt.Scale(domain=curve_names(), range=[[1, 0], [6, 4], [2, 3]]))  # fmt: skip
    tooltip = [
        alt.Tooltip("series:N", title=tr("Plots")),
        alt.Tooltip("replicates:Q", title=tr("Replicates")),
        alt.Tooltip("plots:Q", title=tr("Plots in all")),
        alt.Tooltip("value:Q", title=tr(TITLES[sought]), format=".0f"),
    ]
    curves = alt.Chart(empty(alt, sought)).encode(x=x, y=y, color=colour, tooltip=tooltip)
    lines = curves.mark_line(strokeWidth=2.5, clip=True).encode(strokeDash=dash)
    dots = curves.mark_point(filled=True, size=26, clip=True)
    wanted = alt.Chart(empty(alt, f"{sought}_wanted")).encode(y=y)
    rule = wanted.mark_rule(color=QUIET, strokeDash=[3, 3], clip=True)
    level = wanted.mark_text(align="left", dx=4, dy=9, fontSize=11, color=QUIET).encode(
        x=alt.value(0), text="text:N"
    )
    here = alt.Chart(empty(alt, f"{sought}_here")).encode(x=x, y=y)
    mark = here.mark_point(shape="diamond", filled=True, size=190, color=INK, clip=True)
    # Below a rising curve and above a falling one there is room; the pale edge parts it from lines.
    place: dict[str, Any] = {"align": "left", "dx": 10, "dy": 16 if sought == "power" else -12}
    named = here.encode(text="text:N")
    edge = named.mark_text(**place, fontSize=12, fontWeight="bold", stroke="#ffffff", strokeWidth=4)
    words = named.mark_text(**place, fontSize=12, fontWeight="bold", color=INK)
    chart = alt.layer(rule, level, lines, dots, mark, edge, words).add_params(
        top_parameter(alt, end), top_parameter(alt, top)
    )
    said = {
        "power": tr(
            "Chance that the wanted difference is found, against replicates; the diamond is this "
            "plan, the dashed level what is wanted."
        ),
        "smallest": tr(
            "Smallest difference that is found with the wanted chance, against replicates; the "
            "diamond is this plan, the dashed level what is wanted."
        ),
    }
    return finish(chart, said[sought], HEIGHT)
