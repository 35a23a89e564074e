"""The plots of a trial: what each gave and how it was treated."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import numpy.typing as npt

from scenariokit.errors import Problem, RecordError
from scenariokit.language import list_text, mark, tr

FloatArray = npt.NDArray[np.float64]


_FACTORS = (
    mark("study"),
    mark("method"),
    mark("variety"),
    mark("block"),
    mark("rep"),
    mark("row"),
    mark("column"),
    mark("main"),
    mark("reservoir"),
    mark("treatment"),
    mark("plot"),
    mark("whole plots"),
    mark("residual"),
)
"""Factors and sources of variation that plots usually have, for the catalogues."""


def factor_text(source: str) -> str:
    """Return a factor, or factors joined by a colon, in the language in use.

    Examples
    --------
    >>> factor_text("method:variety")
    'method:variety'
    """
    return ":".join(tr(factor) for factor in source.split(":"))


def factors_text(factors: Iterable[str]) -> str:
    """Return factors as a list in a sentence.

    Examples
    --------
    >>> factors_text(["method", "variety"])
    'method and variety'
    """
    return list_text([factor_text(factor) for factor in factors])


@dataclass(frozen=True, eq=False)
class PlotTable:
    """The plots of one trial or several, the one form that every analysis takes.

    A plot is the experimental unit: one tank, or one section of a tank.

    Parameters
    ----------
    yields : array of float
        Yield of each plot in kg/m². NaN is a plot that was not harvested; zero
        is a plot that gave nothing.
    factors : dict of str to tuple of str
        The level of each plot in each factor, such as ``"method"``,
        ``"variety"``, ``"block"``, ``"row"``, ``"column"``, ``"study"`` or
        ``"main"``. A level is text: ``"None"``, ``"NA"`` and ``"1"`` are levels
        like any other.
    plot_ids : tuple of str, optional
        Name of each plot; ``"1"``, ``"2"`` ... if left out.
    notes : tuple of str, optional
        Sentences on how the table came about, for the reader of a result.

    Raises
    ------
    RecordError
        If the lengths differ, a yield is negative or infinite, a level is not
        text, or two plots have one name. All problems at once.

    Examples
    --------
    >>> from scenariokit.trials.plots import PlotTable
    >>> plots = PlotTable([4.1, float("nan"), 5.3], {"method": ("A", "A", "B")})
    >>> plots.levels("method")
    ('A', 'B')
    >>> plots.known().yields.tolist()
    [4.1, 5.3]
    """

    yields: FloatArray
    factors: Mapping[str, tuple[str, ...]]
    plot_ids: tuple[str, ...] = ()
    notes: tuple[str, ...] = field(default=())

    def __post_init__(self) -> None:
        """Freeze the columns and check them."""
        yields = np.array(self.yields, dtype=float).reshape(-1)
        yields.setflags(write=False)
        names = tuple(self.plot_ids) or tuple(str(i) for i in range(1, yields.size + 1))
        factors = {name: tuple(levels) for name, levels in self.factors.items()}
        object.__setattr__(self, "yields", yields)
        object.__setattr__(self, "factors", factors)
        object.__setattr__(self, "plot_ids", names)
        object.__setattr__(self, "notes", tuple(self.notes))
        problems = [*_length_problems(self), *_value_problems(self)]
        if problems:
            raise RecordError(problems, "plots")

    def __len__(self) -> int:
        """Return the number of plots, harvested or not."""
        return len(self.plot_ids)

    def levels(self, factor: str) -> tuple[str, ...]:
        """Return the levels of `factor` in the order in which they first occur.

        Raises
        ------
        RecordError
            If there is no such factor.
        """
        return tuple(dict.fromkeys(self.column(factor)))

    def column(self, factor: str) -> tuple[str, ...]:
        """Return the level of each plot in `factor`.

        Raises
        ------
        RecordError
            If there is no such factor.
        """
        if factor not in self.factors:
            problem = Problem("factor", factor, tr("is not recorded"), ", ".join(self.factors))
            raise RecordError([problem], "plots")
        return self.factors[factor]

    def codes(self, factor: str) -> npt.NDArray[np.intp]:
        """Return the number of each plot's level, counting `levels` from 0."""
        number = {level: i for i, level in enumerate(self.levels(factor))}
        return np.array([number[level] for level in self.factors[factor]], dtype=np.intp)

    def known(self) -> PlotTable:
        """Return the plots that were harvested."""
        return self.where(~np.isnan(self.yields))

    def where(self, mask: Any) -> PlotTable:
        """Return the plots for which `mask` is true.

        Parameters
        ----------
        mask : array of bool
            One value for each plot.

        Raises
        ------
        RecordError
            If `mask` is not one truth value for each plot.
        """
        chosen = np.asarray(mask)
        if chosen.dtype != bool or chosen.shape != (len(self),):
            reason = tr("is not one truth value for each plot")
            raise RecordError([Problem("mask", "", reason, f"{len(self)} values")], "plots")
        keep = np.flatnonzero(chosen).tolist()
        if not keep:
            return PlotTable(np.empty(0), dict.fromkeys(self.factors, ()), (), self.notes)
        return PlotTable(
            self.yields[keep],
            {name: tuple(levels[i] for i in keep) for name, levels in self.factors.items()},
            tuple(self.plot_ids[i] for i in keep),
            self.notes,
        )


def _length_problems(plots: PlotTable) -> list[Problem]:
    columns: dict[str, Sequence[str]] = {**plots.factors, "plot_ids": plots.plot_ids}
    return [
        Problem(
            name, str(len(values)), tr("has another length than yields"), str(plots.yields.size)
        )
        for name, values in columns.items()
        if len(values) != plots.yields.size
    ]


def _value_problems(plots: PlotTable) -> list[Problem]:
    found = [
        Problem(
            "yields", f"{value:g}", tr("is not a possible yield"), tr("0 kg/m² or more, or NaN")
        )
        for value in plots.yields.tolist()
        if value < 0 or value in (float("inf"), float("-inf"))
    ]
    for name, levels in plots.factors.items():
        wrong = {repr(level) for level in levels if not isinstance(level, str)}
        found += [Problem(name, one, tr("is not text"), example="'1'") for one in sorted(wrong)]
    seen: set[str] = set()
    for plot in plots.plot_ids:
        if plot in seen:
            found.append(Problem("plot_ids", str(plot), tr("names two plots"), tr("one plot each")))
        seen.add(plot)
    return found
