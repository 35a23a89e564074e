"""The tank of a scenario through its season: depth, EC, where the water went, when to refill."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import reservoir, units
from scenariokit.errors import InfeasibleError
from scenariokit.language import number_text, tr
from scenariokit.reservoir.fills import Fill
from scenariokit.scenario.flows import daily_flows, months_of, whole_days
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Level, Scenario

SALT = "salt"
SALT_PER_EC = 1000.0
"""mg/L that stand for 1 dS/m inside the balance; only ratios of EC are read from it."""
FREEZING = 0.0
"""degC that water under ice has at least."""


@dataclass(frozen=True)
class TankSeason:
    """A season in the tank of one scenario.

    Parameters
    ----------
    scenario : Scenario
        What was simulated.
    season : scenariokit.reservoir.Season
        Water and salt day by day.
    ec : quantity
        EC at planting and at the end of each day [dS/m]; NaN where the tank is dry.
    calendar : tuple of Fill
        Fillings by hand; empty where a float valve holds the level, or for an ensemble.
    drowned : list of Drowning
        Days on which roots that live in air were put under water; only under a
        falling level do roots hang in air.
    """

    scenario: Scenario
    season: reservoir.Season
    ec: Any
    calendar: tuple[Fill, ...]
    drowned: Any

    @property
    def first_dry(self) -> int | None:
        """First day on which the water runs out, or None; of an ensemble the earliest."""
        first = float(np.min(self.season.totals.first_dry.m_as(units.unit_of("day"))))
        return int(first) if np.isfinite(first) else None


def salt_solute(scenario: Scenario) -> reservoir.Solute:
    """Return the single salt by which `tank_season` follows EC."""
    feed = scenario.feed
    strength = plain(feed.ec) * SALT_PER_EC
    return reservoir.Solute(
        inflow=units.quantity(strength * plain(feed.top_up_strength), "mg/L"),
        factor=plain(feed.uptake_factor),
        start=units.quantity(strength, "mg/L"),
    )


def tank_season(
    scenario: Scenario,
    *,
    valve_fails_on: int | None = None,
    missed_fill: int | None = None,
    season: reservoir.Season | None = None,
) -> TankSeason:
    """Return the season in a scenario's tank, as planned or with a mishap.

    Parameters
    ----------
    scenario : Scenario
        With a tank; its leaves may be arrays.
    valve_fails_on : int, optional
        First day on which the float valve gives nothing.
    missed_fill : int, optional
        Day on or after which the next filling by hand is forgotten; nothing is
        if none is due any more.
    season : scenariokit.reservoir.Season, optional
        Its balance as planned, if `feed_season` has followed it already.

    Returns
    -------
    TankSeason

    Raises
    ------
    InfeasibleError
        If the method has no tank, no valve that could fail, or is not filled by
        hand; or if the members of an ensemble are filled on different days.

    Notes
    -----
    EC is followed as one salt: what is topped up comes at its own strength,
    plants take it in at `uptake_factor` times the strength around their roots,
    and evaporation leaves it behind. Ions do not behave alike: measure. Under a
    constant level and steady flows without rain it nears Cin (E + Ev) / (p E).

    Examples
    --------
    >>> from scenariokit.scenario import scenario_for, tank_season
    >>> year = tank_season(scenario_for("medium_bag"))
    >>> year.first_dry is None
    True
    """
    level = scenario.method.level
    if season is None:
        season = season_with(
            scenario, {SALT: salt_solute(scenario)},
            valve_fails_on=valve_fails_on, missed_fill=missed_fill,
        )  # fmt: skip
    single = season.volume.magnitude.ndim == 1
    hanging = single and level.regime.startswith("falling")
    ec = season.concentrations[SALT].m_as(units.unit_of("mg/L")) / SALT_PER_EC
    return TankSeason(
        scenario=scenario,
        season=season,
        ec=units.quantity(ec, "dS/m"),
        calendar=tuple(reservoir.refill_calendar(season)) if single else (),
        drowned=reservoir.air_zone_violations(season.depth) if hanging else [],
    )


def season_with(
    scenario: Scenario,
    solutes: Mapping[str, reservoir.Solute],
    *,
    valve_fails_on: int | None = None,
    missed_fill: int | None = None,
) -> reservoir.Season:
    """Return the balance of a scenario's tank with the solutes given; see `tank_season`."""
    level = scenario.method.level
    if level.regime == "none":
        raise InfeasibleError(
            tr("{method} has no tank to follow through a season", method=tr(scenario.method.label))
        )
    if valve_fails_on is not None and not level.held:
        raise InfeasibleError(
            tr("{method} has no float valve that could fail", method=tr(scenario.method.label))
        )
    if missed_fill is not None and level.regime != "hand-filled":
        raise InfeasibleError(
            tr("{method} is not filled by hand", method=tr(scenario.method.label))
        )
    tank = reservoir.Tank(
        level.rim, units.quantity([0.0], "cm"), [plain(level.displaced_fraction)],
        scenario.tank.area,
    )  # fmt: skip
    flows = daily_flows(scenario)
    return reservoir.simulate(
        tank,
        _regime(level, valve_fails_on, missed_fill),
        reservoir.Flows(
            transpiration=_by_day(flows.transpiration),
            evaporation=_by_day(flows.evaporation),
            rain=_by_day(flows.rain),
        ),
        solutes,
        band=(level.low, level.fullest),
    )


def _by_day(values: Any) -> Any:
    """Return daily values with the day first, as a quantity."""
    return units.quantity(np.moveaxis(np.asarray(values, dtype=float), -1, 0), "L/m^2/day")


def _regime(level: Level, valve_fails_on: int | None, missed_fill: int | None) -> Any:
    """Return how the level is kept, with its mishap."""
    fails = None if valve_fails_on is None else units.quantity(valve_fails_on, "day")
    if level.regime == "constant":
        return reservoir.ConstantLevel(level.high, fails)
    if level.regime == "falling-then-held":
        return reservoir.FallingThenHeld(level.start, level.high, fails)
    if level.regime == "falling":
        return reservoir.FallingLevel(level.start)
    intervals = np.unique(whole_days(level.fill_interval))
    if len(intervals) > 1:
        raise InfeasibleError(
            tr(
                "a season is followed for one interval between fillings by hand at a time; "
                "given: {days}",
                days=", ".join(number_text(days, "g") for days in intervals),
            )
        )
    every = int(intervals[0])
    if missed_fill is None:
        return reservoir.HandFilled(level.high, every=every)
    forgotten = -(-(max(missed_fill, 2) - 1) // every) * every + 1
    return reservoir.HandFilled(level.high, every=every, missed=(forgotten,))


@dataclass(frozen=True)
class WarmMonth:
    """Heat in the root zone in one month of the season.

    Parameters
    ----------
    month : int
        1 to 12.
    temperature : quantity
        Mean of the month's air, taken for that of the water; 0 where it freezes [degC].
    band : str
        Band of root-zone temperature for potato.
    oxygen : quantity
        What the water holds at most [mg/L].
    """

    month: int
    temperature: Any
    band: str
    oxygen: Any


def root_zone_months(scenario: Scenario) -> list[WarmMonth]:
    """Return heat and oxygen in the root zone for each month of the season.

    Notes
    -----
    The water is taken to be as warm as the month's mean air, but not colder
    than ice. Sun on a dark tank makes it warmer, evaporation and shade cooler:
    hang a thermometer in it.
    """
    found = []
    for month in dict.fromkeys(int(one) for one in months_of(scenario)):
        air = float(np.median(plain(scenario.site.mean_temperature)[..., month - 1]))
        mean = units.quantity(max(air, FREEZING), "degC")
        oxygen = reservoir.oxygen_saturation(mean, scenario.site.elevation)
        found.append(WarmMonth(month, mean, str(reservoir.root_zone_band(mean)), oxygen))
    return found


def thirstiest_day(scenario: Scenario) -> int:
    """Return the first day, from 1, on which most water is used; of an ensemble, in its mean."""
    flows = daily_flows(scenario)
    use = np.asarray(flows.transpiration + flows.evaporation)
    return int(use.reshape(-1, use.shape[-1]).mean(axis=0).argmax()) + 1
