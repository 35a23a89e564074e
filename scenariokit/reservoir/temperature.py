"""Bands of root-zone temperature for potato."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.language import mark
from scenariokit.quantities import checked
from scenariokit.units import Floats


class TemperatureBand(NamedTuple):
    """A band of root-zone temperature: from where it holds [degC], and what it means."""

    name: str
    above: float
    meaning: str


COLD = TemperatureBand("cold", -np.inf, mark("below 10 °C: tubers hardly grow; wait or warm"))
GREEN = TemperatureBand("green", 10.0, mark("10 to 20 °C: in order"))
AMBER = TemperatureBand(
    "amber", 20.0, mark("above 20 up to 25 °C: tuber growth declines; shade and insulate")
)
RED = TemperatureBand(
    "red", 25.0, mark("above 25 °C: few tubers, second growth; cool the root zone")
)
STOP = TemperatureBand("stop", 30.0, mark("30 °C and above: tuber growth practically stops"))
POTATO_BANDS = (COLD, GREEN, AMBER, RED, STOP)


@checked(None, temperature="water_temperature")
def root_zone_band(temperature: Floats) -> Any:
    """Return the band in which a potato's root zone lies.

    Parameters
    ----------
    temperature : quantity
        Mean of the day in the root zone [degC], scalar or array.

    Returns
    -------
    str or array of str
        ``"cold"`` below 10 degC, ``"green"`` up to 20, ``"amber"`` up to 25,
        ``"red"`` above, ``"stop"`` from 30 on.

    Raises
    ------
    UnitError, RangeError
        If the value has the wrong unit or lies outside its range.

    Notes
    -----
    The bands are own judgement, drawn from the sources; none of them prints
    such bands. For potato only.

    References
    ----------
    FAO crop information, potato: soil of 15 to 18 degC is best for tuber growth,
    which is sharply inhibited below 10 and above 30 degC. DPIRD (Western
    Australia), Managing temperature of potatoes: tuber development declines as
    soil passes 20 degC and practically stops above 30 degC.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> str(root_zone_band(quantity(22, "degC")))
    'amber'
    """
    t = np.asarray(temperature)
    names = np.select(
        [t < GREEN.above, t <= AMBER.above, t <= RED.above, t < STOP.above],
        [COLD.name, GREEN.name, AMBER.name, RED.name],
        default=STOP.name,
    )
    return names if names.ndim else str(names)


@checked(None, temperature="water_temperature")
def days_in_bands(temperature: Floats) -> dict[str, Any]:
    """Return on how many days the root zone of a potato lay in each band.

    Parameters
    ----------
    temperature : quantity
        Daily means [degC], the first axis is the day.

    Returns
    -------
    dict of str to int or array
        Days in each band of `root_zone_band`.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> days_in_bands(quantity([12.0, 20.0, 26.0, 31.0], "degC"))
    {'cold': 0, 'green': 2, 'amber': 0, 'red': 1, 'stop': 1}
    """
    names = np.atleast_1d(root_zone_band.floats(temperature))
    counts = {band.name: (names == band.name).sum(axis=0) for band in POTATO_BANDS}
    return {name: int(n) if np.ndim(n) == 0 else n for name, n in counts.items()}
