"""Whether a water analysis can be true, and whether the water is fit for a closed tank."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

from scenariokit.errors import InfeasibleError
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.species import SPECIES, ions_of_floats
from scenariokit.nutrients.conductivity.charge import charge_balance
from scenariokit.nutrients.water.water_reading import MILLIEQUIVALENT, PARAMETERS, Reading

if TYPE_CHECKING:
    from scenariokit.nutrients.water.source_water import SourceWater

NOTED_SHARE, REFUSED_SHARE = 0.10, 0.25
"""Difference of cations and anions, as share of their mean, that is noted or refused."""
LEAST_DIFFERENCE = 0.2
"""meq/L that is let pass in any water: Standard Methods 1030 E, from memory."""
EC_SHARE, LEAST_EC = 0.20, 0.05
"""Share, and dS/m, by which a measured EC may differ from that of the ions."""

_TRADE = mark("common practice, no published source")
_MAIN_CATIONS, _MAIN_ANIONS = ("Ca", "Mg", "Na", "K"), ("HCO3", "S", "Cl", "N_nitrate")
_WORDS = {"S": "SO4", "N_nitrate": "NO3"}


class ChargeSums(NamedTuple):
    """Cations and anions in meq/L."""

    cations: float
    anions: float

    @property
    def share(self) -> float:
        """Their difference as share of their mean."""
        mean = (self.cations + self.anions) / 2
        return abs(self.cations - self.anions) / mean if mean else 0.0

    def beyond(self, share: float) -> bool:
        """Return whether they differ by more than `share` and by more than is let pass."""
        return self.share > share and abs(self.cations - self.anions) > LEAST_DIFFERENCE


@dataclass(frozen=True)
class WaterFinding:
    """One thing to know about a water.

    Parameters
    ----------
    about : str
        The parameter, or ``"charge balance"``.
    text : str
        What was found, in plain words with the number in it.
    source : str
        Where the limit comes from.
    value, limit : float or None
        The number found and the limit, in `unit`.
    unit : str
        Unit of both.
    """

    about: str
    text: str
    source: str
    value: float | None = None
    limit: float | None = None
    unit: str = ""


class _Limit(NamedTuple):
    """The highest value at which a water is fit, rising where there are two."""

    about: str
    limit: float
    effect: str
    sources: tuple[str, ...]


_OKLAHOMA = (
    "Oklahoma State University Extension, Electrical conductivity and pH guide for hydroponics, "
    "Table 1"
)
_MATTSON = mark(
    "Mattson and Peters 2014, A recipe for hydroponic success (title and year from memory)"
)
_FAO = mark(
    "Ayers and Westcot 1985, FAO Irrigation and Drainage Paper 29, read where another "
    "paper quotes it"
)
_BUILDS_UP = mark("plants take up little of it and it builds up in a topped-up tank")

_LIMITS = (
    _Limit("Na", 50, _BUILDS_UP, (_OKLAHOMA, _MATTSON)),
    _Limit("Ca", 150, mark("it settles out with phosphate and sulfate, and blocks wicks"),
           (_OKLAHOMA,)),
    _Limit("Cl", 70, _BUILDS_UP, (_MATTSON,)),
    _Limit("Cl", 140, _BUILDS_UP, (_OKLAHOMA,)),
    _Limit("SO4", 100, mark("more than most recipes leave room for"), (_OKLAHOMA,)),
    _Limit("B", 0.7, mark("sensitive crops are harmed"), (_FAO,)),
    _Limit("EC", 0.7, mark("slight to moderate restriction for irrigation"), (_FAO,)),
    _Limit("EC", 3.0, mark("severe restriction for irrigation"), (_FAO,)),
)  # fmt: skip
_UNITS = {"EC": "dS/m"}
_PH_LOW, _PH_HIGH = 6.5, 8.4


def charge_sums(content: Mapping[str, float]) -> ChargeSums:
    """Return cations and anions [meq/L] of a plain content [mg/L]."""
    found = charge_balance.floats(ions_of_floats(content))
    return ChargeSums(float(found.cations), float(found.anions))


def _sums(charges: Iterable[float]) -> ChargeSums:
    found = list(charges)
    cations = sum(charge for charge in found if charge > 0)
    return ChargeSums(cations, -sum(charge for charge in found if charge < 0))


def other_reading(given: Mapping[str, tuple[float, str]]) -> str:
    """Return the unit in which the numbers of an analysis would balance, if there is one.

    Parameters
    ----------
    given : mapping of str to (float, str)
        Parameter to number and the unit in which it was read.

    Returns
    -------
    str
        meq/L, mg/L or mmol/L; empty if they balance in none, or if the units
        were mixed, for then none of them was forgotten.
    """
    readings = [
        Reading(name, PARAMETERS[name], number, unit)
        for name, (number, unit) in given.items()
        if SPECIES[PARAMETERS[name]].charge is not None and number > 0
    ]
    if len({one.unit for one in readings}) != 1:
        return ""
    if any(one.species == "CaCO3" for one in readings):
        readings = [one for one in readings if one.species != "HCO3"]
    for unit in (MILLIEQUIVALENT, "mg/L", "mmol/L"):
        if unit != readings[0].unit:
            sums = _sums(one.charge_as(unit) for one in readings)
            if min(sums) > 0 and sums.share <= NOTED_SHARE:
                return unit
    return ""


def imbalance_text(
    sums: ChargeSums, content: Mapping[str, float], given: Mapping[str, tuple[float, str]]
) -> str:
    """Return in words how cations and anions differ, and what the likely cause is.

    Parameters
    ----------
    sums : ChargeSums
        Cations and anions [meq/L].
    content : mapping of str to float
        Content keys to mg/L.
    given : mapping of str to (float, str)
        The numbers as the analysis had them.
    """
    head = tr(
        "cations {cations:.2f} and anions {anions:.2f} meq/L differ by {share:.0f} % of their mean",
        cations=sums.cations,
        anions=sums.anions,
        share=100 * sums.share,
    )
    unit = other_reading(given)
    if unit:
        return tr(
            "{head}; the numbers balance if they are {unit}: give the unit", head=head, unit=unit
        )
    cations_short = sums.cations < sums.anions
    keys = _MAIN_CATIONS if cations_short else _MAIN_ANIONS
    absent = [_WORDS.get(key, key) for key in keys if not content.get(key)]
    if cations_short:
        sentence = mark(
            "{head}; likely a cation is missing{not_given}, or a number is in another unit"
        )
    else:
        sentence = mark(
            "{head}; likely an anion is missing{not_given}, or a number is in another unit"
        )
    listed = tr("(not given, or 0: {ions})", ions=", ".join(absent)) if absent else ""
    return tr(sentence, head=head, not_given=f" {listed}" if listed else "")


def water_problems(water: SourceWater) -> tuple[WaterFinding, ...]:
    """Return what in an analysis cannot be true.

    Parameters
    ----------
    water : SourceWater
        The water.

    Returns
    -------
    tuple of WaterFinding
        Cations and anions that differ by more than 10 % of their mean (and by
        more than 0.2 meq/L), a measured EC more than 20 % away from that of the
        ions (and by more than 0.05 dS/m), a pH at which alkalinity is no
        bicarbonate. Empty if nothing was found.

    Notes
    -----
    The EC of the ions is that of `electrical_conductivity`.

    References
    ----------
    Limits: common practice, no published source; 0.2 meq/L: Standard Methods for
    the Examination of Water and Wastewater, 1030 E, from memory.

    Examples
    --------
    >>> from scenariokit import catalog
    >>> from scenariokit.nutrients.water.source_water import source_water, water_from_row
    >>> water_problems(water_from_row(catalog.load("waters")["hard_tap"]))
    ()
    >>> bad = source_water({"Ca": "80 mg/L", "HCO3": "200 mg/L"})
    >>> water_problems(bad)[0].about
    'charge balance'
    """
    found = []
    sums = charge_sums(water.content)
    if sums.beyond(NOTED_SHARE):
        text = imbalance_text(sums, water.content, water.as_given)
        found.append(
            WaterFinding(
                tr("charge balance"), text, tr(_TRADE), 100 * sums.share, 100 * NOTED_SHARE, "%"
            )
        )
    return (*found, *_ec_findings(water), *_bicarbonate_findings(water))


def ec_of_ions(content: Mapping[str, float]) -> float:
    """Return the EC [dS/m] at 25 °C of a plain content [mg/L].

    Raises
    ------
    InfeasibleError
        If it holds more ions than the model covers.
    """
    from scenariokit.nutrients.conductivity.ions import electrical_conductivity

    return float(electrical_conductivity.floats(ions_of_floats(content)))


def _ec_findings(water: SourceWater) -> list[WaterFinding]:
    if water.ec is None:
        return []
    try:
        computed = ec_of_ions(water.content)
    except InfeasibleError as error:
        text = tr("the ions are too many for their EC to be computed: {error}", error=error)
        return [WaterFinding("EC", text, tr(_TRADE), water.ec, None, "dS/m")]
    apart = abs(water.ec - computed)
    if apart <= LEAST_EC or apart <= EC_SHARE * computed:
        return []
    if water.ec > computed:
        sentence = mark(
            "the EC of {ec:.2f} dS/m is more than the {computed:.2f} dS/m of the ions: an ion is "
            "missing, a number is in another unit, or the EC is not at 25 °C"
        )
    else:
        sentence = mark(
            "the EC of {ec:.2f} dS/m is less than the {computed:.2f} dS/m of the ions: an ion is "
            "missing, a number is in another unit, or the EC is not at 25 °C"
        )
    text = tr(sentence, ec=water.ec, computed=computed)
    return [WaterFinding("EC", text, tr(_TRADE), water.ec, computed, "dS/m")]


def _bicarbonate_findings(water: SourceWater) -> list[WaterFinding]:
    if water.ph is None or not water.alkalinity or 4.5 <= water.ph <= 8.3:
        return []
    if water.ph > 8.3:
        sentence = mark(
            "at pH {ph:g} the alkalinity is partly carbonate; here it is counted as bicarbonate"
        )
    else:
        sentence = mark(
            "at pH {ph:g} the alkalinity cannot be there; here it is counted as bicarbonate"
        )
    text = tr(sentence, ph=water.ph)
    limit = 8.3 if water.ph > 8.3 else 4.5
    return [WaterFinding("alkalinity", text, tr("definition"), water.ph, limit, "pH")]


def water_limits(water: SourceWater) -> tuple[WaterFinding, ...]:
    """Return in what a water is over a published limit for hydroponics or irrigation.

    Parameters
    ----------
    water : SourceWater
        The water. Where its EC was not measured, that of the ions is used.

    Returns
    -------
    tuple of WaterFinding
        Na over 50, Ca 150, Cl 70 and 140, SO4 100 mg/L, B 0.7 mg/L, EC 0.7 and
        3.0 dS/m, pH outside 6.5 to 8.4. Of two limits the higher that is passed.

    Notes
    -----
    Limits for open systems and field soil are read more gently than a closed,
    topped-up tank bears: see `build_up`. None of them says whether water is fit
    to drink.

    References
    ----------
    Oklahoma State University Extension, Electrical conductivity and pH guide for
    hydroponics, Table 1. Mattson and Peters 2014, A recipe for hydroponic
    success. Ayers and Westcot 1985, FAO Irrigation and Drainage Paper 29, read
    where another paper quotes it.

    Examples
    --------
    >>> from scenariokit import catalog
    >>> from scenariokit.nutrients.water.source_water import water_from_row
    >>> found = water_limits(water_from_row(catalog.load("waters")["brackish_well"]))
    >>> [finding.about for finding in found]
    ['Na', 'Cl', 'SO4', 'B', 'EC']
    """
    values = _limited_values(water)
    passed: dict[str, WaterFinding] = {}
    for limit in _LIMITS:
        value = values.get(limit.about, 0.0)
        if value > limit.limit:
            unit = _UNITS.get(limit.about, "mg/L")
            text = tr(
                "{about} of {value:.3g} {unit} is over {limit:g} {unit}: {effect}",
                about=limit.about,
                value=value,
                unit=unit,
                limit=limit.limit,
                effect=tr(limit.effect),
            )
            passed[limit.about] = WaterFinding(
                limit.about, text, _cited(limit.sources), value, limit.limit, unit
            )
    return (*passed.values(), *_ph_limits(water))


def _cited(sources: tuple[str, ...]) -> str:
    return "; ".join(tr(source) for source in sources)


def _limited_values(water: SourceWater) -> dict[str, float]:
    content = water.content
    sulfate = content.get("S", 0.0) * SPECIES["SO4"].molar_mass / SPECIES["S"].molar_mass
    ec = water.ec
    if ec is None:
        try:
            ec = ec_of_ions(content)
        except InfeasibleError:
            ec = float("inf")
    return {**content, "SO4": sulfate, "EC": ec}


def _ph_limits(water: SourceWater) -> list[WaterFinding]:
    if water.ph is None or _PH_LOW <= water.ph <= _PH_HIGH:
        return []
    limit = _PH_LOW if water.ph < _PH_LOW else _PH_HIGH
    text = tr(
        "pH {ph:g} is outside the usual {low:g} to {high:g}",
        ph=water.ph,
        low=_PH_LOW,
        high=_PH_HIGH,
    )
    return [WaterFinding("pH", text, tr(_FAO), water.ph, limit, "pH")]
