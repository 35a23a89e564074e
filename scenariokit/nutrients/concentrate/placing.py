"""Which fertiliser stands in which stock, and what speaks against it; on plain floats."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

from scenariokit.catalog.entries import load
from scenariokit.language import tr
from scenariokit.nutrients.composition.fertilisers import Fertiliser, content_of
from scenariokit.nutrients.concentrate.compatibility import incompatible_floats, is_micronutrient
from scenariokit.nutrients.concentrate.solubility import (
    LITRES_PER_KG,
    common_ion_shares,
    known_solubility,
)
from scenariokit.nutrients.concentrate.stock_plan import in_sentence

LETTERS = ("A", "B", "C")
"""Calcium; sulfate and phosphate; micronutrients."""

Part: TypeAlias = dict[str, float]
"""Fertiliser id to its strength in one stock [g/L]."""

Parts: TypeAlias = dict[str, Part]
"""Letter of a stock to what it holds."""


@dataclass(frozen=True)
class Setup:
    """The rules by which fertilisers are placed; `coldest` in degC."""

    fertilisers: Mapping[str, Fertiliser]
    stocks: int
    coldest: float
    margin: float
    assign: Mapping[str, str]


class Checked(NamedTuple):
    """A `SolubilityCheck` in plain floats [g/L]."""

    salt: str
    strength: float
    limit: float | None
    share: float | None
    ok: bool | None
    together: bool = False


def arranged(strengths: Mapping[str, float], setup: Setup) -> Parts:
    """Return which stock holds how much of each fertiliser [g/L].

    If B holds anything beyond the margin, half of each main salt that may stand
    in either stock goes into A.
    """
    parts: Parts = {letter: {} for letter in LETTERS[: setup.stocks]}
    for name, strength in strengths.items():
        parts[_letter(name, setup)][name] = strength
    if setup.stocks > 1 and not all(_within(row, setup) for row in checked_part(parts["B"], setup)):
        for name in [name for name in parts["B"] if _is_free(name, setup)]:
            parts["A"][name] = parts["B"][name] = parts["B"][name] / 2
    return parts


def _letter(name: str, setup: Setup) -> str:
    """Return the letter of the stock for a fertiliser."""
    fertiliser = setup.fertilisers[name]
    if name in setup.assign:
        return setup.assign[name]
    if setup.stocks == 1 or fertiliser.stock == "calcium":
        return "A"
    return "C" if setup.stocks == 3 and is_micronutrient(fertiliser) else "B"


def _is_free(name: str, setup: Setup) -> bool:
    """Return whether a fertiliser is a main one that may stand in either stock."""
    fertiliser = setup.fertilisers[name]
    return (
        fertiliser.stock == "either"
        and name not in setup.assign
        and not is_micronutrient(fertiliser)
    )


def _within(row: Checked, setup: Setup) -> bool:
    return row.share is None or row.share <= setup.margin


def checked_part(part: Part, setup: Setup) -> list[Checked]:
    """Return whether each salt of a stock stays dissolved, alone and by common ions."""
    water = 1 - LITRES_PER_KG * sum(part.values()) / 1000
    if water <= 0:
        return [
            Checked(name, strength, 0.0, float("inf"), False) for name, strength in part.items()
        ]
    found = []
    for name, strength in part.items():
        alone = known_solubility(setup.fertilisers[name], setup.coldest)
        if alone is None:
            found.append(Checked(name, strength, None, None, None))
            continue
        limit = float(alone) * water
        share = float(strength) / limit
        found.append(Checked(name, strength, limit, share, share <= setup.margin))
    return found + _checked_together(part, water, setup)


def _checked_together(part: Part, water: float, setup: Setup) -> list[Checked]:
    """Return the salts that several fertilisers bring beyond the margin by common ions."""
    content = content_of.floats(part, setup.fertilisers)
    found = []
    for name, share in common_ion_shares.floats(content, setup.coldest, water).items():
        alone = known_solubility(name, setup.coldest)
        near = float(share)
        if near <= setup.margin or alone is None or _is_one_salt(name, part, setup):
            continue
        limit = float(alone) * water
        found.append(Checked(name, near * limit, limit, near, near <= 1, True))
    return found


def _is_one_salt(name: str, part: Part, setup: Setup) -> bool:
    """Return whether a stock holds that salt and nothing else: no other ions are near."""
    formula = load("salts")[name].formula
    return all(setup.fertilisers[other].formula == formula for other in part)


def refusals(parts: Parts, setup: Setup) -> list[str]:
    """Return what forbids these stocks; empty if they may be made."""
    found = []
    for letter, part in parts.items():
        if sum(part.values()) * LITRES_PER_KG >= 1000:
            found.append(
                tr(
                    "Stock {letter} would hold {grams:.0f} g of salts in a litre, which leave no room for "
                    "water",
                    letter=letter,
                    grams=sum(part.values()),
                )
            )
            continue
        clashes = incompatible_floats(
            part, setup.fertilisers, content_of.floats(part, setup.fertilisers), setup.coldest
        )
        found += [
            tr("Stock {letter}: {clash}", letter=letter, clash=row)
            for row in clashes
            if row.refused
        ]
        found += [
            tr("Stock {letter}: {reason}", letter=letter, reason=_too_strong(row, setup))
            for row in checked_part(part, setup)
            if row.ok is False
        ]
    return found


def _too_strong(row: Checked, setup: Setup) -> str:
    """Return in words why a salt would not stay dissolved."""
    if row.together:
        label = in_sentence(tr(load("salts")[row.salt].label))
        return tr(
            "its common ions would drop {salt} at {cold:g} °C, at {share:.2f} of saturation",
            salt=label,
            cold=setup.coldest,
            share=row.share,
        )
    label, limit = in_sentence(tr(setup.fertilisers[row.salt].label)), row.limit or 0.0
    return tr(
        "{salt} at {strength:.1f} g/L would not stay dissolved: at {cold:g} °C a litre holds "
        "{limit:.1f} g, of which the margin of {margin:g} allows {allowed:.1f} g",
        salt=label,
        strength=row.strength,
        cold=setup.coldest,
        limit=limit,
        margin=setup.margin,
        allowed=setup.margin * limit,
    )


def noted(parts: Parts, setup: Setup) -> list[str]:
    """Return what to keep an eye on in stocks that are not refused."""
    found = []
    if setup.stocks > 1:
        found += [
            tr(
                "Half of the {salt} stands in A: B would come too near to saturation with all "
                "of it",
                salt=in_sentence(tr(setup.fertilisers[name].label)),
            )
            for name in parts["B"]
            if name in parts["A"]
        ]
    for letter, part in parts.items():
        content = content_of.floats(part, setup.fertilisers)
        rows = incompatible_floats(part, setup.fertilisers, content, setup.coldest)
        found += [tr("Stock {letter}: {clash}", letter=letter, clash=row) for row in rows]
        found += [
            tr(
                "Stock {letter}: the solubility of {salt} is not known here; try a glassful, "
                "and leave it a night at the coldest",
                letter=letter,
                salt=in_sentence(tr(setup.fertilisers[row.salt].label)),
            )
            for row in checked_part(part, setup)
            if row.limit is None
        ]
    return found
