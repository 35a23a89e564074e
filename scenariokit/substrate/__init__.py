"""Growing medium: cost, water and air in it, upward flow, wicks."""

from scenariokit.substrate.cost import (
    NO_HARVEST,
    component_volumes,
    cost_per_yield,
    medium_use_factor,
    mixed_price,
    mixed_volume,
    price_in_place,
    volume_per_area,
)
from scenariokit.substrate.curve import Hydraulics
from scenariokit.substrate.fitting import RetentionFit, fit_retention, mixed_hydraulics
from scenariokit.substrate.flux import (
    gardner_upward_limit,
    height_supplied,
    mualem_conductivity,
    power_constant,
    power_upward_limit,
    upward_limit,
)
from scenariokit.substrate.moisture import (
    CapillaryCheck,
    MoistureProfile,
    SheetWick,
    Standing,
    capillary_check,
    moisture_profile,
)
from scenariokit.substrate.retention import (
    air_filled_porosity_at_suction,
    container_capacity,
    mean_air_filled_porosity,
    mean_water_content,
    suction_from_pressure,
    water_content,
)
from scenariokit.substrate.tubes import jurin_height, washburn_horizontal, washburn_vertical
from scenariokit.substrate.wicks import (
    StripFit,
    conductivity_from_permeability,
    fit_strip,
    permeability_from_conductivity,
    strip_delivery,
    strip_rise,
    strip_rise_time,
    wick_evaporation,
)

__all__ = [
    "NO_HARVEST",
    "CapillaryCheck",
    "Hydraulics",
    "MoistureProfile",
    "RetentionFit",
    "SheetWick",
    "Standing",
    "StripFit",
    "air_filled_porosity_at_suction",
    "capillary_check",
    "component_volumes",
    "conductivity_from_permeability",
    "container_capacity",
    "cost_per_yield",
    "fit_retention",
    "fit_strip",
    "gardner_upward_limit",
    "height_supplied",
    "jurin_height",
    "mean_air_filled_porosity",
    "mean_water_content",
    "medium_use_factor",
    "mixed_hydraulics",
    "mixed_price",
    "mixed_volume",
    "moisture_profile",
    "mualem_conductivity",
    "permeability_from_conductivity",
    "power_constant",
    "power_upward_limit",
    "price_in_place",
    "strip_delivery",
    "strip_rise",
    "strip_rise_time",
    "suction_from_pressure",
    "upward_limit",
    "volume_per_area",
    "washburn_horizontal",
    "washburn_vertical",
    "water_content",
    "wick_evaporation",
]
