"""Charts of one trial: means with their intervals, residuals, normal scores."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.charts.frames import Row, Showing, axis_top
from scenariokit.charts.marks import (
    INK,
    METHOD_COLOURS,
    METHOD_SHAPES,
    QUIET,
    empty,
    finish,
    from_zero,
    names_above,
    rows_height,
    top_parameter,
)
from scenariokit.language import number_text, tr
from scenariokit.trials.analysis import Analysis, ResidualChecks
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.summary import TrialSummary

UNITS = {"metric": ("kg/m^2", "kg/m²"), "us": ("lb/ft^2", "lb/ft²")}
HEIGHT = 250
NAMED_RESIDUALS = 2
"""How many of the largest residuals bear the name of their plot."""


def yield_unit(showing: Showing) -> str:
    """Return the unit in which this person reads a yield, as it is written."""
    return UNITS[showing.system][1]


def yield_number(value: Any, showing: Showing) -> float:
    """Return a yield as a number in the reader's unit."""
    return float(value.m_as(units.unit_of(UNITS[showing.system][0])))


def _maybe(value: Any, showing: Showing) -> float | None:
    return None if value is None else yield_number(value, showing)


# -- means -----------------------------------------------------------------------------------


def mean_labels(found: TrialSummary) -> list[str]:
    """Return the levels' labels, the highest mean first."""
    return [" · ".join(one.levels) for one in found.means]


def mean_rows(found: TrialSummary, showing: Showing) -> tuple[list[Row], list[Row]]:
    """Return a row for each mean, and one for each plot.

    The text beside a mean says its letters, or that it has no interval.
    """
    means, plots = [], []
    digits = 3 if showing.system == "us" else 2
    for label, one in zip(mean_labels(found), found.means, strict=True):
        values = [yield_number(units.quantity(v, "kg/m^2"), showing) for v in one.values]
        mean, low, high = (_maybe(part, showing) for part in (one.mean, one.low, one.high))
        text = number_text(mean, f".{digits}f") + (f" {one.letters}" if one.letters else "")
        if one.low is None:
            plain = number_text(mean, f".{digits}f")
            text = tr("{mean} (no interval)", mean=plain)
            if one.plots == 1:
                text = tr("{mean} (one plot)", mean=plain)
        end = max(part for part in (mean, high, *values) if part is not None)
        # A mean's interval may reach below zero where a yield cannot.
        low = None if low is None else max(low, 0.0)
        means.append(
            {"label": label, "mean": mean, "low": low, "high": high, "text": text,
             "end": end}
        )  # fmt: skip
        plots += [{"label": label, "value": value} for value in values]
    return means, plots


def means_top(means: Sequence[Row]) -> float:
    """Return the end of the axis, with room for the text beside the longest row."""
    return axis_top([1.3 * max((row["end"] for row in means), default=0.0)])


def means_chart(found: TrialSummary, showing: Showing) -> Any:
    """Return an empty chart of means with intervals, letters and the plots behind them.

    Parameters
    ----------
    found : TrialSummary
        Its levels fix the rows, colours and shapes.
    showing : Showing
        Unit of the axis.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``means`` (columns label, mean, low, high, text,
        end) and ``plots`` (label, value) and the parameter ``means_top``.
    """
    import altair as alt

    labels = mean_labels(found)
    title = tr("Yield ({unit})", unit=yield_unit(showing))
    colour, shape = _level_encodings(alt, sorted(labels))
    base = alt.Chart(empty(alt, "means")).encode(
        y=alt.Y("label:N", title=None, sort=labels, axis=None)
    )
    scale = from_zero(alt, "means_top")
    dots = (
        alt.Chart(empty(alt, "plots"))
        .mark_tick(size=16, thickness=1.5, color=QUIET, opacity=0.8)
        .encode(
            x=alt.X("value:Q", title=title, scale=scale),
            y=alt.Y("label:N", title=None, sort=labels, axis=None),
            tooltip=[alt.Tooltip("value:Q", title=tr("One plot ({unit})", unit=yield_unit(showing)),
                                 format=".3~g")],
        )
    )  # fmt: skip
    spans = base.mark_rule(strokeWidth=3, clip=True).encode(
        x=alt.X("low:Q", title=title, scale=scale), x2="high:Q", color=colour
    )
    points = base.mark_point(filled=True, size=150, stroke="#ffffff", strokeWidth=1).encode(
        x=alt.X("mean:Q", title=title, scale=scale), color=colour, shape=shape,
        tooltip=[
            alt.Tooltip("label:N", title=tr("What")),
            alt.Tooltip("mean:Q", title=tr("Mean ({unit})", unit=yield_unit(showing)), format=".3~g"),
            alt.Tooltip("low:Q", title=tr("Interval from"), format=".3~g"),
            alt.Tooltip("high:Q", title=tr("to"), format=".3~g"),
            alt.Tooltip("text:N", title=tr("Letters")),
        ],
    )  # fmt: skip
    words = base.mark_text(align="left", dx=8, fontSize=12, fontWeight="bold", color=INK).encode(
        x=alt.X("end:Q", title=title, scale=scale), text="text:N"
    )
    chart = alt.layer(dots, spans, points, words, names_above(alt, base)).add_params(
        top_parameter(alt, "means_top")
    )
    return finish(
        chart,
        tr(
            "Mean yield of each level with its interval; small strokes are the plots. Levels "
            "that share a letter are not shown to differ."
        ),
        rows_height(labels) + 10,
    )


def _level_encodings(alt: Any, labels: list[str]) -> tuple[Any, Any]:
    """Return colour and shape of each level; beyond eight all look alike and names tell."""
    if len(labels) > len(METHOD_COLOURS):
        return alt.value(METHOD_COLOURS[0]), alt.value(METHOD_SHAPES[0])
    colours, shapes = METHOD_COLOURS[: len(labels)], METHOD_SHAPES[: len(labels)]
    return (
        alt.Color("label:N", legend=None, scale=alt.Scale(domain=labels, range=list(colours))),
        alt.Shape("label:N", legend=None, scale=alt.Scale(domain=labels, range=list(shapes))),
    )


# -- residuals -------------------------------------------------------------------------------


def residual_rows(analysis: Analysis, checks: ResidualChecks, showing: Showing) -> list[Row]:
    """Return a row for each plot harvested; the largest residuals bear its name."""
    plots: PlotTable = analysis.model.plots
    factor = yield_number(units.quantity(1.0, "kg/m^2"), showing)
    largest = set(np.argsort(-np.abs(checks.residuals))[:NAMED_RESIDUALS].tolist())
    columns = zip(
        plots.plot_ids, checks.fitted, checks.residuals, checks.normal_scores, strict=True
    )
    return [
        {"plot": name, "fitted": float(fitted) * factor, "residual": float(residual) * factor,
         "score": float(score), "text": name if place in largest else ""}
        for place, (name, fitted, residual, score) in enumerate(columns)
    ]  # fmt: skip


def score_line(rows: Sequence[Row]) -> list[Row]:
    """Return two points of the line on which residuals of a normal curve would lie."""
    scores = [row["score"] for row in rows]
    spread = float(np.std([row["residual"] for row in rows], ddof=1))
    return [{"score": end, "residual": end * spread} for end in (min(scores), max(scores))]


def residual_top(rows: Sequence[Row]) -> float:
    """Return where the axis of residuals ends on either side."""
    return axis_top([1.15 * max(abs(row["residual"]) for row in rows)])


def residuals_chart(showing: Showing) -> Any:
    """Return an empty chart of residuals against fitted yields.

    Returns
    -------
    altair.LayerChart
        Reads the data source ``residuals`` (columns plot, fitted, residual,
        score, text) and the parameters ``residual_top`` and ``fitted_top``.
    """
    import altair as alt

    unit = yield_unit(showing)
    x = alt.X(
        "fitted:Q", title=tr("Fitted yield ({unit})", unit=unit), scale=from_zero(alt, "fitted_top")
    )
    points, names = _residual_points(alt, x, unit)
    chart = alt.layer(_zero(alt), points, names).add_params(
        top_parameter(alt, "residual_top"), top_parameter(alt, "fitted_top")
    )
    return finish(
        chart,
        tr(
            "What each plot gave more or less than the analysis expects, against what it "
            "expects. A funnel says that high yields vary more; a lone point, that something "
            "befell that plot."
        ),
        HEIGHT,
    )


def scores_chart(showing: Showing) -> Any:
    """Return an empty chart of residuals against normal scores.

    Returns
    -------
    altair.LayerChart
        Reads the data sources ``residuals`` (as `residuals_chart`) and
        ``score_line`` (score, residual) and the parameter ``residual_top``.
    """
    import altair as alt

    unit = yield_unit(showing)
    x = alt.X("score:Q", title=tr("Normal score (standard deviations)"))
    line = (
        alt.Chart(empty(alt, "score_line"))
        .mark_line(color=QUIET, strokeDash=[4, 3], strokeWidth=1.5, clip=True)
        .encode(x=x, y=_residual_axis(alt, unit))
    )
    points, names = _residual_points(alt, x, unit)
    chart = alt.layer(line, points, names).add_params(top_parameter(alt, "residual_top"))
    return finish(
        chart,
        tr(
            "Residuals in order against where they would stand if they followed a normal curve: "
            "near the dashed line they do."
        ),
        HEIGHT,
    )


def _residual_axis(alt: Any, unit: str) -> Any:
    scale = alt.Scale(
        domainMin={"expr": "-residual_top"}, domainMax={"expr": "residual_top"}, nice=False
    )
    return alt.Y("residual:Q", title=tr("Residual ({unit})", unit=unit), scale=scale)


def _residual_points(alt: Any, x: Any, unit: str) -> tuple[Any, Any]:
    base = alt.Chart(empty(alt, "residuals")).encode(x=x, y=_residual_axis(alt, unit))
    points = base.mark_point(filled=True, size=70, color=METHOD_COLOURS[0], opacity=0.85).encode(
        tooltip=[
            alt.Tooltip("plot:N", title=tr("Plot")),
            alt.Tooltip("fitted:Q", title=tr("Fitted ({unit})", unit=unit), format=".3~g"),
            alt.Tooltip("residual:Q", title=tr("Residual ({unit})", unit=unit), format="+.2~g"),
        ]
    )
    names = base.mark_text(dy=-10, fontSize=11, color=INK).encode(text="text:N")
    return points, names


def _zero(alt: Any) -> Any:
    return (
        alt.Chart(alt.InlineData(values=[{"residual": 0}]))
        .mark_rule(color=QUIET, strokeDash=[4, 3])
        .encode(y="residual:Q")
    )
