"""How much of a salt stays dissolved in a stock, alone and beside salts that share its ions."""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from scenariokit.catalog.entries import Entry, load
from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.nutrients.composition.chemistry import ATOMIC_MASSES, atoms, formula_mass
from scenariokit.nutrients.composition.contents import checked_content
from scenariokit.nutrients.composition.fertilisers import Fertiliser
from scenariokit.quantities import checked, checked_floats, with_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

TEMPERATURES = (0.0, 10.0, 20.0, 25.0)
"""Degrees Celsius of the columns of the table."""

LITRES_PER_KG = 0.5
"""Room that a kilogram of dissolved salt takes, at most: 0.4 to 0.5 L/kg, common experience."""

FORMED: Mapping[str, Mapping[str, int]] = MappingProxyType({
    "potassium_nitrate": {"K": 1, "N_nitrate": 1},
    "potassium_sulfate": {"K": 2, "S": 1},
    "potassium_chloride": {"K": 1, "Cl": 1},
    "monopotassium_phosphate": {"K": 1, "P": 1},
    "monoammonium_phosphate": {"N_ammonium": 1, "P": 1},
    "ammonium_sulfate": {"N_ammonium": 2, "S": 1},
    "ammonium_nitrate": {"N_ammonium": 1, "N_nitrate": 1},
    "magnesium_sulfate": {"Mg": 1, "S": 1},
})  # fmt: skip
"""Salts that may crystallise from the ions of several others, and the ions of each."""


@checked("g/kg", solubility="water_solubility")
def hydrate_solubility(solubility: Floats, anhydrous: str, hydrate: str) -> Floats:
    """Return how much of a hydrate, as it is sold, a mass of added water dissolves.

    Tables count the anhydrous salt, but crystals bring water of their own:
    with h = a Mh / Ma, hydrate in added water = h / (1 - (h - a)).

    Parameters
    ----------
    solubility : quantity
        a, anhydrous salt in water [g/kg], scalar or array. Grams per 100 g of
        water are percent: ``"127 %"``.
    anhydrous : str
        Formula that `solubility` counts; Ma is its molar mass.
    hydrate : str
        Formula of what is sold; Mh is its molar mass.

    Returns
    -------
    quantity
        Grams of hydrate for each kilogram of *added* water [g/kg].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If it lies outside its range.
    ArgumentError
        If a formula cannot be read, or the two differ by more than water.
    InfeasibleError
        If the crystals bring all the water they need: no water need be added.

    Examples
    --------
    >>> found = hydrate_solubility("127 %", "Ca(NO3)2", "Ca(NO3)2.4H2O")
    >>> f"{found.m_as('percent'):.0f} g in 100 g of added water"
    '413 g in 100 g of added water'
    """
    extra = dict(atoms(hydrate))
    for name, count in atoms(anhydrous).items():
        extra[name] = extra.get(name, 0) - count
    water = extra.pop("O", 0)
    if water < 0 or extra.pop("H", 0) != 2 * water or any(extra.values()):
        problem = Problem("hydrate", hydrate, tr("is not {anhydrous} with water", anhydrous=anhydrous), "",
                          'hydrate="Ca(NO3)2.4H2O"')  # fmt: skip
        raise argument_error([problem], "hydrate_solubility")
    held = solubility * formula_mass(hydrate) / formula_mass(anhydrous)
    added = 1000 - (held - solubility)
    if np.any(added <= 0):
        raise InfeasibleError(
            tr(
                "hydrate_solubility: crystals of {hydrate} hold all the water in which "
                "{solubility:g} g/kg of {anhydrous} dissolve; no water need be added",
                hydrate=hydrate,
                solubility=np.max(solubility),
                anhydrous=anhydrous,
            )
        )
    return 1000 * held / added


@checked("g/L", temperature="store_temperature")
def solubility(salt: str | Fertiliser, temperature: Floats) -> Floats:
    """Return how much of a salt as sold a litre of added water dissolves.

    The table's values at 0, 10, 20 and 25 °C, on straight lines between, turned
    into the hydrate that is sold by `hydrate_solubility`.

    Parameters
    ----------
    salt : str or Fertiliser
        Id of a shipped salt, or a fertiliser with the id or the formula of one.
    temperature : quantity
        Temperature of the water [degC], scalar or array, 0 to 25.

    Returns
    -------
    quantity
        Salt as sold for each litre of *added* water [g/L]. A litre of finished
        stock holds less water, hence less salt; see `stock_water`.

    Raises
    ------
    UnitError
        If the temperature has no unit or one of another dimension.
    RangeError
        If it lies outside 0 to 25 °C.
    ArgumentError
        If the salt's solubility is not known here.

    Notes
    -----
    For one salt alone in pure water. Most values come from memory of handbook
    tables and may be 5 % off; the catalogue says which. Use a margin.

    References
    ----------
    CRC Handbook of Chemistry and Physics, table "Aqueous solubility of inorganic
    compounds at various temperatures" (from memory); epsomite, arcanite and
    sylvite computed with IPHREEQC and its Pitzer database.

    Examples
    --------
    >>> f"{solubility('potassium_nitrate', '10 degC').m_as('g/L'):.0f} g/L"
    '214 g/L'
    >>> f"{solubility('magnesium_sulfate', '20 degC').m_as('g/L'):.0f} g/L"
    '1076 g/L'
    """
    found = known_solubility(salt, temperature)
    if found is None:
        name = salt.id if isinstance(salt, Fertiliser) else str(salt)
        allowed = ", ".join(load("solubility"))
        reason = tr("its solubility is not known here")
        raise argument_error([Problem("salt", name, reason, allowed)], "solubility")
    return found


def known_solubility(salt: str | Fertiliser, temperature: Floats) -> Floats | None:
    """Return `solubility` as plain g/L for plain degrees Celsius, or None if not known."""
    row = _row(salt)
    if row is None:
        return None
    anhydrous = np.interp(temperature, TEMPERATURES, [10 * row[f"at_{t:g}"] for t in TEMPERATURES])
    # A kilogram of water is taken as a litre, 0.3 % off at 25 °C.
    sold = load("salts")[row.id].formula
    return hydrate_solubility.floats(anhydrous[()], row.anhydrous, sold)


def _row(salt: str | Fertiliser) -> Entry | None:
    """Return the table's row of a salt, found by its id, else by its formula."""
    table = load("solubility")
    if not isinstance(salt, Fertiliser):
        return table.get(salt) if isinstance(salt, str) else None
    salts = load("salts")
    if salt.id in table and salt.formula in ("", salts[salt.id].formula):
        return table[salt.id]
    same = [name for name in table if salt.formula and salts[name].formula == salt.formula]
    return table[same[0]] if same else None


@checked("kg/L", salts="salt_rate")
def stock_water(salts: Floats) -> Floats:
    """Return the water in a litre of finished stock, 1 - v S.

    Parameters
    ----------
    salts : quantity
        S, all the salts in a litre of stock [g/L], scalar or array. Each
        kilogram takes the room v of 0.5 L, the cautious end of 0.4 to 0.5 L.

    Returns
    -------
    quantity
        Water [kg/L].

    Raises
    ------
    UnitError
        If the value has no unit or one of another dimension.
    RangeError
        If it lies outside its range.
    InfeasibleError
        If the salts leave no room for water.

    Notes
    -----
    The room is common experience, no published source. Computed with IPHREEQC
    for hundredfold stocks of Hoagland solution 1: 0.40 and 0.47 L/kg.

    Examples
    --------
    >>> f"{stock_water('118 g/L').m_as('kg/L'):.2f} kg/L"
    '0.94 kg/L'
    """
    water = 1 - LITRES_PER_KG * np.asarray(salts, dtype=np.float64)[()] / 1000
    if np.any(water <= 0):
        raise InfeasibleError(
            tr(
                "stock_water: {salts:g} g of salt in a litre leave no room for water; less than "
                "{most:g} g/L has room",
                salts=np.max(salts),
                most=1000 / LITRES_PER_KG,
            )
        )
    return water


def _common_ion_shares(
    content: Mapping[str, Floats], temperature: Floats, water: Floats
) -> dict[str, Floats]:
    """Return `common_ion_shares` from plain mg/L, degrees Celsius and kg/L."""
    table, found = load("solubility"), {}
    for name, ions in FORMED.items():
        if not all(np.any(content.get(key, 0.0)) for key in ions):
            continue
        row = table[name]
        saturated = [10 * row[f"at_{t:g}"] / row.molar_mass for t in TEMPERATURES]
        alone = np.interp(temperature, TEMPERATURES, saturated)
        product: Floats = 1.0
        for key, count in ions.items():
            moles = content[key] / 1000 / ATOMIC_MASSES[key.split("_")[0]] / water
            product = product * (moles / (count * alone)) ** count
        found[name] = product ** (1 / sum(ions.values()))
    return found


@with_floats(_common_ion_shares)
def common_ion_shares(
    content: Mapping[str, QuantityLike],
    temperature: QuantityLike,
    *,
    salts: QuantityLike = "0 g/L",
) -> dict[str, Quantity]:
    """Return how near a stock is to dropping each salt that its ions can form.

    Salts that share an ion hold each other back: potassium nitrate beside
    magnesium sulfate can drop potassium sulfate. The product of the ions is
    compared with that of the pure saturated salt at the same temperature,
    share = (product of (m / m_s)^n)^(1 / sum of n), with m the molality of an
    ion, m_s that in the saturated solution and n its number in the formula.

    Parameters
    ----------
    content : mapping of str to quantity
        Content of the *concentrate* [mg/L], scalars or arrays.
    temperature : quantity
        [degC], 0 to 25.
    salts : quantity, optional
        All the salts in a litre of it [g/L], for the room they take.

    Returns
    -------
    dict of str to quantity
        Id of each salt that can form to its share, 0 or more; 1 is saturated.
        For a salt alone it is strength divided by solubility.

    Raises
    ------
    UnitError, RangeError, ArgumentError
        If a value cannot be used.
    InfeasibleError
        If the salts leave no room for water.

    Notes
    -----
    An estimate: activities are taken to be those in the pure saturated
    solution. For potassium sulfate in stocks of Steiner's and of Hoagland's
    solution it errs to the safe side near saturation: 1.07 where IPHREEQC with
    its Pitzer database (chloride standing for nitrate and phosphate) gives 0.90
    to 1.05. Calcium is a matter of `incompatible`, not of this function.

    Examples
    --------
    >>> content = {"K": "27.4 g/L", "S": "11.2 g/L"}
    >>> found = common_ion_shares(content, "10 degC")
    >>> round(found["potassium_sulfate"].m_as(""), 2)
    0.71
    """
    plain = checked_content(content, "common_ion_shares")
    found = checked_floats(
        "common_ion_shares",
        {"temperature": (temperature, "store_temperature"), "salts": (salts, "salt_rate")}
        | {f"content[{key}]": (value, "concentration") for key, value in content.items()},
    )
    water = stock_water.floats(found["salts"])
    shares = _common_ion_shares(plain, found["temperature"], water)
    return {name: with_unit(share, "") for name, share in shares.items()}
