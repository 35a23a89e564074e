"""What several trials say together, and what was wrong with their files."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape
from typing import Any

from scenariokit.charts.frames import Showing
from scenariokit.charts.trials import yield_unit
from scenariokit.errors import Problem
from scenariokit.language import mark, number_text, tr
from scenariokit.report.tables import problems_list
from scenariokit.report.trial_numbers import chance, in_reader_units, span_text, yield_text
from scenariokit.report.trial_tables import html_table
from scenariokit.trials.meta import ForestRow, Interval, MethodOverStudies
from scenariokit.trials.over_studies import StudiesSummary
from scenariokit.trials.plots import factor_text


def size_text(value: Any, one: MethodOverStudies, showing: Showing) -> str:
    """Return a ratio, or a difference in the reader's unit, as text."""
    if one.scale == "ratio":
        return number_text(float(value.m), ".2f")
    return yield_text(value, showing, unit=False)


def _ends(found: Interval, one: MethodOverStudies, showing: Showing) -> str:
    return tr(
        "{low} to {high}",
        low=size_text(found.low, one, showing),
        high=size_text(found.high, one, showing),
    )


def studies_sentences(found: StudiesSummary, showing: Showing) -> list[str]:
    """Return what the studies say together of each level, and how much they differ.

    Parameters
    ----------
    found : StudiesSummary
        What `summarise_studies` gave.
    showing : Showing
        Units of the reader.
    """
    known = found.plots.known()
    said = [
        tr(
            "{studies} studies, {harvested} of {plots} plots harvested; each {factor} is held "
            "against {common}.",
            studies=len(found.studies),
            harvested=len(known),
            plots=len(found.plots),
            factor=factor_text(found.compare),
            common=found.common,
        )
    ]
    for one in found.over:
        said.append(_over(one, found, showing))
    return said + _model_sentences(found, showing)


def _over(one: MethodOverStudies, found: StudiesSummary, showing: Showing) -> str:
    """Return what the studies say of one level."""
    if one.random is None or one.pool is None:
        return tr(
            "{method}: {count} of {all} studies can be pooled, and that takes two; the table of "
            "the picture says why.",
            method=one.method,
            count=len(one.rows),
            all=len(one.rows) + len(one.apart),
        )
    words = [
        _verdict(one, one.random, found, showing),
        tr(
            "Studies differ: {percent:.0f} % of the variation is among studies (Q = {q:.1f}, "
            "{chance}).",
            percent=100 * one.pool.i_squared,
            q=float(one.pool.q),
            chance=chance(one.pool.q_p),
        ),
    ]
    if one.prediction is not None:
        ends = _ends(one.prediction, one, showing)
        words.append(tr("Another such study may give {ends}.", ends=ends))
    if one.apart:
        listed = ", ".join(row.study for row in one.apart)
        words.append(tr("Shown apart and not pooled: {studies}.", studies=listed))
    return " ".join(words)


_VERDICTS = {
    ("ratio", True): mark(
        "{method}: {size} times the yield of {common} ({interval}) over {studies} studies: a "
        "difference is shown."
    ),
    ("ratio", False): mark(
        "{method}: {size} times the yield of {common} ({interval}) over {studies} studies: a "
        "difference is not shown."
    ),
    ("difference", True): mark(
        "{method}: {size} {unit} beside {common} ({interval}) over {studies} studies: a difference "
        "is shown."
    ),
    ("difference", False): mark(
        "{method}: {size} {unit} beside {common} ({interval}) over {studies} studies: a difference "
        "is not shown."
    ),
}


def _verdict(
    one: MethodOverStudies, middle: Interval, found: StudiesSummary, showing: Showing
) -> str:
    """Return how one level stands beside the usual one, and whether that is shown."""
    scale, plain = ("ratio", 1.0) if one.scale == "ratio" else ("difference", 0.0)
    apart = not float(middle.low.m) <= plain <= float(middle.high.m)
    return tr(
        _VERDICTS[scale, apart],
        method=one.method,
        size=size_text(middle.estimate, one, showing),
        unit=yield_unit(showing),
        common=one.common,
        interval=tr(
            "{percent:.3g} % interval {ends}",
            percent=100 * found.confidence,
            ends=_ends(middle, one, showing),
        ),
        studies=0 if one.pool is None else one.pool.studies,
    )


def _model_sentences(found: StudiesSummary, showing: Showing) -> list[str]:
    if found.model is None:
        return [tr("One model of all plots is not possible: {reason}.", reason=found.refusal)]
    parts = []
    for one in found.model.components:
        size = tr("nothing") if one.at_zero else yield_text(one.standard_deviation, showing)
        if one.term == ("plot",):
            parts.append(tr("plots treated alike by {size}", size=size))
        else:
            parts.append(tr("groups of {factors} by {size}", factors=_crossed(one.term), size=size))
    said = [
        tr(
            "In one model of all plots (standard deviations) differ: {parts}.",
            parts="; ".join(parts),
        )
    ]
    for test in found.model.tests:
        told = {
            "factors": _crossed(test.term),
            "f": float(test.f),
            "degrees": test.degrees,
            "error_degrees": float(test.error_degrees),
            "chance": chance(test.p),
        }
        if test.p < 1 - found.confidence:
            text = tr(
                "There, that the {factors} makes a difference is shown (F = {f:.2f} with {degrees} "
                "and {error_degrees:.1f} degrees of freedom, {chance}).",
                **told,
            )
        else:
            text = tr(
                "There, that the {factors} makes a difference is not shown (F = {f:.2f} with "
                "{degrees} and {error_degrees:.1f} degrees of freedom, {chance}).",
                **told,
            )
        said.append(text)
    return said


def _crossed(term: Iterable[str]) -> str:
    return " × ".join(factor_text(factor) for factor in term)


def studies_rows(found: StudiesSummary, showing: Showing) -> list[list[str]]:
    """Return the means of the model of all plots as text, headings first; empty without one."""
    if found.model is None:
        return []
    unit = yield_unit(showing)
    level = 100 * found.confidence
    heads = [factor_text(found.compare).capitalize(), tr("Mean ({unit})", unit=unit),
             tr("{percent:.3g} % interval ({unit})", percent=level, unit=unit),
             tr("Plots harvested")]  # fmt: skip
    column = found.plots.known().column(found.compare)
    rows = [
        [
            one.levels[found.compare],
            yield_text(one.mean, showing, unit=False),
            span_text(one.low, one.high, showing),
            str(column.count(one.levels[found.compare])),
        ]
        for one in sorted(found.model.means(found.compare), key=lambda mean: -float(mean.mean.m))
    ]
    return [heads, *rows]


def studies_table(found: StudiesSummary, showing: Showing) -> str:
    """Return the means of the model of all plots as HTML, or nothing without one."""
    rows = studies_rows(found, showing)
    if not rows:
        return ""
    note = escape(tr("Means over studies like these; intervals hold their differences too."))
    table = html_table(tr("Means over all studies"), rows[0], rows[1:])
    return f"{table}<p><small>{note}</small></p>"


def forest_rows_text(one: MethodOverStudies, showing: Showing) -> list[list[str]]:
    """Return one level's studies as text, headings first."""
    what = (
        tr("Ratio") if one.scale == "ratio" else tr("Difference ({unit})", unit=yield_unit(showing))
    )
    heads = [tr("Study"), what, tr("Interval"), tr("Weight"), tr("Plots"), tr("Why not pooled")]

    def line(row: ForestRow) -> list[str]:
        middle = "–" if row.estimate is None else size_text(row.estimate, one, showing)
        ends = tr("none")
        if row.low is not None and row.high is not None:
            low, high = (size_text(end, one, showing) for end in (row.low, row.high))
            ends = tr("{low} to {high}", low=low, high=high)
        weight = f"{100 * row.weight:.0f} %" if row.weight else "–"
        reason = row.reason or ("" if row.weight else tr("no other study to pool it with"))
        return [row.study, middle, ends, weight, str(row.plots), reason]

    rows = [line(row) for row in (*one.rows, *one.apart)]
    for name, found in (
        (tr("All studies"), one.random),
        (tr("Another such study"), one.prediction),
    ):
        if found is not None:
            middle = size_text(found.estimate, one, showing)
            rows.append([name, middle, _ends(found, one, showing), "", "", ""])
    return [heads, *rows]


def file_findings(problems: Iterable[Problem], flags: Iterable[Problem]) -> str:
    """Return as HTML which rows were not used, and which want a second look."""
    text = ""
    for title, rows in (
        (tr("Not used"), list(problems)),
        (tr("Used, but look again"), list(flags)),
    ):
        if rows:
            text += f"<h4>{escape(title)}</h4>{problems_list(rows)}"
    return text


def note_sentences(notes: Iterable[str], showing: Showing) -> list[str]:
    """Return notes as sentences in the reader's units, each once."""
    said = []
    for note in dict.fromkeys(notes):
        text = in_reader_units(note.strip(), showing)
        said.append(f"{text[:1].upper()}{text[1:].rstrip('.')}.")
    return said
