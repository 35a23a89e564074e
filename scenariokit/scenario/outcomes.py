"""Every outcome of a scenario, described once."""

from __future__ import annotations

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

_PART_WORDS = {
    "planting": ("Seed or seedlings", "amount per plant × plants × price"),
    "medium": ("Growing medium", "medium per plant × plants × price in place ÷ crops it serves"),
    "sheet": ("Wicking sheet", "sheet area × price ÷ crops it serves"),
    "consumables": ("Consumables", "amounts used up by each crop × price"),
    "equipment": ("Equipment", "yearly cost over its life, with interest ÷ crops a year"),
    "nutrients": ("Nutrients", "salts in the solution made × price"),
    "water": ("Water", "water used and left in the tank, less rain × price"),
    "labour": ("Labour", "hours per plant × plants × cost of an hour"),
}

_ROWS: tuple[Outcome, ...] = (
    Outcome("yield_per_area", "Yield", "kg/m^2", "higher", "yield",
            "typical yield × what the EC leaves of it", "lb/ft^2"),
    Outcome("yield_low", "Yield, low", "kg/m^2", "higher", "yield",
            "low end of the yield's range × what the EC leaves of it", "lb/ft^2"),
    Outcome("yield_high", "Yield, high", "kg/m^2", "higher", "yield",
            "high end of the yield's range × what the EC leaves of it", "lb/ft^2"),
    Outcome("yield_per_plant", "Yield per plant", "kg/plant", "higher", "yield",
            "yield ÷ plants per area", "lb/plant"),
    Outcome("yield_per_medium", "Yield per volume of medium", "kg/L", "higher", "yield",
            "yield ÷ growing medium per area", "lb/US_dry_quart"),
    Outcome("yield_per_water", "Yield per volume of water", "kg/m^3", "higher", "yield",
            "yield ÷ water used in the season", "lb/gal", 2),
    Outcome("field_equivalent", "The same on a field", "metric_ton/hectare", "higher", "yield",
            "yield × 10", "cwt/acre", 1),
    Outcome("salinity_factor", "Yield left by this EC", "", "higher", "yield",
            "1 − slope × (EC − threshold), not above 1 nor below 0", "", 3),
    Outcome("medium_volume_per_area", "Growing medium", "L/m^2", "lower", "medium",
            "volume per plant × plants per area", "US_dry_quart/ft^2", 1),
    Outcome("medium_price", "Medium in place", "money/L", "lower", "medium",
            "prices of the components × shares ÷ (1 − mixing loss)", "money/US_dry_quart", 3),
    *(
        Outcome(f"cost_{part}", label, "money/kg", "lower", "cost", f"{formula} ÷ yield",
                "money/lb")
        for part, (label, formula) in _PART_WORDS.items()
    ),
    Outcome("cost_per_kilogram", "Cost of the produce", "money/kg", "lower", "cost",
            "sum of the parts", "money/lb"),
    Outcome("cost_per_kilogram_low", "Cost if the yield is high", "money/kg", "lower", "cost",
            "cost per area ÷ high yield", "money/lb"),
    Outcome("cost_per_kilogram_high", "Cost if the yield is low", "money/kg", "lower", "cost",
            "cost per area ÷ low yield", "money/lb"),
    Outcome("cost_per_area", "Cost of a crop per area", "money/m^2", "lower", "cost",
            "sum of the parts per area", "money/ft^2"),
    *(
        Outcome(f"cost_per_area_{part}", f"{label}: cost per area", "money/m^2", "lower", "cost",
                formula, "money/ft^2")
        for part, (label, formula) in _PART_WORDS.items()
    ),
    Outcome("cost_per_usable_kilogram", "Cost of what can be used", "money/kg", "lower", "cost",
            "cost per area ÷ (yield × share that can be used × share not lost)", "money/lb"),
    Outcome("takings_per_area", "Takings per area", "money/m^2", "higher", "cost",
            "yield × share that can be used × share not lost × price", "money/ft^2"),
    Outcome("margin_per_area", "Left over per area", "money/m^2", "higher", "cost",
            "takings − cost of a crop per area", "money/ft^2"),
    Outcome("investment_per_area", "Equipment to buy", "money/m^2", "lower", "cost",
            "amounts of equipment × price", "money/ft^2"),
    Outcome("payback", "Years until equipment is repaid", "year", "lower", "cost",
            "equipment to buy ÷ ((left over + cost of equipment) × crops a year), with interest on it", "", 1),
    Outcome("labour_per_area", "Labour per area", "hour/m^2", "lower", "labour",
            "hours for a plant, all tasks × plants per area", "hour/ft^2"),
    Outcome("labour_per_kilogram", "Labour for the produce", "hour/kg", "lower", "labour",
            "labour per area ÷ yield", "hour/lb", 3),
    Outcome("return_to_labour", "Earned in an hour of work", "money/hour", "higher", "labour",
            "(left over + cost of labour) ÷ labour per area"),
    Outcome("season_water", "Water in a season", "L/m^2", "lower", "water",
            "sum over days of plants' use and evaporation", "gal/ft^2", 0),
    Outcome("peak_water_use", "Water on the thirstiest day", "L/m^2/day", "lower", "water",
            "largest daily use", "gal/ft^2/day", 1),
    Outcome("water_per_yield", "Water for the produce", "L/kg", "lower", "water",
            "water of the season ÷ yield", "gal/lb", 0),
    Outcome("fullest_depth", "Deepest water", "cm", "neither", "tank",
            "held depth, or the depth at the start of a falling level", "inch", 1),
    Outcome("starting_depth", "Depth to last without refilling", "cm", "lower", "tank",
            "lowest depth + season's water less rain, where nothing stands in it", "inch", 0),
    Outcome("autonomy", "Days until dry if nobody comes", "day", "higher", "tank",
            "water above the lowest level ÷ use on the thirstiest day", "day", 1),
    Outcome("refills", "Fills in a season", "", "lower", "tank",
            "none where a valve holds the level; by hand, days of the season ÷ days between; falling, "
            "season's water less rain ÷ water between start and lowest level", "", 0),
    Outcome("reserve_volume", "Header tank", "L", "lower", "tank",
            "peak use × tank area × days to bridge", "gal", 0),
    Outcome("water_load", "Weight of the water", "kg/m^2", "lower", "tank",
            "deepest water × density", "lb/ft^2", 0),
    Outcome("solution_made", "Solution made in a season", "L/m^2", "lower", "nutrients",
            "water used less rain, plus what is left in the tank", "gal/ft^2", 0),
    Outcome("fertiliser_mass", "Fertiliser salts", "g/m^2", "lower", "nutrients",
            "salts per litre × strength × solution made, a weaker top-up counted for less", "oz/ft^2", 0),
    Outcome("stock_volume", "Each stock", "mL/m^2", "neither", "nutrients",
            "litres at the strength of the first filling × strength ÷ dilution", "floz/ft^2", 0),
    *(
        row
        for element, word in (("n", "Nitrogen"), ("p", "Phosphorus"), ("k", "Potassium"))
        for row in (
            Outcome(f"{element}_supplied", f"{word} supplied", "g/m^2", "neither", "nutrients",
                    "concentration × solution made", "oz/ft^2", 1),
            Outcome(f"{element}_removed", f"{word} carried off", "g/m^2", "neither", "nutrients",
                    "content of the produce × yield", "oz/ft^2", 1),
            Outcome(f"{element}_left", f"{word} not in the produce", "g/m^2", "lower",
                    "nutrients", "supplied − carried off: in leaves, roots and left solution",
                    "oz/ft^2", 1),
            Outcome(f"{element}_share", f"{word} carried off, of what is fed", "percent", "neither",
                    "nutrients", "carried off ÷ supplied", "", 0),
        )
    ),
)  # fmt: skip

OUTCOMES: dict[str, Outcome] = {row.name: row for row in _ROWS}


def part_label(part: str) -> str:
    """Return what a person reads for a part of the cost stack."""
    return _PART_WORDS[part][0]
