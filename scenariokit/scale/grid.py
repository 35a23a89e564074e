"""A large comparison laid out: methods at many places, seasons and prices, with many draws."""

from __future__ import annotations

import dataclasses
import hashlib
import itertools
import json
from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import Any

from scenariokit import catalog
from scenariokit.errors import Problem, ScenarioFileError, argument_error
from scenariokit.scenario import OUTCOMES, Scenario, scenario_for
from scenariokit.uncertainty import (
    DEFAULT_OUTCOMES,
    Cause,
    Spread,
    Uncertain,
    Uncertainty,
    usual_uncertainty,
)

FORMAT = "scenariokit/grid"
VERSION = 1
MOST_CELLS = 1_000_000
MOST_BYTES = 1_000_000


@dataclass(frozen=True)
class Cell:
    """One place, season and price list of a grid, in which all methods are compared.

    Parameters
    ----------
    number : int
        Its number in the grid, from 0.
    site, price_list : str
        Ids in the catalogue.
    planting_month : int
        1 to 12.
    """

    number: int
    site: str
    planting_month: int
    price_list: str


@dataclass(frozen=True)
class Grid:
    """A large comparison.

    Parameters
    ----------
    methods : tuple of str
        Ids in the catalogue, each once.
    crop : str
        The one crop.
    sites, price_lists : tuple of str
        Ids in the catalogue.
    planting_months : tuple of int
        1 to 12.
    draws : int
        Draws in each cell.
    seed : int
        Of the draws; every cell has the same draws, so that cells differ by
        what they are and not by chance.
    outcomes : tuple of str
        What is kept.
    uncertainty : Uncertainty, optional
        What is drawn; what is usually uncertain about each cell if left out.

    Raises
    ------
    ArgumentError
        If anything is unknown, empty, twice or out of range; all in one message.
    """

    methods: tuple[str, ...]
    crop: str = "potato"
    sites: tuple[str, ...] = ("tern_hollow",)
    planting_months: tuple[int, ...] = (4,)
    price_lists: tuple[str, ...] = ("tern_hollow",)
    draws: int = 4096
    seed: int = 0
    outcomes: tuple[str, ...] = DEFAULT_OUTCOMES
    uncertainty: Uncertainty | None = field(default=None)

    def __post_init__(self) -> None:
        """Check everything at once."""
        growing = [
            key for key, row in catalog.methods().items() if self.crop in row["yields"]
        ]  # fmt: skip
        problems = [
            *_names("crop", [self.crop], catalog.crops()),
            *_names("methods", self.methods, growing),
            *_names("sites", self.sites, catalog.sites()),
            *_names("planting_months", self.planting_months, range(1, 13)),
            *_names("price_lists", self.price_lists, catalog.price_lists()),
            *_names("outcomes", self.outcomes, OUTCOMES),
        ]
        for name, value, least in (("draws", self.draws, 1), ("seed", self.seed, 0)):
            if isinstance(value, bool) or not isinstance(value, int) or value < least:
                problems.append(Problem(name, f"{value}", "is no such whole number",
                                        f"{least} or more", kind="range"))  # fmt: skip
        cells = len(self.sites) * len(self.planting_months) * len(self.price_lists)
        if cells > MOST_CELLS:
            problems.append(Problem("cells", f"{cells}", "are too many", f"{MOST_CELLS} at most",
                                    kind="range"))  # fmt: skip
        if problems:
            raise argument_error(problems, "Grid")

    def cells(self) -> list[Cell]:
        """Return all cells in order: sites, then months, then price lists."""
        combined = itertools.product(self.sites, self.planting_months, self.price_lists)
        return [Cell(number, *parts) for number, parts in enumerate(combined)]

    def scenarios(self, cell: Cell) -> list[Scenario]:
        """Return the scenarios of a cell, one a method."""
        made = []
        for method in self.methods:
            one = scenario_for(method, self.crop, cell.site, cell.price_list)
            site = dataclasses.replace(one.site, planting_month=cell.planting_month)
            made.append(dataclasses.replace(one, site=site))
        return made

    def drawn(self, scenarios: list[Scenario]) -> Uncertainty:
        """Return what is drawn for the scenarios of a cell."""
        return usual_uncertainty(scenarios) if self.uncertainty is None else self.uncertainty

    @property
    def digest(self) -> str:
        """A fingerprint of everything that the numbers depend on."""
        return hashlib.sha256(save_grid(self).encode()).hexdigest()[:20]


def _names(name: str, given: Iterable[Any], known: Collection[Any]) -> list[Problem]:
    """Return what is wrong with a list of names: none, twice, or unknown."""
    values = list(given)
    unknown = [str(value) for value in values if value not in known]
    if not values:
        return [Problem(name, "", "is empty", "at least one", kind="range")]
    if unknown:
        allowed = ", ".join(str(one) for one in known)
        return [Problem(name, ", ".join(unknown), "is not known", allowed, kind="range")]
    if len(set(values)) < len(values):
        return [Problem(name, f"{values}", "has something twice", "each once", kind="range")]
    return []


# -- the document --------------------------------------------------------------------


def save_grid(grid: Grid) -> str:
    """Return a grid as JSON text.

    Examples
    --------
    >>> grid = Grid(("medium_bag", "wedge_pots"), draws=64)
    >>> load_grid(save_grid(grid)) == grid
    True
    """
    body = {
        one.name: getattr(grid, one.name)
        for one in dataclasses.fields(Grid)
        if one.name != "uncertainty"
    }
    drawn = None if grid.uncertainty is None else _plain(grid.uncertainty)
    document = {"format": FORMAT, "version": VERSION, "grid": {**body, "uncertainty": drawn}}
    return json.dumps(document, indent=1, ensure_ascii=False, allow_nan=False) + "\n"


def _plain(uncertainty: Uncertainty) -> dict[str, Any]:
    return {
        "inputs": [dataclasses.asdict(one) for one in uncertainty.inputs],
        "causes": [dataclasses.asdict(one) for one in uncertainty.causes],
    }


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
    if len(text) > MOST_BYTES:
        raise ScenarioFileError(f"{name}: is longer than the {MOST_BYTES:,} that a grid may have")
    try:
        document = json.loads(text)
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as error:
        raise ScenarioFileError(f"{name}: is not a JSON document ({error})") from error
    if not isinstance(document, dict) or document.get("format") != FORMAT:
        raise ScenarioFileError(f'{name}: is not a grid (its "format" is not "{FORMAT}")')
    if document.get("version") != VERSION:
        raise ScenarioFileError(
            f'{name}: "version" = {document.get("version")!r}; this scenariokit reads {VERSION}'
        )
    body = document.get("grid")
    known = [one.name for one in dataclasses.fields(Grid)]
    if not isinstance(body, dict) or not set(body) <= set(known) or "methods" not in body:
        odd = ", ".join(sorted(set(body) - set(known))) if isinstance(body, dict) else "grid"
        raise ScenarioFileError(
            f"{name}: {odd or 'methods'} is missing or unknown; a grid has {', '.join(known)}"
        )
    try:
        return Grid(**{key: _read(key, value) for key, value in body.items()})
    except (TypeError, KeyError, ValueError) as error:
        raise ScenarioFileError(f"{name}: {error}") from error


def _read(key: str, value: Any) -> Any:
    if key == "uncertainty":
        return None if value is None else _uncertainty(value)
    return tuple(value) if isinstance(value, list) else value


def _uncertainty(value: Any) -> Uncertainty:
    inputs = tuple(
        Uncertain(**{**one, "spread": Spread(**{**one["spread"],
                                               "numbers": tuple(one["spread"]["numbers"])})})
        for one in value["inputs"]
    )  # fmt: skip
    return Uncertainty(inputs, tuple(Cause(**one) for one in value["causes"]))


def example_grid() -> Grid:
    """Return a small grid to begin from: every method that grows potatoes, all places and lists."""
    methods = tuple(key for key, row in catalog.methods().items() if "potato" in row["yields"])
    return Grid(
        methods, sites=tuple(catalog.sites()), planting_months=(3, 4, 9),
        price_lists=tuple(catalog.price_lists()),
    )  # fmt: skip
