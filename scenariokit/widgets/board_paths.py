"""Which quantities of a scenario have a control, and under which topic they stand."""

from __future__ import annotations

from scenariokit.language import mark
from scenariokit.scenario import Scenario

COMMON_PATHS: tuple[tuple[str, str, str], ...] = (
    ("prices.medium_factor", "price_factor", mark("Prices")),
    ("prices.labour_price", "labour_price", mark("Prices")),
    ("prices.water_price", "water_price", mark("Prices")),
    ("prices.produce_price", "produce_price", mark("Prices")),
    ("crop.marketable_share", "marketable_share", mark("Prices")),
    ("crop.loss_share", "loss_share", mark("Prices")),
    ("prices.interest_rate", "interest_rate", mark("Prices")),
    ("prices.crops_per_year", "crops_per_year", mark("Prices")),
    ("site.climate_factor", "climate_factor", mark("Season and tank")),
    ("site.rain_share", "rain_share", mark("Season and tank")),
    ("tank.area", "tank_area", mark("Season and tank")),
    ("tank.reserve_days", "reserve_days", mark("Season and tank")),
    ("feed.ec", "electrical_conductivity", mark("Nutrient solution")),
    ("feed.top_up_strength", "top_up_strength", mark("Nutrient solution")),
    ("feed.uptake_factor", "uptake_factor", mark("Nutrient solution")),
    ("feed.dilution", "dilution", mark("Nutrient solution")),
)
"""Path, parameter and topic of what holds for every method."""

METHOD_PATHS: tuple[tuple[str, str, str], ...] = (
    ("harvest.typical", "yield_per_area", mark("Yield and plants")),
    ("method.plants_per_area", "plants_per_area", mark("Yield and plants")),
    ("method.medium.volume_per_plant", "volume_per_plant", mark("Growing medium")),
    ("method.medium.crops_per_filling", "crops_per_filling", mark("Growing medium")),
    ("method.medium.top_up_fraction", "top_up_fraction", mark("Growing medium")),
    ("method.sheet.area_per_area", "sheet_area_per_area", mark("Growing medium")),
    ("method.labour.filling", "labour_filling", mark("Labour for a plant")),
    ("method.labour.planting", "labour_planting", mark("Labour for a plant")),
    ("method.labour.tending", "labour_tending", mark("Labour for a plant")),
    ("method.labour.lifting", "labour_lifting", mark("Labour for a plant")),
    ("method.labour.cleaning", "labour_cleaning", mark("Labour for a plant")),
    ("method.level.high", "depth", mark("Water level")),
    ("method.level.start", "depth", mark("Water level")),
    ("method.level.low", "depth", mark("Water level")),
    ("method.level.fill_interval", "fill_interval", mark("Water level")),
    ("method.level.open_fraction", "open_fraction", mark("Water level")),
)
"""Path, parameter and topic of what belongs to one method."""


def paths_of(scenario: Scenario) -> list[tuple[str, str, str]]:
    """Return the method's own paths that this scenario has."""
    method = scenario.method
    regime = method.level.regime
    return [
        row
        for row in METHOD_PATHS
        if not (row[0].startswith("method.medium") and method.medium is None)
        and not (row[0].startswith("method.sheet") and method.sheet is None)
        and not (row[0].startswith("method.level") and regime == "none")
        and not (row[0] == "method.level.start" and not regime.startswith("falling"))
        and not (row[0] == "method.level.fill_interval" and regime != "hand-filled")
    ]
