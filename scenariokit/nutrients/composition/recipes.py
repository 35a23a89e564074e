"""What a recipe of salts holds, element by element."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.nutrients.composition.chemistry import (
    AMMONIUM,
    ATOMIC_MASSES,
    NITRATE,
    atoms,
    formula_mass,
)
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

MAIN = ("N", "N_nitrate", "N_ammonium", "P", "K", "Ca", "Mg", "S")
"""Always in the result, zero where a recipe has none."""
_UNCOUNTED = ("H", "C", "O")


def concentrations(recipe: Mapping[Any, QuantityLike]) -> dict[str, Quantity]:
    """Return the elements in a solution made from pure salts.

    Element [mg/L] = sum over salts of rate [g/L] x 1000 x mass share of element.

    Parameters
    ----------
    recipe : mapping
        Formula of each salt, such as ``"Ca(NO3)2.4H2O"``, or an object with an
        attribute ``formula``, to its rate [g/L], scalar or array, 0 or more.

    Returns
    -------
    dict of str to quantity
        Element to concentration [mg/L]. ``N`` is total nitrogen, ``N_nitrate``
        and ``N_ammonium`` its two ionic forms; what remains is in urea or
        chelates. N, P, K, Ca, Mg and S are always there, others if present.
        H, C and O are not counted.

    Raises
    ------
    UnitError
        If a rate has no unit or one of another dimension.
    RangeError
        If a rate lies outside its range.
    ArgumentError
        If the recipe is empty or a formula cannot be read.

    Notes
    -----
    The salts are taken as pure and dry, with the water of crystallisation
    written in the formula; for a product with a label use `from_label`. Nothing
    is said about whether the salts stay dissolved together.

    Examples
    --------
    >>> found = concentrations({"KNO3": "0.50551 g/L", "KH2PO4": "0.13608 g/L"})
    >>> [f"{name} {found[name].m_as('mg/L'):.1f}" for name in ("N", "P", "K")]
    ['N 70.0', 'P 31.0', 'K 234.6']
    """
    if not isinstance(recipe, Mapping) or not recipe:
        problem = Problem("recipe", str(recipe), tr("must map salts to rates, at least one"), "",
                          'recipe={"KNO3": "0.5 g/L"}')  # fmt: skip
        raise argument_error([problem], "concentrations")
    formulas = [_formula(salt) for salt in recipe]
    for formula in formulas:
        atoms(formula)
    keys = [
        f"recipe[{formula}]" + f" ({n})" * (formulas.count(formula) > 1)
        for n, formula in enumerate(formulas, start=1)
    ]
    given = zip(keys, recipe.values(), strict=True)
    found = checked_floats("concentrations", {key: (rate, "salt_rate") for key, rate in given})
    rates = [(formula, found[key]) for formula, key in zip(formulas, keys, strict=True)]
    return {name: with_unit(value, "mg/L") for name, value in _content(rates).items()}


def _formula(salt: Any) -> str:
    return salt if isinstance(salt, str) else str(getattr(salt, "formula", salt))


def _content(rates: list[tuple[str, Any]]) -> dict[str, Any]:
    """Return element to mg/L from plain rates in g/L."""
    zero = np.zeros(np.broadcast_shapes(*(np.shape(rate) for _, rate in rates)))[()]
    total: dict[str, Any] = dict.fromkeys(MAIN, zero)
    for formula, rate in rates:
        for name, share in _shares(formula).items():
            total[name] = total.get(name, zero) + 1000 * rate * share
    return total


def _shares(formula: str) -> dict[str, float]:
    """Return the mass share of each counted element and nitrogen form."""
    counts, mass = atoms(formula), formula_mass(formula)
    shares = {
        name: count * ATOMIC_MASSES[name] / mass
        for name, count in counts.items()
        if name in ATOMIC_MASSES and name not in _UNCOUNTED
    }
    for form in (NITRATE, AMMONIUM):
        shares[f"N_{form}"] = counts[form] * ATOMIC_MASSES["N"] / mass
    return shares
