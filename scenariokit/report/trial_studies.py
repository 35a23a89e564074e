"""What several trials say together, and what was wrong with their files."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from scenariokit.charts.frames import Showing
from scenariokit.charts.trials import yield_unit
from scenariokit.errors import Problem
from scenariokit.report.tables import problems_list
from scenariokit.report.trial_numbers import chance, in_reader_units, yield_text
from scenariokit.report.trial_tables import html_table
from scenariokit.trials.meta import ForestRow, Interval, MethodOverStudies
from scenariokit.trials.over_studies import StudiesSummary


def size_text(value: Any, one: MethodOverStudies, showing: Showing) -> str:
    """Return a ratio, or a difference in the reader's unit, as text."""
    if one.scale == "ratio":
        return f"{float(value.m):.2f}"
    return yield_text(value, showing, unit=False)


def _ends(found: Interval, one: MethodOverStudies, showing: Showing) -> str:
    return f"{size_text(found.low, one, showing)} to {size_text(found.high, one, showing)}"


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
        f"{len(found.studies)} studies, {len(known)} of {len(found.plots)} plots harvested; each "
        f"{found.compare} is held against {found.common}."
    ]
    for one in found.over:
        said.append(_over(one, found, showing))
    return said + _model_sentences(found, showing)


def _over(one: MethodOverStudies, found: StudiesSummary, showing: Showing) -> str:
    """Return what the studies say of one level."""
    if one.random is None or one.pool is None:
        return (
            f"{one.method}: {len(one.rows)} of {len(one.rows) + len(one.apart)} studies can be "
            "pooled, and that takes two; the table of the picture says why."
        )
    level = f"{100 * found.confidence:.3g} % interval {_ends(one.random, one, showing)}"
    middle = size_text(one.random.estimate, one, showing)
    head = (
        f"{one.method}: {middle} times the yield of {one.common} ({level})"
        if one.scale == "ratio"
        else f"{one.method}: {middle} {yield_unit(showing)} beside {one.common} ({level})"
    )
    plain = 1.0 if one.scale == "ratio" else 0.0
    apart = not float(one.random.low.m) <= plain <= float(one.random.high.m)
    verdict = "a difference is shown" if apart else "a difference is not shown"
    spread = (
        f"{100 * one.pool.i_squared:.0f} % of the variation is among studies (Q = {one.pool.q:.1f}, "
        f"{chance(one.pool.q_p)})"
    )
    text = f"{head} over {one.pool.studies} studies: {verdict}. Studies differ: {spread}."
    if one.prediction is not None:
        text += f" Another such study may give {_ends(one.prediction, one, showing)}."
    if one.apart:
        text += f" Shown apart and not pooled: {', '.join(row.study for row in one.apart)}."
    return text


def _model_sentences(found: StudiesSummary, showing: Showing) -> list[str]:
    if found.model is None:
        return [f"One model of all plots is not possible: {found.refusal}."]
    parts = []
    for one in found.model.components:
        what = (
            "plots treated alike" if one.term == ("plot",) else f"groups of {' × '.join(one.term)}"
        )
        size = "nothing" if one.at_zero else yield_text(one.standard_deviation, showing)
        parts.append(f"{what} by {size}")
    said = [f"In one model of all plots (standard deviations) differ: {'; '.join(parts)}."]
    for test in found.model.tests:
        verdict = "is shown" if test.p < 1 - found.confidence else "is not shown"
        said.append(
            f"There, that the {' × '.join(test.term)} makes a difference {verdict} "
            f"(F = {test.f:.2f} with {test.degrees} and {test.error_degrees:.1f} degrees of "
            f"freedom, {chance(test.p)})."
        )
    return said


def studies_rows(found: StudiesSummary, showing: Showing) -> list[list[str]]:
    """Return the means of the model of all plots as text, headings first; empty without one."""
    if found.model is None:
        return []
    unit = yield_unit(showing)
    heads = [found.compare.capitalize(), f"Mean ({unit})",
             f"{100 * found.confidence:.3g} % interval ({unit})", "Plots harvested"]  # fmt: skip
    column = found.plots.known().column(found.compare)
    rows = [
        [
            one.levels[found.compare],
            yield_text(one.mean, showing, unit=False),
            f"{yield_text(one.low, showing, unit=False)} to "
            f"{yield_text(one.high, showing, unit=False)}",
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
    note = (
        "<p><small>Means over studies like these; intervals hold their differences too.</small></p>"
    )
    return html_table("Means over all studies", rows[0], rows[1:]) + note


def forest_rows_text(one: MethodOverStudies, showing: Showing) -> list[list[str]]:
    """Return one level's studies as text, headings first."""
    what = "Ratio" if one.scale == "ratio" else f"Difference ({yield_unit(showing)})"
    heads = ["Study", what, "Interval", "Weight", "Plots", "Why not pooled"]

    def line(row: ForestRow) -> list[str]:
        middle = "–" if row.estimate is None else size_text(row.estimate, one, showing)
        ends = "none"
        if row.low is not None and row.high is not None:
            ends = f"{size_text(row.low, one, showing)} to {size_text(row.high, one, showing)}"
        weight = f"{100 * row.weight:.0f} %" if row.weight else "–"
        reason = row.reason or ("" if row.weight else "no other study to pool it with")
        return [row.study, middle, ends, weight, str(row.plots), reason]

    rows = [line(row) for row in (*one.rows, *one.apart)]
    for name, found in (("All studies", one.random), ("Another such study", one.prediction)):
        if found is not None:
            middle = size_text(found.estimate, one, showing)
            rows.append([name, middle, _ends(found, one, showing), "", "", ""])
    return [heads, *rows]


def file_findings(problems: Iterable[Problem], flags: Iterable[Problem]) -> str:
    """Return as HTML which rows were not used, and which want a second look."""
    text = ""
    for title, rows in (
        ("Not used", list(problems)),
        ("Used, but look again", list(flags)),
    ):
        if rows:
            text += f"<h4>{title}</h4>{problems_list(rows)}"
    return text


def note_sentences(notes: Iterable[str], showing: Showing) -> list[str]:
    """Return notes as sentences in the reader's units, each once."""
    said = []
    for note in dict.fromkeys(notes):
        text = in_reader_units(note.strip(), showing)
        said.append(f"{text[:1].upper()}{text[1:].rstrip('.')}.")
    return said
