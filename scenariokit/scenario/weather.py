"""A site with a person's own weather: monthly means from days or months of a file."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable
from typing import Any, NamedTuple

import numpy as np

from scenariokit import climate, units
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Site
from scenariokit.scenario.shown_labels import OWN_WEATHER

FEW_DAYS = 10
"""Days without which a month's mean says little; common practice, no published source."""


class OwnWeather(NamedTuple):
    """A site with a person's weather, and what stands behind it.

    Parameters
    ----------
    site : Site
        With the file's months; the others are as they were.
    months : tuple of int
        Months, 1 to 12, that the file gives.
    few : tuple of int
        Those of them with fewer than ten days.
    methods : tuple of str
        How reference evapotranspiration was found.
    problems : tuple of Problem
        Rows that were not used.
    gaps : tuple of Gap
        What the file lacks between its first row and its last.
    """

    site: Site
    months: tuple[int, ...]
    few: tuple[int, ...]
    methods: tuple[str, ...]
    problems: tuple[Problem, ...]
    gaps: tuple[climate.Gap, ...]


def site_with_weather(site: Site, weather: climate.Weather) -> OwnWeather:
    """Return a site whose months are those of a person's weather.

    Parameters
    ----------
    site : Site
        Its latitude and elevation are used; months that the file lacks stay.
    weather : Weather
        Days or months, as `climate.read_weather` gave them.

    Returns
    -------
    OwnWeather

    Raises
    ------
    RecordError
        If no row gives a reference evapotranspiration.

    Notes
    -----
    Means over all years in the file. Rain of a month needs rain in some row of
    it; missing days count as days like the others.
    """
    found = climate.reference_evapotranspiration(weather, site.latitude, site.elevation)
    if not found.rows:
        raise RecordError(
            [*weather.problems, *found.problems],
            tr("{name}: no row can be used", name=weather.name),
        )
    by_row = {row["_row"]: row for row in weather.rows}
    months = [_month(row.date) for row in found.rows]
    reference = _filled(
        plain(site.reference_evapotranspiration), months, [row.value for row in found.rows]
    )
    rows = [by_row[row.row] for row in found.rows]
    warmth = [_mean_of(row["maximum_temperature"], row["minimum_temperature"]) for row in rows]
    rain = _filled(plain(site.rain), months, [_monthly_rain(row, weather.step) for row in rows])
    counts = {month: months.count(month) for month in sorted(set(months))}
    few = () if weather.step == "month" else tuple(m for m, n in counts.items() if n < FEW_DAYS)
    changed = dataclasses.replace(
        site,
        label=site.label.removesuffix(OWN_WEATHER) + OWN_WEATHER,
        status="own",
        reference_evapotranspiration=units.quantity(reference, "mm/day"),
        rain=units.quantity(rain, "mm"),
        mean_temperature=units.quantity(
            _filled(plain(site.mean_temperature), months, warmth), "degC"
        ),
    )
    methods = tuple(dict.fromkeys(row.method for row in found.rows))
    problems = (*weather.problems, *found.problems)
    return OwnWeather(changed, tuple(counts), few, methods, problems, weather.gaps)


def _month(date: str) -> int:
    return int(date.split("-")[1])


def _mean_of(*values: float | None) -> float | None:
    """Return the mean of values, or None if one is missing."""
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if len(known) == len(values) else None


def _monthly_rain(row: Any, step: str) -> float | None:
    """Return a row's rain as that of a whole month."""
    rain: float | None = row["rain"]
    if rain is None or step == "month":
        return rain
    return rain * float(climate.MONTH_LENGTHS[_month(row["date"]) - 1])


def _filled(usual: Any, months: list[int], values: Iterable[float | None]) -> Any:
    """Return twelve numbers: the mean of each month's values, or what was usual."""
    out = np.array(usual, dtype=float)
    rows = [
        (month, value) for month, value in zip(months, values, strict=True) if value is not None
    ]
    for month in {month for month, _ in rows}:
        out[..., month - 1] = np.mean([value for own, value in rows if own == month])
    return out
