"""Hardness and alkalinity of water on the scales that laboratories print."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal, get_args

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.nutrients.composition.chemistry import formula_mass
from scenariokit.quantities import checked, checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

Scale = Literal["CaCO3 mg/L", "mmol/L", "dH", "fH", "gpg"]

_CARBONATE = formula_mass("CaCO3")
_CHARGES = 2
"""Charges of alkalinity in a mole of CaCO3."""
_GRAIN, _US_GALLON = 64.79891, 3.785411784
"""mg and L, both by definition."""

PER_CARBONATE: Mapping[str, float] = MappingProxyType({
    "CaCO3 mg/L": 1.0,
    "mmol/L": 1 / _CARBONATE,
    "dH": formula_mass("CaO") / _CARBONATE / 10,
    "fH": 0.1,
    "gpg": _US_GALLON / _GRAIN,
})  # fmt: skip
"""What 1 mg/L of CaCO3 is on each scale."""

_UNITS = {"CaCO3 mg/L": "mg/L", "mmol/L": "mmol/L"}
_PARAMETERS = {"CaCO3 mg/L": "concentration", "mmol/L": "amount_concentration"}


def hardness(
    calcium: QuantityLike, magnesium: QuantityLike, scale: Scale = "CaCO3 mg/L"
) -> Quantity:
    """Return the total hardness of water, f (Ca / M_Ca + Mg / M_Mg) M_CaCO3.

    Parameters
    ----------
    calcium, magnesium : quantity
        Ca and Mg, counted as the elements [mg/L], scalar or array, 0 or more;
        M are molar masses [g/mol].
    scale : {'CaCO3 mg/L', 'mmol/L', 'dH', 'fH', 'gpg'}
        What to count it as, with f what 1 mg/L of CaCO3 is there: mg/L of
        CaCO3; mmol/L of Ca and Mg; German degrees (10 mg/L of CaO); French
        degrees (10 mg/L of CaCO3); grains of CaCO3 in a US gallon.

    Returns
    -------
    quantity
        Hardness in mg/L or mmol/L; on the other three scales a plain number,
        for degrees and grains are no units.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If the scale is unknown.

    Notes
    -----
    As CaCO3 it is 2.497 Ca + 4.118 Mg. English degrees (grains in an imperial
    gallon) and American ppm are other words: ppm of hardness are mg/L of CaCO3.
    Hardness is not alkalinity: water can have one without the other.

    Examples
    --------
    >>> f"{hardness('105 mg/L', '12 mg/L').m_as('mg/L'):.1f} mg/L CaCO3"
    '311.6 mg/L CaCO3'
    >>> f"{hardness('105 mg/L', '12 mg/L', 'dH').m_as(''):.1f} dH"
    '17.5 dH'
    """
    factor = _factor(scale, "hardness")
    given = {"calcium": (calcium, "concentration"), "magnesium": (magnesium, "concentration")}
    found = checked_floats("hardness", given)
    moles = found["calcium"] / formula_mass("Ca") + found["magnesium"] / formula_mass("Mg")
    return with_unit(moles * _CARBONATE * factor, _UNITS.get(scale, ""))


def hardness_as_carbonate(value: QuantityLike, scale: Scale) -> Quantity:
    """Return a hardness from any scale as CaCO3, h / f.

    Parameters
    ----------
    value : quantity or float
        h, hardness on `scale`: with a unit for the first two, a plain number
        for degrees and grains; scalar or array, 0 or more.
    scale : {'CaCO3 mg/L', 'mmol/L', 'dH', 'fH', 'gpg'}
        As for `hardness`; f is what 1 mg/L of CaCO3 is there.

    Returns
    -------
    quantity
        Hardness as CaCO3 [mg/L].

    Raises
    ------
    UnitError
        If the value has no unit where one is due, or one of another dimension.
    RangeError
        If it lies outside its range.
    ArgumentError
        If the scale is unknown.

    Examples
    --------
    >>> f"{hardness_as_carbonate(1, 'dH').m_as('mg/L'):.2f} mg/L CaCO3"
    '17.85 mg/L CaCO3'
    """
    factor = _factor(scale, "hardness_as_carbonate")
    name = _PARAMETERS.get(scale, "hardness_degree")
    found = checked_floats("hardness_as_carbonate", {"value": (value, name)})
    return with_unit(found["value"] / factor, "mg/L")


def _factor(scale: str, subject: str) -> float:
    if not isinstance(scale, str) or scale not in PER_CARBONATE:
        allowed = ", ".join(get_args(Scale))
        problem = Problem("scale", str(scale), tr("is not a known scale"), allowed, 'scale="dH"')
        raise argument_error([problem], subject)
    return PER_CARBONATE[scale]


@checked("mmol/L", alkalinity="alkalinity")
def alkalinity_equivalents(alkalinity: Floats) -> Floats:
    """Return alkalinity as charge, 2 Alk / M.

    Parameters
    ----------
    alkalinity : quantity
        Alk, as CaCO3 [mg/L], scalar or array, 0 or more; M is the molar mass of
        CaCO3, of which a mole takes up two hydrogen ions.

    Returns
    -------
    quantity
        Hydrogen ions that a litre takes up [mmol/L], what laboratories write as
        meq/L.

    Raises
    ------
    UnitError, RangeError
        If the value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> f"{alkalinity_equivalents('150 mg/L').m_as('mmol/L'):.3f} meq/L"
    '2.997 meq/L'
    """
    return _CHARGES * alkalinity / _CARBONATE


@checked("mg/L", equivalents="amount_concentration")
def alkalinity_from_equivalents(equivalents: Floats) -> Floats:
    """Return alkalinity as CaCO3 from charge, M alk / 2.

    Parameters
    ----------
    equivalents : quantity
        alk, hydrogen ions that a litre takes up [mmol/L] (meq/L), scalar or
        array, 0 or more; M is the molar mass of CaCO3.

    Returns
    -------
    quantity
        Alkalinity as CaCO3 [mg/L].

    Raises
    ------
    UnitError, RangeError
        If the value has the wrong unit or lies outside its range.

    Examples
    --------
    >>> f"{alkalinity_from_equivalents('1 mmol/L').m_as('mg/L'):.2f} mg/L CaCO3"
    '50.04 mg/L CaCO3'
    """
    return _CARBONATE * equivalents / _CHARGES


@checked("mg/L", alkalinity="alkalinity")
def bicarbonate_from_alkalinity(alkalinity: Floats) -> Floats:
    """Return the bicarbonate behind an alkalinity, 2 Alk M_HCO3 / M_CaCO3.

    Parameters
    ----------
    alkalinity : quantity
        Alk, as CaCO3 [mg/L], scalar or array, 0 or more; M are molar masses.

    Returns
    -------
    quantity
        Bicarbonate as HCO3 [mg/L].

    Raises
    ------
    UnitError, RangeError
        If the value has the wrong unit or lies outside its range.

    Notes
    -----
    For water of pH below about 8.3, whose alkalinity is all bicarbonate.

    Examples
    --------
    >>> f"{bicarbonate_from_alkalinity('50.04 mg/L').m_as('mg/L'):.2f} mg/L HCO3"
    '61.01 mg/L HCO3'
    """
    return _CHARGES * alkalinity / _CARBONATE * formula_mass("HCO3")


@checked("mg/L", bicarbonate="concentration")
def alkalinity_from_bicarbonate(bicarbonate: Floats) -> Floats:
    """Return the alkalinity of a bicarbonate, M_CaCO3 HCO3 / (2 M_HCO3).

    Parameters
    ----------
    bicarbonate : quantity
        As HCO3 [mg/L], scalar or array, 0 or more; M are molar masses.

    Returns
    -------
    quantity
        Alkalinity as CaCO3 [mg/L].

    Raises
    ------
    UnitError, RangeError
        If the value has the wrong unit or lies outside its range.

    Notes
    -----
    For water of pH below about 8.3, without carbonate or hydroxide.

    Examples
    --------
    >>> f"{alkalinity_from_bicarbonate('290 mg/L').m_as('mg/L'):.1f} mg/L CaCO3"
    '237.8 mg/L CaCO3'
    """
    return _CARBONATE * bicarbonate / (_CHARGES * formula_mass("HCO3"))
