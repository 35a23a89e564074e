"""From stocks to the tank: what a ratio means, how much to dose, what is too little to weigh."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any, Literal, NamedTuple

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.fertilisers import content_of
from scenariokit.nutrients.concentrate.stock_labels import mass_text
from scenariokit.nutrients.concentrate.stock_plan import StockPlan, in_sentence
from scenariokit.nutrients.concentrate.stocks import stock_dose
from scenariokit.quantities import Expect, checked, checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike


class TankDose(NamedTuple):
    """What goes into the tank.

    Parameters
    ----------
    each : quantity
        Of each stock [L].
    water : quantity
        Water [L].
    content : mapping of str to quantity
        What the tank then holds [mg/L], acids among it.
    apart : mapping of str to quantity
        Acids to add last [g of pure acid].
    """

    each: Quantity
    water: Quantity
    content: Mapping[str, Quantity]
    apart: Mapping[str, Quantity]


@checked("", parts=Expect("dilution"))
def dilution_from_ratio(parts: Floats, counted: Literal["in all", "added"] = "in all") -> Floats:
    """Return the dilution F that a ratio of 1 to so many parts means.

    F is the total parts for one part of stock: F = parts if they count
    everything, F = parts + 1 if they count the water added.

    Parameters
    ----------
    parts : float
        The number after "1:", scalar or array, 1 to 10,000.
    counted : {'in all', 'added'}
        ``"in all"``: 1 L of stock in so many litres of ready solution.
        ``"added"``: 1 L of stock beside so many litres of water; many dosers.

    Returns
    -------
    quantity
        F, a plain number.

    Raises
    ------
    RangeError
        If the parts lie outside their range.
    ArgumentError
        If `counted` is neither of the two.

    Examples
    --------
    >>> dilution_from_ratio(100).m_as(""), dilution_from_ratio(100, "added").m_as("")
    (100.0, 101.0)
    """
    if counted not in ("in all", "added"):
        problem = Problem("counted", str(counted), tr("is not one of the two"), "'in all', 'added'")
        raise argument_error([problem], "dilution_from_ratio")
    return parts if counted == "in all" else parts + 1.0


def tank_dose(plan: StockPlan, volume: QuantityLike, *, strength: QuantityLike = 1) -> TankDose:
    """Return how much of each stock and of water make a volume of solution.

    Each stock V s / F; water V (1 - n s / F).

    Parameters
    ----------
    plan : StockPlan
        F is its dilution, n the number of its stocks.
    volume : quantity
        V, ready solution wanted [L], scalar or array.
    strength : float, optional
        s, strength relative to the recipe, above 0: 0.5 for half.

    Returns
    -------
    TankDose

    Raises
    ------
    UnitError, RangeError, ArgumentError
        If a value cannot be used.
    InfeasibleError
        If the stocks alone would be more than the volume.

    Notes
    -----
    The water is taken as pure; what it brings adds to the content.

    Warnings
    --------
    Never mix the stocks undiluted. Most of the water first, a stock, stir, the
    next stock, stir, the rest of the water, acid last.

    Examples
    --------
    >>> from scenariokit.nutrients.concentrate.concentrates import plan_stocks
    >>> plan = plan_stocks({"calcium_nitrate": "1.18 g/L", "potassium_nitrate": "0.5 g/L"})
    >>> dose = tank_dose(plan, "200 L", strength=0.5)
    >>> f"{dose.each:.1f~P} of each, {dose.water:.0f~P} water"
    '1.0 l of each, 198 l water'
    >>> f"{dose.content['Ca'].m_as('mg/L'):.0f} mg/L Ca"
    '100 mg/L Ca'
    """
    found = checked_floats(
        "tank_dose",
        {"volume": (volume, "solution_volume"),
         "strength": (strength, Expect("solution_strength", above_zero=True,
                                       why=mark("without any strength it is plain water")))},
    )  # fmt: skip
    share = found["strength"]
    parts = stock_dose.floats(found["volume"], plan.dilution / share, len(plan.stocks))
    total: dict[str, Any] = {}
    acids = {name: rate.m_as("g/L") for name, rate in plan.apart.items()}
    contents = [content_of.floats(acids, plan.fertilisers)] if acids else []
    contents += [
        {key: value.magnitude / plan.dilution for key, value in stock.content.items()}
        for stock in plan.stocks
    ]
    for content in contents:
        for key, value in content.items():
            total[key] = total.get(key, 0.0) + value * share
    return TankDose(
        with_unit(parts.each, "L"),
        with_unit(parts.water, "L"),
        {key: with_unit(value, "mg/L") for key, value in total.items()},
        {name: with_unit(rate * share * found["volume"], "g") for name, rate in acids.items()},
    )


def weighing_notes(plan: StockPlan, *, smallest: QuantityLike = "0.1 g") -> list[str]:
    """Return how to measure what is too little to weigh, by way of a pre-stock.

    Of an amount m, n m is dissolved and made up to a litre, and 1000/n mL of it
    taken, with n the least power of ten that makes n m five times the smallest
    weighing or more.

    Parameters
    ----------
    plan : StockPlan
    smallest : quantity, optional
        The least that the scales weigh well [g], above 0.

    Returns
    -------
    list of str
        One line for each amount below it; empty if there is none.

    Raises
    ------
    UnitError, RangeError
        If the value cannot be used.

    Warnings
    --------
    A slip of a digit in copper, zinc or boron harms plants: let a second person
    check the sum. Gloves, and no dust.

    Examples
    --------
    >>> from scenariokit.nutrients.concentrate.concentrates import plan_stocks
    >>> rates = {"potassium_nitrate": "0.5 g/L", "copper_sulfate": "0.00008 g/L"}
    >>> for line in weighing_notes(plan_stocks(rates, volume="1 L")):
    ...     print(line)
    B: 8 mg of copper sulfate pentahydrate: make 0.8 g up to 1 L with water, label it, take 10 mL
    """
    found = checked_floats(
        "weighing_notes",
        {"smallest": (smallest, Expect("smallest_weighing", above_zero=True,
                                       why=mark("no scales weigh nothing")))},
    )  # fmt: skip
    least = found["smallest"]
    if np.ndim(least) > 0:
        problem = Problem("smallest", str(smallest), tr("must be one number"), kind="range")
        raise argument_error([problem], "weighing_notes")
    return [
        f"{stock.letter}: {_by_pre_stock(plan.fertilisers[name].label, grams.m_as('g'), least)}"
        for stock in plan.stocks
        for name, grams in stock.grams.items()
        if grams.m_as("g") < least
    ]


def _by_pre_stock(label: str, grams: float, least: float) -> str:
    """Return how to measure so few grams by a pre-stock of a litre."""
    times = 10 ** math.ceil(math.log10(5 * least / grams) - 1e-9)
    mass, salt = mass_text(grams), in_sentence(tr(label))
    if times > 1000:
        return tr(
            "{mass} of {salt} is too little even for a pre-stock: make more of this stock at a time",
            mass=mass,
            salt=salt,
        )
    return tr(
        "{mass} of {salt}: make {more} up to 1 L with water, label it, take {taken:g} mL",
        mass=mass,
        salt=salt,
        more=mass_text(times * grams),
        taken=1000 / times,
    )
