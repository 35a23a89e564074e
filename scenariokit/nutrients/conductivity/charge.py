"""Charges in a solution: their balance, and the ionic strength they make."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple

import numpy as np

from scenariokit.nutrients.composition.contents import IONS, checked_keys
from scenariokit.quantities import with_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

CHARGES: Mapping[str, int] = MappingProxyType({
    "K": 1, "Na": 1, "NH4": 1, "Ca": 2, "Mg": 2, "H": 1,
    "NO3": -1, "Cl": -1, "SO4": -2, "H2PO4": -1, "HCO3": -1,
})  # fmt: skip
"""Charge of each ion that a solution is taken to hold."""


class ChargeBalance(NamedTuple):
    """Charges of both signs; see `charge_balance`.

    Parameters
    ----------
    cations, anions : quantity
        Amount of charge, as a positive number [mmol/L of charge].
    difference : quantity
        Cations less anions [mmol/L of charge].
    share : quantity
        Difference over the mean of the two; 0 where there are no ions.
    """

    cations: Any
    anions: Any
    difference: Any
    share: Any


def checked_ions(
    ions: Mapping[str, QuantityLike], subject: str, field: str = "ions"
) -> dict[str, Any]:
    """Return ions as plain floats in mmol/L.

    Raises
    ------
    ArgumentError
        If an ion is unknown, an amount has the wrong unit or lies outside its
        range, or shapes do not broadcast together; all at once.
    """
    return checked_keys(ions, IONS, "amount_concentration", subject, field)


def _ionic_strength(ions: Mapping[str, Floats]) -> Floats:
    """Return the ionic strength in mmol/L from plain amounts in mmol/L."""
    single, double = 0.0, 0.0
    for ion, amount in ions.items():
        if abs(CHARGES[ion]) == 1:
            single = single + amount
        else:
            double = double + amount
    return 0.5 * single + 2 * double


@with_floats(_ionic_strength)
def ionic_strength(ions: Mapping[str, QuantityLike]) -> Quantity:
    """Return the ionic strength of a solution, I = 1/2 sum z² c, with no ion paired.

    Parameters
    ----------
    ions : mapping of str to quantity
        Ion to amount c [mmol/L], scalar or array, 0 or more: K, Na, NH4, Ca, Mg,
        H, NO3, Cl, SO4, H2PO4, HCO3. z is the charge of the ion.

    Returns
    -------
    quantity
        I [mmol/L].

    Raises
    ------
    UnitError
        If an amount has no unit or one of another dimension.
    RangeError
        If an amount lies outside its range.
    ArgumentError
        If an ion is unknown, or shapes do not broadcast together.

    Notes
    -----
    The pairs of sulfate make the true ionic strength lower, by about a tenth in
    a feed.

    Examples
    --------
    >>> f"{ionic_strength({'Mg': '2 mmol/L', 'SO4': '2 mmol/L'}):.1f~P}"
    '8.0 mmol/l'
    """
    return with_unit(_ionic_strength(checked_ions(ions, "ionic_strength")), "mmol/L")


def _charge_balance(ions: Mapping[str, Floats]) -> ChargeBalance:
    """Return the balance as plain floats, from plain amounts in mmol/L."""
    cations = sum((CHARGES[ion] * ions[ion] for ion in ions if CHARGES[ion] > 0), start=0.0)
    anions = sum((-CHARGES[ion] * ions[ion] for ion in ions if CHARGES[ion] < 0), start=0.0)
    difference = cations - anions
    mean = (cations + anions) / 2
    share = difference / np.where(mean == 0, 1.0, mean)
    return ChargeBalance(cations, anions, difference, share)


@with_floats(_charge_balance)
def charge_balance(ions: Mapping[str, QuantityLike]) -> ChargeBalance:
    """Return the charges of cations and anions, and how far they are apart.

    Cations = sum z c over ions of positive charge, anions = sum |z| c over the
    others; share = (cations - anions) / (half their sum).

    Parameters
    ----------
    ions : mapping of str to quantity
        Ion to amount c [mmol/L], scalar or array, 0 or more: K, Na, NH4, Ca, Mg,
        H, NO3, Cl, SO4, H2PO4, HCO3. z is the charge of the ion.

    Returns
    -------
    ChargeBalance
        Cations, anions and difference in mmol/L of charge, which is meq/L, and
        the share.

    Raises
    ------
    UnitError
        If an amount has no unit or one of another dimension.
    RangeError
        If an amount lies outside its range.
    ArgumentError
        If an ion is unknown, or shapes do not broadcast together.

    Notes
    -----
    A real solution is in balance; what is found apart was not measured, not
    listed, or has another charge than is taken here (phosphate above pH 6.5,
    chelates). Nothing is forced into balance.

    Examples
    --------
    >>> found = charge_balance({"K": "7 mmol/L", "Ca": "4 mmol/L", "NO3": "14 mmol/L"})
    >>> f"{found.cations:.1f~P}, {found.anions:.1f~P}, {found.share.m_as('percent'):.1f} %"
    '15.0 mmol/l, 14.0 mmol/l, 6.9 %'
    """
    found = _charge_balance(checked_ions(ions, "charge_balance"))
    units = ("mmol/L", "mmol/L", "mmol/L", "")
    return ChargeBalance(
        *(with_unit(value, unit) for value, unit in zip(found, units, strict=True))
    )
