"""pH: how much bicarbonate is left at a pH, and the window to keep a solution in."""

from __future__ import annotations

from typing import NamedTuple

from scenariokit.catalog.entries import load
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked
from scenariokit.units import Floats

CARBONIC_PK = 6.35
"""First dissociation of dissolved carbon dioxide at 25 °C."""

PH_LOW, PH_HIGH = 5.5, 6.5


class PhWindow(NamedTuple):
    """The pH between which to keep a solution, and what is said about it."""

    low: float
    high: float
    text: str
    source: str


@checked("", ph="water_ph")
def bicarbonate_share(ph: Floats) -> Floats:
    """Return the share of dissolved carbonate that is bicarbonate, 1 / (1 + 10^(pK - pH)).

    Parameters
    ----------
    ph : float
        pH, scalar or array; pK is 6.35.

    Returns
    -------
    quantity
        HCO3 / (HCO3 + CO2), 0 to 1.

    Raises
    ------
    RangeError
        If the value lies outside its range.

    Notes
    -----
    At 25 °C and below pH 8.3, where hardly any is carbonate.

    Examples
    --------
    >>> f"{bicarbonate_share(5.8).m_as(''):.2f}"
    '0.22'
    """
    return 1 / (1 + 10 ** (CARBONIC_PK - ph))


@checked("mg/L", alkalinity="alkalinity", ph="target_ph")
def remaining_alkalinity(alkalinity: Floats, ph: Floats) -> Floats:
    """Return the alkalinity left when acid has brought water to a pH.

    Alk / (1 + 10^(pK - pH)).

    Parameters
    ----------
    alkalinity : quantity
        Alk before the acid, as CaCO3 [mg/L], scalar or array, 0 or more.
    ph : float
        pH come to, 4.5 to 8.3; pK is 6.35.

    Returns
    -------
    quantity
        Alkalinity left, as CaCO3 [mg/L].

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.

    Notes
    -----
    Before any carbon dioxide escapes, and for water whose carbonate is all
    bicarbonate at first; in water of pH 7.2 about a tenth is already carbon
    dioxide. Stirring lets the gas out and pH rises: measure again next day.

    Examples
    --------
    >>> f"{remaining_alkalinity('150 mg/L', 5.8).m_as('mg/L'):.0f} mg/L CaCO3"
    '33 mg/L CaCO3'
    """
    return alkalinity * bicarbonate_share.floats(ph)


def ph_window(crop: str = "potato") -> PhWindow:
    """Return the pH between which to keep the solution of a crop.

    Parameters
    ----------
    crop : str
        Id of a crop in the catalogue.

    Returns
    -------
    PhWindow
        ``low`` and ``high``, 5.5 and 6.5 for every crop here; ``text`` and
        ``source`` say what stands behind it.

    Raises
    ------
    ArgumentError
        If the crop is unknown.

    Notes
    -----
    Published windows differ a little: 5.8 to 6.5 (Agri Kultuur, March 2016, p. 20)
    and 5.3 to 6.3 were read.
    Above 6.5 iron, manganese and calcium phosphate begin to drop out.

    Examples
    --------
    >>> window = ph_window("potato")
    >>> window.low, window.high
    (5.5, 6.5)
    """
    known = load("crops")
    if not isinstance(crop, str) or crop not in known:
        problem = Problem("crop", str(crop), tr("is not known"), ", ".join(known), 'crop="potato"')
        raise argument_error([problem], "ph_window")
    text = tr(
        "{crop}: keep pH between {low} and {high}. The same is used for every crop "
        "here. Above it iron and phosphate settle out; below it calcium and magnesium are "
        "taken up poorly and roots suffer.",
        crop=tr(known[crop]["label"]),
        low=PH_LOW,
        high=PH_HIGH,
    )
    return PhWindow(PH_LOW, PH_HIGH, text, tr("common practice, no published source"))
