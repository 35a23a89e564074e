"""Yield: per area, plant and volume, its field equivalent, its ceiling and its loss by salt."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats

HUNDREDWEIGHT_PER_ACRE = 43560 * 0.3048**2 / 45.359237
"""cwt/acre (100 lb, international acre) in 1 kg/m²."""

BANDS = ("usual", "high", "record", "beyond")
BAND_LIMITS = (8.0, 12.4, 20.0)
"""kg/m²: top commercial field; record field plot; record in lamp-lit chambers, rounded up."""


class FieldEquivalent(NamedTuple):
    """A yield per tank area in the units in which field crops are reported."""

    tonnes_per_hectare: Any
    hundredweight_per_acre: Any


@checked("kg/m^2", mass="harvest_mass", area="tank_area")
def per_area(mass: Floats, area: Floats) -> Floats:
    """Return the yield per tank area, Y = m / A.

    Parameters
    ----------
    mass : quantity
        m, fresh weight lifted from `area` [kg], scalar or array, 0 or more.
    area : quantity
        A, water surface of the tank [m²], scalar or array, above 0.

    Returns
    -------
    quantity
        Y [kg/m²].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    Leaves spread beyond the wall of a small tank and side light reaches them
    there, so yield per tank area flatters small tanks. State the area that the
    crop occupied as well.

    Examples
    --------
    >>> f"{per_area('12 kg', '2.5 m^2'):.2f~P}"
    '4.80 kg/m²'
    """
    return mass / area


@checked("kg/plant", mass="harvest_mass", plants="plants")
def per_plant(mass: Floats, plants: Floats) -> Floats:
    """Return the yield per plant, m / n.

    Parameters
    ----------
    mass : quantity
        m, fresh weight lifted [kg], scalar or array, 0 or more.
    plants : float or quantity
        n, number of plants that gave it, scalar or array, above 0.

    Returns
    -------
    quantity
        Yield per plant [kg/plant].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> f"{per_plant('12 kg', 40).m_as('g/plant'):.0f} g"
    '300 g'
    """
    return mass / plants


@checked(
    "kg/L",
    mass="harvest_mass",
    volume=Expect("medium_volume", True, "no volume, no yield per volume"),
)
def per_volume(mass: Floats, volume: Floats) -> Floats:
    """Return the yield per litre of growing medium or of water, m / V.

    Parameters
    ----------
    mass : quantity
        m, fresh weight lifted [kg], scalar or array, 0 or more.
    volume : quantity
        V, volume of medium or water used for it [L], scalar or array, above 0.

    Returns
    -------
    quantity
        Yield per volume [kg/L].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or `volume` is zero.

    Examples
    --------
    >>> f"{per_volume('12 kg', '8 L'):.2f~P}"
    '1.50 kg/l'
    """
    return mass / volume


@checked(
    {"tonnes_per_hectare": "metric_ton/hectare", "hundredweight_per_acre": "cwt/acre"},
    yield_per_area="yield_per_area",
)
def field_equivalent(yield_per_area: Floats) -> FieldEquivalent:
    """Return a yield per tank area as field crops are reported.

    1 kg/m² = 10 t/ha = 89.218 cwt/acre, with the US hundredweight of 100 lb.

    Parameters
    ----------
    yield_per_area : quantity
        Y [kg/m²], scalar or array, 0 to 60.

    Returns
    -------
    FieldEquivalent
        ``tonnes_per_hectare`` [t/ha] and ``hundredweight_per_acre`` [cwt/acre].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    Notes
    -----
    A field counts its headlands and furrows; a tank counts its water surface
    only. The two are the same unit, not the same area.

    Examples
    --------
    >>> found = field_equivalent("5 kg/m^2")
    >>> round(found.tonnes_per_hectare.m_as("t/ha"), 1)
    50.0
    >>> round(found.hundredweight_per_acre.m_as("cwt/acre"), 1)
    446.1
    """
    return FieldEquivalent(yield_per_area * 10, yield_per_area * HUNDREDWEIGHT_PER_ACRE)


@checked(
    "kg/m^2",
    par="photosynthetic_radiation",
    intercepted_fraction="intercepted_fraction",
    radiation_use_efficiency="radiation_use_efficiency",
    harvest_index="harvest_index",
    dry_matter="dry_matter",
)
def light_limited(
    par: Floats,
    intercepted_fraction: Floats,
    radiation_use_efficiency: Floats,
    harvest_index: Floats,
    dry_matter: Floats,
) -> Floats:
    """Return the fresh yield that the light of the season allows.

    Y = PAR f RUE HI / DM / 1000, the 1000 turning grams into kilograms.

    Parameters
    ----------
    par : quantity
        PAR reaching the crop over the season [MJ/m²], scalar or array.
    intercepted_fraction : float
        f, share of it caught by leaves, 0 to 1.
    radiation_use_efficiency : quantity
        RUE, dry matter per light caught [g/MJ].
    harvest_index : float
        HI, share of the dry matter in the produce, 0 to 1.
    dry_matter : float
        DM, dry mass as a share of fresh mass, 0.005 to 1.

    Returns
    -------
    quantity
        Y, fresh produce [kg/m²].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    A ceiling to compare with, not a forecast: water, nutrients, temperature
    and disease are taken as without limit. RUE here is for light *caught* and
    for photosynthetic, not total solar, radiation.

    References
    ----------
    Manrique et al. 1991, Crop Science 31:1044 (RUE 2.2 to 2.8 g/MJ for potato).
    Wheeler 2006, Potato Research 49:67 (harvest index 0.7 to 0.8).

    Examples
    --------
    >>> f"{light_limited('900 MJ/m^2', 0.7, '2.5 g/MJ', 0.8, 0.2):.2f~P}"
    '6.30 kg/m²'
    """
    dry = par * intercepted_fraction * radiation_use_efficiency
    return dry * harvest_index / dry_matter / 1000


@checked("", ec="electrical_conductivity", threshold="salinity_threshold", slope="salinity_slope")
def salinity_factor(ec: Floats, threshold: Floats, slope: Floats) -> Floats:
    """Return the share of yield that salinity leaves.

    1 up to the threshold a, then 1 - b (EC - a) / 100, down to 0 and no lower:
    the model is defined in these three pieces.

    Parameters
    ----------
    ec : quantity
        EC, electrical conductivity [dS/m], scalar or array.
    threshold : quantity
        a, highest EC without loss [dS/m].
    slope : quantity
        b, percent of yield lost for each dS/m above it [percent/(dS/m)].

    Returns
    -------
    quantity
        Share of the full yield, 0 to 1.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Warnings
    --------
    Published thresholds are ECe: the saturated-paste extract of field soil
    salted mainly with sodium chloride. The water around the roots in that soil
    is about twice as salty as ECe, so a nutrient solution of the same EC
    strains the plant less than the table says. Nothing is converted here.

    References
    ----------
    Maas and Hoffman 1977, J. Irrigation and Drainage Division 103:115; tables in
    FAO Irrigation and Drainage Paper 61, annex 1.

    Examples
    --------
    >>> f"{salinity_factor('3 dS/m', '1.7 dS/m', '12 percent/(dS/m)').m_as('percent'):.1f} %"
    '84.4 %'
    """
    return np.clip(1 - slope * (ec - threshold) / 100, 0, 1)


@checked(None, yield_per_area="yield_per_area")
def plausibility(yield_per_area: Floats) -> Any:
    """Return how a yield of one crop compares with what has been reported for potato.

    ``usual`` to 8 kg/m², ``high`` to 12.4, ``record`` to 20, ``beyond`` above;
    a yield on a limit belongs to the lower band.

    Parameters
    ----------
    yield_per_area : quantity
        Y [kg/m²] of one crop, scalar or array.

    Returns
    -------
    str or array of str
        The band.

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If the value lies outside its range.

    Notes
    -----
    8: good commercial fields. 12.4: best field plots measured. 20: the record
    in chambers with long lamp light and added carbon dioxide, 19.7, rounded up.
    Above that, suspect the scale, the area or a second crop.

    References
    ----------
    Kunkel and Campbell 1987, American Potato Journal, doi:10.1007/BF02853597
    (124 t/ha). Wheeler 2006, Potato Research 49:67 (19.7 kg/m²).

    Examples
    --------
    >>> plausibility("4.5 kg/m^2")
    'usual'
    >>> plausibility("25 kg/m^2")
    'beyond'
    """
    band = np.array(BANDS)[np.searchsorted(BAND_LIMITS, yield_per_area, side="left")]
    return str(band) if np.ndim(band) == 0 else band
