"""A comparison as one interactive HTML document that needs neither kernel nor network."""

from __future__ import annotations

import base64
import datetime
import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from html import escape
from importlib.resources import files
from typing import Any

from scenariokit.charts.frames import Showing
from scenariokit.language import date_text, language, number_text, tr
from scenariokit.report.chart_files import FilledChart, filled_spec
from scenariokit.report.input_sources import is_invented, methods_text, shared_lines
from scenariokit.report.safe_text import one_line, script_json, short_name
from scenariokit.report.sentences import sentences
from scenariokit.report.tables import comparison_table, method_sheet, said_list
from scenariokit.report.workbook import INVENTED
from scenariokit.scenario import OUTCOMES, Comparison
from scenariokit.scenario.shown_labels import site_text


@dataclass(frozen=True)
class Drawing:
    """The drawing libraries that a page carries.

    Parameters
    ----------
    libraries : sequence of (name, script)
        In the order in which they need each other.
    licences : str
        Their licences, which go with them.
    """

    libraries: Sequence[tuple[str, str]]
    licences: str


def standalone_page(
    comparison: Comparison,
    showing: Showing,
    charts: Sequence[FilledChart],
    drawing: Drawing,
    made_on: datetime.date | None = None,
) -> str:
    """Return one HTML document with linked charts, tables, cautions and sources.

    Parameters
    ----------
    comparison : Comparison
        Of scenarios that are no ensembles.
    showing : Showing
        Units and currency of the reader.
    charts : sequence of FilledChart
        What is drawn, in order; those with a parameter ``marked`` are linked.
    drawing : Drawing
        The drawing libraries.
    made_on : datetime.date, optional
        Date on the page; today if left out.

    Returns
    -------
    str
        A policy in its head forbids everything but its own script, which is
        named by its hash, and its own style; expressions of charts are
        interpreted, not evaluated.

    Raises
    ------
    InfeasibleError
        If a scenario is an ensemble, or a chart asks for data from an address.
    """
    date = made_on or datetime.date.today()
    static = files("scenariokit.report").joinpath("static")
    style = static.joinpath("standalone.css").read_text("utf-8")
    script = _script(static.joinpath("standalone.js").read_text("utf-8"), drawing.libraries)
    policy = (
        f"default-src 'none'; script-src 'sha256-{_digest(script)}'; style-src 'unsafe-inline'; "
        "base-uri 'none'; form-action 'none'"
    )
    data = script_json(_data(comparison, charts))
    title = tr("Comparison of growing methods")
    body = "".join(
        (
            _head(comparison, title, date),
            "<main>",
            f"<section><h2>{escape(tr('What the numbers say'))}</h2>",
            f"{said_list(sentences(comparison, showing))}</section>",
            _figures(comparison, charts),
            f"<section><h2>{escape(tr('The numbers'))}</h2>",
            f"{comparison_table(comparison, showing, tuple(OUTCOMES))}</section>",
            _methods(comparison, showing),
            _sources(comparison, showing),
            "</main>",
            _foot(drawing),
        )
    )
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(language())}"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{style}</style></head><body>{body}"
        f'<script type="application/json" id="sk-data">{data}</script>'
        f"<script>{script}</script></body></html>\n"
    )


# -- script and data ---------------------------------------------------------------------


def _script(frame: str, libraries: Sequence[tuple[str, str]]) -> str:
    """Return the page's one script, with the drawing libraries in scopes of their own."""
    parts = [
        f"[{script_json(name)}, function (exports, module, require, define) {{\n{source}\n}}],"
        for name, source in libraries
    ]
    # Inside a script such an end can only stand in a string, where the stroke changes nothing.
    joined = frame.replace("/*__SOURCES__*/", "\n".join(parts))
    return joined.replace("</script", "<\\/script").replace("<!--", "<\\!--").replace("\r", "\n")


def _digest(script: str) -> str:
    return base64.b64encode(hashlib.sha256(script.encode("utf-8")).digest()).decode("ascii")


def _data(comparison: Comparison, charts: Sequence[FilledChart]) -> dict[str, Any]:
    """Return what the script reads: charts with rows, methods by id, and its words."""
    return {
        "charts": [{"spec": filled_spec(chart), "aspect": chart.aspect} for chart in charts],
        "methods": [
            [found.scenario.method.id, tr(found.scenario.method.label)] for found in comparison
        ],
        "words": {
            "marked": tr("Marked:"),
            "none": tr("No method is marked: all are shown alike."),
            "failed": tr("This chart could not be drawn; the table below holds its numbers."),
        },
    }


# -- parts -------------------------------------------------------------------------------


def _head(comparison: Comparison, title: str, date: datetime.date) -> str:
    """Return heading, what is compared, date, and what is invented."""
    scenario = comparison.evaluations[0].scenario
    said = tr(
        "{crop}, {site}, prices of {prices}. Made on {date}.",
        crop=tr(scenario.crop.label), site=site_text(scenario.site.label),
        prices=tr(scenario.prices.label), date=date_text(date),
    )  # fmt: skip
    warned = f'<p class="sk-invented">{escape(tr(INVENTED))}</p>' if is_invented(comparison) else ""
    without = escape(tr("Charts need JavaScript; the tables below hold the same numbers."))
    return (
        f"<header><h1>{escape(title)}</h1><p>{escape(one_line(said))}</p>{warned}"
        f"<noscript><p>{without}</p></noscript></header>"
    )


def _marks(comparison: Comparison) -> str:
    """Return a button for each method that marks it in every chart."""
    made = "".join(
        f'<button type="button" aria-pressed="false" data-method="{escape(found.scenario.method.id)}"'
        f' title="{escape(one_line(tr(found.scenario.method.label)))}">'
        f"{escape(short_name(tr(found.scenario.method.label), 60))}</button>"
        for found in comparison
    )
    return (
        f'<div class="sk-marks" role="group" aria-label="{escape(tr("Mark methods in all charts"))}">'
        f'<span>{escape(tr("Mark:"))}</span>{made}<button type="button" id="sk-clear">'
        f'{escape(tr("Clear"))}</button><span id="sk-marked" role="status"></span></div>'
    )


def _figures(comparison: Comparison, charts: Sequence[FilledChart]) -> str:
    """Return a figure for each chart, with its numbers as a table below, and what marks methods."""
    made = []
    for place, chart in enumerate(charts):
        heading = escape(one_line(chart.heading))
        told = escape(one_line(chart.description or chart.heading))
        made.append(
            f'<figure data-chart="{place}" aria-label="{told}"><figcaption>{heading}</figcaption>'
            f'<div class="sk-plot"></div><p class="sk-problem" role="alert" hidden></p>'
            f"{_twin(chart)}</figure>"
        )
    title = escape(tr("Charts"))
    return (
        f"<section><h2>{title}</h2>{_marks(comparison)}"
        f'<div class="sk-charts">{"".join(made)}</div></section>'
    )


def _twin(chart: FilledChart) -> str:
    """Return the numbers of a chart as a table, folded."""
    if not chart.table:
        return ""
    head, *rows = chart.table
    label = escape(one_line(tr("{chart}: numbers as a table", chart=chart.heading)))
    return (
        f"<details><summary>{escape(tr('Numbers as a table'))}</summary>"
        f'<div class="sk-scroll" tabindex="0" role="region" aria-label="{label}">'
        f"{_table(head, rows)}</div></details>"
    )


def _table(head: Sequence[str], rows: Sequence[Sequence[str]], texts: Sequence[int] = ()) -> str:
    """Return a table; columns in `texts` stand to the left."""

    def kind(column: int) -> str:
        return ' class="sk-text"' if column in texts else ""

    heads = "".join(
        f'<th scope="col"{kind(column)}>{escape(one_line(text))}</th>'
        for column, text in enumerate(head)
    )
    body = []
    for row in rows:
        first, *rest = (escape(one_line(text)) for text in row)
        cells = "".join(
            f"<td{kind(column)}>{text}</td>" for column, text in enumerate(rest, start=1)
        )
        body.append(f'<tr><th scope="row">{first}</th>{cells}</tr>')
    return f"<table><thead><tr>{heads}</tr></thead><tbody>{''.join(body)}</tbody></table>"


def _methods(comparison: Comparison, showing: Showing) -> str:
    """Return each method in full, folded, with its cautions beside its numbers."""
    sheets = "".join(
        f"<details><summary>{escape(short_name(tr(found.scenario.method.label)))}</summary>"
        f"{method_sheet(found, showing)}</details>"
        for found in comparison
    )
    return f"<section><h2>{escape(tr('Each method in full, with its cautions'))}</h2>{sheets}</section>"


def _sources(comparison: Comparison, showing: Showing) -> str:
    """Return every input with its value and what it rests on."""
    rows = [
        [line.label, number_text(line.value, ".4g"), line.unit, methods_text(names),
         line.rest.source, tr(line.rest.status)]
        for line, names in shared_lines(comparison, showing)
    ]  # fmt: skip
    head = [
        tr("Input"), tr("Value"), tr("Unit"), tr("Holds for"), tr("Source"), tr("Status"),
    ]  # fmt: skip
    title = escape(tr("What goes in, and where it comes from"))
    return (
        f"<section><h2>{title}</h2><details><summary>{escape(tr('Inputs and their sources'))}</summary>"
        f'<div class="sk-scroll" tabindex="0" role="region" aria-label="{title}">'
        f"{_table(head, rows, (2, 3, 4, 5))}</div></details></section>"
    )


def _foot(drawing: Drawing) -> str:
    """Return what the page is, and the licences of what it carries."""
    said = tr("This page holds all it needs and loads nothing.")
    return (
        f"<footer><p>{escape(said)}</p><details>"
        f"<summary>{escape(tr('Licences of the drawing libraries'))}</summary>"
        f'<pre lang="en">{escape(drawing.licences)}</pre></details></footer>\n'
    )
