"""What hangs in the mixing room: the sheet to weigh and pour by, and the labels of the stocks."""

from __future__ import annotations

import datetime
import textwrap
from collections.abc import Iterable

from scenariokit import nutrients
from scenariokit.charts.frames import Showing
from scenariokit.language import tr
from scenariokit.nutrients import Stock, StockPlan
from scenariokit.nutrients.concentrate.stock_labels import making_lines, mass_text
from scenariokit.report.nutrients import ACID, acid_words, dose_sentences, litres
from scenariokit.scenario import Mixing, PlannedFeed, Scenario, acid_dose
from scenariokit.scenario.shown_labels import feed_text

WIDTH = 78


def mixing_sheet(
    scenario: Scenario,
    planned: PlannedFeed,
    mixing: Mixing,
    showing: Showing,
    made_on: datetime.date,
) -> str:
    """Return a sheet to print: what to weigh, in which order, how to fill the tank, what can hurt."""
    plan = mixing.stocks
    feed = scenario.feed
    head = [
        tr("Mixing sheet: {recipe}", recipe=feed_text(planned.label)),
        tr(
            "{crop}, {method}; water: {water}; made on {date}",
            crop=tr(scenario.crop.label),
            method=tr(scenario.method.label),
            water=tr(planned.water.label),
            date=made_on.isoformat(),
        ),
        tr(
            "EC {ec:.2f} dS/m at 25 °C; dilution 1 : {dilution:g} (one part in all {dilution:g})",
            ec=float(feed.ec.m),
            dilution=plan.dilution,
        ),
    ]
    parts = ["\n".join(head)]
    parts += [_stock_text(stock, plan, planned, showing) for stock in plan.stocks]
    if planned.plan.acid:
        dose = acid_dose(planned.water, planned.plan.acid, mixing.tank_volume)
        parts.append("\n".join([tr("Acid for the water"), *_bullets(acid_words(dose, showing))]))
    parts.append("\n".join([tr("Fill the tank"), *_bullets(dose_sentences(mixing, showing))]))
    notes = [*nutrients.weighing_notes(plan), *plan.notes]
    if notes:
        parts.append("\n".join([tr("Notes"), *_bullets(notes)]))
    parts.append("\n".join([tr("Take care"), *_bullets([*plan.cautions, tr(ACID)])]))
    return "\n\n".join(parts) + "\n"


def _stock_text(stock: Stock, plan: StockPlan, planned: PlannedFeed, showing: Showing) -> str:
    lines = [
        tr(
            "Stock {letter}: {name}, {volume}",
            letter=stock.letter,
            name=stock.name,
            volume=litres(plan.volume, showing),
        )
    ]
    for key, mass in stock.grams.items():
        label = tr(planned.fertilisers[key].label)
        lines.append(f"  {label:<46}{mass_text(float(mass.m), showing.system):>14}")
    strengths = {key: float(strength.m) for key, strength in stock.grams_per_litre.items()}
    made = float(plan.volume.m)
    order = making_lines(stock.letter, strengths, made, plan.fertilisers, showing.system)
    return "\n".join([*lines, *_bullets(order)])


def _bullets(lines: Iterable[str]) -> list[str]:
    """Return lines as a list with marks, broken to the width of a page."""
    return [
        textwrap.fill(line, WIDTH, initial_indent="  - ", subsequent_indent="    ")
        for line in lines
    ]


def stock_labels(mixing: Mixing, showing: Showing, made_on: datetime.date) -> str:
    """Return the labels of all stocks, one below the other, to cut out and stick on."""
    cut = "\n" + "- " * (WIDTH // 2) + "\n\n"
    return cut.join(
        nutrients.stock_label(stock, mixing.stocks, made_on=made_on, system=showing.system)
        for stock in mixing.stocks.stocks
    )
