"""A person's own fertilisers and targets, with the chemistry that a table leaves out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from scenariokit.catalog.cells import Decimal
from scenariokit.catalog.entries import Entries, Entry
from scenariokit.catalog.own import Merged
from scenariokit.catalog.own_feed import OwnRows, read_targets, with_own_fertilisers
from scenariokit.catalog.sources import Source
from scenariokit.nutrients.composition.chemistry import formula_mass
from scenariokit.nutrients.composition.contents import CONTENT
from scenariokit.nutrients.composition.fertilisers import fertiliser_from_row
from scenariokit.nutrients.composition.species import SPECIES

_PERCENTS = tuple(key for key in CONTENT if key != "HCO3")
_MILLI = {"mmol/L": 1.0, "umol/L": 1e-3}


def percents_of_row(row: Mapping[str, Any]) -> dict[str, Any]:
    """Return what follows from the formula or grade of a row.

    Parameters
    ----------
    row : mapping
        As for `fertiliser_from_row`.

    Returns
    -------
    dict
        Mass percent of every content key, ``N`` included, as plain floats;
        ``stock``; and ``molar_mass`` [g/mol], None for a product with a grade.

    Raises
    ------
    ArgumentError
        If the formula cannot be read or the label cannot be true.

    Examples
    --------
    >>> found = percents_of_row({"id": "mine", "grade": "13-0-46"})
    >>> round(found["K"], 2), found["N"], found["N_nitrate"], found["stock"]
    (38.19, 13.0, 0.0, 'either')
    """
    made = fertiliser_from_row(row)
    percents = {key: 100 * made.shares.get(key, 0.0) for key in _PERCENTS}
    mass = formula_mass(made.formula) if made.formula else None
    return {**percents, "stock": made.stock, "molar_mass": mass}


def own_fertilisers(
    source: Source, base: Entries | None = None, *, name: str = "", decimal: Decimal = "."
) -> Merged:
    r"""Return the fertiliser salts with those of a person's file added, percents worked out.

    Parameters
    ----------
    source : path, bytes or str
        A file with the columns of ``own_fertilisers``;
        `catalog.write_template("own_fertilisers")` makes an empty one.
    base : mapping, optional
        The salts to add to; the shipped ones if left out. It is not changed.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the file.

    Returns
    -------
    Merged
        As `catalog.with_own_fertilisers`, with every mass percent filled.
        `fertiliser_from_row` makes a fertiliser of each entry.

    Raises
    ------
    RecordError
        If no row can be read. Rows that cannot be used are listed under
        ``problems``, with file and row.

    Warnings
    --------
    The hazard words are what the person wrote: the maker's safety data sheet
    decides.

    Examples
    --------
    >>> text = "id,label,grade,nitrate [%],ammonium [%]\nmine,Mine,34-0-0,17,17\n"
    >>> merged = own_fertilisers(text)
    >>> fertiliser_from_row(merged.entries["mine"]).shares["N_ammonium"]
    0.17
    """
    return with_own_fertilisers(source, base, complete=percents_of_row, name=name, decimal=decimal)


def own_targets(source: Source, *, name: str = "", decimal: Decimal = ".") -> OwnRows:
    r"""Return the sets of targets of a person's file in mg/L.

    C [mg/L] = c [mmol/L] x M [g/mol], with M of the element.

    Parameters
    ----------
    source : path, bytes or str
        A file with the columns of ``own_targets``;
        `catalog.write_template("own_targets")` makes an empty one.
    name : str, optional
        The file's name for messages.
    decimal : {'.', ','}, optional
        The decimal sign of the file.

    Returns
    -------
    OwnRows
        As `catalog.read_targets`, every band in mg/L.

    Raises
    ------
    RecordError
        If no row can be read.

    Examples
    --------
    >>> found = own_targets("id,element,target,unit\nmine,Ca,5,mmol/L\n")
    >>> round(found.entries["mine"].bands["Ca"].target, 2)
    200.39
    """
    found = read_targets(source, name=name, decimal=decimal)
    entries = {
        key: entry.replace(
            bands=Entry({element: _in_milligrams(element, band) for element, band in
                         entry["bands"].items()})
        )
        for key, entry in found.entries.items()
    }  # fmt: skip
    return OwnRows(entries, found.problems)


def _in_milligrams(element: str, band: Entry) -> Entry:
    """Return a band in mg/L."""
    if band["unit"] not in _MILLI:
        return band
    factor = _MILLI[band["unit"]] * SPECIES[element].molar_mass
    numbers = {
        name: band[name] * factor for name in ("low", "target", "high") if band[name] is not None
    }
    return band.replace(unit="mg/L", **numbers)
