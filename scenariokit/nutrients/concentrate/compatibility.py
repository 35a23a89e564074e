"""What settles when the wrong fertilisers meet in one concentrate."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from scenariokit.catalog.entries import load
from scenariokit.errors import ArgumentError, InfeasibleError, Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.chemistry import ATOMIC_MASSES, atoms, formula_mass
from scenariokit.nutrients.composition.contents import checked_content
from scenariokit.nutrients.composition.fertilisers import Fertiliser, content_of, shelf
from scenariokit.nutrients.concentrate.solubility import FORMED, common_ion_shares, stock_water
from scenariokit.nutrients.concentrate.stock_plan import in_sentence
from scenariokit.quantities import Expect, checked_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

NOTED_SHARE = 0.7
"""Share of saturation from which a salt formed by common ions is noted."""

_MICRO = ("Fe", "Mn", "Zn", "B", "Cu", "Mo")


class _Rule(NamedTuple):
    """Two or three keys of a content that settle together."""

    keys: tuple[str, ...]
    formula: str
    settles: str
    mean: float
    refused: bool
    reason: str


_RULES = (
    _Rule(("Ca", "S"), "CaSO4.2H2O", mark("gypsum"), 14.0, True,
          mark("calcium and sulfate settle as gypsum")),
    _Rule(("Ca", "P"), "CaHPO4.2H2O", mark("calcium phosphate"), 7.0, True,
          mark("calcium and phosphate settle as calcium phosphate")),
    _Rule(("Fe", "P"), "FePO4.2H2O", mark("iron phosphate"), 1.0, True,
          mark("iron that is not chelated settles with phosphate; use a chelate or a third stock")),
    _Rule(("Mg", "N_ammonium", "P"), "MgNH4PO4.6H2O", mark("magnesium ammonium phosphate"), 20.0, False,
          mark("magnesium, ammonium and phosphate settle above about pH 7; keep this stock acid")),
)  # fmt: skip
"""Each rule holds from a geometric mean of its ions [mmol/L] that no ready solution reaches."""

_NAMES = {
    "Ca": mark("calcium"), "S": mark("sulfate"), "P": mark("phosphate"), "Fe": mark("iron"),
    "Mg": mark("magnesium"), "N_ammonium": mark("ammonium"), "K": mark("potassium"),
    "N_nitrate": mark("nitrate"), "Cl": mark("chloride"),
}  # fmt: skip


@dataclass(frozen=True)
class Incompatibility:
    """Two things that may not, or should not, meet in one concentrate.

    Parameters
    ----------
    first, second : str
        The fertilisers that bring them; ions where only a content was given.
    settles : str
        What drops out.
    at_most : quantity
        Upper bound of what settles [g/L of concentrate]: all of the scarcer
        ion. What stays dissolved, 1 to 3 g/L of gypsum, is not taken off.
    reason : str
        Why, in plain words.
    refused : bool
        False for a note: it may stand, but keep an eye on it.
    """

    first: str
    second: str
    settles: str
    at_most: Quantity
    reason: str
    refused: bool = True

    def __str__(self) -> str:
        """Return it as one sentence."""
        if self.first == self.second:
            pair = self.first
        else:
            pair = tr("{first} with {second}", first=self.first, second=self.second)
        return tr(
            "{pair}: {reason}; at most {most:.3g} g/L of {settles}",
            pair=pair,
            reason=self.reason,
            most=self.at_most.m_as("g/L"),
            settles=self.settles,
        )


def incompatible(
    strengths: Mapping[str, QuantityLike],
    fertilisers: Mapping[str, Fertiliser] | None = None,
    *,
    coldest: QuantityLike = "10 degC",
) -> list[Incompatibility]:
    """Return what settles if these fertilisers stand in one concentrate.

    Calcium is kept from sulfate and from phosphate, and iron that is not
    chelated from phosphate. Noted are magnesium with ammonium and phosphate,
    and salts that crystallise from the ions of several others, most often
    potassium sulfate.

    Parameters
    ----------
    strengths : mapping of str to quantity
        Fertiliser id to grams in each litre of the *concentrate* [g/L], scalars.
    fertilisers : mapping of str to Fertiliser, optional
        Each by its id; the shipped salts if left out.
    coldest : quantity, optional
        Coldest temperature it will stand at [degC], 0 to 25.

    Returns
    -------
    list of Incompatibility
        Empty if all may stand together.

    Raises
    ------
    UnitError, RangeError, ArgumentError
        If a value cannot be used, or a fertiliser is unknown.
    InfeasibleError
        If the salts leave no room for water.

    Notes
    -----
    Rules, not an equilibrium: a rule applies once the geometric mean of the
    ions passes 14 mmol/L for gypsum (its solubility in pure water at 10 °C),
    7 mmol/L for calcium phosphate (at 7.2 IPHREEQC found the first of
    1500 random feeds saturated, at pH 5.5), and 1 and 20 mmol/L for
    iron phosphate and magnesium ammonium phosphate (common practice, no
    published source). Ready solutions, at one time the recipe, stay far below.
    Hoagland solution 1 all in one is refused from 3.2 times its strength on
    (calcium phosphate) and for gypsum from 4.5 times; its gypsum would stay
    dissolved to about 7 times (computed with IPHREEQC).

    Iron counts as chelated if its formula holds carbon or is not known.

    Warnings
    --------
    A list without entries is no promise: products with fillers, hard water and
    acid change what stays clear. Try a glassful first.

    Examples
    --------
    >>> both = {"calcium_nitrate": "118 g/L", "magnesium_sulfate": "49.3 g/L"}
    >>> [found] = incompatible(both)
    >>> found.settles, f"{found.at_most:.1f~P}"
    ('gypsum', '34.4 g/l')
    """
    shelved = shelf() if fertilisers is None else fertilisers
    grams, more = checked_amounts(
        "incompatible", "strengths", strengths, shelved, {"coldest": (coldest, "store_temperature")}
    )
    content = content_of.floats(grams, shelved)
    return incompatible_floats(grams, shelved, content, more["coldest"])


def checked_amounts(
    subject: str,
    field: str,
    amounts: Mapping[str, QuantityLike],
    fertilisers: Mapping[str, Fertiliser],
    others: Mapping[str, tuple[Any, str | Expect]],
) -> tuple[dict[str, float], dict[str, float]]:
    """Return fertiliser amounts as plain g/L and other arguments as plain floats.

    Raises
    ------
    ArgumentError
        With everything that is wrong at once: no mapping, an unknown
        fertiliser, an array where one number is due, a bad unit or range.
    """
    if not isinstance(amounts, Mapping) or not amounts:
        problem = Problem(field, str(amounts), tr("must map fertilisers to g/L, at least one"), "",
                          f'{field}={{"potassium_nitrate": "0.5 g/L"}}')  # fmt: skip
        raise argument_error([problem], subject)
    problems = [
        Problem(f"{field}[{name}]", str(value), tr("is not among the fertilisers"),
                ", ".join(fertilisers))
        for name, value in amounts.items()
        if name not in fertilisers
    ]  # fmt: skip
    keys = {f"{field}[{name}]": name for name in amounts}
    found: dict[str, Any] = {}
    try:
        found = checked_floats(
            subject, {key: (amounts[name], "salt_rate") for key, name in keys.items()} | {**others}
        )
    except ArgumentError as error:
        problems += error.problems
    problems += [
        Problem(key, str(value), tr("must be one number"), kind="range")
        for key, value in found.items()
        if np.ndim(value) > 0
    ]
    if problems:
        raise argument_error(problems, subject)
    return {name: found[key] for key, name in keys.items()}, {key: found[key] for key in others}


def incompatible_floats(
    grams: Mapping[str, float],
    fertilisers: Mapping[str, Fertiliser],
    content: Mapping[str, Any],
    coldest: float,
) -> list[Incompatibility]:
    """Return `incompatible` for plain g/L, the plain content they make [mg/L], and degC."""
    free_iron = sum(
        1000 * value * fertilisers[name].shares.get("Fe", 0.0)
        for name, value in grams.items()
        if _unchelated(fertilisers[name])
    )
    counted = {**content, "Fe": free_iron}
    carriers = {key: _carriers(key, counted, grams, fertilisers) for key in _NAMES}
    found = _by_rule(counted, carriers)
    return found + _by_common_ion(content, carriers, coldest, sum(grams.values()))


def incompatible_content(content: Mapping[str, QuantityLike]) -> list[Incompatibility]:
    """Return what settles in a concentrate of which only the content is known.

    Parameters
    ----------
    content : mapping of str to quantity
        Content of the *concentrate* [mg/L], scalars.

    Returns
    -------
    list of Incompatibility
        As `incompatible`, with ions for the names of fertilisers. Iron is taken
        as chelated, and potassium salts are not looked at.

    Raises
    ------
    UnitError, RangeError, ArgumentError
        If a value cannot be used.

    Examples
    --------
    >>> [found] = incompatible_content({"Ca": "20 g/L", "S": "6.4 g/L"})
    >>> found.first, found.second, found.settles
    ('calcium', 'sulfate', 'gypsum')
    """
    plain = checked_content(content, "incompatible_content")
    problems = [
        Problem(f"content[{key}]", str(value), tr("must be one number"), kind="range")
        for key, value in plain.items()
        if np.ndim(value) > 0
    ]
    if problems:
        raise argument_error(problems, "incompatible_content")
    return _by_rule({**plain, "Fe": 0.0}, {key: tr(name) for key, name in _NAMES.items()})


def require_compatible(
    strengths: Mapping[str, QuantityLike],
    fertilisers: Mapping[str, Fertiliser] | None = None,
    *,
    coldest: QuantityLike = "10 degC",
    place: str = "",
) -> tuple[Incompatibility, ...]:
    """Return the notes of `incompatible`; raise if anything is refused.

    Parameters
    ----------
    strengths, fertilisers, coldest
        As for `incompatible`.
    place : str, optional
        What to call the concentrate in the message.

    Returns
    -------
    tuple of Incompatibility
        Notes only.

    Raises
    ------
    InfeasibleError
        If something may not stand together: what, why, and how much settles.
    UnitError, RangeError, ArgumentError
        As `incompatible`.

    Examples
    --------
    >>> require_compatible({"calcium_nitrate": "118 g/L", "potassium_nitrate": "50 g/L"})
    ()
    """
    found = incompatible(strengths, fertilisers, coldest=coldest)
    refused = [str(row) for row in found if row.refused]
    if refused:
        raise InfeasibleError(
            tr(
                "{place} cannot hold these together: {clashes}",
                place=place or tr("one concentrate"),
                clashes=". ".join(refused),
            )
        )
    return tuple(found)


def is_micronutrient(fertiliser: Fertiliser) -> bool:
    """Return whether a fertiliser is given for its iron, manganese, zinc, boron, copper or Mo."""
    shares = fertiliser.shares
    main = sum(shares.get(key, 0.0) for key in ("N", "P", "K", "Ca", "Mg"))
    return sum(shares.get(key, 0.0) for key in _MICRO) > main


def _unchelated(fertiliser: Fertiliser) -> bool:
    """Return whether iron in it is a plain salt, by its formula."""
    if not fertiliser.formula or "Fe" not in fertiliser.shares:
        return False
    return atoms(fertiliser.formula)["C"] == 0


def _carriers(
    key: str,
    content: Mapping[str, Any],
    grams: Mapping[str, float],
    fertilisers: Mapping[str, Fertiliser],
) -> str:
    """Return the labels of those that bring a twentieth of a key or more."""
    least = content.get(key, 0.0) / 20
    return ", ".join(
        tr(fertilisers[name].label)
        for name, value in grams.items()
        if 0 < value * fertilisers[name].shares.get(key, 0.0) * 1000 >= least
        and (key != "Fe" or _unchelated(fertilisers[name]))
    )


def _millimoles(content: Mapping[str, Any], key: str) -> float:
    return float(content.get(key, 0.0)) / ATOMIC_MASSES[key.split("_")[0]]


def _by_rule(content: Mapping[str, Any], carriers: Mapping[str, str]) -> list[Incompatibility]:
    found = []
    for rule in _RULES:
        amounts = [_millimoles(content, key) for key in rule.keys]
        product = 1.0
        for amount in amounts:
            product *= amount
        if product ** (1 / len(amounts)) > rule.mean:
            grams = min(amounts) * formula_mass(rule.formula) / 1000
            first, second = carriers[rule.keys[0]], carriers[rule.keys[-1]]
            found.append(
                Incompatibility(first, second, tr(rule.settles), with_unit(grams, "g/L"),
                                tr(rule.reason), rule.refused)
            )  # fmt: skip
    return found


def _by_common_ion(
    content: Mapping[str, Any], carriers: Mapping[str, str], coldest: float, grams: float
) -> list[Incompatibility]:
    """Return a note for each salt that the ions of several fertilisers may form."""
    shares = common_ion_shares.floats(content, coldest, stock_water.floats(grams))
    salts, found = load("salts"), []
    for name, share in shares.items():
        ions = FORMED[name]
        first, second = (carriers[key] for key in ions)
        if share <= NOTED_SHARE or first == second:
            continue
        salt = salts[name]
        made = min(_millimoles(content, key) / count for key, count in ions.items())
        reason = tr(
            "their common ions bring {salt} to about {share:.2f} of saturation at {coldest:g} °C",
            salt=in_sentence(tr(salt.label)),
            share=share,
            coldest=coldest,
        )
        most = with_unit(made * formula_mass(salt.formula) / 1000, "g/L")
        found.append(
            Incompatibility(first, second, in_sentence(tr(salt.label)), most, reason, False)
        )
    return found
