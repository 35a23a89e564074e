"""What a season in the tank says, in plain sentences."""

from __future__ import annotations

import calendar
from collections.abc import Sequence
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.reservoir import refill_lines
from scenariokit.reservoir.fills import Fill
from scenariokit.scenario import TankSeason, WarmMonth
from scenariokit.substrate import CapillaryCheck
from scenariokit.substrate.moisture import LEAST_AIR, MOST_SUCTION

BAND_WORDS = {
    "cold": "too cold for tubers",
    "green": "good for potatoes",
    "amber": "warm: tuber growth declines",
    "red": "too warm: few tubers",
    "stop": "tuber growth practically stops",
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
        return f"{float(part.m_as(units.unit_of(unit))):.{digits}f}"

    said = [
        f"Plants took {amount(water.transpiration)} {label}, {amount(water.evaporation)} "
        f"evaporated; the valve gave {amount(water.top_up)}, people {amount(water.hand_fill)}, "
        f"rain {amount(water.rain)}; {amount(water.overflow)} ran over."
    ]
    ec = found.ec.m_as(units.unit_of("dS/m"))
    known = np.flatnonzero(np.isfinite(ec))
    if known.size:
        top = known[np.argmax(ec[known])]
        said.append(
            f"EC begins at {ec[known[0]]:.2f} dS/m and ends at {ec[known[-1]]:.2f}; highest "
            f"{ec[top]:.2f} on day {top}."
        )
    dry = found.first_dry
    said.append("The tank never runs dry." if dry is None else f"The tank is dry on day {dry}.")
    below = _days_below(found)
    if below:
        low = _depth(found.scenario.method.level.low, showing)
        said.append(
            f"On {below} day{'' if below == 1 else 's'} the level ends below {low}, the lowest "
            "that still feeds the roots."
        )
    if found.drowned:
        first = found.drowned[0]
        said.append(
            f"Roots that live in air stand under water from day {first.day} on: keep the level "
            f"below {_depth(first.allowed, showing)} once it has fallen."
        )
    return said


def mishap_sentence(planned: TankSeason, mishap: TankSeason, showing: Showing) -> str:
    """Return what a failed valve or a forgotten filling does."""
    dry = mishap.first_dry
    if dry is not None and planned.first_dry is None:
        return f"With the mishap the tank is dry on day {dry}."
    lost = mishap.season.totals.water.deficit - planned.season.totals.water.deficit
    if float(lost.m_as(units.unit_of("L/m^2"))) > 0:
        return f"With the mishap the tank is dry on day {dry}, and plants go short of water."
    lowest = _depth(mishap.season.totals.lowest_depth, showing)
    below, before = _days_below(mishap), _days_below(planned)
    if below > before:
        return (
            f"With the mishap the level falls to {lowest}, and on {below} days instead of {before} "
            f"it ends below {_depth(mishap.scenario.method.level.low, showing)}, the lowest that "
            "still feeds the roots."
        )
    return f"With the mishap the level falls to {lowest}, and no plant goes shorter than without."


def _days_below(found: TankSeason) -> int:
    """Return on how many days the level ends below the lowest that feeds the roots."""
    return int(found.season.totals.days_below.m_as(units.unit_of("day")))


def _depth(value: Any, showing: Showing) -> str:
    if showing.system == "us":
        return f"{float(value.m_as(units.unit_of('inch'))):.1f} in"
    return f"{float(value.m_as(units.unit_of('cm'))):.1f} cm"


def heat_sentences(months: list[WarmMonth], crop: str, showing: Showing) -> list[str]:
    """Return heat and oxygen of the root zone, month by month."""
    said = []
    for month in months:
        celsius = float(month.temperature.m)
        shown = f"{celsius * 9 / 5 + 32:.0f} °F" if showing.system == "us" else f"{celsius:.0f} °C"
        oxygen = float(month.oxygen.m_as(units.unit_of("mg/L")))
        band = f", {BAND_WORDS[month.band]}" if crop == "potato" else ""
        said.append(
            f"{calendar.month_name[month.month]}: {shown}{band}; the water holds at most "
            f"{oxygen:.1f} mg/L of oxygen."
        )
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
    asked = _depth(units.quantity(MOST_SUCTION), showing)
    if not check.connected:
        wet = "is not reached by water of itself; suction at the top of a drained pot"
    else:
        wet = f"{'stays' if check.moist else 'does not stay'} moist: suction at the top"
    air = f"{'has' if check.airy else 'lacks'} air: on average {float(check.mean_air_filled_porosity.m):.0%}"
    said = [
        f"Growing medium {wet} {_depth(check.top_suction, showing)}, at most {asked} asked.",
        f"Growing medium {air} of its volume, at least {LEAST_AIR:.0%} asked.",
    ]
    if check.delivers is None:
        said.append("What the growing medium can deliver is not known.")
    elif np.isfinite(check.delivery_limit.m):
        can = "can deliver the peak" if check.delivers else "cannot deliver the peak by itself"
        said.append(
            f"Growing medium {can}: {_flow(check.delivery_limit, showing)} to its top, "
            f"{float(check.margin.m):.1f} times what is used on the thirstiest day."
        )
    return [*said, *check.cautions]


def _flow(value: Any, showing: Showing) -> str:
    if showing.system == "us":
        return f"{float(value.m_as(units.unit_of('inch/day'))):.2g} in a day"
    return f"{float(value.m_as(units.unit_of('mm/day'))):.0f} mm a day"


CARE = "Look at plants and level each time; cover the tank again: children, mosquitoes, light."


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
        f"Refill calendar: {found.scenario.method.label}, {found.scenario.crop.label}",
        f"{found.scenario.site.label}; tank of {area:.3g} {'ft²' if us else 'm²'}; day 1 is the "
        "day after planting",
        "",
    ]
    if not found.calendar:
        body = ["A float valve holds the level, or the tank is filled once."]
    else:
        body = _us_lines(found.calendar) if us else refill_lines(found.calendar)
    return "\n".join([*head, *body, "", CARE, ""])


def _us_lines(fills: Sequence[Fill]) -> list[str]:
    """Return a refill calendar as `refill_lines` does, in gallons and inches."""
    lines, gallon, inch = (
        [f"{'day':>3}{'gallons':>10}{'from in':>9}{'to in':>8}"],
        units.unit_of("gal"), units.unit_of("inch"),
    )  # fmt: skip
    for fill in fills:
        lines.append(
            f"{fill.day:>3}{fill.litres.m_as(gallon):>10.1f}{fill.depth_before.m_as(inch):>9.1f}"
            f"{fill.depth_after.m_as(inch):>8.1f}"
        )
    total = sum(fill.litres.m_as(gallon) for fill in fills)
    count = f"{len(fills)} filling{'' if len(fills) == 1 else 's'}"
    return [*lines, f"{count}, {total:.1f} gallons in all"]
