"""Weather and water demand: sun, air, reference evapotranspiration, crop coefficients, demand."""

from scenariokit.climate.coefficients import (
    basal_crop_coefficient,
    climate_adjusted_coefficient,
    crop_coefficient,
)
from scenariokit.climate.demand import (
    OPEN_WATER,
    daily_demand,
    season_demand,
    tank_evaporation,
)
from scenariokit.climate.humidity import (
    atmospheric_pressure,
    mean_saturation_vapour_pressure,
    psychrometric_constant,
    saturation_vapour_pressure,
    vapour_pressure_from_dew_point,
    vapour_pressure_from_humidity,
    vapour_pressure_from_mean_humidity,
    vapour_pressure_from_minimum_temperature,
    vapour_pressure_slope,
)
from scenariokit.climate.radiation import (
    clear_sky_radiation,
    net_longwave_radiation,
    net_radiation,
    net_shortwave_radiation,
    solar_from_sunshine,
    solar_from_temperature_range,
)
from scenariokit.climate.reference import (
    hargreaves,
    penman_monteith,
    soil_heat_flux,
    wind_at_two_metres,
)
from scenariokit.climate.series import (
    ReferenceRow,
    ReferenceSeries,
    reference_evapotranspiration,
)
from scenariokit.climate.sun import (
    daylight_hours,
    extraterrestrial_radiation,
    inverse_relative_distance,
    solar_declination,
    sunset_hour_angle,
)
from scenariokit.climate.weather import Gap, Weather, read_weather, weather_template
from scenariokit.months import (
    DAYS_PER_YEAR,
    MONTH_LENGTHS,
    daily_from_monthly,
    daily_from_monthly_sums,
    day_of_year,
    month_of_day,
)

__all__ = [
    "DAYS_PER_YEAR", "MONTH_LENGTHS", "OPEN_WATER", "Gap", "ReferenceRow", "ReferenceSeries",
    "Weather", "atmospheric_pressure", "basal_crop_coefficient", "clear_sky_radiation",
    "climate_adjusted_coefficient", "crop_coefficient", "daily_demand", "daily_from_monthly",
    "daily_from_monthly_sums", "day_of_year", "daylight_hours", "extraterrestrial_radiation",
    "hargreaves", "inverse_relative_distance", "mean_saturation_vapour_pressure", "month_of_day",
    "net_longwave_radiation", "net_radiation", "net_shortwave_radiation", "penman_monteith",
    "psychrometric_constant", "read_weather", "reference_evapotranspiration",
    "saturation_vapour_pressure", "season_demand", "soil_heat_flux", "solar_declination",
    "solar_from_sunshine", "solar_from_temperature_range", "sunset_hour_angle",
    "tank_evaporation", "vapour_pressure_from_dew_point", "vapour_pressure_from_humidity",
    "vapour_pressure_from_mean_humidity", "vapour_pressure_from_minimum_temperature",
    "vapour_pressure_slope", "weather_template", "wind_at_two_metres",
]  # fmt: skip
