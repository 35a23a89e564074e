"""Tables as HTML and CSV; every text that a person may have written is escaped."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from scenariokit.cautions import Caution
from scenariokit.charts.frames import Showing
from scenariokit.errors import Problem
from scenariokit.language import mark, number_text, tr
from scenariokit.report.safe_text import begins_formula
from scenariokit.scenario import OUTCOMES, Comparison, Evaluation
from scenariokit.scenario.shown_labels import basis_text

SUMMARY: tuple[str, ...] = (
    "yield_per_area", "yield_per_plant", "field_equivalent", "cost_per_kilogram",
    "margin_per_area", "return_to_labour", "labour_per_area", "investment_per_area",
    "medium_volume_per_area", "water_per_yield", "peak_water_use",
    "fullest_depth", "autonomy", "refills", "reserve_volume", "water_load", "fertiliser_mass",
)  # fmt: skip
"""The outcomes of the short table, in its order."""

GROUPS = (
    ("yield", mark("Yield")),
    ("cost", mark("Cost")),
    ("labour", mark("Labour")),
    ("medium", mark("Growing medium")),
    ("tank", mark("Tank")),
    ("water", mark("Water")),
    ("nutrients", mark("Nutrients")),
)
MAX_PROBLEMS = 20
MOST_DIGITS = 4
"""A small number, as in US units, gets more places until two of them mean something."""


def amount(found: Evaluation, name: str, showing: Showing) -> str:
    """Return an outcome as text with as many digits as mean something, or a dash."""
    value = showing.number(found, name)
    if value is None:
        return "–"
    digits = OUTCOMES[name].digits
    while 0 < abs(value) < 10 ** (1 - digits) and digits < MOST_DIGITS:
        digits += 1
    return number_text(value, f",.{digits}f")


def said_list(lines: Iterable[str]) -> str:
    """Return sentences as an HTML list, of which a page reads out the first when it changes."""
    return f"<div class='sk-says'>{spoken_list(lines)}</div>"


def spoken_list(lines: Iterable[str]) -> str:
    """Return a bare HTML list whose first line is marked as what a page reads out."""
    listed = "".join(f"<li>{escape(line)}</li>" for line in lines)
    return f"<ul>{listed.replace('<li>', '<li data-spoken>', 1)}</ul>"


def comparison_table(
    comparison: Comparison, showing: Showing, names: Sequence[str] = SUMMARY
) -> str:
    """Return the comparison as an HTML table: outcomes down, methods across."""
    head = "".join(
        f'<th scope="col">{escape(tr(found.scenario.method.label))}</th>' for found in comparison
    )
    lines = []
    for name in names:
        cells = []
        for found in comparison:
            reason = found.undefined.get(name, "")
            title = f' title="{escape(reason)}"' if reason else ""
            cells.append(f"<td{title}>{amount(found, name, showing)}</td>")
        title = escape(tr(OUTCOMES[name].formula))
        lines.append(
            f'<tr><th scope="row" title="{title}">{escape(showing.title(name))}'
            f"{_folded_cautions(comparison, name)}</th>"
            f"{''.join(cells)}</tr>"
        )
    return (
        '<div class="sk-scroll" tabindex="0" role="region" '
        f'aria-label="{escape(tr("Numbers of all methods"))}"><table class="sk-table">'
        f'<thead><tr><th scope="col">{escape(tr("Outcome"))}</th>{head}</tr></thead>'
        f"<tbody>{''.join(lines)}</tbody></table></div>"
    )


def _folded_cautions(comparison: Comparison, name: str) -> str:
    """Return the cautions that an outcome raises under any method, folded below its name.

    Of the same caution for several methods the most severe one is kept.
    """
    worst: dict[str, Caution] = {}
    for found in comparison:
        for caution in found.cautions:
            kept = worst.get(caution.id)
            rank = _SEVERITIES.index(caution.severity)
            if caution.outcome == name and (
                kept is None or rank > _SEVERITIES.index(kept.severity)
            ):
                worst[caution.id] = caution
    ranked = sorted(worst.values(), key=lambda one: -_SEVERITIES.index(one.severity))
    if not ranked:
        return ""
    word = escape(tr(_WORDS[ranked[0].severity]).rstrip(": \u00a0\u202f"))
    text = "".join(
        f'<p class="sk-caution sk-{one.severity}">{escape(one.text)} '
        f"<small>{escape(_source_words(one))}</small></p>"
        for one in ranked
    )
    kind = ranked[0].severity
    return f'<details class="sk-fold sk-{kind}"><summary>{word}</summary>{text}</details>'


def _source_words(caution: Caution) -> str:
    return tr("Source: {source}.", source=caution.source)


def comparison_text(
    comparison: Comparison, showing: Showing, names: Sequence[str] = SUMMARY
) -> str:
    """Return the comparison as plain text for a terminal: outcomes down, methods across."""
    import pandas as pd

    rows = {
        showing.title(name): [amount(found, name, showing) for found in comparison]
        for name in names
    }
    ids = [found.scenario.method.id for found in comparison]
    text: str = pd.DataFrame(rows, index=ids).T.to_string()
    return text


def comparison_csv(comparison: Comparison, showing: Showing) -> str:
    """Return every outcome of every method as CSV, columns named with their units.

    Text that a spreadsheet would take for a formula gets an apostrophe before it.
    """
    frame = comparison.frame(showing.system, showing.rate)
    frame["currency"] = showing.currency
    for column in frame.columns:
        if frame[column].dtype.kind != "f":
            frame[column] = [_harmless(str(value)) for value in frame[column]]
    text: str = frame.to_csv(index=False, float_format="%.6g", lineterminator="\n")
    return text


def _harmless(text: str) -> str:
    return f"'{text}" if begins_formula(text) else text


def method_sheet(found: Evaluation, showing: Showing) -> str:
    """Return all outcomes of one method as HTML, each caution beside the number that raises it."""
    method = found.scenario.method
    basis = tr("Yield: {basis}.", basis=basis_text(found.scenario.harvest.basis))
    parts = [
        f"<h3>{escape(tr(method.label))}</h3><p>{escape(tr(method.summary))}</p>"
        f'<p class="sk-basis">{escape(basis)}</p>'
    ]
    for group, title in GROUPS:
        rows = "".join(
            _sheet_row(found, name, showing)
            for name, described in OUTCOMES.items()
            if described.group == group
        )
        parts.append(f"<h4>{escape(tr(title))}</h4><dl class='sk-outcomes'>{rows}</dl>")
    return f'<section class="sk-sheet">{"".join(parts)}</section>'


def _sheet_row(found: Evaluation, name: str, showing: Showing) -> str:
    """Return one outcome with the reason why it is missing and its cautions."""
    described = OUTCOMES[name]
    value = f"{amount(found, name, showing)} {showing.unit(name)}".strip()
    reason = found.undefined.get(name, "")
    if reason:
        value = f"– ({reason})"
    notes = "".join(
        f'<p class="sk-caution sk-{caution.severity}">'
        f"<strong>{escape(tr(_WORDS[caution.severity]))}</strong> "
        f"{escape(caution.text)} <small>{escape(_source_words(caution))}</small></p>"
        for caution in found.cautions
        if caution.outcome == name
    )
    return (
        f'<div class="sk-outcome"><dt title="{escape(tr(described.formula))}">'
        f"{escape(tr(described.label))}</dt><dd><span>{escape(value)}</span>{notes}</dd></div>"
    )


_SEVERITIES = ("note", "care", "danger")
_WORDS = {"note": mark("Note:"), "care": mark("Take care:"), "danger": mark("Danger:")}


def problems_list(problems: Iterable[Problem]) -> str:
    """Return problems of a file as an HTML list, the first ones in full and the rest counted."""
    rows = list(problems)
    lines = "".join(f"<li>{escape(str(problem))}</li>" for problem in rows[:MAX_PROBLEMS])
    if len(rows) > MAX_PROBLEMS:
        more = tr("and {count} more", count=len(rows) - MAX_PROBLEMS)
        lines += f"<li>{escape(more)}</li>"
    return f"<ul>{lines}</ul>" if rows else ""
