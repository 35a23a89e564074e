"""Tables of a trial as HTML; every text is escaped."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from html import escape
from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.charts.trials import yield_number, yield_unit
from scenariokit.language import number_text, tr, tr_n
from scenariokit.report.trial_numbers import (
    METRIC,
    bare_chance,
    signed,
    span_text,
    yield_text,
)
from scenariokit.report.trials import shown_labels
from scenariokit.trials.analysis import Comparisons
from scenariokit.trials.measures import GroupMeasures, Measure
from scenariokit.trials.plots import factor_text, factors_text
from scenariokit.trials.summary import TrialSummary


def html_table(label: str, heads: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """Return a table that scrolls by itself on a narrow page; every text is escaped."""
    head = "".join(f'<th scope="col">{escape(text)}</th>' for text in heads)
    body = "".join(
        f'<tr><th scope="row">{escape(first)}</th>'
        f"{''.join(f'<td>{escape(cell)}</td>' for cell in cells)}</tr>"
        for first, *cells in rows
    )
    return (
        f'<div class="sk-scroll" tabindex="0" role="region" aria-label="{escape(label)}">'
        f'<table class="sk-table"><thead><tr>{head}</tr></thead><tbody>{body}</tbody></table></div>'
    )


def means_rows(found: TrialSummary, showing: Showing) -> list[list[str]]:
    """Return the means as text, headings first."""
    unit = yield_unit(showing)
    ends = tr("{percent:.3g} % interval ({unit})", percent=100 * found.confidence, unit=unit)
    heads = [
        factors_text(found.compare.split(":")).capitalize(), tr("Mean ({unit})", unit=unit),
        tr("Letters"), ends, tr("Standard error ({unit})", unit=unit), tr("Plots"),
        tr("Not harvested"), tr("Lowest to highest plot ({unit})", unit=unit),
    ]  # fmt: skip
    labels = shown_labels(found)

    def text(value: Any) -> str:
        return "–" if value is None else yield_text(value, showing, unit=False)

    rows = []
    for one in found.means:
        lowest, highest = (units.quantity(f(one.values), METRIC[0]) for f in (min, max))
        rows.append(
            [
                labels[one.label], text(one.mean), one.letters or "–",
                span_text(one.low, one.high, showing), text(one.standard_error), str(one.plots), str(one.unharvested),
                span_text(lowest, highest, showing),
            ]
        )  # fmt: skip
    return [heads, *rows]


def means_table(found: TrialSummary, showing: Showing) -> str:
    """Return the means with intervals and letters as HTML."""
    heads, *rows = means_rows(found, showing)
    table = html_table(tr("Means"), heads, rows)
    if found.comparisons is None:
        return table
    note = tr(
        "Two that share a letter are not shown to differ; that does not make them alike. Each "
        "interval stands for itself."
    )
    return f"{table}<p><small>{escape(note)}</small></p>"


def measures_table(groups: Sequence[GroupMeasures], showing: Showing) -> str:
    """Return yield per area, ground and plant, and the marketable share, with intervals, as HTML."""
    area = yield_unit(showing)
    plant, per_plant = (
        ("lb/plant", tr("Lb per plant"))
        if showing.system == "us"
        else ("kg/plant", tr("Kg per plant"))
    )
    named = {
        "per_area": (tr("Per tank area ({unit})", unit=area), yield_number),
        "per_occupied": (tr("Per occupied ground ({unit})", unit=area), yield_number),
        "per_plant": (per_plant, _in(plant)),
        "marketable": (tr("Marketable (%)"), _in("percent")),
    }
    kept = [name for name in named if any(getattr(one, name) is not None for one in groups)]
    heads = [tr("Method"), tr("Variety"), *(named[name][0] for name in kept)]
    rows = [
        [
            one.method,
            one.variety,
            *(_told(getattr(one, name), named[name][1], showing) for name in kept),
        ]
        for one in groups
    ]
    return html_table(tr("More measures"), heads, rows)


def _in(unit: str) -> Callable[[Any, Showing], float]:
    def number(value: Any, _showing: Showing) -> float:
        return float(value.m_as(units.unit_of(unit)))

    return number


def _told(
    measure: Measure | None, number: Callable[[Any, Showing], float], showing: Showing
) -> str:
    """Return a mean with its interval and its plots, or that there is none."""
    if measure is None:
        return "–"
    mean = number(measure.mean, showing)
    if measure.low is None or measure.high is None:
        return tr("{mean:.3g} (one plot, no interval)", mean=mean)
    return tr_n(
        "{mean:.3g} ({low:.3g} to {high:.3g}; {count} plot)",
        "{mean:.3g} ({low:.3g} to {high:.3g}; {count} plots)",
        measure.plots,
        mean=mean,
        low=number(measure.low, showing),
        high=number(measure.high, showing),
    )


def analysis_table(found: TrialSummary, showing: Showing) -> str:
    """Return the analysis of variance as HTML, or nothing where there is none."""
    if found.analysis is None:
        return ""
    one = units.quantity(1.0, METRIC[0])
    factor = yield_number(one, showing) ** 2
    square = f"(({yield_unit(showing)})²)"
    heads = [tr("Source"), tr("Degrees of freedom"), tr("Sum of squares {unit}", unit=square),
             tr("Mean square {unit}", unit=square), "F", "p", tr("Held against")]  # fmt: skip
    rows = [
        [
            factor_text(row.source).replace(":", " × "),
            str(row.df),
            number_text(row.sum_of_squares * factor, ".4g"),
            "" if row.mean_square is None else number_text(row.mean_square * factor, ".4g"),
            "" if row.f is None else number_text(row.f, ".2f"),
            "" if row.p is None else bare_chance(row.p),
            factor_text(row.error),
        ]
        for row in found.analysis.rows
    ]
    return html_table(tr("Analysis of variance"), heads, rows)


def pairs_table(found: TrialSummary, showing: Showing) -> str:
    """Return every pair as HTML: tested, or beside the usual variation where nothing is."""
    if found.comparisons is not None:
        return _tested_pairs(found, found.comparisons, showing)
    if not found.differences:
        return ""
    labels, unit = shown_labels(found), yield_unit(showing)
    heads = [tr("Pair"), tr("Difference ({unit})", unit=unit)] + [
        tr("Like plots stay within, varying {percent:.0f} %", percent=100 * row.cv)
        for row in found.differences[0].credible
    ]
    rows = [
        [
            f"{labels[one.first]} – {labels[one.second]}",
            signed(one.observed, showing, unit=False),
        ]
        + [
            _beside_chance(yield_text(row.difference, showing, unit=False), row.passed)
            for row in one.credible
        ]
        for one in found.differences
    ]
    return html_table(tr("Differences beside the usual variation"), heads, rows)


def _beside_chance(size: str, passed: bool) -> str:
    return tr("± {size} (passed)", size=size) if passed else f"± {size}"


def _tested_pairs(found: TrialSummary, pairs: Comparisons, showing: Showing) -> str:
    labels, unit = shown_labels(found), yield_unit(showing)
    heads = [tr("Pair"), tr("Difference ({unit})", unit=unit),
             tr("{percent:.3g} % interval ({unit})", percent=100 * pairs.confidence, unit=unit),
             "p (Tukey)", tr("Shown")]  # fmt: skip
    rows = []
    for pair in pairs.pairs:
        rows.append(
            [
                f"{labels[pair.first]} – {labels[pair.second]}",
                signed(pair.difference, showing, unit=False),
                span_text(pair.low, pair.high, showing, differences=True),
                bare_chance(pair.p),
                tr("yes") if pair.differs else tr("no"),
            ]
        )  # fmt: skip
    return html_table(tr("Every pair"), heads, rows)
