"""The one unit registry, with currency, and the reading of quantities.

Element names and bases are never part of a unit here: N, P, K, S, B and Mg are
newton, poise, kelvin, siemens, byte and megagram to a unit registry.
"""

from __future__ import annotations

import functools
import re
import tokenize
from typing import TYPE_CHECKING, Any, TypeAlias

import numpy as np
import numpy.typing as npt
import pint

from scenariokit.language import mark, tr

if TYPE_CHECKING:
    from pint.facets.plain import PlainUnit

Quantity: TypeAlias = Any
"""A pint quantity; pint's own generic type adds nothing here."""

Floats: TypeAlias = Any
"""Plain floats inside a function body: a float or an array of float64."""

QuantityLike: TypeAlias = Any
"""What a caller may give: a quantity, a string such as ``"5 cm"``, or an array of quantities."""

DEFINITIONS = (
    "money = [currency]",
    "plant = 1 = _ = plants",
    "crop = 1 = _ = crops",
    "cwt_US = 100 * pound = cwt",
    # The international acre; the survey foot, 2 ppm longer, was retired in 2022.
    "acre = 43560 * foot ** 2",
)

_NUMBER = re.compile(r"^\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*$", re.DOTALL)
_COMMA = re.compile(r"^\s*[+-]?\d+(?:\.\d+)?,\d+")
_FOREIGN = re.compile(r"[^\w\s*/^().+\-°]")
_POWER_OF_NUMBER = re.compile(r"\d\s*(?:\^|\*\*)|(?:\^|\*\*)\s*\(?[+-]?\d{3}")


_UNREADABLE = (
    ArithmeticError, AssertionError, AttributeError, LookupError, RecursionError, SyntaxError,
    TypeError, ValueError, tokenize.TokenError,
)  # fmt: skip
"""What pint's parser may raise on text that is no unit."""


@functools.cache
def registry() -> pint.UnitRegistry[Any]:
    """Return the unit registry of scenariokit.

    It is made on first use, because reading the unit definitions takes longer
    than the rest of the import.

    Returns
    -------
    pint.UnitRegistry
        The default units and ``money``, a base dimension of its own. Which
        currency it stands for is a setting of a price list, not a unit.
    """
    reg: pint.UnitRegistry[Any] = pint.UnitRegistry(on_redefinition="ignore")
    for line in DEFINITIONS:
        reg.define(line)
    return reg


@functools.lru_cache(maxsize=1024)
def unit_of(text: str) -> PlainUnit:
    """Return the unit that `text` names.

    Parameters
    ----------
    text : str
        For example ``"kg/m^2"``, ``"money/L"``, ``"%"`` or ``""``.

    Raises
    ------
    pint.UndefinedUnitError
        If a name in it is not a unit.
    ValueError
        If it cannot be read at all, as ``"cm/"``.
    """
    clean = (
        text.strip().replace("²", "^2").replace("³", "^3").replace("·", "*").replace("%", "percent")
    )
    if clean.startswith("/"):
        clean = f"1{clean}"
    if _POWER_OF_NUMBER.search(clean) or _FOREIGN.search(clean):
        raise ValueError(f"the unit {text!r} cannot be read")
    try:
        if clean.startswith("1/"):
            return registry().Unit(clean[2:]) ** -1
        return registry().Unit(clean)
    except pint.UndefinedUnitError:
        raise
    except _UNREADABLE as error:
        raise ValueError(f"the unit {text!r} cannot be read") from error


def quantity(value: Any, unit: str = "") -> Quantity:
    """Return a quantity in scenariokit's registry.

    Parameters
    ----------
    value : float, array, str or quantity
        A number or array with `unit`; a string that carries its own unit; or a
        quantity (of any registry), converted to `unit` if one is given.
    unit : str, optional
        A unit, for example ``"kg/m^2"``.

    Returns
    -------
    pint.Quantity

    Raises
    ------
    ValueError
        If a string holds no number, or holds a decimal comma.
    pint.UndefinedUnitError, pint.DimensionalityError
        If the unit is unknown or of another dimension.

    Examples
    --------
    >>> from scenariokit import quantity
    >>> f"{quantity('5 cm').to('inch'):.3f~P}"
    '1.969 in'
    """
    if isinstance(value, str):
        found = parse(value)
        return found.to(unit_of(unit)) if unit else found
    if hasattr(value, "dimensionality") and hasattr(value, "m_as"):
        own = adopt(value)
        return own.to(unit_of(unit)) if unit else own
    return registry().Quantity(value, unit_of(unit))


def adopt(value: Any) -> Quantity:
    """Return `value` as a quantity of our registry, whatever registry made it."""
    reg = registry()
    if value._REGISTRY is reg:
        return value
    return reg.Quantity(value.magnitude, unit_of(str(value.units)))


def parse(text: str) -> Quantity:
    """Return the quantity that a string such as ``"5 cm"`` or ``"12 %"`` stands for.

    Raises
    ------
    ValueError
        If it does not begin with a number, or the number has a decimal comma
        (``"1,500 L"`` may mean two things, so none is guessed).
    pint.UndefinedUnitError
        If the unit is unknown.
    """
    if _COMMA.match(text):
        raise ValueError("has a decimal comma; write the number with a point")
    found = _NUMBER.match(text)
    if found is None:
        raise ValueError("does not begin with a number")
    return registry().Quantity(float(found.group(1)), unit_of(found.group(2)))


def is_dimensionless(unit: str) -> bool:
    """Return whether `unit` is a plain ratio or count."""
    return bool(unit_of(unit).dimensionless)


def is_plain_number(unit: str) -> bool:
    """Return whether `unit` is 1, so that a bare number says the same as one with it.

    Percent and g/kg are ratios too, but ``5`` could then mean 5 or 500 %.
    """
    return is_dimensionless(unit) and bool(registry().Quantity(1, unit_of(unit)).m_as("") == 1)


def magnitude(value: Quantity, unit: str) -> Floats:
    """Return the plain number or array of `value` in `unit`."""
    wanted = unit_of(unit)
    # Most values are in their own unit already, and a comparison is cheaper than a conversion.
    return value.magnitude if value.units == wanted else value.m_as(wanted)


def as_float_array(value: Any) -> npt.NDArray[np.float64]:
    """Return `value` as float64 without copying where that is possible."""
    return np.asarray(value, dtype=np.float64)


def unit_label(unit: str, currency: str = "money") -> str:
    """Return `unit` as people write it on an axis, with the currency's own label.

    Examples
    --------
    >>> from scenariokit.units import unit_label
    >>> unit_label("money/kg", "EUR")
    'EUR/kg'
    """
    text = tr(_LABELS[unit], money=currency) if unit in _LABELS else _written(unit)
    return text.replace("money", currency)


def _written(unit: str) -> str:
    """Return a unit without a label of its own as people write it."""
    for raw, written in (("^2", "²"), ("^3", "³"), ("*", "·"), ("inch", "in")):
        unit = unit.replace(raw, written)
    return unit


_LABELS = {
    "": "",
    "1": "",
    "kg/m^2": "kg/m²",
    "lb/ft^2": "lb/ft²",
    "m^2": "m²",
    "ft^2": "ft²",
    "L/m^2": "L/m²",
    "gal/ft^2": "gal/ft²",
    "L/m^2/day": mark("L/m² a day"),
    "gal/ft^2/day": mark("gal/ft² a day"),
    "money/m^2": "money/m²",
    "money/ft^2": "money/ft²",
    "plant/m^2": mark("plants/m²"),
    "plant/ft^2": mark("plants/ft²"),
    "1/m^2": mark("plants/m²"),
    "1/ft^2": mark("plants/ft²"),
    "g/m^2": "g/m²",
    "oz/ft^2": "oz/ft²",
    "percent": "%",
    "metric_ton/hectare": "t/ha",
    "kg/m^3": "kg/m³",
    "hour/plant": mark("h per plant"),
    "kg/plant": "kg",
    "lb/plant": "lb",
    "L/plant": "L",
    "US_dry_quart": mark("dry qt"),
    "US_dry_quart/plant": mark("dry qt"),
    "US_dry_quart/ft^2": mark("dry qt/ft²"),
    "lb/US_dry_quart": mark("lb/dry qt"),
    "money/US_dry_quart": mark("{money}/dry qt"),
    "cwt/acre": "cwt/acre",
    "mL/m^2": "mL/m²",
    "floz/ft^2": mark("fl oz/ft²"),
    "money/hour": "money/h",
    "crop/year": "",
    "percent/(dS/m)": mark("% per dS/m"),
    "day": mark("days"),
    "year": mark("years"),
    "hour": "h",
    "hour/m^2": "h/m²",
    "hour/ft^2": "h/ft²",
    "hour/kg": "h/kg",
    "hour/lb": "h/lb",
    "cm^2": "cm²",
    "inch": "in",
    "inch/day": mark("in a day"),
    "mm/day": mark("mm a day"),
    "degC": "°C",
    "degF": "°F",
    "deg": "°",
    "MJ/m^2/day": mark("MJ/m² a day"),
    "mile/hour": "mph",
    "cm/day": mark("cm a day"),
    "ft^3": "ft³",
    "m^3": "m³",
    "MJ/m^2": "MJ/m²",
    "plant": mark("plants"),
    "piece": mark("piece"),
    "money/piece": mark("{money}/piece"),
    "money/m^3": "money/m³",
}
