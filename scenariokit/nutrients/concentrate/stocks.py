"""Stock concentrates: how strong to make them and how much to dose."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.quantities import checked
from scenariokit.units import Floats


class StockDose(NamedTuple):
    """What goes into the mixing vessel."""

    each: Any
    water: Any


@checked(
    {"each": "L", "water": "L"}, volume="solution_volume", dilution="dilution", stocks="stocks"
)
def stock_dose(volume: Floats, dilution: Floats, stocks: Floats = 2) -> StockDose:
    """Return how much of each stock and of water make a volume of solution.

    Each stock V/F; water V (1 - n/F).

    Parameters
    ----------
    volume : quantity
        V, ready solution wanted [L], scalar or array, 0 or more.
    dilution : float
        F, total parts for one part of stock: 100 means 1 L of each stock in
        100 L in all. A doser set to "1:100" may mean 1 + 100, 1 % weaker.
    stocks : int
        n, stocks dosed in equal parts, 1 to 10.

    Returns
    -------
    StockDose
        ``each``, volume of each stock [L], and ``water`` [L].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    InfeasibleError
        If the stocks alone would be more than the volume (F below n).

    Notes
    -----
    Order: most of the water, the first stock, stir, the second stock, stir, the
    rest of the water, then pH.

    Warnings
    --------
    Never mix the calcium stock with the sulfate and phosphate stock undiluted:
    gypsum and calcium phosphate drop out and the feed is lost. Concentrates
    burn eyes and harm if drunk: labelled, opaque, never in food bottles, locked
    away from children.

    Examples
    --------
    >>> dose = stock_dose("200 L", 100)
    >>> f"{dose.each:.1f~P} of each, {dose.water:.1f~P} water"
    '2.0 l of each, 196.0 l water'
    """
    if np.any(dilution < stocks):
        raise InfeasibleError(
            tr(
                "stock_dose: at a dilution of {dilution:g} the {stocks:g} stocks alone are more than "
                "the solution wanted; the dilution must be at least the number of stocks",
                dilution=np.min(dilution),
                stocks=np.max(stocks),
            )
        )
    return StockDose(volume / dilution, volume * (1 - stocks / dilution))


@checked("g/L", rate="salt_rate", dilution="dilution")
def stock_strength(rate: Floats, dilution: Floats) -> Floats:
    """Return how much of a salt each litre of stock holds, r F.

    Parameters
    ----------
    rate : quantity
        r, salt in the ready solution [g/L], scalar or array, 0 or more.
    dilution : float
        F, total parts for one part of stock.

    Returns
    -------
    quantity
        Salt in the stock [g/L], made up *to* volume.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    Whether so much dissolves at the temperature of the store is not checked:
    potassium nitrate holds about 170 g/L at 10 °C, potassium sulfate about 80.

    Examples
    --------
    >>> f"{stock_strength('0.50551 g/L', 100):.2f~P}"
    '50.55 g/l'
    """
    return rate * dilution
