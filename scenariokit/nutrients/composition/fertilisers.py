"""Fertilisers from a formula, from a label, from a table, and those shipped."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, get_args

from scenariokit.catalog.entries import load
from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients.composition.chemistry import (
    AMMONIUM,
    ATOMIC_MASSES,
    NITRATE,
    atoms,
    formula_mass,
)
from scenariokit.nutrients.composition.contents import CONTENT, content_of
from scenariokit.nutrients.composition.labels import label_shares
from scenariokit.nutrients.composition.product import ELEMENTS, Fertiliser, Kind, StockKind
from scenariokit.quantities import with_unit

__all__ = [
    "Fertiliser",
    "content_of",
    "fertiliser_from_formula",
    "fertiliser_from_label",
    "fertiliser_from_row",
    "shelf",
]

_ACIDS = ("HNO3", "H3PO4", "H2SO4")
_UREA = {"C": 1, "H": 4, "N": 2, "O": 1}


def fertiliser_from_formula(
    formula: str, *, id: str = "", label: str = "", stock: StockKind | None = None, hazard: str = ""
) -> Fertiliser:
    """Return a pure salt or acid from its chemical formula.

    Share of element = atoms x atomic mass / formula mass.

    Parameters
    ----------
    formula : str
        For example ``"KNO3"`` or ``"Ca(NO3)2.4H2O"``; see `molar_mass`.
    id, label : str, optional
        Names; the formula if left out.
    stock : {'calcium', 'sulfate_phosphate', 'either'}, optional
        If left out: calcium for what holds calcium and for chelated iron (it
        is kept from phosphate), sulfate_phosphate for what holds sulfur or
        phosphorus, else either.
    hazard : str, optional
        Short plain words of caution.

    Returns
    -------
    Fertiliser
        Its kind is ``"acid"`` for HNO3, H3PO4 and H2SO4, then of the pure acid,
        not of the solution that is sold.

    Raises
    ------
    ArgumentError
        If the formula cannot be read, or holds nothing that is counted here.

    Notes
    -----
    Nitrogen bound in an organic chelate feeds no plant and is not counted.
    H, C, O and elements that are no nutrient here (Si, Co, Ni, Se, I, ...) are
    left out.

    Warnings
    --------
    No hazard words come with a formula: read the safety data sheet. Strong
    acids burn; acid goes into water, never water into acid.

    Examples
    --------
    >>> salt = fertiliser_from_formula("KNO3")
    >>> salt.stock, round(salt.shares["K"], 4)
    ('either', 0.3867)
    """
    counts = atoms(formula)
    shares = _formula_shares(formula)
    if not shares:
        reason = tr("holds nothing that is counted as a nutrient")
        raise argument_error(
            [Problem("formula", formula, reason, ", ".join(ELEMENTS))], "fertiliser_from_formula"
        )
    return Fertiliser(
        id=id or formula,
        label=label or formula,
        shares=shares,
        stock=stock or _stock_of(counts),
        hazard=hazard,
        formula=formula,
        kind="acid" if formula.replace(" ", "") in _ACIDS else "salt",
        source=mark("computed from the formula and IUPAC abridged atomic masses"),
        status="computed",
    )


def _formula_shares(formula: str) -> dict[str, float]:
    """Return the share of each content key in a pure compound; zeros left out."""
    counts, mass = atoms(formula), formula_mass(formula)
    nitrogen = ATOMIC_MASSES["N"] / mass
    shares = {
        "N_nitrate": counts[NITRATE] * nitrogen,
        "N_ammonium": counts[AMMONIUM] * nitrogen,
    }
    if {name: count for name, count in counts.items() if count} == _UREA:
        shares["N_urea"] = counts["N"] * nitrogen
    elif not counts["C"]:
        shares["N"] = counts["N"] * nitrogen
    for element in ELEMENTS:
        if element != "N":
            shares[element] = counts[element] * ATOMIC_MASSES[element] / mass
    return {key: share for key, share in shares.items() if share > 0}


def _stock_of(counts: Mapping[str, int]) -> StockKind:
    """Return the stock of a salt by what it holds."""
    if counts.get("Ca", 0) or (counts.get("C", 0) and counts.get("Fe", 0)):
        return "calcium"
    if counts.get("S", 0) or counts.get("P", 0):
        return "sulfate_phosphate"
    return "either"


def fertiliser_from_label(
    grade: Any,
    *,
    id: str = "",
    label: str = "",
    stock: StockKind | None = None,
    hazard: str = "",
    **declared: Any,
) -> Fertiliser:
    """Return a product from what its label declares.

    Parameters
    ----------
    grade : str or sequence of three
        N-P2O5-K2O in mass percent, such as ``"15.5-0-0"``.
    id, label : str, optional
        Names; the grade if left out.
    stock : {'calcium', 'sulfate_phosphate', 'either'}, optional
        If left out, by what the label declares. A label with calcium beside
        phosphate or sulfur needs it told.
    hazard : str, optional
        Short plain words of caution.
    **declared
        ``calcium``, ``magnesium``, ``sulfur`` with ``stated_as``; ``nitrate``,
        ``ammonium``, ``urea``; ``micronutrients``: see `label_shares`.

    Returns
    -------
    Fertiliser
        Of kind ``"labelled"``. Without a declared split its nitrogen is of
        unknown form: only ``N`` is there.

    Raises
    ------
    UnitError, RangeError, ArgumentError
        As `label_shares`; and if the stock must be told.

    Notes
    -----
    A label does not say of which salts the product is made: chloride and sodium
    that are not declared are taken as none.

    Warnings
    --------
    The maker's safety data sheet decides about hazards. A product that holds
    calcium beside phosphate or sulfate settles out in a concentrate.

    Examples
    --------
    >>> product = fertiliser_from_label(
    ...     "15.5-0-0", calcium="19 %", stated_as="element", nitrate="14.4 %", ammonium="1.1 %"
    ... )
    >>> product.stock, round(product.shares["N_ammonium"], 4)
    ('calcium', 0.011)
    """
    shares = {key: share.m_as("") for key, share in label_shares(grade, **declared).items()}
    text = grade if isinstance(grade, str) else "-".join(str(part) for part in grade)
    if stock is None:
        if "Ca" in shares and ("P" in shares or "S" in shares):
            reason = tr("must be told, for the label has calcium beside phosphate or sulfur")
            problem = Problem("stock", "", reason, ", ".join(get_args(StockKind)))
            raise argument_error([problem], "fertiliser_from_label")
        stock = _stock_of({key: 1 for key in ("Ca", "P", "S") if key in shares})
    return Fertiliser(
        id=id or text,
        label=label or text,
        shares=shares,
        stock=stock,
        hazard=hazard,
        kind="labelled",
        source=mark("the label"),
        status="own",
    )


_DECLARED = ("calcium", "magnesium", "sulfur", "nitrate", "ammonium", "urea")
_TRACES = {
    "Fe": "iron", "Mn": "manganese", "Zn": "zinc", "B": "boron", "Cu": "copper",
    "Mo": "molybdenum", "Cl": "chlorine", "Na": "sodium",
}  # fmt: skip


def fertiliser_from_row(row: Mapping[str, Any]) -> Fertiliser:
    """Return a fertiliser from a row of the catalogue or of a person's own table.

    Parameters
    ----------
    row : mapping
        ``id``, ``label``, ``stock`` and mass percents as plain floats under the
        content keys (``N``, ``N_nitrate``, ..., ``Mo``). Where it has none of
        these, a ``grade`` with the percents the label declares is used, else
        the ``formula``.

    Returns
    -------
    Fertiliser

    Raises
    ------
    ArgumentError
        If the row holds neither percents, nor a grade, nor a formula, or they
        cannot be true.

    Warnings
    --------
    As `Fertiliser`: the words under ``hazard`` do not replace the maker's
    safety data sheet.

    Examples
    --------
    >>> from scenariokit import catalog
    >>> salt = fertiliser_from_row(catalog.salts()["potassium_nitrate"])
    >>> salt.stock, round(salt.shares["N_nitrate"], 5)
    ('either', 0.13854)
    """
    name = str(row.get("id", ""))
    named: dict[str, Any] = {
        "id": name,
        "label": row.get("label") or name,
        "stock": row.get("stock") or None,
        "hazard": row.get("hazard") or "",
    }
    percents = {key: row[key] for key in CONTENT if row.get(key) is not None}
    formula = row.get("formula") or ""
    if percents:
        made = _from_percents(row, percents, named)
    elif row.get("grade"):
        made = fertiliser_from_label(row["grade"], **named, **_declared(row))
    elif formula:
        made = fertiliser_from_formula(formula, **named)
    else:
        reason = tr("holds neither mass percents, nor a grade, nor a formula")
        raise argument_error([Problem("row", name, reason)], "fertiliser_from_row")
    if not (row.get("source") or row.get("status")):
        return made
    return Fertiliser(
        made.id, made.label, made.shares, made.stock, made.hazard, made.formula, made.kind,
        row.get("source") or made.source, row.get("status") or made.status,
    )  # fmt: skip


def _from_percents(
    row: Mapping[str, Any], percents: Mapping[str, float], named: dict[str, Any]
) -> Fertiliser:
    """Return a fertiliser whose row gives the mass percent of every content key."""
    formula = row.get("formula") or ""
    acid = formula.replace(" ", "") in _ACIDS
    kind: Kind = "acid" if acid else "labelled" if row.get("grade") else "salt"
    if named["stock"] is None:
        named["stock"] = _stock_of({key: 1 for key, value in percents.items() if value > 0})
    shares = {key: value / 100 for key, value in percents.items()}
    return Fertiliser(shares=shares, formula=formula, kind=kind, **named)


def _declared(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return what a row with a grade declares besides, as arguments of `label_shares`."""
    found: dict[str, Any] = {
        name: with_unit(row[name], "percent") for name in _DECLARED if row.get(name) is not None
    }
    traces = {
        element: with_unit(row[name], "percent")
        for element, name in _TRACES.items()
        if row.get(name) is not None
    }
    if traces:
        found["micronutrients"] = traces
    if row.get("stated_as"):
        found["stated_as"] = row["stated_as"]
    return found


def shelf(ids: Iterable[str] | None = None) -> dict[str, Fertiliser]:
    """Return shipped salts as fertilisers by their id.

    Parameters
    ----------
    ids : iterable of str, optional
        Which ones, in this order; all if left out.

    Returns
    -------
    dict of str to Fertiliser

    Raises
    ------
    ArgumentError
        With every id that is not in the catalogue.

    Examples
    --------
    >>> list(shelf(["potassium_nitrate", "magnesium_sulfate"]))
    ['potassium_nitrate', 'magnesium_sulfate']
    """
    salts = load("salts")
    if isinstance(ids, str):
        problem = Problem("ids", ids, tr("is one text; give a list"), "", f'ids=["{ids}"]')
        raise argument_error([problem], "shelf")
    names = list(salts if ids is None else ids)
    unknown = [
        Problem("ids", str(name), tr("is not in the catalogue of salts"), ", ".join(salts))
        for name in names
        if name not in salts
    ]
    if unknown:
        raise argument_error(unknown, "shelf")
    return {name: fertiliser_from_row(salts[name]) for name in names}
