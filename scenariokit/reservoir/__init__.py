"""The tank: its volume, weight, levels, how long its water lasts, and its season day by day."""

from scenariokit.reservoir.air_zone import Drowning, air_zone_violations, drowned_air_zone
from scenariokit.reservoir.drift import (
    SteadyWater,
    concentration_falling,
    concentration_falling_proportional,
    concentration_held,
    concentration_held_proportional,
)
from scenariokit.reservoir.fills import (
    Fill,
    falling_sizing,
    plan_fills,
    refill_calendar,
    refill_lines,
)
from scenariokit.reservoir.leaching import (
    discharge_to_hold,
    leaching_fraction,
    rain_dilution,
    top_up_to_hold,
)
from scenariokit.reservoir.oxygen import oxygen_in_air_gap, oxygen_in_water, oxygen_saturation
from scenariokit.reservoir.records import Season, SeasonTotals, SoluteParts, WaterParts
from scenariokit.reservoir.regimes import (
    ConstantLevel,
    FallingLevel,
    FallingThenHeld,
    Flows,
    HandFilled,
    Regime,
    Solute,
)
from scenariokit.reservoir.season import season_totals, simulate
from scenariokit.reservoir.sizing import (
    autonomy,
    check_level,
    drop_per_day,
    hand_fill_interval,
    reserve_volume,
    starting_depth,
    volume,
)
from scenariokit.reservoir.tank import Tank
from scenariokit.reservoir.temperature import POTATO_BANDS, days_in_bands, root_zone_band
from scenariokit.reservoir.weight import Load, load, water_density

__all__ = [
    "POTATO_BANDS",
    "ConstantLevel",
    "Drowning",
    "FallingLevel",
    "FallingThenHeld",
    "Fill",
    "Flows",
    "HandFilled",
    "Load",
    "Regime",
    "Season",
    "SeasonTotals",
    "Solute",
    "SoluteParts",
    "SteadyWater",
    "Tank",
    "WaterParts",
    "air_zone_violations",
    "autonomy",
    "check_level",
    "concentration_falling",
    "concentration_falling_proportional",
    "concentration_held",
    "concentration_held_proportional",
    "days_in_bands",
    "discharge_to_hold",
    "drop_per_day",
    "drowned_air_zone",
    "falling_sizing",
    "hand_fill_interval",
    "leaching_fraction",
    "load",
    "oxygen_in_air_gap",
    "oxygen_in_water",
    "oxygen_saturation",
    "plan_fills",
    "rain_dilution",
    "refill_calendar",
    "refill_lines",
    "reserve_volume",
    "root_zone_band",
    "season_totals",
    "simulate",
    "starting_depth",
    "top_up_to_hold",
    "volume",
    "water_density",
]
