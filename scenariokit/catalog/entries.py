"""The shipped catalogue: loaded when first asked for, checked, and joined."""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterable, Iterator, Mapping
from importlib.resources import files
from types import MappingProxyType
from typing import Any, NoReturn, TypeAlias

from scenariokit.catalog import checks
from scenariokit.catalog.fields import schema
from scenariokit.catalog.tables import Table, read_table
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr


class Entry(Mapping[str, Any]):
    """One row of the catalogue: frozen, read as ``entry["id"]`` or ``entry.id``.

    Values are plain floats in the unit that `field_unit` gives, and texts.
    """

    __slots__ = ("_values",)
    _values: dict[str, Any]

    def __init__(self, values: Mapping[str, Any]) -> None:
        object.__setattr__(self, "_values", dict(values))

    def __getitem__(self, key: str) -> Any:
        return self._values[key]

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)

    def __getattr__(self, name: str) -> Any:
        if not name.startswith("_") and name in self._values:
            return self._values[name]
        raise AttributeError(f"no {name!r} here; there is {', '.join(self._values)}")

    def __setattr__(self, name: str, value: Any) -> NoReturn:
        raise AttributeError("an entry cannot be changed; use entry.replace(...)")

    def __delattr__(self, name: str) -> NoReturn:
        raise AttributeError("an entry cannot be changed; use entry.replace(...)")

    def __hash__(self) -> int:
        return hash(frozenset(self._values.items()))

    def __reduce__(self) -> tuple[Any, ...]:
        return (Entry, (self._values,))

    def __repr__(self) -> str:
        return f"Entry({self._values!r})"

    def replace(self, **changes: Any) -> Entry:
        """Return a copy with some values changed.

        Raises
        ------
        AttributeError
            If a name is not there.
        """
        for name in changes:
            if name not in self._values:
                raise AttributeError(f"no {name!r} here; there is {', '.join(self._values)}")
        return Entry({**self._values, **changes})


Entries: TypeAlias = Mapping[str, Entry]

UPTAKE_ELEMENTS = ("N", "P", "K", "Ca", "Mg", "S")
"""Elements whose uptake by the whole plant is given for every crop."""


@functools.cache
def shipped_table(name: str, table: str = "") -> Table:
    """Return a shipped data file, read by the schema `table` (its own name if left out)."""
    text = files("scenariokit.catalog").joinpath("data", f"{name}.csv").read_text(encoding="utf-8")
    return read_table(text, table or name, name=f"{name}.csv").require()


def entry_of(row: Mapping[str, Any]) -> Entry:
    """Return a row of a table as an entry, without its row number."""
    return Entry({key: value for key, value in row.items() if key != "_row"})


def field_unit(table: str, field: str) -> str:
    """Return the unit of a column of the catalogue.

    Parameters
    ----------
    table, field : str
        For example ``"methods"``, ``"volume_per_plant"``.

    Raises
    ------
    KeyError
        If there is no such table or column; the message lists those there are.

    Examples
    --------
    >>> from scenariokit.catalog import field_unit
    >>> field_unit("methods", "volume_per_plant")
    'L'
    """
    return schema(table).field(field).unit


def load(kind: str) -> Entries:
    """Return the shipped rows of one kind by their id.

    Parameters
    ----------
    kind : str
        methods, crops, media, mixes, sheets, salts, recipes, targets, supplies, sites,
        or items (everything that has a price).

    Raises
    ------
    KeyError
        If there is no such kind; the message lists them.
    RecordError
        If a data file was damaged.

    Examples
    --------
    >>> from scenariokit import catalog
    >>> catalog.load("crops")["potato"].salinity_threshold
    1.7
    """
    if kind not in _LOADERS:
        raise KeyError(f"no kind is called {kind!r}; known: {', '.join(sorted(_LOADERS))}")
    return _loaded(kind)


@functools.cache
def _loaded(kind: str) -> Entries:
    return MappingProxyType(dict(_LOADERS[kind]()))


def _by_id(name: str) -> dict[str, Entry]:
    return {row["id"]: entry_of(row) for row in shipped_table(name).rows}


def checked_rows(table: Table, find: Callable[[checks.Values], list[Problem]]) -> list[Any]:
    """Return the rows of a shipped table; raise if `find` finds anything in them."""
    rows, problems = checks.sort_rows(table.rows, table.name, find)
    if problems:
        raise RecordError(problems, table.name)
    return rows


def _load_media() -> dict[str, Entry]:
    rows = checked_rows(shipped_table("media"), checks.medium_problems)
    return {row["id"]: entry_of(row) for row in rows}


def _load_mixes() -> dict[str, Entry]:
    table, media = shipped_table("mixes"), load("media")
    rows = checked_rows(table, lambda row: checks.unknown_problems(row, "component", media))
    mixes = single_mixes(media)
    for mix, parts in _grouped(rows, "mix", ("label", "mixing_loss"), table.name).items():
        shares = sum(row["share"] for row in parts)
        if abs(shares - 1) > 1e-9:
            problem = Problem(
                "share", f"{shares:g}", tr("the shares of {mix} do not add to 1", mix=mix)
            )
            raise RecordError([problem], table.name)
        components = tuple((row["component"], row["share"]) for row in parts)
        first = {key: parts[0][key] for key in ("label", "mixing_loss", "source", "status", "note")}
        mixes[mix] = Entry({"id": mix, **first, "components": components})
    return mixes


def single_mixes(media: Entries) -> dict[str, Entry]:
    """Return for each growing medium the mix that consists of it alone."""
    return {
        name: Entry(
            {
                "id": name,
                "label": f"{medium.label} alone",
                "components": ((name, 1.0),),
                "mixing_loss": 0.0,
                "source": "definition",
                "status": "computed",
                "note": "",
            }
        )
        for name, medium in media.items()
    }


def _load_recipes() -> dict[str, Entry]:
    table, salts = shipped_table("recipes"), load("salts")
    rows = checked_rows(table, lambda row: checks.unknown_problems(row, "salt", salts))
    groups = _grouped(rows, "recipe", ("label", "ec_full_strength"), table.name)
    return {recipe: _recipe(recipe, parts) for recipe, parts in groups.items()}


def _recipe(recipe: str, parts: list[Any]) -> Entry:
    """Return a nutrient solution from its rows, one for each salt."""
    first = {
        key: parts[0][key] for key in ("label", "ec_full_strength", "source", "status", "note")
    }
    rates = Entry({row["salt"]: row["rate"] for row in parts})
    return Entry({"id": recipe, **first, "salts": rates})


def _load_targets() -> dict[str, Entry]:
    table = shipped_table("targets")
    rows = checked_rows(table, checks.band_problems)
    groups = _grouped(rows, "id", ("label",), table.name)
    keys = ("low", "target", "high", "source", "status", "note")
    return {
        name: Entry(
            {
                "id": name,
                "label": parts[0]["label"],
                "bands": Entry({row["element"]: Entry({k: row[k] for k in keys}) for row in parts}),
            }
        )
        for name, parts in groups.items()
    }


def _grouped(
    rows: Iterable[Any], key: str, shared: tuple[str, ...], file: str
) -> dict[str, list[Any]]:
    """Return the rows of each `key`; refuse groups whose `shared` columns differ."""
    groups: dict[str, list[Any]] = {}
    problems = []
    for row in rows:
        group = groups.setdefault(row[key], [])
        group.append(row)
        problems += [
            Problem(name, str(row[name]), tr("differs from row {row} of {row2}", row=group[0]['_row'], row2=row[key]),
                    str(group[0][name]), file=file, row=row["_row"])
            for name in shared
            if row[name] != group[0][name]
        ]  # fmt: skip
    if problems:
        raise RecordError(problems, file)
    return groups


def _load_sites() -> dict[str, Entry]:
    sites, table = _by_id("sites"), shipped_table("site_climate")
    rows = checked_rows(table, lambda row: checks.unknown_problems(row, "site", sites))
    months: dict[str, list[Entry]] = {site: [] for site in sites}
    for row in sorted(rows, key=lambda row: row["month"]):
        months[row["site"]].append(entry_of(row))
    short = [site for site, found in months.items() if len(found) != 12]
    if short:
        problem = Problem(
            "month", "", tr("twelve months are needed for {names}", names=", ".join(short))
        )
        raise RecordError([problem], table.name)
    return {name: Entry({**site, "climate": tuple(months[name])}) for name, site in sites.items()}


def _load_crops() -> dict[str, Entry]:
    rows = checked_rows(
        shipped_table("crops"),
        lambda row: checks.unknown_problems(row, "planting_item", load("supplies")),
    )
    uptake = _uptake_of({row["id"]: row for row in rows})
    return {row["id"]: Entry({**entry_of(row), **uptake[row["id"]]}) for row in rows}


def _uptake_of(crops: Mapping[str, Any]) -> dict[str, dict[str, Entry]]:
    """Return for each crop what the whole plant takes up, and between which bounds, in g/kg."""
    table = shipped_table("plant_uptake")
    rows = checked_rows(table, lambda row: checks.uptake_problems(row, crops))
    found: dict[str, dict[str, Entry]] = {}
    for name, crop in crops.items():
        typical, bounds = {}, {}
        for row in (row for row in rows if row["crop"] == name):
            scale = crop[f"removal_{row['element']}"] if row["basis"] == "produce" else 1.0
            # Rounded, so that a product reads like a number that a person wrote.
            low, middle, high = (
                round(row[f"uptake_{part}"] * scale, 6) for part in ("low", "typical", "high")
            )
            typical[row["element"]], bounds[row["element"]] = middle, (low, high)
        missing = [element for element in UPTAKE_ELEMENTS if element not in typical]
        if missing:
            problem = Problem("element", ", ".join(missing), tr("has no row for {name}", name=name))
            raise RecordError([problem], table.name)
        found[name] = {"uptake": Entry(typical), "uptake_bounds": Entry(bounds)}
    return found


def _load_methods() -> dict[str, Entry]:
    table = shipped_table("methods")
    rows = checked_rows(
        table,
        lambda row: [
            *checks.method_problems(row),
            *checks.unknown_problems(row, "mix", load("mixes")),
            *checks.unknown_problems(row, "sheet", load("sheets")),
        ],
    )
    names = [row["id"] for row in rows]
    supplies, yields, labour = _supplies_of(names), _yields_of(names), labour_shares()
    return {
        row["id"]: Entry(
            {
                **entry_of(row),
                "supplies": supplies[row["id"]],
                "yields": Entry(yields[row["id"]]),
                "labour_shares": labour.get(row["id"], labour[ANY_METHOD]),
            }
        )
        for row in rows
    }


def labour_shares() -> dict[str, Entry]:
    """Return for each method, and for `ANY_METHOD`, which share of its labour each task takes."""
    rows = checked_rows(shipped_table("labour_tasks"), checks.labour_problems)
    return {row["method"]: Entry({task: row[task] for task in checks.TASKS}) for row in rows}


def _supplies_of(methods: list[str]) -> dict[str, tuple[Entry, ...]]:
    known = load("items")
    rows = checked_rows(
        shipped_table("method_supplies"),
        lambda row: [
            *checks.unknown_problems(row, "method", methods),
            *checks.unknown_problems(row, "item", known),
        ],
    )
    return {
        method: tuple(entry_of(row) for row in rows if row["method"] == method)
        for method in methods
    }


def _yields_of(methods: list[str]) -> dict[str, dict[str, tuple[float, float, float]]]:
    crops = load("crops")
    rows = checked_rows(
        shipped_table("method_yields"),
        lambda row: [
            *checks.yield_problems(row),
            *checks.unknown_problems(row, "method", methods),
            *checks.unknown_problems(row, "crop", crops),
        ],
    )
    found: dict[str, dict[str, tuple[float, float, float]]] = {method: {} for method in methods}
    for row in rows:
        found[row["method"]][row["crop"]] = (
            row["yield_low"], row["yield_typical"], row["yield_high"],
        )  # fmt: skip
    return found


def _load_items() -> dict[str, Entry]:
    return items_of(load("media"))


def items_of(media: Entries) -> dict[str, Entry]:
    """Return everything that has a price: `media`, and the shipped sheets, salts and supplies."""
    rows = [(name, medium.label, "medium", "L") for name, medium in media.items()]
    rows += [(name, sheet.label, "sheet", "m^2") for name, sheet in load("sheets").items()]
    rows += [(name, salt.label, "salt", "kg") for name, salt in load("salts").items()]
    rows += [
        (name, supply.label, supply.kind, supply.pricing_unit)
        for name, supply in load("supplies").items()
    ]
    keys = ("id", "label", "kind", "pricing_unit")
    return {row[0]: Entry(dict(zip(keys, row, strict=True))) for row in rows}


ANY_METHOD = "any"
"""The row of ``labour_tasks`` for methods that have none of their own."""

_LOADERS: dict[str, Callable[[], dict[str, Entry]]] = {
    "methods": _load_methods,
    "crops": _load_crops,
    "media": _load_media,
    "mixes": _load_mixes,
    "sheets": functools.partial(_by_id, "sheets"),
    "salts": functools.partial(_by_id, "salts"),
    "solubility": functools.partial(_by_id, "solubility"),
    "recipes": _load_recipes,
    "supplies": functools.partial(_by_id, "supplies"),
    "sites": _load_sites,
    "items": _load_items,
    "acids": functools.partial(_by_id, "acids"),
    "waters": functools.partial(_by_id, "waters"),
    "targets": _load_targets,
}
