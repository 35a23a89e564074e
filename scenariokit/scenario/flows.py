"""Water of a scenario day by day: what plants take, what evaporates, what rain brings."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit import climate
from scenariokit.scenario.leaves import plain, with_draws
from scenariokit.scenario.model import Scenario


class DailyFlows(NamedTuple):
    """Plain numbers in L/m² a day; days on the last axis, zero after a season's end."""

    transpiration: Any
    evaporation: Any
    rain: Any


def stages(scenario: Scenario) -> tuple[Any, Any, Any, Any]:
    """Return the lengths of the crop's four stages."""
    crop = scenario.crop
    return crop.days_initial, crop.days_development, crop.days_mid, crop.days_late


def _stretch(value: Any) -> Any:
    """Return `value` with a last axis of one, to broadcast against days or months."""
    return np.asarray(plain(value))[..., np.newaxis]


def whole_days(interval: Any) -> Any:
    """Return an interval between fillings as the nearest whole number of days, at least one."""
    return np.maximum(np.rint(plain(interval)), 1.0)


def months_of(scenario: Scenario) -> Any:
    """Return the month, 1 to 12, of each day of the longest season."""
    days = int(np.ceil(np.max(sum(plain(stage) for stage in stages(scenario)))))
    return climate.month_of_day(np.arange(1, days + 1), scenario.site.planting_month)


def daily_flows(scenario: Scenario) -> DailyFlows:
    """Return transpiration, evaporation and rain that reaches the tank, day by day from planting.

    Notes
    -----
    Transpiration is the four-stage basal crop coefficient (FAO-56 eq. 66)
    times the month's reference evapotranspiration; evaporation that of the
    open share of the water. A field has no tank: neither evaporation nor rain
    is counted there.
    """
    crop, site, level = scenario.crop, scenario.site, scenario.method.level
    lengths = [_stretch(stage) for stage in stages(scenario)]
    total = sum(lengths)
    months = months_of(scenario) - 1
    days = np.arange(1, len(months) + 1, dtype=float)
    growing = days <= total
    coefficient = climate.crop_coefficient.floats(
        np.broadcast_to(days, np.broadcast_shapes(days.shape, total.shape)),
        *lengths,
        *(_stretch(value) for value in (crop.kc_initial, crop.kc_mid, crop.kc_end)),
    )
    reference = plain(site.reference_evapotranspiration)[..., months] * _stretch(
        site.climate_factor
    )
    nothing = np.zeros_like(days)
    transpiration = np.where(growing, reference * coefficient, 0.0)
    if level.regime == "none":
        return DailyFlows(transpiration, nothing, nothing)
    evaporation = climate.tank_evaporation.floats(reference, _stretch(level.open_fraction))
    fallen = plain(site.rain)[..., months] / climate.MONTH_LENGTHS[months]
    return DailyFlows(
        transpiration,
        np.where(growing, evaporation, 0.0),
        np.where(growing, fallen * _stretch(site.rain_share), 0.0),
    )


def daily_water_use(scenario: Scenario) -> tuple[Any, Any]:
    """Return water use and rain that reaches the tank, day by day from planting, in L/m².

    Returns
    -------
    use, rain : ndarray
        Days on the last axis. After the last day of a shorter season, zero.
    """
    flows = daily_flows(scenario)
    return flows.transpiration + flows.evaporation, flows.rain


class SeasonUse(NamedTuple):
    """Plain numbers of a season: water and rain in L/m², the thirstiest day in L/m² a day."""

    water: Any
    peak: Any
    rain: Any


def season_water_use(scenario: Scenario) -> SeasonUse:
    """Return the water that a season takes, its thirstiest day, and the rain that reaches the tank.

    Notes
    -----
    Use is in proportion to the climate factor, and rain to the share of it that
    gets in. Both are multiplied in at the end, so that an ensemble of seasons
    goes through the days only once.
    """
    site = scenario.site
    usual = with_draws(scenario, {"site.climate_factor": 1.0, "site.rain_share": 1.0})
    use, rain = daily_water_use(usual)
    factor = plain(site.climate_factor)
    return SeasonUse(
        factor * use.sum(axis=-1)[()],
        factor * use.max(axis=-1)[()],
        plain(site.rain_share) * rain.sum(axis=-1)[()],
    )
