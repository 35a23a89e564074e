"""Every decorated public function refuses bad arguments and does not care about units."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from scenariokit import climate, economics, nutrients, quantity, reservoir, substrate, yields
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.glossary import parameter
from scenariokit.units import is_plain_number, unit_of


def of(function, **choices):
    """Return a decorated function with the arguments that are no quantities filled in."""
    filled = functools.wraps(function)(functools.partial(function, **choices))
    filled.floats = functools.partial(function.floats, **choices)
    return filled


CASES = [
    (yields.per_area, {"mass": "12 kg", "area": "2.5 m^2"}),
    (yields.per_plant, {"mass": "12 kg", "plants": "40 plant"}),
    (yields.per_volume, {"mass": "12 kg", "volume": "8 L"}),
    (yields.field_equivalent, {"yield_per_area": "5 kg/m^2"}),
    (
        yields.light_limited,
        {
            "par": "900 MJ/m^2",
            "intercepted_fraction": "0.7",
            "radiation_use_efficiency": "2.5 g/MJ",
            "harvest_index": "0.8",
            "dry_matter": "0.2",
        },
    ),
    (
        yields.salinity_factor,
        {"ec": "3 dS/m", "threshold": "1.7 dS/m", "slope": "12 percent/(dS/m)"},
    ),
    (substrate.volume_per_area, {"volume_per_plant": "3 L", "plants_per_area": "9 plant/m^2"}),
    (
        substrate.price_in_place,
        {
            "package_price": "22 money",
            "package_volume": "107.6 L",
            "expansion": "2",
            "fill_factor": "0.8",
            "freight": "3 money",
        },
    ),
    (substrate.medium_use_factor, {"crops_per_filling": "3", "top_up_fraction": "0.15"}),
    (
        substrate.cost_per_yield,
        {
            "price": "0.12 money/L",
            "volume_per_plant": "3 L/plant",
            "plants_per_area": "9 plant/m^2",
            "yield_per_area": "5 kg/m^2",
            "crops_per_filling": "3",
            "top_up_fraction": "0.15",
        },
    ),
    (
        climate.inverse_relative_distance,
        {
            "day_of_year": "187",
        },
    ),
    (
        climate.solar_declination,
        {
            "day_of_year": "187",
        },
    ),
    (
        climate.sunset_hour_angle,
        {
            "latitude": "50.8 deg",
            "day_of_year": "187",
        },
    ),
    (
        climate.daylight_hours,
        {
            "latitude": "50.8 deg",
            "day_of_year": "187",
        },
    ),
    (
        climate.extraterrestrial_radiation,
        {
            "latitude": "50.8 deg",
            "day_of_year": "187",
        },
    ),
    (
        climate.clear_sky_radiation,
        {
            "extraterrestrial_radiation": "41.09 MJ/m^2/day",
            "elevation": "100 m",
        },
    ),
    (
        climate.solar_from_sunshine,
        {
            "extraterrestrial_radiation": "41.09 MJ/m^2/day",
            "sunshine": "9.25 hour",
            "daylight": "16.1 hour",
            "dull_share": "0.25",
            "sunny_share": "0.5",
        },
    ),
    (
        climate.solar_from_temperature_range,
        {
            "extraterrestrial_radiation": "41.09 MJ/m^2/day",
            "maximum_temperature": "21.5 degC",
            "minimum_temperature": "12.3 degC",
            "coefficient": "0.16",
        },
    ),
    (
        climate.net_shortwave_radiation,
        {
            "solar_radiation": "22.07 MJ/m^2/day",
            "albedo": "0.23",
        },
    ),
    (
        climate.net_longwave_radiation,
        {
            "solar_radiation": "22.07 MJ/m^2/day",
            "clear_sky_radiation": "30.9 MJ/m^2/day",
            "maximum_temperature": "21.5 degC",
            "minimum_temperature": "12.3 degC",
            "vapour_pressure": "1.409 kPa",
        },
    ),
    (
        climate.net_radiation,
        {
            "solar_radiation": "22.07 MJ/m^2/day",
            "clear_sky_radiation": "30.9 MJ/m^2/day",
            "maximum_temperature": "21.5 degC",
            "minimum_temperature": "12.3 degC",
            "vapour_pressure": "1.409 kPa",
            "albedo": "0.23",
        },
    ),
    (
        climate.saturation_vapour_pressure,
        {
            "temperature": "21.5 degC",
        },
    ),
    (
        climate.mean_saturation_vapour_pressure,
        {
            "maximum_temperature": "21.5 degC",
            "minimum_temperature": "12.3 degC",
        },
    ),
    (
        climate.vapour_pressure_slope,
        {
            "temperature": "16.9 degC",
        },
    ),
    (
        climate.atmospheric_pressure,
        {
            "elevation": "100 m",
        },
    ),
    (
        climate.psychrometric_constant,
        {
            "pressure": "100.1 kPa",
        },
    ),
    (
        climate.vapour_pressure_from_humidity,
        {
            "maximum_temperature": "21.5 degC",
            "minimum_temperature": "12.3 degC",
            "maximum_humidity": "0.84",
            "minimum_humidity": "0.63",
        },
    ),
    (
        climate.vapour_pressure_from_mean_humidity,
        {
            "maximum_temperature": "21.5 degC",
            "minimum_temperature": "12.3 degC",
            "mean_humidity": "0.735",
        },
    ),
    (
        climate.vapour_pressure_from_dew_point,
        {
            "dew_point": "12 degC",
        },
    ),
    (
        climate.vapour_pressure_from_minimum_temperature,
        {
            "minimum_temperature": "12.3 degC",
        },
    ),
    (
        climate.wind_at_two_metres,
        {
            "wind_speed": "2.8 m/s",
            "height": "10 m",
        },
    ),
    (
        climate.soil_heat_flux,
        {
            "later_temperature": "18.8 degC",
            "earlier_temperature": "14.1 degC",
            "months_apart": "2",
        },
    ),
    (
        climate.penman_monteith,
        {
            "maximum_temperature": "21.5 degC",
            "minimum_temperature": "12.3 degC",
            "vapour_pressure": "1.409 kPa",
            "wind_speed": "2.078 m/s",
            "net_radiation": "13.28 MJ/m^2/day",
            "elevation": "100 m",
            "soil_heat_flux": "0.5 MJ/m^2/day",
        },
    ),
    (
        climate.hargreaves,
        {
            "maximum_temperature": "21.5 degC",
            "minimum_temperature": "12.3 degC",
            "extraterrestrial_radiation": "41.09 MJ/m^2/day",
        },
    ),
    (
        climate.climate_adjusted_coefficient,
        {
            "coefficient": "1.2",
            "wind_speed": "3 m/s",
            "minimum_humidity": "0.6",
            "canopy_height": "200 cm",
        },
    ),
    (substrate.suction_from_pressure, {"pressure": "1 kPa", "density": "998.2 kg/m^3"}),
    (
        substrate.water_content,
        {
            "suction": "10 cm",
            "theta_residual": "0.2415",
            "theta_saturated": "0.95",
            "vg_alpha": "0.1276 1/cm",
            "vg_n": "1.735",
        },
    ),
    (
        substrate.air_filled_porosity_at_suction,
        {
            "suction": "10 cm",
            "theta_residual": "0.2415",
            "theta_saturated": "0.95",
            "vg_alpha": "0.1276 1/cm",
            "vg_n": "1.735",
        },
    ),
    (
        substrate.mean_water_content,
        {
            "bottom": "5 cm",
            "top": "25 cm",
            "theta_residual": "0.2415",
            "theta_saturated": "0.95",
            "vg_alpha": "0.1276 1/cm",
            "vg_n": "1.735",
        },
    ),
    (
        substrate.mean_air_filled_porosity,
        {
            "bottom": "5 cm",
            "top": "25 cm",
            "theta_residual": "0.2415",
            "theta_saturated": "0.95",
            "vg_alpha": "0.1276 1/cm",
            "vg_n": "1.735",
        },
    ),
    (
        substrate.container_capacity,
        {
            "height": "10 cm",
            "theta_residual": "0.2415",
            "theta_saturated": "0.95",
            "vg_alpha": "0.1276 1/cm",
            "vg_n": "1.735",
        },
    ),
    (
        substrate.gardner_upward_limit,
        {
            "distance": "30 cm",
            "conductivity": "100 cm/day",
            "gardner_alpha": "0.1 1/cm",
            "surface_suction": "100 cm",
        },
    ),
    (substrate.power_constant, {"exponent": "3"}),
    (
        substrate.power_upward_limit,
        {
            "distance": "30 cm",
            "conductivity": "2 cm/day",
            "suction": "20 cm",
            "exponent": "3",
        },
    ),
    (
        substrate.mualem_conductivity,
        {
            "suction": "10 cm",
            "conductivity": "100 cm/day",
            "vg_alpha": "0.1276 1/cm",
            "vg_n": "1.735",
            "connectivity": "0.5",
        },
    ),
    (
        substrate.upward_limit,
        {
            "distance": "10 cm",
            "conductivity": "100 cm/day",
            "vg_alpha": "0.1276 1/cm",
            "vg_n": "1.735",
            "connectivity": "0.5",
            "surface_suction": "500 cm",
        },
    ),
    (
        substrate.height_supplied,
        {
            "rate": "5 mm/day",
            "conductivity": "100 cm/day",
            "vg_alpha": "0.1276 1/cm",
            "vg_n": "1.735",
            "connectivity": "0.5",
            "surface_suction": "500 cm",
        },
    ),
    (
        substrate.jurin_height,
        {
            "radius": "0.1 mm",
            "contact_angle": "20 deg",
            "surface_tension": "0.072 N/m",
            "density": "997 kg/m^3",
        },
    ),
    (
        substrate.washburn_horizontal,
        {
            "time": "0.1 hour",
            "radius": "0.01 mm",
            "contact_angle": "20 deg",
            "surface_tension": "0.072 N/m",
            "viscosity": "0.9 mPa*s",
        },
    ),
    (
        substrate.washburn_vertical,
        {
            "time": "0.1 hour",
            "radius": "0.01 mm",
            "contact_angle": "20 deg",
            "surface_tension": "0.072 N/m",
            "viscosity": "0.9 mPa*s",
            "density": "997 kg/m^3",
        },
    ),
    (
        substrate.conductivity_from_permeability,
        {
            "permeability": "1e-12 m^2",
            "viscosity": "0.9 mPa*s",
            "density": "997 kg/m^3",
        },
    ),
    (
        substrate.permeability_from_conductivity,
        {
            "conductivity": "80 cm/day",
            "viscosity": "0.9 mPa*s",
            "density": "997 kg/m^3",
        },
    ),
    (
        substrate.strip_rise,
        {
            "time": "2 hour",
            "conductivity": "60 cm/day",
            "porosity": "0.6",
            "maximum_rise": "62 cm",
        },
    ),
    (
        substrate.strip_rise_time,
        {
            "rise": "20 cm",
            "conductivity": "60 cm/day",
            "porosity": "0.6",
            "maximum_rise": "62 cm",
        },
    ),
    (
        substrate.fit_strip,
        {
            "first_time": "1.7 hour",
            "first_rise": "25 cm",
            "second_time": "20 hour",
            "second_rise": "56 cm",
        },
    ),
    (
        substrate.strip_delivery,
        {
            "conductivity": "84 cm/day",
            "cross_section": "1 cm^2",
            "maximum_rise": "30 cm",
            "height": "10 cm",
            "path": "12 cm",
            "suction": "20 cm",
        },
    ),
    (substrate.wick_evaporation, {"exposed_area": "200 cm^2", "evaporation": "5 mm/day"}),
    (
        climate.daily_demand,
        {
            "reference_evapotranspiration": "5 mm/day",
            "crop_coefficient": "1.15",
            "factor": "1.2",
        },
    ),
    (
        climate.tank_evaporation,
        {
            "reference_evapotranspiration": "5 mm/day",
            "open_fraction": "0.4",
            "cover_efficiency": "0.85",
        },
    ),
    (reservoir.volume, {"area": "2 m^2", "depth": "10 cm", "displaced": "0.25"}),
    (reservoir.load, {"depth": "10 cm", "temperature": "20 degC"}),
    (reservoir.water_density, {"temperature": "20 degC"}),
    (
        reservoir.autonomy,
        {"usable_depth": "8 cm", "use_per_day": "5.75 mm/day", "displaced": "0.1"},
    ),
    (
        reservoir.starting_depth,
        {
            "season_use": "200 L/m^2",
            "minimum_depth": "5 cm",
            "rain": "30 L/m^2",
            "displaced": "0.2",
        },
    ),
    (reservoir.reserve_volume, {"area": "10 m^2", "peak_use": "6 mm/day", "days": "7 day"}),
    (
        reservoir.hand_fill_interval,
        {
            "level_high": "8 cm",
            "level_low": "3 cm",
            "use_per_day": "5 mm/day",
            "displaced": "0.1",
        },
    ),
    (reservoir.drop_per_day, {"use_per_day": "6 mm/day", "displaced": "0.5"}),
    (reservoir.check_level, {"level": "12 cm", "rim": "15 cm"}),
    (
        reservoir.rain_dilution,
        {
            "start": "150 mg/L",
            "volume": "100 L/m^2",
            "rain": "50 L/m^2",
            "freeboard": "20 L/m^2",
        },
    ),
    (
        reservoir.leaching_fraction,
        {"inflow": "150 mg/L", "uptake": "120 mg/L", "limit": "300 mg/L"},
    ),
    (
        reservoir.discharge_to_hold,
        {
            "inflow": "150 mg/L",
            "uptake": "120 mg/L",
            "limit": "300 mg/L",
            "transpiration": "5 mm/day",
            "evaporation": "0.5 mm/day",
        },
    ),
    (
        reservoir.top_up_to_hold,
        {"uptake": "120 mg/L", "transpiration": "5 mm/day", "evaporation": "0.5 mm/day"},
    ),
    (reservoir.oxygen_saturation, {"temperature": "20 degC", "elevation": "500 m"}),
    (
        reservoir.oxygen_in_water,
        {"depth": "10 cm", "temperature": "20 degC", "elevation": "500 m"},
    ),
    (
        reservoir.oxygen_in_air_gap,
        {"gap": "5 cm", "temperature": "20 degC", "elevation": "500 m"},
    ),
    (nutrients.stock_dose, {"volume": "200 L", "dilution": "100", "stocks": "2"}),
    (nutrients.stock_strength, {"rate": "0.50551 g/L", "dilution": "100"}),
    (
        nutrients.use_per_yield,
        {"concentration": "105 mg/L", "water_use": "400 L/m^2", "yield_per_area": "5 kg/m^2"},
    ),
    (nutrients.nitrogen_from_nitrate, {"concentration": "50 mg/L"}),
    (nutrients.nitrate_from_nitrogen, {"concentration": "10 mg/L"}),
    (nutrients.dilution_to_limit, {"concentration": "210.1 mg/L", "limit": "10 mg/L"}),
    (nutrients.dilution_to_drinking_water, {"concentration": "210.1 mg/L"}),
    (nutrients.nitrate_left, {"concentration": "210.1 mg/L", "volume": "80 L"}),
    (nutrients.soil_area_for, {"nitrogen": "30 g", "rate": "150 kg/ha"}),
    (nutrients.alkalinity_equivalents, {"alkalinity": "150 mg/L"}),
    (nutrients.alkalinity_from_equivalents, {"equivalents": "3 mmol/L"}),
    (nutrients.bicarbonate_from_alkalinity, {"alkalinity": "150 mg/L"}),
    (nutrients.alkalinity_from_bicarbonate, {"bicarbonate": "183 mg/L"}),
    (nutrients.remaining_alkalinity, {"alkalinity": "150 mg/L", "ph": "5.8"}),
    (nutrients.bicarbonate_share, {"ph": "5.8"}),
    (
        of(nutrients.acid_strength, acid="HNO3"),
        {"mass_percent": "60 percent", "density": "1.367 kg/L"},
    ),
    (
        nutrients.build_up,
        {
            "source": "40 mg/L",
            "uptake": "10 mg/L",
            "top_up": "20 L",
            "tank": "200 L",
            "top_ups": "12",
            "limit": "150 mg/L",
        },
    ),
    (
        nutrients.correction_amounts,
        {
            "volume": "150 L",
            "strength_now": "0.7",
            "strength_target": "0.9",
            "dilution": "100",
            "stocks": "2",
            "room": "40 L",
        },
    ),
    (
        nutrients.linear_strength,
        {"ec": "1.4 dS/m", "full_ec": "2.4 dS/m", "water_ec": "0.4 dS/m"},
    ),
    (
        nutrients.ec_at,
        {"ec": "1.6 dS/m", "temperature": "15 degC", "coefficient": "1.94 percent"},
    ),
    (
        nutrients.ec_at_25,
        {"ec": "1.3 dS/m", "temperature": "15 degC", "coefficient": "1.94 percent"},
    ),
    (nutrients.uptake_concentration, {"uptake_per_area": "23 g/m^2", "transpiration": "300 L/m^2"}),
    (
        nutrients.uptake_from_efficiency,
        {"water_use_efficiency": "3 g/L", "tissue_fraction": "0.04"},
    ),
    (
        nutrients.top_up_concentration,
        {"uptake": "120 mg/L", "transpiration": "300 L/m^2", "evaporation": "20 L/m^2"},
    ),
    (nutrients.solution_holding, {"content": "7.2 g/kg", "concentration": "210 mg/L"}),
    (nutrients.dilution_from_ratio, {"parts": "100"}),
    (of(nutrients.solubility, salt="potassium_nitrate"), {"temperature": "12 degC"}),
    (
        of(nutrients.hydrate_solubility, anhydrous="CuSO4", hydrate="CuSO4.5H2O"),
        {"solubility": "200 g/kg"},
    ),
    (economics.capital_recovery, {"interest": "0.08", "years": "10 year"}),
    (
        economics.annualised,
        {
            "price": "200 money",
            "salvage": "20 money",
            "years": "8 year",
            "interest": "0.08",
        },
    ),
    (economics.per_crop, {"annual": "32.92 money/year", "crops_per_year": "2 crop/year"}),
    (
        economics.margin,
        {
            "produce_price": "2.5 money/kg",
            "yield_per_area": "5 kg/m^2",
            "cost_per_area": "8 money/m^2",
            "marketable_share": "0.9",
            "loss_share": "0.05",
        },
    ),
    (
        economics.break_even_price,
        {
            "cost_per_area": "12 money/m^2",
            "yield_per_area": "5 kg/m^2",
            "marketable_share": "0.9",
            "loss_share": "0.05",
        },
    ),
    (
        economics.break_even_yield,
        {
            "cost_per_area": "12 money/m^2",
            "produce_price": "2.5 money/kg",
            "marketable_share": "0.9",
            "loss_share": "0.05",
        },
    ),
    (
        economics.cost_per_usable_kilogram,
        {
            "cost_per_area": "12 money/m^2",
            "yield_per_area": "5 kg/m^2",
            "marketable_share": "0.9",
            "loss_share": "0.05",
        },
    ),
    (
        economics.labour_per_kilogram,
        {"labour_per_area": "0.75 hour/m^2", "yield_per_area": "5 kg/m^2"},
    ),
    (economics.sold_share, {"marketable_share": "0.9", "loss_share": "0.05"}),
    (
        economics.return_to_labour,
        {
            "margin_per_area": "3 money/m^2",
            "labour_cost": "2 money/m^2",
            "labour_per_area": "0.5 hour/m^2",
        },
    ),
    (
        economics.payback,
        {"investment": "100 money", "yearly": "25 money/year", "interest": "0.08"},
    ),
]
EACH = [
    pytest.param(function, given, key, id=f"{function.__name__}-{key}")
    for function, given in CASES
    for key in given
]
DIVIDED_BY = [row for row in EACH if row.values[0].expectations[row.values[2]].above_zero]
BY_NAME = [pytest.param(function, given, id=function.__name__) for function, given in CASES]
US_UNITS = {
    "kg": "lb",
    "m^2": "ft^2",
    "L": "US_dry_quart",
    "kg/m^2": "lb/ft^2",
    "MJ/m^2": "J/cm^2",
    "g/MJ": "kg/GJ",
    "dS/m": "uS/cm",
    "percent/(dS/m)": "1/(mS/cm)",
    "L/plant": "gal/plant",
    "plant/m^2": "plant/ft^2",
    "hour/m^2": "minute/ft^2",
    "money": "kilomoney",
    "money/L": "money/ft^3",
    "mm/day": "inch/hour",
    "cm": "inch",
    "degC": "degF",
    "L/m^2/day": "gal/ft^2/day",
    "L/m^2": "gal/ft^2",
    "day": "week",
    "g/L": "oz/gal",
    "mg/L": "g/m^3",
    "year": "day",
    "money/year": "money/day",
    "crop/year": "crop/day",
    "money/kg": "money/lb",
    "money/m^2": "money/acre",
    "1/cm": "1/inch",
    "kg/m^3": "lb/ft^3",
    "cm/day": "inch/hour",
    "mm": "inch",
    "N/m": "dyn/cm",
    "mPa*s": "poise",
    "cm^2": "inch^2",
    "": "percent",
    "plant": "percent",
    "deg": "radian",
    "m": "ft",
    "kPa": "psi",
    "m/s": "mile/hour",
    "hour": "minute",
    "MJ/m^2/day": "W/m^2",
    "mmol/L": "mol/gal",
    "kg/L": "lb/gal",
    "g/kg": "oz/lb",
    "g/m^2": "oz/ft^2",
    "g": "oz",
    "kg/ha": "lb/acre",
    "percent": "",
}


def numbers(result):
    """Return the magnitudes of a quantity, or of each field of a named tuple but its words."""
    parts = result if isinstance(result, tuple) else (result,)
    plain = [getattr(part, "magnitude", part) for part in parts if not isinstance(part, str)]
    return np.array(np.broadcast_arrays(*plain), dtype=float)


def test_cases_public_functions_all_listed():
    listed = {function.__name__ for function, _ in CASES}
    rooms = (yields, substrate, climate, reservoir, nutrients, economics)
    decorated = {
        name
        for room in rooms
        for name, value in vars(room).items()
        if hasattr(value, "expectations") and value.result_unit is not None
    }
    # tables over time or height, with tests of their own
    assert decorated - listed == {"season_demand", "moisture_profile"}


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_other_unit_same_result(function, given, key):
    described = parameter(function.expectations[key].name)
    other = quantity(given[key]).to(unit_of(US_UNITS[described.unit]))
    assert other.units != unit_of(described.unit)
    np.testing.assert_allclose(
        numbers(function(**given | {key: other})), numbers(function(**given)), rtol=1e-12
    )


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_wrong_dimension_raises_unit_error(function, given, key):
    with pytest.raises(UnitError, match=key):
        function(**given | {key: "5 ampere"})


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_bare_number_refused_where_unit_is_due(function, given, key):
    described = parameter(function.expectations[key].name)
    bare = quantity(given[key]).m_as(unit_of(described.unit))
    if is_plain_number(described.unit):
        np.testing.assert_allclose(
            numbers(function(**given | {key: bare})), numbers(function(**given))
        )
    else:
        with pytest.raises(UnitError, match="bare number"):
            function(**given | {key: bare})


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_above_range_raises_range_error(function, given, key):
    described = parameter(function.expectations[key].name)
    with pytest.raises(RangeError, match=key):
        function(**given | {key: quantity(described.maximum * 1.01, described.unit)})


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_below_range_raises_range_error(function, given, key):
    described = parameter(function.expectations[key].name)
    below = described.minimum * (0.5 if described.minimum > 0 else 1.01) or -0.01
    with pytest.raises(RangeError, match=key):
        function(**given | {key: quantity(below, described.unit)})


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_nan_raises_range_error(function, given, key):
    described = parameter(function.expectations[key].name)
    with pytest.raises(RangeError, match="NaN"):
        function(**given | {key: quantity(float("nan"), described.unit)})


@pytest.mark.parametrize(("function", "given", "key"), DIVIDED_BY)
def test_any_function_zero_where_divided_raises_range_error(function, given, key):
    expectation = function.expectations[key]
    with pytest.raises(RangeError, match=expectation.why):
        function(**given | {key: quantity(0.0, parameter(expectation.name).unit)})


@pytest.mark.parametrize(("function", "given"), BY_NAME)
def test_any_function_scalar_gives_plain_float(function, given):
    result = function(**given)
    parts = result if isinstance(result, tuple) else (result,)
    assert all(type(part.magnitude) is float for part in parts if hasattr(part, "magnitude"))


@pytest.mark.parametrize(("function", "given", "key"), EACH)
def test_any_function_array_equals_its_scalars(function, given, key):
    one = quantity(given[key])
    two = quantity(one.magnitude * 0.98, str(one.units))
    many = quantity(np.array([one.magnitude, two.magnitude]), str(one.units))
    together = numbers(function(**given | {key: many}))
    apart = np.stack(
        [numbers(function(**given | {key: one})), numbers(function(**given | {key: two}))], axis=-1
    )
    np.testing.assert_allclose(np.broadcast_to(together, apart.shape), apart, rtol=1e-12)


@pytest.mark.parametrize(("function", "given"), BY_NAME)
def test_any_function_floats_body_equals_function(function, given):
    values = {
        key: quantity(value).m_as(unit_of(parameter(function.expectations[key].name).unit))
        for key, value in given.items()
    }
    plain = function.floats(**values)
    expected = numbers(function(**given))
    np.testing.assert_allclose(numbers(plain), expected, rtol=1e-12)


@pytest.mark.parametrize(("function", "given"), BY_NAME)
def test_any_function_several_faults_all_named(function, given):
    faulty = dict.fromkeys(given, "5 ampere")
    with pytest.raises(ArgumentError) as caught:
        function(**faulty)
    assert [problem.field for problem in caught.value.problems] == list(given)


@pytest.mark.parametrize(
    ("function", "given"), [row for row in CASES if len(row[1]) > 1], ids=lambda item: None
)
def test_any_function_shapes_that_do_not_fit_raises(function, given):
    first, second = list(given)[:2]
    stretched = {
        key: quantity(
            np.full(size, quantity(given[key]).magnitude), str(quantity(given[key]).units)
        )
        for key, size in ((first, 2), (second, 3))
    }
    with pytest.raises(RangeError, match="broadcast"):
        function(**given | stretched)
