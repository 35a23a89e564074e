"""What can hurt someone, said where the number stands that raises it.

Nothing here replaces local codes or a licensed person; each text says so
where one is due.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np

from scenariokit import units
from scenariokit.language import tr

Severity = Literal["note", "care", "danger"]

USUAL_EC = (1.0, 2.2)
"""dS/m for potato in solution culture: lower end Novella et al. 2008, upper Calori et al. 2017."""
FIELD_YIELD, RECORD_FIELD, RECORD_CHAMBER = 8.0, 12.4, 20.0
"""kg/m²: top commercial field; Kunkel & Campbell 1987 plots; Wheeler 2006 (19.7) rounded up."""
WHO_NITRATE_NITROGEN = 11.3
"""mg/L N in 50 mg/L nitrate, the WHO drinking-water guideline (seen in secondary pages)."""
FLOOR_LOAD = 195.0
"""kg/m² in 1.92 kPa, a design load common for house floors (ASCE 7, from memory)."""


@dataclass(frozen=True)
class Caution:
    """One caution, tied to the outcome beside which it must be shown.

    Parameters
    ----------
    id : str
        A stable name.
    severity : {'note', 'care', 'danger'}
        How much it matters.
    outcome : str
        Name of the outcome that raises it.
    text : str
        What a person must know, in plain words with the number in it.
    source : str
        Where that comes from.
    """

    id: str
    severity: Severity
    outcome: str
    text: str
    source: str


@dataclass(frozen=True)
class Situation:
    """What the rules look at besides the outcomes' numbers."""

    crop: str
    regime: str
    ec: float
    open_fraction: float
    medium_below_water: bool
    reach_gap: float
    """Centimetres between the lowest level and the underside of the container, if dry."""
    has_wick: bool
    supplies: tuple[str, ...]
    """Items that touch water or produce: supplies and sheets."""
    harvest_status: str
    interval: bool


Outcomes = Mapping[str, Any]
Rule = Callable[[Outcomes, Situation], Caution | None]


def _top(outcomes: Outcomes, name: str, unit: str) -> float:
    """Return the largest finite value of an outcome, or minus infinity if there is none."""
    values = np.asarray(units.magnitude(outcomes[name], unit), dtype=float)
    finite = values[np.isfinite(values)]
    return float(finite.max()) if finite.size else -np.inf


def load(outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Warn of the weight of the water on floors, balconies, roofs and benches."""
    if situation.regime == "none":
        return None
    mass = _top(outcomes, "water_load", "kg/m^2")
    kilopascal = mass * 9.80665 / 1000
    heavy = mass > FLOOR_LOAD / 2
    return Caution(
        "load",
        "danger" if mass > FLOOR_LOAD else "care" if heavy else "note",
        "water_load",
        tr(
            "The water alone weighs {mass:.0f} kg on each square metre ({kilopascal:.2f} kPa); "
            "add tank, wet medium, crop and people. Before it stands on a floor, balcony, roof "
            "or bench, ask a licensed engineer and follow the local building code.",
            mass=mass,
            kilopascal=kilopascal,
        ),
        tr(
            "water density: Kell 1975; floors are often designed for 1.92 kPa (ASCE 7, from memory)"
        ),
    )


def open_water(outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Warn that children drown in a few centimetres of water."""
    if situation.regime == "none":
        return None
    depth = _top(outcomes, "fullest_depth", "cm")
    return Caution(
        "open_water",
        "danger",
        "fullest_depth",
        tr(
            "{depth:.0f} cm of water is enough to drown a small child. Use a rigid lid that "
            "bears a child's weight, let no toddler near an open tank, and supervise workshops.",
            depth=depth,
        ),
        "US CPSC document 5006 on bucket drownings",
    )


def mosquitoes(_outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Warn that mosquitoes breed in any standing water that they can reach."""
    if situation.regime == "none":
        return None
    return Caution(
        "mosquitoes",
        "care",
        "fullest_depth",
        tr(
            "Mosquitoes go from egg to adult in about a week. Leave no gap wider than 1 mm, "
            "screen overflow and valve box, look inside every 4 to 7 days, and ask the local "
            "health service what may be put into the water."
        ),
        tr("US CDC sheet CS258303; mesh size from memory"),
    )


def discharge(outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Warn that left-over solution holds far more nitrate than drinking water may."""
    if situation.regime == "none":
        return None
    made = _top(outcomes, "solution_made", "L/m^2")
    supplied = _top(outcomes, "n_supplied", "g/m^2")
    if made <= 0 or supplied <= 0:
        return None
    concentration = supplied / made * 1000
    times = concentration / WHO_NITRATE_NITROGEN
    return Caution(
        "discharge",
        "care",
        "n_left",
        tr(
            "The solution holds about {concentration:.0f} mg/L of nitrogen, {times:.0f} times "
            "the drinking-water guideline. Never pour it into a drain, ditch or well: use it on "
            "soil crops at the rate they need, and follow local rules on discharge.",
            concentration=concentration,
            times=times,
        ),
        tr("WHO guideline 50 mg/L nitrate (seen in secondary pages)"),
    )


def salts(outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Warn of fertiliser salts and acids while weighing, mixing and storing."""
    if situation.regime == "none" or _top(outcomes, "fertiliser_mass", "g/m^2") <= 0:
        return None
    return Caution(
        "salts",
        "care",
        "fertiliser_mass",
        tr(
            "Nitrate salts feed a fire and calcium nitrate damages eyes: wear goggles and gloves, "
            "keep them dry, labelled and locked away from fuel, straw, paper and children. "
            "Concentrates are not drinks: no food bottles. Acid goes into water, never water into "
            "acid; strong acids are no work for a class."
        ),
        tr("hazard statements H272, H302, H318 of makers' safety data sheets; storage from memory"),
    )


def green_tubers(_outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Warn that light turns tubers green and bitter with glycoalkaloids."""
    if situation.crop != "potato":
        return None
    return Caution(
        "green_tubers",
        "danger",
        "yield_per_area",
        tr(
            "Light makes tubers green and poisonous (solanine). Keep them covered and opaque all "
            "season, and throw away green or sprouted ones: more than 100 mg/kg of "
            "glycoalkaloids calls for an inquiry in the EU."
        ),
        "Commission Recommendation (EU) 2022/561",
    )


def food_contact(_outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Say that what touches water and produce must be fit for food."""
    if situation.regime == "none":
        return None
    printed = any("newsprint" in item or "paper" in item for item in situation.supplies)
    plain = tr(
        "Take food-grade plastic for tank and liner; no drums of unknown past, treated timber or "
        "galvanised metal."
    )
    inky = tr(
        "Take food-grade plastic for tank and liner; no drums of unknown past, treated timber or "
        "galvanised metal. Printed newspaper carries mineral oil: unprinted paper is better "
        "against tubers."
    )
    return Caution(
        "food_contact",
        "note",
        "cost_equipment",
        inky if printed else plain,
        tr("plastics from memory; Biedermann and Grob 2010, doi 10.1007/s00217-010-1223-9")
        if printed
        else tr("plastics from memory"),
    )


def strength(_outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Point at an EC outside what has been tried with potato."""
    low, high = USUAL_EC
    if situation.regime == "none" or low <= situation.ec <= high:
        return None
    if situation.ec > high:
        text = tr(
            "EC {ec:.2f} dS/m lies above the {low:g} to {high:g} dS/m in which potato has been "
            "grown well in solution. The loss shown comes from salty field soils (saturated "
            "paste), not from nutrient solutions: take it as a rough guide.",
            ec=situation.ec, low=low, high=high,
        )  # fmt: skip
    else:
        text = tr(
            "EC {ec:.2f} dS/m lies below the {low:g} to {high:g} dS/m in which potato has been "
            "grown well in solution. The loss shown comes from salty field soils (saturated "
            "paste), not from nutrient solutions: take it as a rough guide.",
            ec=situation.ec, low=low, high=high,
        )  # fmt: skip
    return Caution(
        "strength",
        "note",
        "salinity_factor",
        text,
        "Novella et al. 2008; Calori et al. 2017; FAO Irrigation and Drainage Paper 61",
    )


def plausible_yield(outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Point at a yield beyond what good fields or record plots give."""
    top = _top(outcomes, "yield_per_area", "kg/m^2")
    if situation.crop != "potato" or top <= FIELD_YIELD:
        return None
    if top > RECORD_CHAMBER:
        limit = tr(
            "the record of lamp-lit chambers, 19.7 kg/m²: look for an error in area or weight"
        )
    elif top > RECORD_FIELD:
        limit = tr("the record of field plots, 12.4 kg/m²")
    else:
        limit = tr("what the best commercial fields give, about 8 kg/m²")
    return Caution(
        "plausible_yield",
        "care",
        "yield_per_area",
        tr(
            "{top:.1f} kg/m² is more than {limit}. Small tanks lit from their edges, with leaves "
            "beyond the rim, look better per tank area than they are: weigh per occupied area too.",
            top=top,
            limit=limit,
        ),
        tr("Wheeler 2006; Kunkel & Campbell 1987; USDA NASS as quoted in the trade press"),
    )


def basis(_outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Say what the yield rests on."""
    if situation.harvest_status == "invented":
        text = tr(
            "This yield is an invented example. Load your own harvest weights before you decide "
            "anything by it."
        )
    elif not situation.interval:
        text = tr(
            "This yield rests on one plot. One plot proves little: no interval exists, and the "
            "next one may differ by a third. Repeat it before you decide."
        )
    else:
        return None
    return Caution(
        "basis", "note", "yield_per_area", text, tr("common practice, no published source")
    )


def drowned(_outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Warn that the growing medium lies wholly under water."""
    if not situation.medium_below_water:
        return None
    return Caution(
        "drowned",
        "care",
        "fullest_depth",
        tr(
            "At this level the growing medium lies wholly under water. Roots need air: lower the "
            "level or lift the container."
        ),
        tr("common practice, no published source"),
    )


def dry(_outcomes: Outcomes, situation: Situation) -> Caution | None:
    """Warn that the lowest level does not touch the container, and nothing wicks."""
    if situation.reach_gap <= 0 or situation.has_wick or situation.regime == "none":
        return None
    return Caution(
        "dry",
        "care",
        "autonomy",
        tr(
            "At its lowest the water stands {reach_gap:.1f} cm below the container and no sheet "
            "leads it up: only roots that already hang in the water keep the plant alive.",
            reach_gap=situation.reach_gap,
        ),
        tr("common practice, no published source"),
    )


RULES: tuple[Rule, ...] = (
    plausible_yield, basis, green_tubers, drowned, dry, strength, load, open_water, mosquitoes,
    discharge, salts, food_contact,
)  # fmt: skip


def cautions_for(outcomes: Outcomes, situation: Situation) -> tuple[Caution, ...]:
    """Return every caution that these outcomes raise, in the order of `RULES`.

    Parameters
    ----------
    outcomes : mapping
        Outcome name to quantity, as `scenariokit.scenario.evaluate` gives them.
    situation : Situation
        What else the rules look at.
    """
    found = (rule(outcomes, situation) for rule in RULES)
    return tuple(caution for caution in found if caution is not None)
