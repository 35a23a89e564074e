"""The cost stack of one crop, part by part."""

from __future__ import annotations

from dataclasses import dataclass, fields

from scenariokit.economics.returns import break_even_price
from scenariokit.language import mark
from scenariokit.quantities import Expect, checked, checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

_COST_UNIT = "money/m^2"
_NOTHING_USABLE = mark("no kilogram has a cost where nothing can be used or sold")


@dataclass(frozen=True)
class CostStack:
    """What one crop costs for each square metre of tank, part by part.

    Make it by `cost_stack`, which checks the values.

    Parameters
    ----------
    planting, medium, sheet, consumables, equipment, nutrients, water, labour : quantity
        Cost [money/m²], scalars or arrays of mutually broadcastable shapes.

    Examples
    --------
    >>> stack = cost_stack(medium="3.0 money/m^2", labour="1.5 money/m^2")
    >>> round(stack.total.m_as("money/m^2"), 2)
    4.5
    >>> round(stack.per_kilogram("5 kg/m^2").m_as("money/kg"), 2)
    0.9
    """

    planting: Quantity
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
        Any of ``planting``, ``medium``, ``sheet``, ``consumables``,
        ``equipment``, ``nutrients``, ``water`` and ``labour`` [money/m²],
        scalars or arrays, 0 or more. A part not named costs nothing.

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
    "money/kg",
    cost_per_area="cost_per_area",
    yield_per_area=Expect("yield_per_area", above_zero=True, why=_NOTHING_USABLE),
    marketable_share=Expect("marketable_share", above_zero=True, why=_NOTHING_USABLE),
    loss_share="loss_share",
)
def cost_per_usable_kilogram(
    cost_per_area: Floats,
    yield_per_area: Floats,
    marketable_share: Floats = 1,
    loss_share: Floats = 0,
) -> Floats:
    """Return what a kilogram costs that is sold or eaten, C / (Y mk (1 - ls)).

    Parameters
    ----------
    cost_per_area : quantity
        C, cost of one crop [money/m²], scalar or array, 0 or more.
    yield_per_area : quantity
        Y, harvest of one crop [kg/m²], above 0.
    marketable_share : float
        mk, share of the harvest fit to be sold or eaten, above 0, at most 1.
    loss_share : float
        ls, share of that lost in storage and handling, 0 to 0.95.

    Returns
    -------
    quantity
        Cost [money/kg].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or nothing is left to use.

    Notes
    -----
    What is put aside or lost was grown too, so the rest bears its cost. The
    number is the price at which the crop just pays for itself: see `break_even_price`.

    Examples
    --------
    >>> cost = cost_per_usable_kilogram("12 money/m^2", "5 kg/m^2", 0.9, 0.05)
    >>> round(cost.m_as("money/kg"), 3)
    2.807
    """
    return break_even_price.floats(cost_per_area, yield_per_area, marketable_share, loss_share)
