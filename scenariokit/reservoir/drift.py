"""Closed forms of how a solution grows stronger or weaker in a tank."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.reservoir.measured import Measured, measured, plain
from scenariokit.units import Floats, Quantity, QuantityLike

NO_WATER = mark("a concentration needs water")


@dataclass(frozen=True)
class SteadyWater(Measured):
    """The water of a tank whose flows are the same every day.

    Parameters
    ----------
    volume : quantity
        V, free water at the start [L/m²], above 0.
    transpiration : quantity
        E [L/m² a day].
    evaporation, discharge : quantity, optional
        Ev and D, evaporation and solution run off [L/m² a day]; none if not given.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    """

    volume: Any = field(metadata=measured("stored_water", above_zero=True, why=NO_WATER))
    transpiration: Any = field(metadata=measured("water_use"))
    evaporation: Any = field(default=None, metadata=measured("water_use"))
    discharge: Any = field(default=None, metadata=measured("water_use"))

    def rates(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Return V, E, Ev and D as plain floats."""
        return (
            plain(self.volume),
            plain(self.transpiration),
            plain(self.evaporation),
            plain(self.discharge),
        )


def concentration_held(
    water: SteadyWater,
    start: QuantityLike,
    inflow: QuantityLike,
    uptake: QuantityLike,
    time: QuantityLike,
) -> Quantity:
    """Return the concentration at a held level, uptake at a stated concentration.

    V dC/dt = (E + Ev + D) Cin - E Cu - D C. Without discharge
    C = C0 + [(E + Ev) Cin - E Cu] t / V; with it C approaches
    C* = [(E + Ev + D) Cin - E Cu] / D at the rate D / V.

    Parameters
    ----------
    water : SteadyWater
        V, E, Ev and D.
    start, inflow, uptake : quantity
        C0 at the start, Cin of the refill, Cu of the uptake [mg/L].
    time : quantity
        t [day], scalar or array.

    Returns
    -------
    quantity
        C [mg/L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If by then plants would have taken up more than there was.

    Notes
    -----
    Derived from the balance of a well-mixed tank; with Ev = D = 0 the linear
    rise with cumulated uptake that was observed in closed loops.

    References
    ----------
    Carmassi et al. 2003, Acta Horticulturae 614:20.

    Examples
    --------
    >>> from scenariokit.reservoir import SteadyWater, concentration_held
    >>> water = SteadyWater("100 L/m^2", "5 mm/day", evaporation="0.5 mm/day")
    >>> found = concentration_held(water, "150 mg/L", "150 mg/L", "120 mg/L", "60 day")
    >>> f"{found.m_as('mg/L'):.1f} mg/L"
    '285.0 mg/L'
    """
    given = _given("concentration_held", start=start, inflow=inflow, uptake=uptake, time=time)
    volume, used, lost, run_off = water.rates()
    gain = (used + lost + run_off) * given["inflow"] - used * given["uptake"]
    found = _relaxed(given["start"], gain, run_off, given["time"] / volume)
    return _present("concentration_held", found)


def concentration_held_proportional(
    water: SteadyWater,
    start: QuantityLike,
    inflow: QuantityLike,
    factor: QuantityLike,
    time: QuantityLike,
) -> Quantity:
    """Return the concentration at a held level, uptake in proportion to it.

    C = C* + (C0 - C*) exp(-(p E + D) t / V), C* = (E + Ev + D) Cin / (p E + D).

    Parameters
    ----------
    water : SteadyWater
        V, E, Ev and D.
    start, inflow : quantity
        C0 at the start, Cin of the refill [mg/L].
    factor : float
        p, uptake as a multiple of the concentration.
    time : quantity
        t [day], scalar or array.

    Returns
    -------
    quantity
        C [mg/L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> from scenariokit.reservoir import SteadyWater, concentration_held_proportional
    >>> water = SteadyWater("100 L/m^2", "5 mm/day", evaporation="0.5 mm/day")
    >>> found = concentration_held_proportional(water, "150 mg/L", "150 mg/L", 0.8, "60 day")
    >>> f"{found.m_as('mg/L'):.2f} mg/L"
    '201.15 mg/L'
    """
    name = "concentration_held_proportional"
    given = _given(name, start=start, inflow=inflow, factor=factor, time=time)
    volume, used, lost, run_off = water.rates()
    gain = (used + lost + run_off) * given["inflow"]
    decay = given["factor"] * used + run_off
    return with_unit(_relaxed(given["start"], gain, decay, given["time"] / volume), "mg/L")


def concentration_falling(
    water: SteadyWater, start: QuantityLike, uptake: QuantityLike, time: QuantityLike
) -> Quantity:
    """Return the concentration in a tank that is not refilled, uptake as stated.

    V = V0 - (E + Ev + D) t. Without discharge C = (V0 C0 - E Cu t) / V; in general
    C = C* + (C0 - C*) (V / V0)^[-(E + Ev) / (E + Ev + D)], C* = E Cu / (E + Ev).

    Parameters
    ----------
    water : SteadyWater
        V0, E, Ev and D.
    start, uptake : quantity
        C0 at the start, Cu of the uptake [mg/L].
    time : quantity
        t [day], scalar or array.

    Returns
    -------
    quantity
        C [mg/L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the tank is dry by then, or plants would have taken up more than there was.

    Examples
    --------
    >>> from scenariokit.reservoir import SteadyWater, concentration_falling
    >>> water = SteadyWater("100 L/m^2", "5 mm/day", evaporation="0.5 mm/day")
    >>> found = concentration_falling(water, "150 mg/L", "120 mg/L", "15 day")
    >>> f"{found.m_as('mg/L'):.2f} mg/L"
    '342.86 mg/L'
    """
    given = _given("concentration_falling", start=start, uptake=uptake, time=time)
    _, used, lost, run_off = water.rates()
    left = _share_left("concentration_falling", water, given["time"])
    kept = used + lost
    target = _ratio(used * given["uptake"], kept)
    power = -_ratio(kept, kept + run_off)
    found = target + (given["start"] - target) * left**power
    return _present("concentration_falling", found)


def concentration_falling_proportional(
    water: SteadyWater, start: QuantityLike, factor: QuantityLike, time: QuantityLike
) -> Quantity:
    """Return the concentration in a tank that is not refilled, uptake in proportion.

    C = C0 (V / V0)^[(p E - E - Ev) / (E + Ev + D)], V = V0 - (E + Ev + D) t.

    Parameters
    ----------
    water : SteadyWater
        V0, E, Ev and D.
    start : quantity
        C0 at the start [mg/L].
    factor : float
        p, uptake as a multiple of the concentration.
    time : quantity
        t [day], scalar or array.

    Returns
    -------
    quantity
        C [mg/L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If the tank is dry by then.

    Examples
    --------
    >>> from scenariokit.reservoir import SteadyWater, concentration_falling_proportional
    >>> water = SteadyWater("100 L/m^2", "5 mm/day", evaporation="0.5 mm/day")
    >>> found = concentration_falling_proportional(water, "150 mg/L", 0.8, "15 day")
    >>> f"{found.m_as('mg/L'):.2f} mg/L"
    '241.29 mg/L'
    """
    name = "concentration_falling_proportional"
    given = _given(name, start=start, factor=factor, time=time)
    _, used, lost, run_off = water.rates()
    left = _share_left(name, water, given["time"])
    power = _ratio(given["factor"] * used - used - lost, used + lost + run_off)
    return with_unit(_float(given["start"] * left**power), "mg/L")


_NAMES = {
    "start": "concentration",
    "inflow": "concentration",
    "uptake": "concentration",
    "factor": "uptake_factor",
    "time": "duration",
}


def _given(subject: str, **values: QuantityLike) -> dict[str, Any]:
    return checked_floats(subject, {key: (value, _NAMES[key]) for key, value in values.items()})


def _relaxed(start: Floats, gain: Floats, decay: Floats, time: Floats) -> Floats:
    """Return y of dy/dt = gain - decay y, also where decay is 0."""
    exponent = decay * time
    small = np.abs(exponent) < 1e-9
    mean = np.where(small, 1 - exponent / 2, -np.expm1(-exponent) / np.where(small, 1.0, exponent))
    return _float(start + (gain - decay * start) * time * mean)


def _share_left(subject: str, water: SteadyWater, time: Floats) -> Floats:
    """Return V / V0, and refuse a time at which the tank is dry."""
    volume, used, lost, run_off = water.rates()
    left = 1 - (used + lost + run_off) * time / volume
    if np.any(left <= 0):
        dry = np.min(volume / (used + lost + run_off))
        raise InfeasibleError(
            tr("{subject}: the tank is dry after {dry:.4g} days", subject=subject, dry=dry)
        )
    return left


def _ratio(part: Floats, whole: Floats) -> Floats:
    """Return part / whole, 0 where there is no flow at all."""
    return part / np.where(whole > 0, whole, 1.0)


def _present(subject: str, found: Floats) -> Quantity:
    if np.any(found < 0):
        raise InfeasibleError(
            tr(
                "{subject}: plants would have taken up more than there was, {found:.4g} mg/L would be "
                "left; lower the uptake concentration or the time",
                subject=subject,
                found=np.min(found),
            )
        )
    return with_unit(_float(found), "mg/L")


def _float(value: Floats) -> Floats:
    return np.asarray(value)[()]
