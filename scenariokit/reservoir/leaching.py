"""Rain that dilutes, solution run off, and the refill that keeps a tank as it is."""

from __future__ import annotations

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

NO_WATER = mark("a concentration needs water")
NO_USE = mark("nothing is taken up where nothing is transpired")


@checked(
    "mg/L",
    start="concentration",
    volume=Expect("stored_water", above_zero=True, why=NO_WATER),
    rain="rain",
    freeboard=Expect("stored_water", optional=True),
)
def rain_dilution(
    start: Floats, volume: Floats, rain: Floats, freeboard: Floats | None = None
) -> Floats:
    """Return the concentration after rain, well mixed while it runs over.

    Rain first fills the freeboard F: C0 V / (V + min(R, F)); what is left runs
    over and takes solution along: times exp(-(R - F) / (V + F)).

    Parameters
    ----------
    start : quantity
        C0 before the rain [mg/L].
    volume : quantity
        V, free water before the rain [L/m²], above 0.
    rain : quantity
        R, rain into the tank [L/m²].
    freeboard : quantity, optional
        F, water that fits up to the rim [L/m²]; none if not given.

    Returns
    -------
    quantity
        Concentration [mg/L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> f"{rain_dilution('150 mg/L', '100 L/m^2', '50 mm').m_as('mg/L'):.2f} mg/L"
    '90.98 mg/L'
    """
    room = np.zeros(()) if freeboard is None else freeboard
    over = np.maximum(rain - room, 0)
    return start * volume / (volume + np.minimum(rain, room)) * np.exp(-over / (volume + room))


@checked("", inflow="concentration", uptake="concentration", limit="concentration")
def leaching_fraction(inflow: Floats, uptake: Floats, limit: Floats) -> Floats:
    """Return the share of the water given that must be run off to hold a limit.

    D / (D + E) = (Cin - Cu) / (Cmax - Cu), without evaporation from the tank.

    Parameters
    ----------
    inflow, uptake, limit : quantity
        Cin of the refill, Cu of the uptake, Cmax not to be exceeded [mg/L].

    Returns
    -------
    quantity
        Share, 0 to 1; 0 where the refill is not stronger than the uptake, so
        that nothing accumulates.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If it accumulates and the limit is not above the refill.

    Examples
    --------
    >>> found = leaching_fraction("150 mg/L", "120 mg/L", "300 mg/L")
    >>> f"{found.m_as(''):.4f}"
    '0.1667'
    """
    excess = np.maximum(inflow - uptake, 0)
    _holdable("leaching_fraction", excess, inflow, limit)
    return excess / np.where(excess > 0, limit - uptake, 1.0)


@checked(
    "L/m^2/day",
    inflow="concentration",
    uptake="concentration",
    limit="concentration",
    transpiration="water_use",
    evaporation=Expect("water_use", optional=True),
)
def discharge_to_hold(
    inflow: Floats,
    uptake: Floats,
    limit: Floats,
    transpiration: Floats,
    evaporation: Floats | None = None,
) -> Floats:
    """Return what must be run off each day to hold a concentration at its limit.

    D = [(E + Ev) Cin - E Cu] / (Cmax - Cin).

    Parameters
    ----------
    inflow, uptake, limit : quantity
        Cin of the refill, Cu of the uptake, Cmax not to be exceeded [mg/L].
    transpiration : quantity
        E [L/m² a day].
    evaporation : quantity, optional
        Ev [L/m² a day]; none if not given.

    Returns
    -------
    quantity
        D [L/m² a day]; 0 where nothing accumulates.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If it accumulates and the limit is not above the refill.

    Examples
    --------
    >>> found = discharge_to_hold("150 mg/L", "120 mg/L", "300 mg/L", "5 mm/day")
    >>> f"{found.m_as('L/m^2/day'):.2f}"
    '1.00'
    """
    lost = 0.0 if evaporation is None else evaporation
    excess = np.maximum((transpiration + lost) * inflow - transpiration * uptake, 0)
    _holdable("discharge_to_hold", excess, inflow, limit)
    return excess / np.where(excess > 0, limit - inflow, 1.0)


@checked(
    "mg/L",
    uptake="concentration",
    transpiration=Expect("water_use", above_zero=True, why=NO_USE),
    evaporation="water_use",
)
def top_up_to_hold(uptake: Floats, transpiration: Floats, evaporation: Floats) -> Floats:
    """Return the concentration of the refill at which the tank stays as it is.

    Cin = Cu E / (E + Ev): weaker than the uptake, because what evaporates
    leaves its salts behind.

    Parameters
    ----------
    uptake : quantity
        Cu, concentration of the uptake [mg/L].
    transpiration, evaporation : quantity
        E, above 0, and Ev [L/m² a day].

    Returns
    -------
    quantity
        Cin [mg/L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> f"{top_up_to_hold('120 mg/L', '5 mm/day', '0.5 mm/day').m_as('mg/L'):.1f} mg/L"
    '109.1 mg/L'
    """
    return uptake * transpiration / (transpiration + evaporation)


def _holdable(subject: str, excess: Floats, inflow: Floats, limit: Floats) -> None:
    if np.any((excess > 0) & (limit <= inflow)):
        raise InfeasibleError(
            tr(
                "{subject}: a limit of {limit:g} mg/L cannot be held by running off with a refill of "
                "{inflow:g} mg/L; the limit must lie above the refill",
                subject=subject,
                limit=np.min(limit),
                inflow=np.max(inflow),
            )
        )
