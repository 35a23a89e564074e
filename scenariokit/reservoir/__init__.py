"""The tank: its volume, weight, levels and how long its water lasts."""

from scenariokit.reservoir.sizing import (
    autonomy,
    check_level,
    drop_per_day,
    hand_fill_interval,
    reserve_volume,
    starting_depth,
    volume,
)
from scenariokit.reservoir.weight import Load, load, water_density

__all__ = [
    "Load",
    "autonomy",
    "check_level",
    "drop_per_day",
    "hand_fill_interval",
    "load",
    "reserve_volume",
    "starting_depth",
    "volume",
    "water_density",
]
