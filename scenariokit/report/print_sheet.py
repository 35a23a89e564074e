"""A sheet to print for each method: one HTML document that needs nothing besides itself."""

from __future__ import annotations

import datetime
import math
from collections.abc import Mapping
from html import escape
from importlib.resources import files

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.language import date_text, language, mark, month_name, number_text, tr
from scenariokit.report.input_sources import InputLine, input_lines, is_invented
from scenariokit.report.print_feed import FeedSetup, calendar_part, mixing_part, weight_part
from scenariokit.report.print_parts import bullets, costs_table, head_row, numbers_table, text
from scenariokit.report.safe_text import css_string, short_name
from scenariokit.report.workbook import INVENTED
from scenariokit.scenario import Comparison, Evaluation, Scenario
from scenariokit.scenario.shown_labels import basis_text, site_text

POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'"
ASSUMPTIONS = (
    mark(
        "The range is that of the yield alone: prices, hours, amounts and weather are held still."
    ),
    mark(
        "Cost counts what is listed here. Land, energy, transport to a market, taxes and overheads "
        "are not in it."
    ),
    mark(
        "Water use follows the month's reference evapotranspiration and the crop's coefficients "
        "(FAO-56), with evaporation from the open share of the tank. It follows mean months: a hot "
        "week needs more."
    ),
    mark(
        "The nutrient solution is made as strong as its EC asks, by the EC of its ions; plants do "
        "not take ions alike. Measure EC and pH."
    ),
    mark(
        "A calculation is no measurement. Weigh, write down, and replace these numbers by your own."
    ),
)
MEASUREMENTS = 14
LINES = 9


def print_sheets(
    comparison: Comparison,
    showing: Showing,
    setup: FeedSetup,
    made_on: datetime.date | None = None,
    pictures: Mapping[str, str] | None = None,
) -> str:
    """Return one HTML document with a sheet for each method, to print or to keep.

    Parameters
    ----------
    comparison : Comparison
        One or more evaluated scenarios that are no ensembles.
    showing : Showing
        Units and currency of the reader.
    setup : FeedSetup
        The nutrient solution and how it is mixed.
    made_on : datetime.date, optional
        Date on the sheets; today if left out.
    pictures : mapping, optional
        Method id to a picture of its tank, as HTML; see `tank_pictures`.

    Returns
    -------
    str
        It holds its style and loads nothing; it prints on A4 and on US Letter.

    Raises
    ------
    InfeasibleError
        If a scenario is an ensemble.
    """
    date = made_on or datetime.date.today()
    style = files("scenariokit.report").joinpath("static/print.css").read_text("utf-8")
    names = [short_name(tr(found.scenario.method.label)) for found in comparison]
    running = "".join(
        _running_head(place, name, found.scenario, date)
        for place, (name, found) in enumerate(zip(names, comparison, strict=True))
    )
    sheets = "".join(
        f'<article class="method" id="sheet-{place}" style="page:sheet{place}">'
        f"{_sheet(found, showing, setup, date, (pictures or {}).get(found.scenario.method.id, ''))}"
        "</article>"
        for place, found in enumerate(comparison)
    )
    title = names[0] if len(names) == 1 else tr("Sheets of {count} methods", count=len(names))
    return (
        f'<!DOCTYPE html>\n<html lang="{escape(language())}"><head><meta charset="utf-8">'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">'
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{style}{running}</style></head>"
        f"<body><main>{sheets}</main></body></html>\n"
    )


def _running_head(place: int, name: str, scenario: Scenario, date: datetime.date) -> str:
    """Return the style of a sheet's pages: name and date above, page below."""
    left = css_string(short_name(name, 70))
    right = css_string(tr("Made on {date}", date=date_text(date)))
    crop = css_string(
        short_name(f"{tr(scenario.crop.label)}, {site_text(scenario.site.label)}", 80)
    )
    small = "font: 8pt system-ui, sans-serif; color: #000;"
    return (
        f"@page sheet{place} {{ @top-left {{ content: {left}; {small} width: 70%; }}"
        f" @top-right {{ content: {right}; {small} }}"
        f" @bottom-left {{ content: {crop}; {small} width: 70%; }}"
        f' @bottom-right {{ content: counter(page) " / " counter(pages); {small} }} }}\n'
    )


def _sheet(
    found: Evaluation, showing: Showing, setup: FeedSetup, date: datetime.date, picture: str
) -> str:
    """Return the sheet of one method."""
    scenario = found.scenario
    only = Comparison((found,))
    warned = f'<p class="invented">{text(tr(INVENTED))}</p>' if is_invented(only) else ""
    drawn = f'<div class="picture">{picture}</div>' if picture else ""
    parts = (
        ("", tr("The numbers"), numbers_table(found, showing)),
        ("whole", tr("What it costs, part by part"), costs_table(found, showing)),
        *_fed_parts(found, setup, showing),
        ("", tr("Assumptions"), bullets(tr(line) for line in ASSUMPTIONS)),
        ("", tr("What goes in, and where it comes from"), _inputs(input_lines(scenario, showing))),
        ("page", tr("Your own measurements"), _measurements()),
        ("", tr("Your own notes"), f'<div class="lines">{"<div></div>" * LINES}</div>'),
    )
    body = "".join(
        f'<section class="{kind}"><h2>{text(title)}</h2>{part}</section>'
        for kind, title, part in parts
    )
    return (
        f"<header><h1>{text(short_name(tr(scenario.method.label)))}</h1>"
        f"<p>{text(tr(scenario.method.summary))}</p></header>{warned}"
        f"{_facts(scenario, showing, date)}{drawn}{body}"
    )


def _fed_parts(
    found: Evaluation, setup: FeedSetup, showing: Showing
) -> tuple[tuple[str, str, str], ...]:
    """Return what belongs to a tank: mixing, refilling, weight; nothing where there is none."""
    scenario = found.scenario
    if scenario.method.level.regime == "none":
        return ()
    return (
        ("page", tr("Mixing sheet"), mixing_part(scenario, setup, showing)),
        ("", tr("Refill calendar"), calendar_part(scenario, showing)),
        ("", tr("Weight of the tank, and what to watch for"), weight_part(found, showing)),
    )


def _facts(scenario: Scenario, showing: Showing, date: datetime.date) -> str:
    """Return what the sheet is about: crop, place, prices, season, tank."""
    us = showing.system == "us"
    unit = "ft^2" if us else "m^2"
    area = float(scenario.tank.area.m_as(units.unit_of(unit)))
    crop = scenario.crop
    stages = (crop.days_initial, crop.days_development, crop.days_mid, crop.days_late)
    days = sum(float(stage.m_as(units.unit_of("day"))) for stage in stages)
    facts = [
        (tr("Crop"), tr(crop.label)),
        (tr("Place"), site_text(scenario.site.label)),
        (tr("Planted in"), month_name(scenario.site.planting_month)),
        (tr("Season"), tr("{days:.0f} days", days=days)),
        (tr("Tank"), tr("{area:.3g} {unit}", area=area, unit=units.unit_label(unit))),
        (tr("Price list"), tr(scenario.prices.label)),
        (tr("Yield rests on"), basis_text(scenario.harvest.basis)),
        (tr("Made on"), date_text(date)),
    ]
    if scenario.name != scenario.method.label:
        facts.insert(0, (tr("Scenario"), short_name(scenario.name)))
    rows = "".join(f"<div><dt>{text(term)}</dt><dd>{text(said)}</dd></div>" for term, said in facts)
    return f'<dl class="facts">{rows}</dl>'


def _inputs(lines: list[InputLine]) -> str:
    """Return every input with its value and the number of its source, then months and sources."""
    monthly = [line for line in lines if line.path.rpartition(".")[2].isdigit()]
    sources: dict[tuple[str, str], int] = {}
    rows = []
    for line in lines:
        key = (line.rest.source, line.rest.status)
        number = sources.setdefault(key, len(sources) + 1)
        if line in monthly:
            continue
        rows.append(
            f'<tbody><tr><th scope="row">{text(line.label)}</th><td class="value">'
            f'{text(figures(line.value))} {text(line.unit)}</td><td class="number">[{number}]</td>'
            "</tr></tbody>"
        )
    titles = [tr("Input"), tr("Value"), tr("Source")]
    said = "".join(
        f"<li>{text(tr('{source} ({status})', source=source, status=tr(status)) if status else source)}"
        "</li>"
        for source, status in sources
    )
    return (
        f'<div class="columns"><table class="inputs">{head_row(titles)}{"".join(rows)}</table></div>'
        f'{_months(monthly)}<h3>{text(tr("Sources"))}</h3><ol class="sources">{said}</ol>'
    )


def figures(value: float) -> str:
    """Return a number with four digits that mean something, and no exponent."""
    if value == 0:
        return "0"
    places = max(0, 3 - math.floor(math.log10(abs(value))))
    return (
        number_text(float(f"{value:.4g}"), f".{places}f").rstrip("0").rstrip(".,")
        if places
        else number_text(value, ",.0f")
    )


def _months(lines: list[InputLine]) -> str:
    """Return the weather of the place month by month."""
    columns: dict[str, list[InputLine]] = {}
    for line in lines:
        columns.setdefault(line.path.rpartition(".")[0], []).append(line)
    if not columns:
        return ""
    heads = {
        "site.reference_evapotranspiration": tr("Reference evapotranspiration"),
        "site.rain": tr("Rain in a month"),
        "site.mean_temperature": tr("Mean air temperature"),
    }
    rows = "".join(
        f'<tr><th scope="row">{text(month_name(month))}</th>'
        + "".join(
            f"<td>{text(number_text(column[month - 1].value, '.4g'))}</td>"
            for column in columns.values()
        )
        + "</tr>"
        for month in range(1, 13)
    )
    titles = [tr("Month")]
    titles += [
        tr("{what} ({unit})", what=heads[path], unit=column[0].unit)
        for path, column in columns.items()
    ]
    source = "; ".join(dict.fromkeys(column[0].rest.source for column in columns.values()))
    said = tr("Weather of the place, twelve months; source: {source}.", source=source)
    return f'<table class="whole"><caption>{text(said)}</caption>{head_row(titles)}<tbody>{rows}</tbody></table>'


def _measurements() -> str:
    """Return an empty table to write measurements into."""
    titles = [
        tr("Date"), tr("Depth"), tr("EC"), tr("pH"), tr("Water temperature"), tr("Filled up"),
        tr("What was seen"),
    ]  # fmt: skip
    head = head_row(titles)
    row = "<tr>" + "<td></td>" * len(titles) + "</tr>"
    return f'<table class="blank">{head}<tbody class="long">{row * MEASUREMENTS}</tbody></table>'
