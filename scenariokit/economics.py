"""Money: equipment over its life, the cost stack of a crop, margin and break-even."""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.quantities import Expect, checked, checked_floats, with_floats, with_unit
from scenariokit.substrate import NO_HARVEST
from scenariokit.units import Floats, Quantity, QuantityLike

_COST_UNIT = "money/m^2"
_HARVEST = Expect("yield_per_area", above_zero=True, why=NO_HARVEST)


@checked("1/year", interest="interest_rate", years="service_life")
def capital_recovery(interest: Floats, years: Floats) -> Floats:
    """Return the yearly share that pays back a sum with interest.

    CRF = i / (1 - (1 + i)^-n), which is 1/n at i = 0.

    Parameters
    ----------
    interest : float
        i, interest per year, 0 to 1, scalar or array; 0 counts none.
    years : quantity
        n, years of use [year], above 0.

    Returns
    -------
    quantity
        CRF [1/year].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    Equal payments at the end of each year. Use a real rate (without inflation)
    with today's prices.

    Examples
    --------
    >>> round(capital_recovery(0.08, "10 year").m_as("1/year"), 6)
    0.149029
    """
    discount = -np.expm1(-np.asarray(years) * np.log1p(interest))
    # Interest too small to move `discount` off zero is straight line in the limit.
    return np.where(
        discount > 0, interest / np.where(discount > 0, discount, 1.0), 1 / np.asarray(years)
    )[()]


def _annualised(price: Floats, salvage: Floats, years: Floats, interest: Floats) -> Floats:
    factor = capital_recovery.floats(interest, years)
    return (price - salvage) * factor + salvage * interest


@with_floats(_annualised)
@checked(
    "money/year",
    price="amount",
    salvage="amount",
    years="service_life",
    interest="interest_rate",
)
def annualised(price: Floats, salvage: Floats, years: Floats, interest: Floats) -> Floats:
    """Return the yearly cost of a piece of equipment, (C - S) CRF + S i.

    Parameters
    ----------
    price : quantity
        C, price now [money], scalar or array, 0 or more.
    salvage : quantity
        S, what it fetches at the end [money], at most `price`.
    years : quantity
        n, years of use [year], above 0.
    interest : float
        i, interest per year, 0 to 1; at 0 this is the straight line (C - S) / n.

    Returns
    -------
    quantity
        Yearly cost [money/year].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    InfeasibleError
        If the salvage value is above the price.

    Notes
    -----
    Repairs, cleaning and the place it stands on are not in it.

    Examples
    --------
    >>> cost = annualised("200 money", "20 money", "8 year", 0.08)
    >>> round(cost.m_as("money/year"), 2)
    32.92
    """
    if np.any(salvage > price):
        raise InfeasibleError(
            f"annualised: salvage ({np.max(salvage):g} money) is above price "
            f"({np.min(price):g} money); equipment that gains value has no yearly cost"
        )
    return _annualised(price, salvage, years, interest)


@checked("money/crop", annual="annual_cost", crops_per_year="crops_per_year")
def per_crop(annual: Floats, crops_per_year: Floats) -> Floats:
    """Return the share of a yearly cost that one crop bears, a / N.

    Parameters
    ----------
    annual : quantity
        a, yearly cost [money/year], scalar or array, 0 or more.
    crops_per_year : quantity
        N [crop/year], above 0.

    Returns
    -------
    quantity
        Cost of one crop [money/crop].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> round(per_crop("32.92 money/year", "2 crop/year").m_as("money/crop"), 2)
    16.46
    """
    return annual / crops_per_year


@dataclass(frozen=True)
class CostStack:
    """What one crop costs for each square metre of tank, part by part.

    Make it by `cost_stack`, which checks the values.

    Parameters
    ----------
    medium, sheet, consumables, equipment, nutrients, water, labour : quantity
        Cost [money/m²], scalars or arrays of mutually broadcastable shapes.

    Examples
    --------
    >>> stack = cost_stack(medium="3.0 money/m^2", labour="1.5 money/m^2")
    >>> round(stack.total.m_as("money/m^2"), 2)
    4.5
    >>> round(stack.per_kilogram("5 kg/m^2").m_as("money/kg"), 2)
    0.9
    """

    medium: Quantity
    sheet: Quantity
    consumables: Quantity
    equipment: Quantity
    nutrients: Quantity
    water: Quantity
    labour: Quantity

    @property
    def parts(self) -> dict[str, Quantity]:
        """Name of each part to its cost [money/m²], in the order of stacking."""
        return {field.name: getattr(self, field.name) for field in fields(self)}

    @property
    def total(self) -> Quantity:
        """Sum of the parts [money/m²]."""
        numbers = [part.m_as(_COST_UNIT) for part in self.parts.values()]
        return with_unit(sum(numbers), _COST_UNIT)

    def per_kilogram(self, yield_per_area: QuantityLike) -> Quantity:
        """Return the total for each kilogram harvested.

        Parameters
        ----------
        yield_per_area : quantity
            Y, harvest of one crop [kg/m²], above 0.

        Returns
        -------
        quantity
            Cost [money/kg].

        Raises
        ------
        UnitError
            If the value has no unit or one of another dimension.
        RangeError
            If it lies outside its range, or is zero.
        """
        return break_even_price(self.total, yield_per_area)

    def parts_per_kilogram(self, yield_per_area: QuantityLike) -> dict[str, Quantity]:
        """Return each part for each kilogram harvested [money/kg].

        Parameters and errors are those of `per_kilogram`.
        """
        return {name: break_even_price(part, yield_per_area) for name, part in self.parts.items()}


def cost_stack(**parts: QuantityLike) -> CostStack:
    """Return the costs of one crop per square metre of tank as a `CostStack`.

    Parameters
    ----------
    **parts : quantity
        Any of ``medium``, ``sheet``, ``consumables``, ``equipment``,
        ``nutrients``, ``water`` and ``labour`` [money/m²], scalars or arrays, 0
        or more. A part not named costs nothing.

    Returns
    -------
    CostStack

    Raises
    ------
    TypeError
        If a part has another name.
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> stack = cost_stack(medium="3 money/m^2", water="0.8 money/m^2")
    >>> round(stack.per_kilogram("4 kg/m^2").m_as("money/kg"), 2)
    0.95
    """
    names = [field.name for field in fields(CostStack)]
    unknown = sorted(set(parts) - set(names))
    if unknown:
        raise TypeError(f"cost_stack has no part {', '.join(unknown)}; it has {', '.join(names)}")
    found = checked_floats(
        "cost_stack", {name: (value, "cost_per_area") for name, value in parts.items()}
    )
    return CostStack(**{name: with_unit(found.get(name, 0.0), _COST_UNIT) for name in names})


@checked(
    _COST_UNIT,
    produce_price="produce_price",
    yield_per_area="yield_per_area",
    cost_per_area="cost_per_area",
    marketable_share="marketable_share",
)
def margin(
    produce_price: Floats,
    yield_per_area: Floats,
    cost_per_area: Floats,
    marketable_share: Floats = 1,
) -> Floats:
    """Return what is left of the takings of one crop, P Y mk - C.

    Parameters
    ----------
    produce_price : quantity
        P [money/kg], scalar or array, 0 or more.
    yield_per_area : quantity
        Y, harvest of one crop [kg/m²].
    cost_per_area : quantity
        C, its cost [money/m²].
    marketable_share : float
        mk, share of the harvest that is sold or eaten, 0 to 1.

    Returns
    -------
    quantity
        Margin [money/m²]; below zero is a loss.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> round(margin("2.5 money/kg", "5 kg/m^2", "8 money/m^2", 0.9).m_as("money/m^2"), 2)
    3.25
    """
    return produce_price * yield_per_area * marketable_share - cost_per_area


@checked(
    "money/kg",
    cost_per_area="cost_per_area",
    yield_per_area=_HARVEST,
    marketable_share=Expect("marketable_share", above_zero=True, why=NO_HARVEST),
)
def break_even_price(
    cost_per_area: Floats, yield_per_area: Floats, marketable_share: Floats = 1
) -> Floats:
    """Return the price at which a crop just pays for itself, C / (Y mk).

    Parameters
    ----------
    cost_per_area : quantity
        C, cost of one crop [money/m²], scalar or array, 0 or more.
    yield_per_area : quantity
        Y, harvest of one crop [kg/m²], above 0.
    marketable_share : float
        mk, share of the harvest that is sold or eaten, above 0, at most 1.

    Returns
    -------
    quantity
        Price [money/kg].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or nothing is harvested.

    Examples
    --------
    >>> round(break_even_price("12 money/m^2", "5 kg/m^2").m_as("money/kg"), 2)
    2.4
    """
    return cost_per_area / (yield_per_area * marketable_share)


@checked(
    "kg/m^2",
    cost_per_area="cost_per_area",
    produce_price=Expect("produce_price", True, "no yield pays for a crop that fetches nothing"),
    marketable_share=Expect("marketable_share", above_zero=True, why="nothing of it can be sold"),
)
def break_even_yield(
    cost_per_area: Floats, produce_price: Floats, marketable_share: Floats = 1
) -> Floats:
    """Return the yield at which a crop just pays for itself, C / (P mk).

    Parameters
    ----------
    cost_per_area : quantity
        C, cost of one crop [money/m²], scalar or array, 0 or more.
    produce_price : quantity
        P [money/kg], above 0.
    marketable_share : float
        mk, share of the harvest that is sold or eaten, above 0, at most 1.

    Returns
    -------
    quantity
        Yield of one crop [kg/m²]. Compare it with `scenariokit.yields.plausibility`.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the produce fetches nothing.

    Examples
    --------
    >>> f"{break_even_yield('12 money/m^2', '2.5 money/kg'):.1f~P}"
    '4.8 kg/m²'
    """
    return cost_per_area / (produce_price * marketable_share)
