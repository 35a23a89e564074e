"""The numbers and costs of one method as parts of a sheet to print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from html import escape

from scenariokit.cautions import Caution
from scenariokit.charts.frames import Showing
from scenariokit.language import mark, number_text, tr
from scenariokit.report.safe_text import one_line
from scenariokit.report.tables import GROUPS, amount
from scenariokit.scenario import COST_PARTS, OUTCOMES, Evaluation, part_label

RANGED = {
    "yield_per_area": ("yield_low", "yield_high"),
    "cost_per_kilogram": ("cost_per_kilogram_low", "cost_per_kilogram_high"),
}
"""Outcomes that have a range, and where its ends stand."""
_ENDS = {end for ends in RANGED.values() for end in ends}
_PARTS = {f"{start}_{part}" for start in ("cost", "cost_per_area") for part in COST_PARTS}
_TOTALS = ("cost_per_kilogram", "cost_per_area")
WORDS = {"note": mark("Note:"), "care": mark("Take care:"), "danger": mark("Danger:")}


def text(value: str) -> str:
    """Return a text that a person may have written as HTML, on one line."""
    return escape(one_line(value))


def bullets(lines: Iterable[str], kind: str = "") -> str:
    """Return lines as an HTML list."""
    name = f' class="{kind}"' if kind else ""
    return f"<ul{name}>{''.join(f'<li>{text(line)}</li>' for line in lines)}</ul>"


def caution_note(caution: Caution) -> str:
    """Return a caution with its source; how severe it is is said in words and by its rule."""
    source = text(tr("Source: {source}.", source=caution.source))
    return (
        f'<p class="caution {caution.severity}"><strong>{text(tr(WORDS[caution.severity]))}</strong> '
        f"{text(caution.text)} <small>{source}</small></p>"
    )


def head_row(titles: Sequence[str], texts: Sequence[int] = (0,)) -> str:
    """Return the heading of a table; columns in `texts` stand to the left."""
    cells = "".join(
        (
            f'<th scope="col"{_text_class(index in texts)}>{text(title)}</th>'
            if title
            else "<td></td>"
        )
        for index, title in enumerate(titles)
    )
    return f"<thead><tr>{cells}</tr></thead>"


def _text_class(left: bool) -> str:
    return ' class="text"' if left else ""


def numbers_table(found: Evaluation, showing: Showing) -> str:
    """Return every number of a method but its cost parts, with ranges, formulas and cautions."""
    parts = []
    for group, title in GROUPS:
        names = [
            name for name, described in OUTCOMES.items()
            if described.group == group and name not in _ENDS | _PARTS
        ]  # fmt: skip
        heading = f'<tr class="group"><th scope="rowgroup" colspan="4">{text(tr(title))}</th></tr>'
        for place, name in enumerate(names):
            # A group's heading stays with its first number, a number with its cautions.
            begun = heading if place == 0 else ""
            parts.append(f"<tbody>{begun}{_number_row(found, name, showing)}</tbody>")
    titles = [tr("Outcome"), tr("Value"), tr("Range"), tr("How it is found")]
    return f"<table>{head_row(titles, (0, 3))}{''.join(parts)}</table>"


def _number_row(found: Evaluation, name: str, showing: Showing) -> str:
    described = OUTCOMES[name]
    value = f"{amount(found, name, showing)} {showing.unit(name)}".strip()
    reason = found.undefined.get(name, "")
    if reason:
        value = tr("no value: {reason}", reason=reason)
    span = ""
    if name in RANGED and found.scenario.harvest.interval:
        low, high = (amount(found, end, showing) for end in RANGED[name])
        span = tr("{low} to {high}", low=low, high=high)
    return (
        f'<tr><th scope="row">{text(tr(described.label))}</th><td{_value_class(reason)}>{text(value)}</td>'
        f'<td class="value">{text(span)}</td><td class="text"><small>{text(tr(described.formula))}</small></td></tr>'
        f"{caution_row(found, name, 4)}"
    )


def _value_class(reason: str) -> str:
    return "" if reason else ' class="value"'


def caution_row(found: Evaluation, name: str, columns: int) -> str:
    """Return the cautions that an outcome raises, as a row below it."""
    notes = "".join(caution_note(one) for one in found.cautions if one.outcome == name)
    return f'<tr><td class="caution-cell" colspan="{columns}">{notes}</td></tr>' if notes else ""


def costs_table(found: Evaluation, showing: Showing) -> str:
    """Return the cost part by part, with the share of each as number and bar."""
    areas = [showing.number(found, f"cost_per_area_{part}") or 0.0 for part in COST_PARTS]
    total = sum(areas)
    rows = []
    for part, area in zip(COST_PARTS, areas, strict=True):
        share = 100 * area / total if total > 0 else 0.0
        cautions = "".join(
            caution_row(found, name, 5) for name in (f"cost_{part}", f"cost_per_area_{part}")
        )
        rows.append(
            f'<tbody><tr><th scope="row">{text(tr(part_label(part)))}</th>'
            f"<td>{amount(found, f'cost_{part}', showing)}</td>"
            f"<td>{amount(found, f'cost_per_area_{part}', showing)}</td>"
            f"<td>{number_text(share, '.0f')} %</td>"
            f'<td class="bar"><span style="width:{share:.1f}%"></span></td></tr>{cautions}</tbody>'
        )
    sums = "".join(f"<td>{amount(found, name, showing)}</td>" for name in _TOTALS)
    rows.append(
        f'<tbody><tr class="total"><th scope="row">{text(tr("Together"))}</th>{sums}'
        "<td>100 %</td><td></td></tr></tbody>"
    )
    titles = [
        tr("Part"), showing.unit("cost_per_kilogram"), showing.unit("cost_per_area"), tr("Share"),
        "",
    ]  # fmt: skip
    return f"<table>{head_row(titles)}{''.join(rows)}</table>"
