"""Every outcome of a scenario, described once."""

from __future__ import annotations

from typing import NamedTuple

from scenariokit.language import mark
from scenariokit.parameters import Outcome

COST_PARTS = (
    "planting",
    "medium",
    "sheet",
    "consumables",
    "equipment",
    "nutrients",
    "water",
    "labour",
)
"""The parts of the cost stack, from the bottom up."""


class _Part(NamedTuple):
    """Words for a part of the cost stack: its name, and its costs for an area and a kilogram."""

    label: str
    area_label: str
    area_formula: str
    kilogram_formula: str


_PARTS = {
    "planting": _Part(
        mark("Seed or seedlings"),
        mark("Seed or seedlings: cost per area"),
        mark("amount per plant × plants × price"),
        mark("amount per plant × plants × price ÷ yield"),
    ),
    "medium": _Part(
        mark("Growing medium"),
        mark("Growing medium: cost per area"),
        mark("medium per plant × plants × price in place ÷ crops it serves"),
        mark("medium per plant × plants × price in place ÷ crops it serves ÷ yield"),
    ),
    "sheet": _Part(
        mark("Wicking sheet"),
        mark("Wicking sheet: cost per area"),
        mark("sheet area × price ÷ crops it serves"),
        mark("sheet area × price ÷ crops it serves ÷ yield"),
    ),
    "consumables": _Part(
        mark("Consumables"),
        mark("Consumables: cost per area"),
        mark("amounts used up by each crop × price"),
        mark("amounts used up by each crop × price ÷ yield"),
    ),
    "equipment": _Part(
        mark("Equipment"),
        mark("Equipment: cost per area"),
        mark("yearly cost over its life, with interest ÷ crops a year"),
        mark("yearly cost over its life, with interest ÷ crops a year ÷ yield"),
    ),
    "nutrients": _Part(
        mark("Nutrients"),
        mark("Nutrients: cost per area"),
        mark("salts in the solution made × price"),
        mark("salts in the solution made × price ÷ yield"),
    ),
    "water": _Part(
        mark("Water"),
        mark("Water: cost per area"),
        mark("water used and left in the tank, less rain × price"),
        mark("water used and left in the tank, less rain × price ÷ yield"),
    ),
    "labour": _Part(
        mark("Labour"),
        mark("Labour: cost per area"),
        mark("hours per plant × plants × cost of an hour"),
        mark("hours per plant × plants × cost of an hour ÷ yield"),
    ),
}


class _Element(NamedTuple):
    """Names of the four outcomes of an element."""

    supplied: str
    removed: str
    left: str
    share: str


_ELEMENTS = {
    "n": _Element(
        mark("Nitrogen supplied"),
        mark("Nitrogen carried off"),
        mark("Nitrogen not in the produce"),
        mark("Nitrogen carried off, of what is fed"),
    ),
    "p": _Element(
        mark("Phosphorus supplied"),
        mark("Phosphorus carried off"),
        mark("Phosphorus not in the produce"),
        mark("Phosphorus carried off, of what is fed"),
    ),
    "k": _Element(
        mark("Potassium supplied"),
        mark("Potassium carried off"),
        mark("Potassium not in the produce"),
        mark("Potassium carried off, of what is fed"),
    ),
}

_ROWS: tuple[Outcome, ...] = (
    Outcome("yield_per_area", mark("Yield"), "kg/m^2", "higher", "yield",
            mark("typical yield × what the EC leaves of it"), "lb/ft^2"),
    Outcome("yield_low", mark("Yield, low"), "kg/m^2", "higher", "yield",
            mark("low end of the yield's range × what the EC leaves of it"), "lb/ft^2"),
    Outcome("yield_high", mark("Yield, high"), "kg/m^2", "higher", "yield",
            mark("high end of the yield's range × what the EC leaves of it"), "lb/ft^2"),
    Outcome("yield_per_plant", mark("Yield per plant"), "kg/plant", "higher", "yield",
            mark("yield ÷ plants per area"), "lb/plant"),
    Outcome("yield_per_medium", mark("Yield per volume of medium"), "kg/L", "higher", "yield",
            mark("yield ÷ growing medium per area"), "lb/US_dry_quart"),
    Outcome("yield_per_water", mark("Yield per volume of water"), "kg/m^3", "higher", "yield",
            mark("yield ÷ water used in the season"), "lb/gal", 2),
    Outcome("field_equivalent", mark("The same on a field"), "metric_ton/hectare", "higher",
            "yield", mark("yield × 10"), "cwt/acre", 1),
    Outcome("salinity_factor", mark("Yield left by this EC"), "", "higher", "yield",
            mark("1 − slope × (EC − threshold), not above 1 nor below 0"), "", 3),
    Outcome("medium_volume_per_area", mark("Growing medium"), "L/m^2", "lower", "medium",
            mark("volume per plant × plants per area"), "US_dry_quart/ft^2", 1),
    Outcome("medium_price", mark("Medium in place"), "money/L", "lower", "medium",
            mark("prices of the components × shares ÷ (1 − mixing loss)"), "money/US_dry_quart",
            3),
    *(
        Outcome(f"cost_{part}", words.label, "money/kg", "lower", "cost", words.kilogram_formula,
                "money/lb")
        for part, words in _PARTS.items()
    ),
    Outcome("cost_per_kilogram", mark("Cost of the produce"), "money/kg", "lower", "cost",
            mark("sum of the parts"), "money/lb"),
    Outcome("cost_per_kilogram_low", mark("Cost if the yield is high"), "money/kg", "lower",
            "cost", mark("cost per area ÷ high yield"), "money/lb"),
    Outcome("cost_per_kilogram_high", mark("Cost if the yield is low"), "money/kg", "lower",
            "cost", mark("cost per area ÷ low yield"), "money/lb"),
    Outcome("cost_per_area", mark("Cost of a crop per area"), "money/m^2", "lower", "cost",
            mark("sum of the parts per area"), "money/ft^2"),
    *(
        Outcome(f"cost_per_area_{part}", words.area_label, "money/m^2", "lower", "cost",
                words.area_formula, "money/ft^2")
        for part, words in _PARTS.items()
    ),
    Outcome("cost_per_usable_kilogram", mark("Cost of what can be used"), "money/kg", "lower",
            "cost", mark("cost per area ÷ (yield × share that can be used × share not lost)"),
            "money/lb"),
    Outcome("takings_per_area", mark("Takings per area"), "money/m^2", "higher", "cost",
            mark("yield × share that can be used × share not lost × price"), "money/ft^2"),
    Outcome("margin_per_area", mark("Left over per area"), "money/m^2", "higher", "cost",
            mark("takings − cost of a crop per area"), "money/ft^2"),
    Outcome("investment_per_area", mark("Equipment to buy"), "money/m^2", "lower", "cost",
            mark("amounts of equipment × price"), "money/ft^2"),
    Outcome("payback", mark("Years until equipment is repaid"), "year", "lower", "cost",
            mark("equipment to buy ÷ ((left over + cost of equipment) × crops a year), with interest on it"),
            "", 1),
    Outcome("labour_per_area", mark("Labour per area"), "hour/m^2", "lower", "labour",
            mark("hours for a plant, all tasks × plants per area"), "hour/ft^2"),
    Outcome("labour_per_kilogram", mark("Labour for the produce"), "hour/kg", "lower", "labour",
            mark("labour per area ÷ yield"), "hour/lb", 3),
    Outcome("return_to_labour", mark("Earned in an hour of work"), "money/hour", "higher",
            "labour", mark("(left over + cost of labour) ÷ labour per area")),
    Outcome("season_water", mark("Water in a season"), "L/m^2", "lower", "water",
            mark("sum over days of plants' use and evaporation"), "gal/ft^2", 0),
    Outcome("peak_water_use", mark("Water on the thirstiest day"), "L/m^2/day", "lower", "water",
            mark("largest daily use"), "gal/ft^2/day", 1),
    Outcome("water_per_yield", mark("Water for the produce"), "L/kg", "lower", "water",
            mark("water of the season ÷ yield"), "gal/lb", 0),
    Outcome("fullest_depth", mark("Deepest water"), "cm", "neither", "tank",
            mark("held depth, or the depth at the start of a falling level"), "inch", 1),
    Outcome("starting_depth", mark("Depth to last without refilling"), "cm", "lower", "tank",
            mark("lowest depth + season's water less rain, where nothing stands in it"), "inch",
            0),
    Outcome("autonomy", mark("Days until dry if nobody comes"), "day", "higher", "tank",
            mark("water above the lowest level ÷ use on the thirstiest day"), "day", 1),
    Outcome("refills", mark("Fills in a season"), "", "lower", "tank",
            mark("none where a valve holds the level; by hand, days of the season ÷ days between; falling, season's water less rain ÷ water between start and lowest level"),
            "", 0),
    Outcome("reserve_volume", mark("Header tank"), "L", "lower", "tank",
            mark("peak use × tank area × days to bridge"), "gal", 0),
    Outcome("water_load", mark("Weight of the water"), "kg/m^2", "lower", "tank",
            mark("deepest water × density"), "lb/ft^2", 0),
    Outcome("solution_made", mark("Solution made in a season"), "L/m^2", "lower", "nutrients",
            mark("water used less rain, plus what is left in the tank"), "gal/ft^2", 0),
    Outcome("fertiliser_mass", mark("Fertiliser salts"), "g/m^2", "lower", "nutrients",
            mark("salts per litre × strength × solution made, a weaker top-up counted for less"),
            "oz/ft^2", 0),
    Outcome("stock_volume", mark("Each stock"), "mL/m^2", "neither", "nutrients",
            mark("litres at the strength of the first filling × strength ÷ dilution"),
            "floz/ft^2", 0),
    *(
        row
        for element, words in _ELEMENTS.items()
        for row in (
            Outcome(f"{element}_supplied", words.supplied, "g/m^2", "neither", "nutrients",
                    mark("concentration × solution made"), "oz/ft^2", 1),
            Outcome(f"{element}_removed", words.removed, "g/m^2", "neither", "nutrients",
                    mark("content of the produce × yield"), "oz/ft^2", 1),
            Outcome(f"{element}_left", words.left, "g/m^2", "lower", "nutrients",
                    mark("supplied − carried off: in leaves, roots and left solution"), "oz/ft^2",
                    1),
            Outcome(f"{element}_share", words.share, "percent", "neither", "nutrients",
                    mark("carried off ÷ supplied"), "", 0),
        )
    ),
)  # fmt: skip

OUTCOMES: dict[str, Outcome] = {row.name: row for row in _ROWS}


def part_label(part: str) -> str:
    """Return the English name of a part of the cost stack; shown by `tr`."""
    return _PARTS[part].label
