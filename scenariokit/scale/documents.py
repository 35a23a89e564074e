"""A grid as one versioned JSON document, with what is drawn in it."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import json
import math
from importlib.resources import files
from typing import Any

from scenariokit import __version__
from scenariokit.errors import ScenarioFileError
from scenariokit.language import mark, tr
from scenariokit.scale.grid import Grid
from scenariokit.uncertainty import Cause, Spread, Uncertain, Uncertainty

FORMAT = "scenariokit/grid"
VERSION = 1
MOST_BYTES = 1_000_000
NOTES, RUN = "notes", "run"
"""Parts of a document beside the grid: what a person wrote for others, and how it was run."""

_JSON_KINDS: dict[str, tuple[type | tuple[type, ...], str]] = {
    "str": (str, mark("a text")),
    "bool": (bool, mark("true or false")),
    "float": ((int, float), mark("a number")),
}
_NUMBERS = {"fixed": 1, "uniform": 2, "triangular": 3, "pert": 3, "normal": 2, "lognormal": 2,
            "student": 3}  # fmt: skip
"""How many numbers fix a distribution."""


@dataclasses.dataclass(frozen=True)
class Origin:
    """What numbers come from besides their grid: they may only stand beside those of the same.

    Parameters
    ----------
    version : str
        Of scenariokit.
    catalogue : str
        Fingerprint of the rows that it ships.
    """

    version: str
    catalogue: str

    def __str__(self) -> str:
        """Return it in words."""
        return tr(
            "scenariokit {version} with catalogue {catalogue}",
            version=self.version,
            catalogue=self.catalogue,
        )


@functools.cache
def origin() -> Origin:
    """Return which scenariokit this is."""
    found = hashlib.sha256()
    tables = files("scenariokit.catalog").joinpath("data")
    for table in sorted(tables.iterdir(), key=lambda one: one.name):
        if table.name.endswith(".csv"):
            found.update(table.name.encode())
            found.update(table.read_bytes())
    return Origin(__version__, found.hexdigest()[:12])


# -- writing -------------------------------------------------------------------------


def save_grid(grid: Grid, **beside: Any) -> str:
    """Return a grid as JSON text.

    Parameters
    ----------
    grid : Grid
        Any.
    **beside
        ``notes`` or ``run``: what else stands in the document. Neither counts
        for the grid's digest.

    Examples
    --------
    >>> from scenariokit.scale import Grid, load_grid, save_grid
    >>> grid = Grid(("medium_bag", "wedge_pots"), draws=64)
    >>> load_grid(save_grid(grid)) == grid
    True
    """
    body = {one.name: getattr(grid, one.name) for one in dataclasses.fields(Grid)}
    body["uncertainty"] = None if grid.uncertainty is None else _plain(grid.uncertainty)
    document = {"format": FORMAT, "version": VERSION, **beside, "grid": body}
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _plain(value: Any) -> Any:
    """Return a dataclass as plain types, without what is at its default."""
    if isinstance(value, tuple):
        return [_plain(one) for one in value]
    if not dataclasses.is_dataclass(value):
        return value
    return {
        one.name: _plain(getattr(value, one.name))
        for one in dataclasses.fields(value)
        if one.init and getattr(value, one.name) != one.default
    }


# -- reading -------------------------------------------------------------------------


def load_grid(text: str | bytes, name: str = "grid file") -> Grid:
    """Return the grid that a JSON text holds.

    Parameters
    ----------
    text : str or bytes
        What `save_grid` wrote, or a person after its example.
    name : str
        The file's name, for messages.

    Raises
    ------
    ScenarioFileError
        If it is no grid, of a newer version, or has an unknown, missing or
        unreadable field; the message names the field.
    """
    return load_document(text, name)[0]


def load_document(text: str | bytes, name: str) -> tuple[Grid, dict[str, Any]]:
    """Return the grid that a JSON text holds, and how it was run, if the text says so."""
    if len(text) > MOST_BYTES:
        raise ScenarioFileError(
            tr(
                "{name}: is longer than the {most:,} that a grid may have",
                name=name,
                most=MOST_BYTES,
            )
        )
    try:
        document = json.loads(text)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ScenarioFileError(
            tr("{name}: is not a JSON document ({error})", name=name, error=error)
        ) from error
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise ScenarioFileError(
            tr('{name}: is not a grid (its "format" is not "{format}")', name=name, format=FORMAT)
        )
    if document.get("version") != VERSION:
        raise ScenarioFileError(
            tr(
                '{name}: "version" = {given!r}; this scenariokit reads {known}',
                name=name,
                given=document.get("version"),
                known=VERSION,
            )
        )
    _refuse_unknown(document, ("format", "version", "grid", NOTES, RUN), name)
    body = _body(document.get("grid"), Grid, f"{name}: grid")
    if body.get("uncertainty") is not None:
        body["uncertainty"] = _uncertainty(body["uncertainty"], f"{name}: grid.uncertainty")
    try:
        return Grid(**body), document.get(RUN, {})
    except ValueError as error:
        raise ScenarioFileError(f"{name}: {error}") from error


def _refuse_unknown(given: dict[str, Any], known: Any, where: str) -> None:
    unknown = [key for key in given if key not in known]
    if unknown:
        raise ScenarioFileError(
            tr(
                "{where}: {unknown} is not known here; there may be {known}",
                where=where,
                unknown=", ".join(unknown),
                known=", ".join(known),
            )
        )


def _body(given: Any, kind: type, where: str) -> dict[str, Any]:
    """Return the fields of a dataclass as they stand, each known and of a fitting type."""
    if not isinstance(given, dict):
        raise ScenarioFileError(tr("{where} is missing, or no object in braces", where=where))
    fields = [one for one in dataclasses.fields(kind) if one.init]
    _refuse_unknown(given, [one.name for one in fields], where)
    for one in fields:
        if one.name not in given:
            if one.default is dataclasses.MISSING and one.default_factory is dataclasses.MISSING:
                raise ScenarioFileError(
                    tr("{where}: {name} is missing", where=where, name=one.name)
                )
            continue
        wanted, words = _JSON_KINDS.get(str(one.type), (object, ""))
        value = given[one.name]
        # JSON's true would pass for the number 1.
        if not isinstance(value, wanted) or (one.type == "float" and isinstance(value, bool)):
            raise ScenarioFileError(
                tr(
                    "{where}.{name} = {value!r}: is not {wanted}",
                    where=where,
                    name=one.name,
                    value=value,
                    wanted=tr(words),
                )
            )
    return dict(given)


def _uncertainty(value: Any, where: str) -> Uncertainty:
    body = _body(value, Uncertainty, where)
    causes = tuple(
        Cause(**_body(one, Cause, f"{where}.causes[{at}]"))
        for at, one in enumerate(_listed(body.get("causes", []), f"{where}.causes"))
    )
    inputs = tuple(
        _input(one, f"{where}.inputs[{at}]")
        for at, one in enumerate(_listed(body["inputs"], f"{where}.inputs"))
    )
    try:
        return Uncertainty(inputs, causes)
    except ValueError as error:
        raise ScenarioFileError(f"{where}: {error}") from error


def _listed(value: Any, where: str) -> list[Any]:
    if not isinstance(value, list):
        raise ScenarioFileError(tr("{where} = {value!r}: is no list", where=where, value=value))
    return value


def _input(value: Any, where: str) -> Uncertain:
    body = _body(value, Uncertain, where)
    spread = _body(body["spread"], Spread, f"{where}.spread")
    spread["numbers"] = _numbers(spread, f"{where}.spread")
    ends = spread.pop("floor", -math.inf), spread.pop("ceiling", math.inf)
    if any(math.isnan(end) for end in ends):
        raise ScenarioFileError(
            tr("{where}.spread: floor and ceiling are numbers, not NaN", where=where)
        )
    try:
        made = Spread(**spread).within(*ends)
    except ValueError as error:
        raise ScenarioFileError(f"{where}.spread: {error}") from error
    return Uncertain(**{**body, "spread": made})


def _numbers(spread: dict[str, Any], where: str) -> tuple[float, ...]:
    """Return what fixes a distribution, checked, since nothing else will look at it again."""
    kind, given = spread["kind"], _listed(spread["numbers"], f"{where}.numbers")
    if not isinstance(kind, str) or kind not in _NUMBERS:
        raise ScenarioFileError(
            tr(
                "{where}.kind = {kind!r}: there is {known}",
                where=where,
                kind=kind,
                known=", ".join(_NUMBERS),
            )
        )
    plain = all(isinstance(one, int | float) and not isinstance(one, bool) for one in given)
    if not plain or len(given) != _NUMBERS[kind] or not all(math.isfinite(one) for one in given):
        raise ScenarioFileError(
            tr(
                "{where}.numbers = {given!r}: {kind} needs {count} finite numbers",
                where=where,
                given=given,
                kind=kind,
                count=_NUMBERS[kind],
            )
        )
    numbers = tuple(float(one) for one in given)
    ordered = kind in ("uniform", "triangular", "pert")
    if ordered and not (numbers[0] < numbers[-1] and list(numbers) == sorted(numbers)):
        raise ScenarioFileError(
            tr(
                "{where}.numbers = {given!r}: are out of order, or all equal",
                where=where,
                given=given,
            )
        )
    if kind in ("normal", "lognormal", "student") and min(numbers[1:]) <= 0:
        raise ScenarioFileError(
            tr(
                "{where}.numbers = {given!r}: all but the first are above zero",
                where=where,
                given=given,
            )
        )
    return numbers
