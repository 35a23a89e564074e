"""From advice, swings, crossings and maps to the rows that charts for choosing draw."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.charts.choice import BEATEN, HIGH_END, LOW_END, ON_FRONT, RULED_OUT, axis_span
from scenariokit.charts.frames import Row, Showing
from scenariokit.decide import Advice, BreakEven, Swing, Weighing, WinMap
from scenariokit.language import number_text, tr
from scenariokit.parameters import Parameter
from scenariokit.scenario import OUTCOMES, shown
from scenariokit.uncertainty import Ensemble

Signals = dict[str, float]
Labels = Mapping[str, str]


def _number(value: float) -> float | None:
    return None if np.isnan(value) else float(value)


def _shown(values: Any, name: str, showing: Showing) -> Any:
    return shown(values, OUTCOMES[name], showing.system, showing.rate)


def front_rows(
    advice: Advice, found: Ensemble, showing: Showing, x: str, y: str
) -> tuple[list[Row], Signals]:
    """Return medians and 90 % ranges of two outcomes, one row a method, and the ends of the axes."""
    spans = [_shown(found.quantiles(name), name, showing) for name in (x, y)]
    rows: list[Row] = []
    for number, one in enumerate(advice.standings):
        place, why = tr(ON_FRONT), tr("no other method beats it in both")
        if not one.within:
            reasons = [tr(part.limit.label) for part in one.breaches]
            reasons += [tr(part.kind.label) for part in one.lacks]
            place, why = tr(RULED_OUT), ", ".join(reasons)
        elif not one.on_front:
            place, why = tr(BEATEN), tr("another method is at least as good in both")
        rows.append(
            {
                "method": one.method, "label": tr(one.label), "place": place, "why": why,
                **{
                    f"{axis}{end}": _number(span[number, column])
                    for axis, span in zip("xy", spans, strict=True)
                    for column, end in ((0, "_low"), (1, ""), (2, "_high"))
                },
            }
        )  # fmt: skip
    ends = [
        axis_span(row[f"{axis}{end}"] for row in rows for end in ("_low", "_high")) for axis in "xy"
    ]
    return rows, dict(
        zip(("front_left", "front_right", "front_bottom", "front_top"), (*ends[0], *ends[1]),
            strict=True)
    )  # fmt: skip


def _percent(share: float) -> str:
    return tr("{percent:.0f} %", percent=100 * float(share))


def best_rows(advice: Advice) -> list[Row]:
    """Return in how many of a hundred draws each method is the best; none for one ruled out."""
    return [
        {"method": one.method, "label": tr(one.label), "value": 100 * one.best,
         "text": _percent(one.best) if one.within else tr("ruled out")}
        for one in advice.standings
    ]  # fmt: skip


def weighing_rows(found: Weighing, methods: Sequence[tuple[str, str]]) -> list[Row]:
    """Return for how many of a hundred weightings each method has the highest worth."""
    return [
        {"method": key, "label": label, "value": 100 * float(share),
         "text": _percent(share) if share else tr("never")}
        for (key, label), share in zip(methods, found.win_share, strict=True)
    ]  # fmt: skip


def swing_rows(
    found: Swing, described: Mapping[str, Parameter], showing: Showing
) -> tuple[list[Row], Signals]:
    """Return two rows an input, the widest first, and the ends of the axis.

    Parameters
    ----------
    found : Swing
        What moves the outcome.
    described : mapping
        Parameter of each path, for its unit.
    showing : Showing
        Units and currency of the reader.
    """
    base = _number(float(_shown(found.base, found.name, showing)))
    rows: list[Row] = []
    for order, one in enumerate(found.rows):
        for end, value, given in (
            (LOW_END, one.low, one.low_input), (HIGH_END, one.high, one.high_input),
        ):  # fmt: skip
            rows.append(
                {
                    "input": tr(one.label), "order": order, "end": tr(end), "base": base,
                    "value": _number(float(_shown(value, found.name, showing))),
                    "text": _value_words(given, described.get(one.path), showing),
                }
            )  # fmt: skip
    left, right = axis_span([base, *(row["value"] for row in rows)])
    return rows, {"swing_left": left, "swing_right": right}


def _value_words(given: Any, described: Parameter | None, showing: Showing) -> str:
    if given is None or described is None:
        return tr("differs between the methods")
    unit = described.shown_unit(showing.system)
    number = float(given.m_as(units.unit_of(unit))) * (showing.rate if "money" in unit else 1.0)
    return f"{number_text(number, '.3g')} {units.unit_label(unit, showing.currency)}".strip()


def parameter_title(described: Parameter, showing: Showing) -> str:
    """Return label and unit of a parameter, for an axis."""
    unit = units.unit_label(described.shown_unit(showing.system), showing.currency)
    return f"{tr(described.label)} ({unit})" if unit else tr(described.label)


def parameter_numbers(values: Any, described: Parameter, showing: Showing) -> Any:
    """Return values of a parameter as plain numbers that this person reads."""
    unit = described.shown_unit(showing.system)
    return units.magnitude(values, unit) * (showing.rate if "money" in unit else 1.0)


def crossing_rows(
    found: BreakEven, described: Parameter, today: float, labels: Labels, showing: Showing
) -> tuple[dict[str, list[Row]], Signals]:
    """Return both lines, where they meet, where the slider stands, and the ends of the axes.

    Parameters
    ----------
    found : BreakEven
        The two methods over the parameter.
    described : Parameter
        The parameter.
    today : float
        Where it stands, in its own unit.
    labels : mapping
        What a person reads for each method.
    showing : Showing
        Units and currency of the reader.
    """
    x = parameter_numbers(found.values, described, showing)
    lines = [
        (labels[key], _shown(values, found.name, showing))
        for key, values in ((found.one, found.first), (found.other, found.second))
    ]
    rows: list[Row] = [
        {"series": label, "x": float(at), "y": _number(float(value))}
        for label, values in lines
        for at, value in zip(x, values, strict=True)
    ]
    points: list[Row] = []
    for crossing in found.crossings:
        at = float(parameter_numbers(crossing.at, described, showing))
        equal = crossing.kind == "equal"
        points.append(
            {"x": at, "y": _number(float(_shown(crossing.outcome, found.name, showing))),
             "text": tr("equal at {at:.3g}", at=at) if equal else tr("leap at {at:.3g}", at=at)}
        )  # fmt: skip
    now = units.quantity(today, described.unit)
    here = float(parameter_numbers(now, described, showing))
    low, high = axis_span(row["y"] for row in rows)
    ends = {
        "crossing_left": float(x[0]), "crossing_right": float(x[-1]),
        "crossing_bottom": low, "crossing_top": high,
    }  # fmt: skip
    sources: dict[str, list[Row]] = {
        "crossing": rows,
        "crossing_points": points,
        "crossing_today": [{"x": here, "text": tr("now {here:.3g}", here=here)}],
    }
    return sources, ends


def winner_rows(
    found: WinMap,
    name: str,
    described: tuple[Parameter, Parameter],
    today: tuple[float, float],
    labels: Labels,
    showing: Showing,
) -> tuple[dict[str, list[Row]], Signals]:
    """Return the cells of a map, a name in each method's part, and the ends of the axes."""
    x, y = (
        parameter_numbers(values, one, showing)
        for values, one in zip((found.x, found.y), described, strict=True)
    )
    edges_x, edges_y = _edges(x), _edges(y)
    lead = _shown(found.lead, name, showing)
    most = np.nanmax(lead) if np.isfinite(lead).any() else 0.0
    rows = []
    for row, column in np.ndindex(found.best.shape):
        best = int(found.best[row, column])
        if best < 0:
            continue
        ahead = float(lead[row, column])
        key = found.methods[best]
        rows.append(
            {
                "x": float(edges_x[column]), "x2": float(edges_x[column + 1]),
                "y": float(edges_y[row]), "y2": float(edges_y[row + 1]),
                "method": key, "label": labels[key],
                "lead": 1.0 if np.isnan(ahead) or most == 0 else ahead / most,
                "text": tr("alone") if np.isnan(ahead) else f"{number_text(ahead, '.2f')} {showing.unit(name)}",
            }
        )  # fmt: skip
    here = [
        float(parameter_numbers(units.quantity(value, one.unit), one, showing))
        for value, one in zip(today, described, strict=True)
    ]
    sources = {
        "winners": rows,
        "winner_names": _names(found, x, y, labels),
        "winner_today": [{"x": here[0], "y": here[1]}],
    }
    ends = {
        "winners_left": float(edges_x[0]), "winners_right": float(edges_x[-1]),
        "winners_bottom": float(edges_y[0]), "winners_top": float(edges_y[-1]),
    }  # fmt: skip
    return sources, ends


def _edges(centres: Any) -> Any:
    """Return the edges of cells from the ends of a range: the outer cells are cut at the ends."""
    middles = (centres[:-1] + centres[1:]) / 2
    return np.concatenate([centres[:1], middles, centres[-1:]])


def _names(found: WinMap, x: Any, y: Any, labels: Labels) -> list[Row]:
    """Return where the name of each method stands: at the cell of its part nearest its middle."""
    rows = []
    for number, key in enumerate(found.methods):
        up, across = np.nonzero(found.best == number)
        if len(up) < found.best.size / 60:  # no room for a name
            continue
        away = (up - up.mean()) ** 2 + (across - across.mean()) ** 2
        nearest = int(np.argmin(away))
        rows.append({"x": float(x[across[nearest]]), "y": float(y[up[nearest]]),
                     "label": labels[key]})  # fmt: skip
    return rows
