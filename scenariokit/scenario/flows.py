"""Water of a scenario day by day: what plants take, what evaporates, what rain brings."""

from __future__ import annotations

import functools
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
    growth = [
        _stretch(value) for value in (*stages(scenario), crop.kc_initial, crop.kc_mid, crop.kc_end)
    ]
    tank = level.regime != "none"
    return _flows(
        months_of(scenario) - 1, growth, plain(site.reference_evapotranspiration),
        plain(site.rain), _stretch(level.open_fraction) if tank else None,
        _stretch(site.climate_factor), _stretch(site.rain_share),
    )  # fmt: skip


def _flows(
    months: Any,
    growth: Any,
    reference: Any,
    rain: Any,
    open_fraction: Any,
    climate_factor: Any = 1.0,
    rain_share: Any = 1.0,
) -> DailyFlows:
    """Return a season's flows from plain numbers; no tank where `open_fraction` is None.

    `growth` holds the lengths of the four stages and the three coefficients.
    """
    days = np.arange(1, len(months) + 1, dtype=float)
    total = sum(growth[:4])
    growing = days <= total
    coefficient = climate.crop_coefficient.floats(
        np.broadcast_to(days, np.broadcast_shapes(days.shape, np.shape(total))), *growth
    )
    thirst = reference[..., months] * climate_factor
    nothing = np.zeros_like(days)
    transpiration = np.where(growing, thirst * coefficient, 0.0)
    if open_fraction is None:
        return DailyFlows(transpiration, nothing, nothing)
    evaporation = climate.tank_evaporation.floats(thirst, open_fraction)
    fallen = rain[..., months] / climate.MONTH_LENGTHS[months]
    return DailyFlows(
        transpiration,
        np.where(growing, evaporation, 0.0),
        np.where(growing, fallen * rain_share, 0.0),
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
    goes through the days only once, and the same days are remembered for the
    next call.
    """
    site, crop, level = scenario.site, scenario.crop, scenario.method.level
    numbers = [
        plain(value)
        for value in (*stages(scenario), crop.kc_initial, crop.kc_mid, crop.kc_end,
                      level.open_fraction)
    ]  # fmt: skip
    months = [plain(site.reference_evapotranspiration), plain(site.rain)]
    if all(np.ndim(number) == 0 for number in numbers) and all(np.ndim(one) == 1 for one in months):
        usual = _usual_season(
            level.regime != "none", site.planting_month,
            tuple(float(number) for number in numbers), *(tuple(one.tolist()) for one in months),
        )  # fmt: skip
    else:
        usual = _totals(with_draws(scenario, {"site.climate_factor": 1.0, "site.rain_share": 1.0}))
    factor = plain(site.climate_factor)
    return SeasonUse(factor * usual.water, factor * usual.peak, plain(site.rain_share) * usual.rain)


def _totals(scenario: Scenario) -> SeasonUse:
    """Return a season's totals at the site's usual thirst and all its rain.

    Day after day, so that nothing is held that has draws and days: a day of all
    draws stays in a processor's cache. Days after a shorter season's end add zero.
    """
    crop, site, level = scenario.crop, scenario.site, scenario.method.level
    lengths = [plain(stage) for stage in stages(scenario)]
    growth = (*lengths, plain(crop.kc_initial), plain(crop.kc_mid), plain(crop.kc_end))
    total, tank = sum(lengths), level.regime != "none"
    open_water = climate.tank_evaporation.floats(1.0, plain(level.open_fraction)) if tank else 0.0
    coefficient = _coefficient(growth)
    reference, rain = plain(site.reference_evapotranspiration), plain(site.rain)
    shortest = np.min(total)
    water, peak, fallen = (np.zeros(np.shape(total)) for _ in range(3))
    for day, month in enumerate(months_of(scenario) - 1, start=1):
        use = reference[..., month] * (coefficient(day) + open_water)
        drops = rain[..., month] / climate.MONTH_LENGTHS[month] if tank else 0.0
        if day > shortest:
            growing = day <= total
            use, drops = use * growing, drops * growing
        water, peak, fallen = water + use, np.maximum(peak, use), fallen + drops
    return SeasonUse(water[()], peak[()], fallen[()])


def _coefficient(growth: Any) -> Any:
    """Return the crop coefficient by day; between stages that differ it is worked out but once."""
    initial, development, mid, _, kc_initial, kc_mid, _ = growth
    rising, risen = np.min(initial), np.max(initial + development)
    falling = np.min(initial + development + mid)
    full = kc_initial + (kc_mid - kc_initial)

    def on(day: int) -> Any:
        if day <= rising:
            return kc_initial
        if risen <= day <= falling:
            return full
        return climate.crop_coefficient.floats(float(day), *growth)

    return on


@functools.lru_cache(maxsize=256)
def _usual_season(
    tank: bool,
    planting_month: int,
    numbers: tuple[float, ...],
    reference: tuple[float, ...],
    rain: tuple[float, ...],
) -> SeasonUse:
    """Return the totals of a season of single values, at the site's usual thirst and all its rain."""
    *growth, open_fraction = numbers
    days = int(np.ceil(sum(growth[:4])))
    months = climate.month_of_day(np.arange(1, days + 1), planting_month) - 1
    flows = _flows(months, growth, np.asarray(reference), np.asarray(rain),
                   open_fraction if tank else None)  # fmt: skip
    use = flows.transpiration + flows.evaporation
    return SeasonUse(use.sum(axis=-1)[()], use.max(axis=-1)[()], flows.rain.sum(axis=-1)[()])
