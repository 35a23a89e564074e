"""Reference evapotranspiration of a person's weather, row by row, by the best method it allows."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Literal, TypeAlias

import numpy as np

from scenariokit.catalog.tables import Row
from scenariokit.climate.humidity import (
    vapour_pressure_from_dew_point,
    vapour_pressure_from_humidity,
    vapour_pressure_from_mean_humidity,
    vapour_pressure_from_minimum_temperature,
)
from scenariokit.climate.limits import refuse_where
from scenariokit.climate.radiation import clear_sky_radiation, net_radiation, solar_from_sunshine
from scenariokit.climate.reference import (
    hargreaves,
    penman_monteith,
    soil_heat_flux,
    wind_at_two_metres,
)
from scenariokit.climate.sun import daylight_hours, extraterrestrial_radiation
from scenariokit.climate.weather import Step, Weather
from scenariokit.errors import Problem, RangeError, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

Method: TypeAlias = Literal["given", "penman_monteith", "hargreaves"]

INLAND, COAST = 0.16, 0.19
"""Coefficient of the temperature range, FAO-56: away from a large water, and beside one."""

USUAL_WIND = 2.0
"""Wind speed where none is known, m/s: FAO-56."""

_SUBJECT = "reference_evapotranspiration"


@dataclass(frozen=True)
class ReferenceRow:
    """Reference evapotranspiration of one day or month.

    Parameters
    ----------
    date : str
        The day or month.
    row : int
        The row in the file.
    value : float
        ETo [mm a day].
    method : {'given', 'penman_monteith', 'hargreaves'}
        How it was found.
    measured : tuple of str
        Columns that were used.
    assumed : tuple of str
        What stood in for columns that were blank or not there.
    """

    date: str
    row: int
    value: float
    method: Method
    measured: tuple[str, ...]
    assumed: tuple[str, ...] = ()


@dataclass(frozen=True)
class ReferenceSeries:
    """Reference evapotranspiration of a table of weather.

    Parameters
    ----------
    rows : tuple of ReferenceRow
        One for each row of weather that allows a method.
    problems : tuple of Problem
        Rows of weather without a value, and why.
    step : {'day', 'month'}
        What a row stands for.
    """

    rows: tuple[ReferenceRow, ...]
    problems: tuple[Problem, ...]
    step: Step

    @property
    def values(self) -> Quantity:
        """ETo of each row [mm a day]."""
        return with_unit(np.array([row.value for row in self.rows]), "mm/day")

    @property
    def methods(self) -> dict[str, int]:
        """How many rows each method gave."""
        return dict(Counter(row.method for row in self.rows))


@dataclass(frozen=True)
class _Place:
    """What holds for every row."""

    elevation: float
    wind_height: float
    range_coefficient: float
    temperatures_only: Method


@dataclass
class _Used:
    """What a row's value rests on."""

    measured: list[str]
    assumed: list[str]


def reference_evapotranspiration(
    weather: Weather,
    latitude: QuantityLike,
    elevation: QuantityLike,
    *,
    wind_height: QuantityLike = "2 m",
    coastal: bool = False,
    temperatures_only: Literal["hargreaves", "penman_monteith"] = "hargreaves",
) -> ReferenceSeries:
    r"""Return reference evapotranspiration of each row by the best method its columns allow.

    A value that the table gives is taken as it is. Else, where the row has both
    temperatures and at least one of radiation, sunshine, humidity and wind, the
    Penman-Monteith equation, with FAO-56's procedures for what is missing: solar
    radiation from sunshine, else from the temperature range; vapour pressure
    from dew point, else the highest and lowest humidity, else mean humidity,
    else Tmin; wind of 2 m/s. Where it has temperatures alone, Hargreaves.

    Parameters
    ----------
    weather : Weather
        From `read_weather`.
    latitude : quantity
        φ, -90 to 90 degrees, south below zero: ``"-34.5 deg"``. A bare number
        is refused, because it could be degrees or radians.
    elevation : quantity
        z, height above the sea [m].
    wind_height : quantity, optional
        Height of the wind gauge [m]; weather stations commonly have 10 m.
    coastal : bool, optional
        Whether radiation is guessed from the temperature range as beside a
        large water (0.19) or inland (0.16).
    temperatures_only : {'hargreaves', 'penman_monteith'}, optional
        The method where nothing but temperatures is known.

    Returns
    -------
    ReferenceSeries
        Value, method, columns used and assumptions for each row; and the rows
        that allow no method, with the reason.

    Raises
    ------
    UnitError
        If a place has no unit or one of another dimension.
    RangeError
        If a place lies outside its range.
    ArgumentError
        If `temperatures_only` is no method, or a place is not one number.

    Warns
    -----
    ValidityWarning
        Beyond the polar circles, where the sun does not rise or not set.

    Notes
    -----
    Months take soil heat from the months before and after; of one at the edge
    of the table or a gap from the month before alone, else 0, as is said in
    `assumed`. A value below zero (dew all day) counts as 0, and is told. Nothing
    else is changed: a row with more sunshine than daylight, or more vapour than
    its air can hold, has no value and is named. Open field only, not a greenhouse.

    References
    ----------
    Allen, Pereira, Raes and Smith 1998, FAO Irrigation and Drainage Paper 56, eq. 6, 35, 43,
    44, 48, 50 and 52; confirmed by its examples 17, 18 and 20.

    Examples
    --------
    >>> from scenariokit.climate import read_weather
    >>> weather = read_weather(
    ...     "date,maximum_temperature [degC],minimum_temperature [degC],maximum_humidity [%],"
    ...     "minimum_humidity [%],wind_speed [km/h],sunshine [hour]\n"
    ...     "2015-07-06,21.5,12.3,84,63,10,9.25\n")
    >>> found = reference_evapotranspiration(weather, "50.8 deg", "100 m", wind_height="10 m")
    >>> found.rows[0].method, round(found.rows[0].value, 2)
    ('penman_monteith', 3.88)
    """
    given = {"latitude": latitude, "elevation": elevation, "wind_height": wind_height}
    north, place = _place(given, coastal, temperatures_only)
    if not weather.rows:
        return ReferenceSeries((), (), weather.step)
    days = np.array([row["day_of_year"] for row in weather.rows], dtype=np.float64)
    above_air = extraterrestrial_radiation.floats(north, days)
    light = daylight_hours.floats(north, days)
    means = _means(weather)
    rows: list[ReferenceRow] = []
    problems: list[Problem] = []
    for row, radiation, hours in zip(weather.rows, above_air, light, strict=True):
        try:
            rows.append(_one(row, float(radiation), float(hours), place, means))
        except RangeError as error:
            problems += [
                replace(problem, file=weather.name, row=row["_row"]) for problem in error.problems
            ]
    return ReferenceSeries(tuple(rows), tuple(problems), weather.step)


def _place(
    given: Mapping[str, QuantityLike], coastal: bool, temperatures_only: Method
) -> tuple[float, _Place]:
    """Return the latitude and the place as plain numbers."""
    found = checked_floats(_SUBJECT, {key: (value, key) for key, value in given.items()})
    problems = [
        Problem(key, str(given[key]), tr("must be one number: one place for the whole table"))
        for key, value in found.items()
        if np.ndim(value) > 0
    ]
    if temperatures_only not in ("hargreaves", "penman_monteith"):
        problems.append(
            Problem("temperatures_only", repr(temperatures_only), tr("is no method"),
                    "'hargreaves' or 'penman_monteith'")
        )  # fmt: skip
    if problems:
        raise argument_error(problems, _SUBJECT)
    coefficient = COAST if coastal else INLAND
    place = _Place(found["elevation"], found["wind_height"], coefficient, temperatures_only)
    return found["latitude"], place


def _means(weather: Weather) -> dict[int, float]:
    """Return the mean temperature of each month; of days none is needed."""
    if weather.step == "day":
        return {}
    means: dict[int, float] = {}
    for row in weather.rows:
        highest, lowest = row["maximum_temperature"], row["minimum_temperature"]
        if highest is not None and lowest is not None:
            means[_month_key(row, 0)] = (highest + lowest) / 2
    return means


def _month_key(row: Row, shift: int) -> int:
    """Return the position of a month; means of many years go round in a circle."""
    position = int(row["_position"]) + shift
    return position % 12 if row["year"] is None else position


def _one(
    row: Row, above_air: float, daylight: float, place: _Place, means: Mapping[int, float]
) -> ReferenceRow:
    """Return the value of one row, or raise why there is none."""
    given = row["reference_evapotranspiration"]
    if given is not None:
        return ReferenceRow(row["date"], row["_row"], given, "given", (_SUBJECT,))
    highest, lowest = row["maximum_temperature"], row["minimum_temperature"]
    missing = [name for name in ("maximum_temperature", "minimum_temperature") if row[name] is None]
    if missing:
        reason = tr("is missing, and every method needs it")
        raise argument_error([Problem(name, "", reason, kind="range") for name in missing], "")
    if above_air <= 0:
        reason = tr("the sun does not rise on this day, and the methods need it")
        raise argument_error([Problem("date", row["date"], reason, kind="range")], "")
    used = _Used(["maximum_temperature", "minimum_temperature"], [])
    if place.temperatures_only == "hargreaves" and not _knows_more(row):
        method: Method = "hargreaves"
        value = float(hargreaves.floats(highest, lowest, above_air))
    else:
        method = "penman_monteith"
        value = float(_combined(row, above_air, daylight, place, means, used))
    if value < 0:
        used.assumed.append(
            tr("came to {value:.2f} mm/day (dew or frost), counted as 0", value=value)
        )
        value = 0.0
    return ReferenceRow(
        row["date"], row["_row"], value, method, tuple(used.measured), tuple(used.assumed)
    )


def _knows_more(row: Row) -> bool:
    """Return whether a row has anything that Penman-Monteith uses beside temperatures."""
    pair = row["maximum_humidity"] is not None and row["minimum_humidity"] is not None
    names = (
        "solar_radiation", "sunshine", "vapour_pressure", "dew_point", "mean_humidity",
        "wind_speed",
    )  # fmt: skip
    return pair or any(row[name] is not None for name in names)


def _combined(
    row: Row, above_air: float, daylight: float, place: _Place, means: Mapping[int, float],
    used: _Used,
) -> Any:  # fmt: skip
    """Return Penman-Monteith from what a row has; note what stands in for the rest."""
    highest, lowest = row["maximum_temperature"], row["minimum_temperature"]
    clear = clear_sky_radiation.floats(above_air, place.elevation)
    solar = _solar(row, above_air, daylight, clear, place.range_coefficient, used)
    vapour = _vapour(row, used)
    wind = _wind(row, place.wind_height, used)
    kept = net_radiation.floats(solar, clear, highest, lowest, vapour)
    soil = _soil(row, means, used)
    return penman_monteith.floats(highest, lowest, vapour, wind, kept, place.elevation, soil)


def _solar(
    row: Row, above_air: float, daylight: float, clear: float, coefficient: float, used: _Used
) -> Any:
    """Return solar radiation: measured, from sunshine, or from the temperature range."""
    measured = row["solar_radiation"]
    if measured is not None:
        used.measured.append("solar_radiation")
        refuse_where(
            measured > above_air, "solar_radiation", measured, "MJ/m^2/day",
            tr("is more than the sun gives above the air"), tr("{above_air:.1f} MJ/m^2/day or less", above_air=above_air), "",
        )  # fmt: skip
        return measured
    if row["sunshine"] is not None:
        used.measured.append("sunshine")
        return solar_from_sunshine.floats(above_air, row["sunshine"], daylight)
    # The equation of `solar_from_temperature_range`, whose warning is said here row by row.
    width = row["maximum_temperature"] - row["minimum_temperature"]
    guess = coefficient * np.sqrt(width) * above_air
    if guess > clear:
        text = tr("solar radiation from the temperature range, limited to a clear sky")
    else:
        text = tr("solar radiation from the temperature range")
    used.assumed.append(text)
    return min(guess, clear)


def _vapour(row: Row, used: _Used) -> Any:
    """Return vapour pressure from the best column there is, else from Tmin."""
    highest, lowest = row["maximum_temperature"], row["minimum_temperature"]
    if row["vapour_pressure"] is not None:
        used.measured.append("vapour_pressure")
        return row["vapour_pressure"]
    if row["dew_point"] is not None:
        used.measured.append("dew_point")
        return vapour_pressure_from_dew_point.floats(row["dew_point"])
    moist, dry = row["maximum_humidity"], row["minimum_humidity"]
    if moist is not None and dry is not None:
        used.measured += ["maximum_humidity", "minimum_humidity"]
        return vapour_pressure_from_humidity.floats(highest, lowest, moist / 100, dry / 100)
    if row["mean_humidity"] is not None:
        used.measured.append("mean_humidity")
        share = row["mean_humidity"] / 100
        return vapour_pressure_from_mean_humidity.floats(highest, lowest, share)
    used.assumed.append(tr("vapour pressure from the lowest temperature"))
    return vapour_pressure_from_minimum_temperature.floats(lowest)


def _wind(row: Row, height: float, used: _Used) -> Any:
    """Return the wind at 2 m, or the usual one."""
    if row["wind_speed"] is None:
        used.assumed.append(tr("wind of {usual_wind:g} m/s", usual_wind=USUAL_WIND))
        return USUAL_WIND
    used.measured.append("wind_speed")
    return row["wind_speed"] if height == 2 else wind_at_two_metres.floats(
        row["wind_speed"], height
    )  # fmt: skip


def _soil(row: Row, means: Mapping[int, float], used: _Used) -> Any:
    """Return the heat into the soil: of a day 0, of a month from its neighbours."""
    if not means:
        return None
    before, after = means.get(_month_key(row, -1)), means.get(_month_key(row, 1))
    if before is not None and after is not None:
        return soil_heat_flux.floats(after, before, 2)
    if before is not None:
        used.assumed.append(tr("soil heat from the month before alone"))
        return soil_heat_flux.floats(means[_month_key(row, 0)], before, 1)
    used.assumed.append(tr("no heat into the soil"))
    return None
