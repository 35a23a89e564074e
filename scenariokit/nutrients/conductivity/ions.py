"""Electrical conductivity of a feed from its ions, and the rule of thumb beside it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, Literal, NamedTuple

import numpy as np

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.nutrients.conductivity.charge import (
    CHARGES,
    charge_balance,
    checked_ions,
    ionic_strength,
)
from scenariokit.nutrients.conductivity.ion_pairs import DOUBLE, sulfate_pairs
from scenariokit.nutrients.conductivity.meter import ec_at
from scenariokit.quantities import with_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

LIMITING: Mapping[str, float] = MappingProxyType({
    "K": 73.48, "Na": 50.08, "NH4": 73.5, "Ca": 59.47, "Mg": 53.0, "H": 349.65,
    "NO3": 71.42, "Cl": 76.31, "SO4": 80.0, "H2PO4": 33.0, "HCO3": 44.5,
})  # fmt: skip
"""Conductivity at infinite dilution, 25 °C, S cm² per mol of charge.

Vanysek, CRC Handbook of Chemistry and Physics, "Ionic conductivity and
diffusion at infinite dilution"; H2PO4 from Marcus 1997, Ion Properties: the
handbook's 36 does not agree with its diffusion, 0.87e-9 m²/s, which makes 32.7.
"""

LIMITING_PAIRS: Mapping[str, float] = MappingProxyType({
    "K": 33.8, "Na": 42.4, "NH4": 33.8, "H": 52.0,
})  # fmt: skip
"""The same for the pair of a cation with sulfate, HSO4 from the handbook.

The others from diffusion in phreeqc.dat of 2024, by |z| F² D / (R T).
"""

STRENGTH_LIMIT = 110.0
"""Highest ionic strength, no ion paired, for which the model is used [mmol/L]."""

_RELAXATION = 0.7852
_RETARDATION = 30.32
_SCREENING = 0.3291
_NEAREST = {1: 4.0, 2: 6.0}
_CHUNK = 8192
_NOTHING = 1e-30


class CationRule(NamedTuple):
    """The rule of thumb beside the model; see `cation_rule`.

    Parameters
    ----------
    rule, model : quantity
        EC at 25 °C by the rule and by `electrical_conductivity` [dS/m].
    error : quantity
        (rule - model) / model: below 0 where the rule is too low.
    """

    rule: Any
    model: Any
    error: Any


def _electrical_conductivity(
    ions: Mapping[str, Floats], outside: Literal["refuse", "nan"] = "refuse"
) -> Floats:
    """Return EC at 25 °C in dS/m from plain amounts in mmol/L, 0 or more and finite.

    With ``outside="nan"`` the members of an ensemble that are too concentrated
    are NaN instead of an error.
    """
    shape = np.broadcast_shapes(*(np.shape(amount) for amount in ions.values()))
    if not shape:
        total = float(ionic_strength.floats(ions))
        too_strong = total > STRENGTH_LIMIT
        if too_strong and outside == "refuse":
            raise InfeasibleError(_refusal(total, 1, 1))
        return math.nan if too_strong else float(_conductivity(ions, total))
    # Worked on in chunks that stay in a processor's cache.
    flat = {ion: _flat(amount, shape) for ion, amount in ions.items()}
    result = np.empty(math.prod(shape))
    most, beyond = 0.0, 0
    for first in range(0, result.size, _CHUNK):
        span = slice(first, first + _CHUNK)
        part = {ion: amount[span] if np.ndim(amount) else amount for ion, amount in flat.items()}
        strength = ionic_strength.floats(part)
        highest = float(np.max(strength))
        if highest <= STRENGTH_LIMIT:
            result[span] = _conductivity(part, strength)
            continue
        inside = strength <= STRENGTH_LIMIT
        most, beyond = max(most, highest), beyond + int(np.count_nonzero(~inside))
        if outside == "nan":
            result[span] = np.nan
            kept = {
                ion: amount[inside] if np.ndim(amount) else amount for ion, amount in part.items()
            }
            result[span][inside] = _conductivity(kept, strength[inside])
    if beyond and outside == "refuse":
        raise InfeasibleError(_refusal(most, beyond, result.size))
    return result.reshape(shape)


@with_floats(_electrical_conductivity)
def electrical_conductivity(
    ions: Mapping[str, QuantityLike], *, temperature: QuantityLike = "25 degC"
) -> Quantity:
    """Return the electrical conductivity of a ready feed, from its ions.

    EC = sum |z| c (l - (w |z| l + 30.32 |z|) √I / (1 + 0.3291 a √I)), over free
    ions and charged pairs, with l the conductivity at infinite dilution, c the
    amount, z the charge, I the ionic strength in mol/L, a the nearest approach
    of another ion (4 Å for one charge, 6 Å for two), and w = 0.7852 z' q / (1 + √q)
    where z' is the mean charge of the ions of the other sign and q depends on
    mean charges z and conductivities l of both signs, q = z+ z- (l+ + l-) /
    ((z+ + z-) (z- l+ + z+ l-)). Sulfate pairs first, see `sulfate_pairs`. At
    another temperature T, EC(T) = EC(25) (1 + 0.02 (T - 25)).

    Parameters
    ----------
    ions : mapping of str to quantity
        Ion to amount [mmol/L], scalars and arrays of mutually broadcastable
        shapes, 0 or more: K, Na, NH4, Ca, Mg, H, NO3, Cl, SO4, H2PO4, HCO3.
    temperature : quantity
        Of the solution [degC], 0 to 100, scalar or array. What meters show as a
        rule is EC at 25 °C, the default.

    Returns
    -------
    quantity
        EC [dS/m, which is mS/cm].

    Raises
    ------
    UnitError
        If an amount has no unit or one of another dimension, as mg/L.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If an ion is unknown, or shapes do not broadcast together.
    InfeasibleError
        If the ionic strength, no ion paired, is above 0.11 mol/L, as in a
        concentrate.

    Warns
    -----
    ValidityWarning
        If the temperature is outside 5 to 35 °C.

    Warnings
    --------
    Not for a stock concentrate: it is refused. There the equation has no footing
    (16 % too high on a hundredfold calcium nitrate stock, computed), and what
    settles is not counted. The number does not replace a meter, which also finds
    errors of weighing.

    Notes
    -----
    Beside IPHREEQC 3.8.6, on random feeds of EC 0.4 to 4: mean error 0.2 %, worst
    3 %; single salts within 4 %; potassium chloride standards within 0.3 %. What
    is mostly ammonium sulfate reads up to 8 % lower than there, hard tap water 2
    to 3 % lower. Micronutrients, chelates and dissolved carbon dioxide are left
    out, under 1 %. Phosphate counts as H2PO4, for pH below 6.5. Hydrogen counts
    as free: acid given beside bicarbonate must be set off against it first. Ions
    out of balance are taken as they are; see `charge_balance`. The plain body is
    ``electrical_conductivity.floats(ions)``; with ``outside="nan"`` it gives NaN
    for the members of an ensemble that are too concentrated.

    References
    ----------
    Robinson and Stokes 1959, Electrolyte Solutions, 2nd ed., chapter 7: the
    equation of Onsager with finite ions, for one salt, and its constants at
    25 °C (from memory); mean values of both signs extend it to mixtures. Sizes
    of ions rounded from Kielland 1937, J. Am. Chem. Soc. 59:1675 (from memory):
    with them the measured EC of six single salts (chlorides, sodium sulfate,
    potassium bicarbonate; tables from memory) is met within 1 % up to 0.05 mol/L
    of charge.

    Examples
    --------
    >>> ions = {"K": "6 mmol/L", "Ca": "5 mmol/L", "Mg": "2 mmol/L",
    ...         "NO3": "15 mmol/L", "H2PO4": "1 mmol/L", "SO4": "2 mmol/L"}
    >>> f"{electrical_conductivity(ions):.2f~P}"
    '2.18 dS/m'
    """
    amounts = checked_ions(ions, "electrical_conductivity")
    found = with_unit(_electrical_conductivity(amounts), "dS/m")
    if isinstance(temperature, str) and temperature == "25 degC":
        return found
    return ec_at(found, temperature)


def _flat(amount: Floats, shape: tuple[int, ...]) -> Floats:
    """Return an array in one dimension; a scalar stays one, which costs nothing."""
    return np.broadcast_to(amount, shape).reshape(-1) if np.ndim(amount) else amount


def _refusal(most: float, beyond: int, size: int) -> str:
    """Return the message for ions that are too concentrated."""
    if size > 1:
        head = tr(
            "electrical_conductivity: too concentrated in {beyond} of {size} solutions",
            beyond=beyond,
            size=size,
        )
    else:
        head = tr("electrical_conductivity: too concentrated")
    fold = math.ceil(10 * most / STRENGTH_LIMIT) / 10
    return tr(
        "{head}: ionic strength up to {highest:.3g} "
        "mol/L; allowed: at most {limit:g} mol/L. Ions this close hinder each other "
        "more than the model knows, and its EC would be wrong. Dilute first, at least "
        "{fold:g}-fold, and take the EC of what is ready for plants",
        head=head,
        highest=most / 1000,
        limit=STRENGTH_LIMIT / 1000,
        fold=fold,
    )


class _Side(NamedTuple):
    """Ions of one sign: amount and amount x conductivity, of one charge and of two."""

    one: Floats
    one_moving: Floats
    two: Floats
    two_moving: Floats

    def means(self) -> tuple[Floats, Floats]:
        """Return mean charge and mean conductivity by share of charge."""
        charge = 1 / (self.one + 2 * self.two + _NOTHING)
        return (self.one + 4 * self.two + _NOTHING) * charge, (
            self.one_moving + 2 * self.two_moving + _NOTHING
        ) * charge


def _conductivity(ions: Mapping[str, Floats], unpaired: Floats) -> Floats:
    """Return EC in dS/m; `unpaired` is the ionic strength with no pairs in mmol/L."""
    paired = sulfate_pairs(ions, unpaired)
    cations, anions = _sides(ions, paired.pairs, paired.sulfate)
    root = np.sqrt(paired.ionic_strength * 1e-3)
    (charge_up, speed_up), (charge_down, speed_down) = cations.means(), anions.means()
    q = charge_up * charge_down * (speed_up + speed_down)
    q = q / ((charge_up + charge_down) * (charge_down * speed_up + charge_up * speed_down))
    relaxing = _RELAXATION * q / (1 + np.sqrt(q))
    up, down = relaxing * charge_down, relaxing * charge_up
    moving = cations.one_moving + anions.one_moving
    moving = moving + 2 * (cations.two_moving + anions.two_moving)
    drag_one = up * cations.one_moving + down * anions.one_moving
    drag_one = drag_one + _RETARDATION * (cations.one + anions.one)
    drag_two = up * cations.two_moving + down * anions.two_moving
    drag_two = drag_two + _RETARDATION * (cations.two + anions.two)
    held = drag_one / (1 + _SCREENING * _NEAREST[1] * root)
    held = held + 4 * drag_two / (1 + _SCREENING * _NEAREST[2] * root)
    return (moving - root * held) * 1e-3


def _sides(
    ions: Mapping[str, Floats], pairs: Mapping[str, Floats], sulfate: Floats
) -> tuple[_Side, _Side]:
    """Return cations and anions as the pairs of sulfate leave them."""
    amount = {(sign, size): 0.0 for sign in (1, -1) for size in (1, 2)}
    moving = dict(amount)
    for ion, total in ions.items():
        free = sulfate if ion == "SO4" else total - pairs[ion] if ion in pairs else total
        key = (1 if CHARGES[ion] > 0 else -1, abs(CHARGES[ion]))
        amount[key] += free  # from a float, so the first sum is an array of its own
        moving[key] += LIMITING[ion] * free
    for cation, bound in pairs.items():
        if cation not in DOUBLE:
            amount[-1, 1] += bound
            moving[-1, 1] += LIMITING_PAIRS[cation] * bound
    up, down = (
        _Side(amount[sign, 1], moving[sign, 1], amount[sign, 2], moving[sign, 2])
        for sign in (1, -1)
    )
    return up, down


def cation_rule(ions: Mapping[str, QuantityLike]) -> CationRule:
    """Return EC by the rule "sum of cations over ten", beside the model.

    EC [dS/m] = sum z c / 10 over the cations, in mmol/L of charge.

    Parameters
    ----------
    ions : mapping of str to quantity
        Ion to amount [mmol/L], as for `electrical_conductivity`.

    Returns
    -------
    CationRule
        Rule, model, and the error of the rule as a share of the model.

    Raises
    ------
    UnitError
        If an amount has no unit or one of another dimension.
    RangeError
        If an amount lies outside its range.
    ArgumentError
        If an ion is unknown, shapes do not broadcast together, or a solution
        holds no ions.
    InfeasibleError
        If a solution is too concentrated for the model.

    Notes
    -----
    For a check in the head only: on feeds the rule reads 1 to 19 % low, on
    simple salts up to a third. The rule is common practice for dilute water.

    Examples
    --------
    >>> found = cation_rule({"K": "12 mmol/L", "NO3": "12 mmol/L"})
    >>> f"{found.rule:.2f~P}, {found.model:.2f~P}, {found.error.m_as('percent'):.0f} %"
    '1.20 dS/m, 1.63 dS/m, -26 %'
    """
    amounts = checked_ions(ions, "cation_rule")
    rule = charge_balance.floats(amounts).cations / 10
    model = _electrical_conductivity(amounts)
    if np.any(np.asarray(model) <= 0):
        problem = Problem("ions", str(dict(ions)), tr("hold no ions in at least one solution"), "",
                          'ions={"K": "6 mmol/L", "NO3": "6 mmol/L"}')  # fmt: skip
        raise argument_error([problem], "cation_rule")
    return CationRule(
        with_unit(rule, "dS/m"), with_unit(model, "dS/m"), with_unit(rule / model - 1, "")
    )
