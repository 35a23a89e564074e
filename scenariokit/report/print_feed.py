"""Mixing sheet, refill calendar and weight of one method as parts of a sheet to print."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from scenariokit import nutrients, units
from scenariokit.charts.frames import Showing
from scenariokit.errors import InfeasibleError
from scenariokit.language import number_text, tr, tr_n
from scenariokit.nutrients import Fertiliser, Stock
from scenariokit.nutrients.concentrate.stock_labels import making_lines, mass_text
from scenariokit.report.nutrients import ACID, acid_words, dose_sentences, litres
from scenariokit.report.print_parts import bullets, caution_note, head_row, text
from scenariokit.report.water import CARE
from scenariokit.scenario import (
    OUTCOMES,
    Evaluation,
    Mixing,
    MixingRoom,
    PlannedFeed,
    Scenario,
    acid_dose,
    mixing_for,
    tank_season,
)
from scenariokit.scenario.shown_labels import feed_text

FEW_FILLS = 16
"""Up to how many fillings the calendar stands in one column."""


@dataclass(frozen=True)
class FeedSetup:
    """How the nutrient solution of all methods is arrived at and mixed.

    Parameters
    ----------
    planned : PlannedFeed
        The solution.
    fertilisers : mapping
        By id, at least those of the solution.
    room : MixingRoom
        How stocks are made and kept.
    """

    planned: PlannedFeed
    fertilisers: Mapping[str, Fertiliser]
    room: MixingRoom


def mixing_part(scenario: Scenario, setup: FeedSetup, showing: Showing) -> str:
    """Return the mixing sheet of a method with a tank: stocks, making up, filling, cautions."""
    try:
        mixing = mixing_for(scenario, setup.fertilisers, setup.room)
    except InfeasibleError as error:
        return (
            f'<p class="caution danger">{text(tr("No stocks can be made: {why}", why=error))}</p>'
        )
    plan = mixing.stocks
    facts = tr(
        "{feed}; water: {water}; EC {ec:.2f} dS/m at 25 °C; dilution 1 : {dilution:g}, one part of "
        "each stock in {dilution:g} parts in all.",
        feed=feed_text(setup.planned.label), water=tr(setup.planned.water.label),
        ec=float(scenario.feed.ec.m), dilution=plan.dilution,
    )  # fmt: skip
    parts = [f"<p>{text(facts)}</p>", *(_stock(one, mixing, setup, showing) for one in plan.stocks)]
    if setup.planned.plan.acid:
        dose = acid_dose(setup.planned.water, setup.planned.plan.acid, mixing.tank_volume)
        parts += [f"<h3>{text(tr('Acid for the water'))}</h3>", bullets(acid_words(dose, showing))]
    parts += [f"<h3>{text(tr('Fill the tank'))}</h3>", bullets(dose_sentences(mixing, showing))]
    notes = [*nutrients.weighing_notes(plan), *plan.notes]
    if notes:
        parts += [f"<h3>{text(tr('Notes on weighing and storing'))}</h3>", bullets(notes)]
    cautions = "".join(
        f'<p class="caution care">{text(line)}</p>' for line in (*plan.cautions, tr(ACID))
    )
    return "".join([*parts, f"<h3>{text(tr('Take care when mixing'))}</h3>", cautions])


def _stock(stock: Stock, mixing: Mixing, setup: FeedSetup, showing: Showing) -> str:
    """Return what goes into one stock, and how it is made up, line by line."""
    plan, system = mixing.stocks, showing.system
    title = tr(
        "Stock {letter}: {name}, {volume}",
        letter=stock.letter, name=tr(stock.name), volume=litres(plan.volume, showing),
    )  # fmt: skip
    rows = []
    for key, mass in stock.grams.items():
        product = setup.fertilisers[key]
        hazard = f"<small>{text(tr(product.hazard))}</small>" if product.hazard else ""
        rows.append(
            f'<tbody><tr><th scope="row">{text(tr(product.label))}{hazard}</th>'
            f"<td>{text(mass_text(float(mass.m_as('g')), system))}</td><td></td></tr></tbody>"
        )
    strengths = {key: float(one.m) for key, one in stock.grams_per_litre.items()}
    order = making_lines(
        stock.letter, strengths, float(plan.volume.m), plan.fertilisers, system
    )  # fmt: skip
    titles = [tr("Fertiliser, in this order"), tr("Weigh"), tr("Weighed")]
    return (
        f'<div class="stock"><h3>{text(title)}</h3><table>{head_row(titles)}{"".join(rows)}</table>'
        f"{bullets(order, 'steps')}</div>"
    )


def calendar_part(scenario: Scenario, showing: Showing) -> str:
    """Return when a method's tank is refilled by hand, with room to tick each filling off."""
    found = tank_season(scenario)
    care = f"<p>{text(tr(CARE))}</p>"
    if not found.calendar:
        said = tr(
            "A float valve holds the level, or the tank is filled once: there is no calendar."
        )
        return f"<p>{text(said)}</p>{care}"
    us = showing.system == "us"
    volume, depth = ("gal", "inch") if us else ("L", "cm")
    shown = units.unit_label(depth)
    total = sum(float(fill.litres.m_as(units.unit_of(volume))) for fill in found.calendar)
    rows = "".join(
        f'<tr><th scope="row">{fill.day}</th>'
        f"<td>{number_text(float(fill.litres.m_as(units.unit_of(volume))), ',.1f')}</td>"
        f"<td>{number_text(float(fill.depth_before.m_as(units.unit_of(depth))), '.1f')}</td>"
        f"<td>{number_text(float(fill.depth_after.m_as(units.unit_of(depth))), '.1f')}</td>"
        "<td>☐</td></tr>"
        for fill in found.calendar
    )
    titles = [
        tr("Day"), units.unit_label(volume), tr("From ({unit})", unit=shown),
        tr("To ({unit})", unit=shown), tr("Done"),
    ]  # fmt: skip
    said = tr_n(
        "{count} filling, {total:,.0f} {unit} in all; day 1 is the day after planting.",
        "{count} fillings, {total:,.0f} {unit} in all; day 1 is the day after planting.",
        len(found.calendar), total=total, unit=units.unit_label(volume),
    )  # fmt: skip
    table = f'<table>{head_row(titles)}<tbody class="long">{rows}</tbody></table>'
    if len(found.calendar) > FEW_FILLS:
        table = f'<div class="columns">{table}</div>'
    return f"<p>{text(said)}</p>{table}{care}"


def weight_part(found: Evaluation, showing: Showing) -> str:
    """Return what the water of a full tank weighs, and what must be asked before it stands."""
    scenario = found.scenario
    us = showing.system == "us"
    area = float(scenario.tank.area.m_as(units.unit_of("ft^2" if us else "m^2")))
    each = showing.number(found, "water_load") or 0.0
    said = tr(
        "Water of the full tank of {area:.3g} {area_unit}: {total:,.0f} {mass}, that is "
        "{each:,.0f} {each_unit}. Tank, wet growing medium, crop and people come on top.",
        area=area, area_unit=units.unit_label("ft^2" if us else "m^2"), total=each * area,
        mass="lb" if us else "kg", each=each, each_unit=showing.unit("water_load"),
    )  # fmt: skip
    notes = "".join(
        caution_note(one) for one in found.cautions if OUTCOMES[one.outcome].group == "tank"
    )
    return f"<p>{text(said)}</p>{notes}"
