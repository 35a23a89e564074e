"""What a season in the tank says, in plain sentences."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.language import mark, month_name, number_text, tr, tr_n
from scenariokit.reservoir import refill_lines
from scenariokit.reservoir.fills import Fill
from scenariokit.scenario import TankSeason, WarmMonth
from scenariokit.scenario.shown_labels import site_text
from scenariokit.substrate import CapillaryCheck
from scenariokit.substrate.moisture import LEAST_AIR, MOST_SUCTION

BAND_WORDS = {
    "cold": mark("too cold for tubers"),
    "green": mark("good for potatoes"),
    "amber": mark("warm: tuber growth declines"),
    "red": mark("too warm: few tubers"),
    "stop": mark("tuber growth practically stops"),
}


def water_sentences(found: TankSeason, showing: Showing) -> list[str]:
    """Return where the water went, how the EC moved and whether the tank ran dry.

    Parameters
    ----------
    found : TankSeason
        One season, no ensemble.
    showing : Showing
        Units of the reader.
    """
    water = found.season.totals.water
    unit, label = ("gal/ft^2", "gal/ft²") if showing.system == "us" else ("L/m^2", "L/m²")
    digits = 1 if showing.system == "us" else 0

    def amount(part: Any) -> str:
        return number_text(float(part.m_as(units.unit_of(unit))), f".{digits}f")

    said = [
        tr(
            "Plants took {taken} {unit}, {evaporated} evaporated; the valve gave {valve}, people "
            "{people}, rain {rain}; {over} ran over.",
            taken=amount(water.transpiration),
            unit=label,
            evaporated=amount(water.evaporation),
            valve=amount(water.top_up),
            people=amount(water.hand_fill),
            rain=amount(water.rain),
            over=amount(water.overflow),
        )
    ]
    return said + _ec_words(found) + _level_words(found, showing)


def _ec_words(found: TankSeason) -> list[str]:
    """Return how the EC moves."""
    ec = found.ec.m_as(units.unit_of("dS/m"))
    known = np.flatnonzero(np.isfinite(ec))
    if not known.size:
        return []
    top = known[np.argmax(ec[known])]
    return [
        tr(
            "EC begins at {first:.2f} dS/m and ends at {last:.2f}; highest {highest:.2f} on day "
            "{day}.",
            first=float(ec[known[0]]),
            last=float(ec[known[-1]]),
            highest=float(ec[top]),
            day=int(top),
        )
    ]


def _level_words(found: TankSeason, showing: Showing) -> list[str]:
    """Return whether the tank runs dry, feeds the roots and leaves air to them."""
    dry = found.first_dry
    said = [
        tr("The tank never runs dry.")
        if dry is None
        else tr("The tank is dry on day {day}.", day=dry)
    ]
    below = _days_below(found)
    if below:
        low = _depth(found.scenario.method.level.low, showing)
        said.append(
            tr_n(
                "On {count} day the level ends below {low}, the lowest that still feeds the roots.",
                "On {count} days the level ends below {low}, the lowest that still feeds the roots.",
                below,
                low=low,
            )
        )
    if found.drowned:
        first = found.drowned[0]
        said.append(
            tr(
                "Roots that live in air stand under water from day {day} on: keep the level below "
                "{depth} once it has fallen.",
                day=first.day,
                depth=_depth(first.allowed, showing),
            )
        )
    return said


def mishap_sentence(planned: TankSeason, mishap: TankSeason, showing: Showing) -> str:
    """Return what a failed valve or a forgotten filling does."""
    dry = mishap.first_dry
    if dry is not None and planned.first_dry is None:
        return tr("With the mishap the tank is dry on day {day}.", day=dry)
    lost = mishap.season.totals.water.deficit - planned.season.totals.water.deficit
    if float(lost.m_as(units.unit_of("L/m^2"))) > 0:
        return tr(
            "With the mishap the tank is dry on day {day}, and plants go short of water.", day=dry
        )
    lowest = _depth(mishap.season.totals.lowest_depth, showing)
    below, before = _days_below(mishap), _days_below(planned)
    if below > before:
        return tr_n(
            "With the mishap the level falls to {lowest}, and on {count} day instead of {before} it "
            "ends below {low}, the lowest that still feeds the roots.",
            "With the mishap the level falls to {lowest}, and on {count} days instead of {before} it "
            "ends below {low}, the lowest that still feeds the roots.",
            below,
            lowest=lowest,
            before=before,
            low=_depth(mishap.scenario.method.level.low, showing),
        )
    return tr(
        "With the mishap the level falls to {lowest}, and no plant goes shorter than without.",
        lowest=lowest,
    )


def _days_below(found: TankSeason) -> int:
    """Return on how many days the level ends below the lowest that feeds the roots."""
    return int(found.season.totals.days_below.m_as(units.unit_of("day")))


def _depth(value: Any, showing: Showing) -> str:
    if showing.system == "us":
        return f"{number_text(float(value.m_as(units.unit_of('inch'))), '.1f')} in"
    return f"{number_text(float(value.m_as(units.unit_of('cm'))), '.1f')} cm"


def _begun(name: str) -> str:
    """Return a name as a sentence begins with it."""
    return name[0].upper() + name[1:]


def heat_sentences(months: list[WarmMonth], crop: str, showing: Showing) -> list[str]:
    """Return heat and oxygen of the root zone, month by month."""
    said = []
    for month in months:
        celsius = float(month.temperature.m)
        told = {
            "month": _begun(month_name(month.month)),
            "temperature": (
                f"{number_text(celsius * 9 / 5 + 32, '.0f')} °F"
                if showing.system == "us"
                else f"{number_text(celsius, '.0f')} °C"
            ),
            "oxygen": float(month.oxygen.m_as(units.unit_of("mg/L"))),
        }
        if crop == "potato":
            text = tr(
                "{month}: {temperature}, {band}; the water holds at most {oxygen:.1f} mg/L of "
                "oxygen.",
                band=tr(BAND_WORDS[month.band]),
                **told,
            )
        else:
            text = tr(
                "{month}: {temperature}; the water holds at most {oxygen:.1f} mg/L of oxygen.",
                **told,
            )
        said.append(text)
    return said


def medium_sentences(check: CapillaryCheck, showing: Showing) -> list[str]:
    """Return whether the growing medium stays moist, has air and is fed, with the cautions.

    Parameters
    ----------
    check : CapillaryCheck
        Of one scenario, no ensemble.
    showing : Showing
        Units of the reader.
    """
    said = [_moist_words(check, showing), _air_words(check)]
    if check.delivers is None:
        said.append(tr("What the growing medium can deliver is not known."))
    elif np.isfinite(check.delivery_limit.m):
        said.append(_delivery_words(check, showing))
    return [*said, *check.cautions]


def _moist_words(check: CapillaryCheck, showing: Showing) -> str:
    """Return whether the growing medium stays moist to its top."""
    told = {
        "suction": _depth(check.top_suction, showing),
        "asked": _depth(units.quantity(MOST_SUCTION), showing),
    }
    if not check.connected:
        return tr(
            "Growing medium is not reached by water of itself; suction at the top of a drained pot "
            "{suction}, at most {asked} asked.",
            **told,
        )
    if check.moist:
        return tr(
            "Growing medium stays moist: suction at the top {suction}, at most {asked} asked.",
            **told,
        )
    return tr(
        "Growing medium does not stay moist: suction at the top {suction}, at most {asked} asked.",
        **told,
    )


def _air_words(check: CapillaryCheck) -> str:
    """Return whether the growing medium has air."""
    share = float(check.mean_air_filled_porosity.m)
    if check.airy:
        return tr(
            "Growing medium has air: on average {share:.0%} of its volume, at least {asked:.0%} "
            "asked.",
            share=share,
            asked=LEAST_AIR,
        )
    return tr(
        "Growing medium lacks air: on average {share:.0%} of its volume, at least {asked:.0%} "
        "asked.",
        share=share,
        asked=LEAST_AIR,
    )


def _delivery_words(check: CapillaryCheck, showing: Showing) -> str:
    """Return whether the growing medium feeds the roots on the thirstiest day."""
    told = {"flow": _flow(check.delivery_limit, showing), "times": float(check.margin.m)}
    if check.delivers:
        return tr(
            "Growing medium can deliver the peak: {flow} to its top, {times:.1f} times what is used "
            "on the thirstiest day.",
            **told,
        )
    return tr(
        "Growing medium cannot deliver the peak by itself: {flow} to its top, {times:.1f} times "
        "what is used on the thirstiest day.",
        **told,
    )


def _flow(value: Any, showing: Showing) -> str:
    if showing.system == "us":
        inches = number_text(float(value.m_as(units.unit_of("inch/day"))), ".2g")
        return tr("{amount} a day", amount=f"{inches} in")
    millimetres = number_text(float(value.m_as(units.unit_of("mm/day"))), ".0f")
    return tr("{amount} a day", amount=f"{millimetres} mm")


CARE = mark(
    "Look at plants and level each time; cover the tank again: children, mosquitoes, light."
)


def calendar_text(found: TankSeason, showing: Showing) -> str:
    """Return the refill calendar of a season as text to print and hang up beside the tank.

    Parameters
    ----------
    found : TankSeason
        One season, no ensemble.
    showing : Showing
        Units of the reader.
    """
    us = showing.system == "us"
    area = float(found.scenario.tank.area.m_as(units.unit_of("ft^2" if us else "m^2")))
    head = [
        tr(
            "Refill calendar: {method}, {crop}",
            method=tr(found.scenario.method.label),
            crop=tr(found.scenario.crop.label),
        ),
        tr(
            "{place}; tank of {area:.3g} {unit}; day 1 is the day after planting",
            place=site_text(found.scenario.site.label),
            area=area,
            unit="ft²" if us else "m²",
        ),
        "",
    ]
    if not found.calendar:
        body = [tr("A float valve holds the level, or the tank is filled once.")]
    else:
        body = _us_lines(found.calendar) if us else refill_lines(found.calendar)
    return "\n".join([*head, *body, "", tr(CARE), ""])


def _us_lines(fills: Sequence[Fill]) -> list[str]:
    """Return a refill calendar as `refill_lines` does, in gallons and inches."""
    gallon, inch = units.unit_of("gal"), units.unit_of("inch")
    heads = (tr("day"), tr("gallons"), tr("from in"), tr("to in"))
    wide = [max(3, len(heads[0]))]
    wide += [max(least, len(head) + 2) for least, head in zip((10, 9, 8), heads[1:], strict=True)]
    rows: list[tuple[str, ...]] = [heads]
    for fill in fills:
        numbers = (
            fill.litres.m_as(gallon), fill.depth_before.m_as(inch), fill.depth_after.m_as(inch)
        )  # fmt: skip
        rows.append((f"{fill.day}", *(number_text(float(one), ".1f") for one in numbers)))
    lines = [
        "".join(f"{cell:>{width}}" for cell, width in zip(row, wide, strict=True)) for row in rows
    ]
    total = float(sum(fill.litres.m_as(gallon) for fill in fills))
    count = tr_n("{count} filling", "{count} fillings", len(fills))
    return [*lines, tr("{fillings}, {total:.1f} gallons in all", fillings=count, total=total)]
