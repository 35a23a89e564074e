"""A large comparison laid out: methods at many places, seasons and prices, with many draws."""

from __future__ import annotations

import dataclasses
import functools
import hashlib
import itertools
from collections.abc import Collection
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from scenariokit import catalog
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.scenario import OUTCOMES, Scenario, Site, scenario_for, site_from
from scenariokit.uncertainty import DEFAULT_OUTCOMES, Uncertainty, usual_uncertainty
from scenariokit.uncertainty.draws import MOST_DRAWS

MOST_CELLS = 1_000_000


@dataclass(frozen=True)
class Cell:
    """One place, season and price list of a grid, in which all methods are compared.

    Parameters
    ----------
    number : int
        Its number in the grid, from 0.
    site : str
        Id of the place.
    planting_month : int
        1 to 12.
    price_list : str
        Id of the price list.
    """

    number: int
    site: str
    planting_month: int
    price_list: str

    @property
    def currency(self) -> str:
        """Currency of its price list, which its money is in."""
        return str(catalog.price_list(self.price_list).currency)


@dataclass(frozen=True)
class Grid:
    """A large comparison: every method in every cell of places, planting months and price lists.

    Parameters
    ----------
    methods : tuple of str
        Ids in the catalogue, each once.
    crop : str
        The one crop.
    sites : tuple of str
        Ids in the catalogue.
    planting_months : tuple of int
        1 to 12.
    price_lists : tuple of str
        Ids in the catalogue.
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

    Examples
    --------
    >>> from scenariokit.scale import Grid
    >>> grid = Grid(("medium_bag", "wedge_pots"), planting_months=(3, 4), draws=1000)
    >>> len(grid.cells()), grid.size
    (2, 4000)
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
        """Check everything at once; lists become tuples, so that equal grids are equal."""
        for one in dataclasses.fields(self):
            object.__setattr__(self, one.name, _tidy(getattr(self, one.name)))
        problems = [
            *_names("crop", (self.crop,), catalog.crops()),
            *_names("methods", self.methods, self._growing()),
            *_names("sites", self.sites, catalog.sites()),
            *_names("planting_months", self.planting_months, range(1, 13)),
            *_names("price_lists", self.price_lists, catalog.price_lists()),
            *_names("outcomes", self.outcomes, OUTCOMES),
            *_whole("draws", self.draws, 1, MOST_DRAWS),
            *_whole("seed", self.seed, 0, None),
        ]
        if not isinstance(self.uncertainty, Uncertainty | None):
            given = f"{self.uncertainty!r}"
            problems.append(Problem("uncertainty", given, "is no Uncertainty", kind="range"))
        if not problems and self._cell_count > MOST_CELLS:
            problems.append(Problem("cells", f"{self._cell_count}", tr("are too many"),
                                    tr("{most} at most", most=MOST_CELLS), kind="range"))  # fmt: skip
        if problems:
            raise argument_error(problems, "Grid")

    def _growing(self) -> list[str]:
        """Return the methods that grow the crop; all of them, if the crop is not known."""
        rows, known = catalog.methods(), catalog.crops()
        crop = self.crop if isinstance(self.crop, str) else ""
        return [key for key, row in rows.items() if crop in row["yields"] or crop not in known]

    @property
    def _cell_count(self) -> int:
        return len(self.sites) * len(self.planting_months) * len(self.price_lists)

    @property
    def size(self) -> int:
        """How many scenarios are evaluated: methods times cells times draws."""
        return len(self.methods) * self._cell_count * self.draws

    @property
    def digest(self) -> str:
        """A fingerprint of everything in the grid that the numbers depend on."""
        from scenariokit.scale.documents import save_grid

        return hashlib.sha256(save_grid(self).encode()).hexdigest()[:20]

    def cells(self) -> list[Cell]:
        """Return all cells in order: sites, then months, then price lists."""
        combined = itertools.product(self.sites, self.planting_months, self.price_lists)
        return [Cell(number, *parts) for number, parts in enumerate(combined)]

    def scenarios(self, cell: Cell) -> list[Scenario]:
        """Return the scenarios of a cell, one a method.

        Raises
        ------
        InfeasibleError
            If the price list lacks what a method uses.
        """
        site = _site(cell.site, cell.planting_month)
        return [
            dataclasses.replace(_scenario(one, self.crop, cell.site, cell.price_list), site=site)
            for one in self.methods
        ]

    def drawn(self, scenarios: list[Scenario]) -> Uncertainty:
        """Return what is drawn for the scenarios of a cell."""
        return usual_uncertainty(scenarios) if self.uncertainty is None else self.uncertainty


# Cells beside each other share these; without them a cell of few draws would spend most of its
# time on reading and checking the same rows of the catalogue.
@functools.lru_cache(maxsize=512)
def _scenario(method: str, crop: str, site: str, price_list: str) -> Scenario:
    return scenario_for(method, crop, site, price_list)


@functools.lru_cache(maxsize=64)
def _site(site: str, planting_month: int) -> Site:
    return dataclasses.replace(site_from(catalog.sites()[site]), planting_month=planting_month)


def _tidy(value: Any) -> Any:
    """Return a list as a tuple, and NumPy's whole numbers as Python's."""
    if isinstance(value, list | tuple):
        return tuple(_tidy(one) for one in value)
    return int(value) if isinstance(value, np.integer) else value


def _names(name: str, given: Any, known: Collection[Any]) -> list[Problem]:
    """Return what is wrong with a list of names: none, twice, or unknown."""
    if not isinstance(given, tuple):
        return [
            Problem(name, f"{given!r}", tr("is no list"), tr("a list, even of one"), kind="range")
        ]
    if not given:
        return [Problem(name, "", tr("is empty"), tr("at least one"), kind="range")]
    allowed = list(known)
    # True equals 1 and 4.0 equals 4, but neither is a month.
    unknown = [
        str(one) for one in given if one not in allowed or isinstance(one, bool | float | complex)
    ]
    if unknown:
        choices = ", ".join(str(one) for one in allowed)
        return [Problem(name, ", ".join(unknown), tr("is not known"), choices, kind="range")]
    if len(set(given)) < len(given):
        twice = dict.fromkeys(str(one) for one in given if given.count(one) > 1)
        return [Problem(name, ", ".join(twice), tr("stands twice"), tr("each once"), kind="range")]
    return []


def _whole(name: str, value: Any, least: int, most: int | None) -> list[Problem]:
    """Return what is wrong with a whole number."""
    whole = isinstance(value, int) and not isinstance(value, bool)
    if whole and value >= least and (most is None or value <= most):
        return []
    allowed = (
        tr("{least} or more", least=least)
        if most is None
        else tr("{least} to {most}", least=least, most=most)
    )
    return [Problem(name, f"{value}", tr("is no such whole number"), allowed, kind="range")]


def example_grid() -> Grid:
    """Return a small grid to begin from: every method that grows potatoes, all places and lists."""
    methods = tuple(key for key, row in catalog.methods().items() if "potato" in row["yields"])
    return Grid(
        methods, sites=tuple(catalog.sites()), planting_months=(3, 4, 9),
        price_lists=tuple(catalog.price_lists()),
    )  # fmt: skip
