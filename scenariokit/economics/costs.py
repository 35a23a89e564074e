"""The cost stack of one crop, part by part."""

from __future__ import annotations

from dataclasses import dataclass, fields

from scenariokit.economics.returns import break_even_price
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

_COST_UNIT = "money/m^2"


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
