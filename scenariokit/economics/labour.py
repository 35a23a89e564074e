"""Labour beside the harvest and beside what is left over."""

from __future__ import annotations

from scenariokit.language import mark
from scenariokit.quantities import Expect, checked
from scenariokit.units import Floats


@checked(
    "hour/kg",
    labour_per_area="labour_per_area",
    yield_per_area=Expect(
        "yield_per_area",
        above_zero=True,
        why=mark("there is no labour per kilogram without a harvest"),
    ),
)
def labour_per_kilogram(labour_per_area: Floats, yield_per_area: Floats) -> Floats:
    """Return the hours worked for each kilogram harvested, h / Y.

    Parameters
    ----------
    labour_per_area : quantity
        h, hours worked for one crop [hour/m²], scalar or array, 0 or more.
    yield_per_area : quantity
        Y, harvest of one crop [kg/m²], above 0.

    Returns
    -------
    quantity
        Labour [hour/kg].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or nothing is harvested.

    Examples
    --------
    >>> round(labour_per_kilogram("45 minute/m^2", "5 kg/m^2").m_as("hour/kg"), 2)
    0.15
    """
    return labour_per_area / yield_per_area


@checked(
    "money/hour",
    margin_per_area=Expect("margin_per_area"),
    labour_cost="cost_per_area",
    labour_per_area=Expect("labour_per_area", above_zero=True, why=mark("no hour is worked")),
)
def return_to_labour(
    margin_per_area: Floats, labour_cost: Floats, labour_per_area: Floats
) -> Floats:
    """Return what an hour of work earns once everything else is paid, (M + L) / h.

    Parameters
    ----------
    margin_per_area : quantity
        M, takings less all costs [money/m²], scalar or array; may be below zero.
    labour_cost : quantity
        L, the labour that was counted in these costs [money/m²].
    labour_per_area : quantity
        h, hours worked for one crop [hour/m²], above 0.

    Returns
    -------
    quantity
        Earned in an hour [money/hour]; compare it with what an hour is worth elsewhere.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or no hour is worked.

    Examples
    --------
    >>> round(return_to_labour("3 money/m^2", "2 money/m^2", "0.5 hour/m^2").m, 1)
    10.0
    """
    return (margin_per_area + labour_cost) / labour_per_area
