"""How much sulfate stays a free ion, and how much pairs with the cations around it.

A pair carries less current than its two ions or none at all, and lowers the
ionic strength. At the strength of a feed a quarter of the sulfate is paired.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from scenariokit.language import tr
from scenariokit.units import Floats

LOG_CONSTANTS: Mapping[str, float] = MappingProxyType({
    "Ca": 2.25, "Mg": 2.37, "K": 0.60, "Na": 0.60, "NH4": 1.11, "H": 1.988,
})  # fmt: skip
"""log10 of the constant of cation + SO4 = pair, L/mol, 25 °C, infinite dilution.

Parkhurst and Appelo 2013, USGS Techniques and Methods 6-A43, database
phreeqc.dat: Mg and NH4 of its 2015 edition, the others of 2024. The editions
differ by 0.05 to 0.25; of the two the one is taken that comes nearer to
measured conductivities of the single salts.
"""

DOUBLE = frozenset({"Ca", "Mg"})
"""Cations whose pair has no charge; the pair of the others has one negative charge."""

DAVIES_A, DAVIES_B = 0.509, 0.3
"""Constants of Davies 1938, J. Chem. Soc. 2093, at 25 °C."""

# ln of the activity coefficient of a doubly charged ion is this times f(I).
_DOUBLE_ACTIVITY = -4 * DAVIES_A * math.log(10)
_STEP_TOLERANCE = 1e-4
_MOST_STEPS = 20
_ALMOST_NONE = 1e-15


class Paired(NamedTuple):
    """Sulfate that is free, its pairs, and what that leaves of the ionic strength.

    Parameters
    ----------
    sulfate : float or array
        Free sulfate [mmol/L].
    pairs : dict of str to float or array
        Cation to its pair with sulfate [mmol/L].
    ionic_strength : float or array
        Of the free ions and charged pairs [mmol/L].
    """

    sulfate: Floats
    pairs: dict[str, Floats]
    ionic_strength: Floats


class _Partners(NamedTuple):
    """Cations that pair with the same constant: amount, constant in L/mmol, charge."""

    amount: Floats
    constant: float
    charge: int


def sulfate_pairs(ions: Mapping[str, Floats], ionic_strength: Floats) -> Paired:
    """Return the pairs of sulfate with Ca, Mg, K, Na, NH4 and H, on plain floats.

    For each cation M, [MSO4] = K g(M) g(SO4) / g(MSO4) [M] [SO4], with the
    activity coefficient of Davies, log10 g = -0.509 z² (√I / (1 + √I) - 0.3 I).
    As g goes with z², K is multiplied by g2 = g(SO4) where M has one charge and
    by g2² where it has two. The amounts of M and SO4 and the ionic strength I
    are those left by the pairs: two equations for free sulfate and I, solved by
    Newton's method.

    Parameters
    ----------
    ions : mapping of str to float or array
        Ion to its total amount [mmol/L]; arrays of mutually broadcastable shapes.
    ionic_strength : float or array
        Half the sum of z² c over all ions as if none were paired [mmol/L].

    Returns
    -------
    Paired

    Notes
    -----
    For 25 °C and up to about 0.1 mol/L. Pairs of bicarbonate and phosphate, under
    a hundredth of the EC in feeds below pH 6.5, are left out.

    Examples
    --------
    >>> found = sulfate_pairs({"Mg": 2.0, "SO4": 2.0}, 8.0)
    >>> f"{found.sulfate:.3f} free, {found.pairs['Mg']:.3f} paired"
    '1.671 free, 0.329 paired'
    """
    sulfate = ions.get("SO4", 0.0)
    if np.ndim(sulfate) == 0 and sulfate == 0:
        return Paired(sulfate, {}, ionic_strength)
    free, left = _balanced(sulfate, ionic_strength, _partners(ions))
    activity = _activity(left)
    pairs = {}
    for cation, log_constant in LOG_CONSTANTS.items():
        if cation in ions:
            power = activity * activity if cation in DOUBLE else activity
            taking = _per_millimole(log_constant) * (power * free)
            pairs[cation] = ions[cation] * taking / (1 + taking)
    return Paired(free, pairs, left)


def _per_millimole(log_constant: float) -> float:
    return float(10**log_constant / 1000)


def _partners(ions: Mapping[str, Floats]) -> list[_Partners]:
    """Return the cations present, those of one constant and charge taken together."""
    groups: dict[tuple[float, int], Floats] = {}
    for cation, log_constant in LOG_CONSTANTS.items():
        if cation in ions:
            key = (log_constant, 2 if cation in DOUBLE else 1)
            groups[key] = groups.get(key, 0.0) + ions[cation]
    return [
        _Partners(amount, _per_millimole(log_constant), charge)
        for (log_constant, charge), amount in groups.items()
    ]


def _activity(ionic_strength: Floats) -> Floats:
    """Return the activity coefficient of a doubly charged ion; ionic strength in mmol/L."""
    molar = ionic_strength * 1e-3
    root = np.sqrt(molar)
    return np.exp(_DOUBLE_ACTIVITY * (root / (1 + root) - DAVIES_B * molar))


def _balanced(
    sulfate: Floats, unpaired: Floats, partners: list[_Partners]
) -> tuple[Floats, Floats]:
    """Return free sulfate s and ionic strength I where both balances hold.

    Newton's method on  s (1 + U1 + U2) = sulfate  and  I + s (2 U1 + 4 U2) =
    unpaired, where s U1 and s U2 are the pairs with cations of one charge and of
    two. One step is not enough, so the first is not tested; up to 0.11 mol/L two
    or three always are (600,000 random mixtures tried), with no step too long.
    """
    free, left = _first_guess(sulfate, unpaired, partners)
    for taken in range(_MOST_STEPS):
        step, step_strength = _newton_step(free, left, (sulfate, unpaired), partners)
        free, left = free - step, left - step_strength
        if taken and _small(step, free) and _small(step_strength, left):
            return free, left
    raise ArithmeticError(tr("the pairs of sulfate were not found"))  # pragma: no cover


def _small(step: Floats, value: Floats) -> bool:
    """Return whether a step is so small that its square, the error left, is nothing."""
    return bool(np.all(np.abs(step) <= _STEP_TOLERANCE * value + _ALMOST_NONE))


def _first_guess(
    sulfate: Floats, unpaired: Floats, partners: list[_Partners]
) -> tuple[Floats, Floats]:
    """Return free sulfate and ionic strength within some hundredths.

    As if singly charged cations were not used up, and Ca and Mg were one.
    """
    activity = _activity(0.85 * unpaired)
    taking, amount = {1: 0.0, 2: 0.0}, {1: 0.0, 2: _ALMOST_NONE}
    for partner in partners:
        charge = partner.charge
        taking[charge] = taking[charge] + partner.constant * partner.amount
        amount[charge] = amount[charge] + partner.amount
    single, double = taking[1] * activity, taking[2] * (activity * activity)
    free = sulfate / (1 + single + double)
    double = double / (1 + double / amount[2] * free)
    free = sulfate / (1 + single + double)
    return free, unpaired - free * (2 * single + 4 * double)


def _newton_step(
    free: Floats, left: Floats, totals: tuple[Floats, Floats], partners: list[_Partners]
) -> tuple[Floats, Floats]:
    """Return what Newton's method takes off free sulfate and ionic strength."""
    sulfate, unpaired = totals
    molar = (left + _ALMOST_NONE) * 1e-3  # pure water must not divide by zero
    root = np.sqrt(molar)
    above = 1 + root
    activity = np.exp(_DOUBLE_ACTIVITY * (root / above - DAVIES_B * molar))
    # d ln(activity) / dI, and dI counts in mmol/L; times s
    weight = free * (0.5 / (root * above * above) - DAVIES_B) * (_DOUBLE_ACTIVITY * 1e-3)
    powers = {1: activity, 2: activity * activity}
    pairs, change = {1: 0.0, 2: 0.0}, {1: 0.0, 2: 0.0}
    for amount, constant, charge in partners:
        # In place where it can be: an ensemble spends its time fetching numbers.
        taking = constant * powers[charge]
        spread = taking * free
        spread += 1
        taking *= amount
        taking /= spread
        pairs[charge] += taking
        taking /= spread
        change[charge] += taking
    paired = pairs[1] + pairs[2]
    off_sulfate = free + free * paired - sulfate
    off_strength = left - unpaired + 2 * free * (paired + pairs[2])
    double = 2 * change[2]
    both = change[1] + double
    # [[a, weight both], [2 both, d]] is the matrix of the derivatives.
    a = 1 + change[1] + change[2]
    weight *= 2
    d = 1 + weight * (both + double)
    weight *= both
    scale = a * d - weight * both
    both *= 2
    return (
        (d * off_sulfate - 0.5 * weight * off_strength) / scale,
        (a * off_strength - both * off_sulfate) / scale,
    )
