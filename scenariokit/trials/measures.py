"""Yield per area, per occupied ground and per plant, and the share that can be used, by group."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from scenariokit.quantities import with_unit
from scenariokit.trials.harvest import mean_interval
from scenariokit.trials.records.merging import Row, units_of
from scenariokit.units import Quantity


@dataclass(frozen=True)
class Measure:
    """One measure of a group of plots.

    Parameters
    ----------
    plots : int
        Independent plots that it could be had from.
    mean : quantity
        Mean of the plots.
    low, high : quantity or None
        Its interval; None where one plot was measured, because then none exists.
    """

    plots: int
    mean: Quantity
    low: Quantity | None
    high: Quantity | None


@dataclass(frozen=True)
class GroupMeasures:
    """What the plots of one method and variety gave.

    Parameters
    ----------
    method, variety : str
        Their names.
    per_area, per_occupied, per_plant, marketable : Measure or None
        Yield per tank area and per occupied ground [kg/m²], yield per plant
        planted [kg/plant], and marketable share of the weight; None where the
        records do not have it.
    """

    method: str
    variety: str
    per_area: Measure | None
    per_occupied: Measure | None
    per_plant: Measure | None
    marketable: Measure | None


def group_measures(rows: Sequence[Row], *, confidence: float = 0.95) -> tuple[GroupMeasures, ...]:
    """Return the measures of each method and variety, with intervals.

    Per plot m / A, m / n and mk / m; the mean over plots ± t s / √k.

    Parameters
    ----------
    rows : sequence of mapping
        Plot records, as `read_records` gives them under ``rows``.
    confidence : float, optional
        Of the intervals, between 0 and 1.

    Returns
    -------
    tuple of GroupMeasures
        In the order of the records.

    Notes
    -----
    m is the weight of all tubers, mk that of the marketable ones, A the area, n
    the plants planted, k the number of plots, s their standard deviation and t
    Student's. Plots of one method and variety on one reservoir are one plot, as
    in `plots_of`. The intervals are those of each group alone; the analysis of a
    designed trial has better ones for the yield. Shares end at 0 and 1.

    Examples
    --------
    >>> from scenariokit.trials import demo_records, group_measures
    >>> found = group_measures(demo_records().rows)[0]
    >>> found.per_area.plots
    3
    """
    groups: dict[tuple[str, str], list[list[Row]]] = {}
    for unit in units_of(rows):
        groups.setdefault((unit[0]["treatment"], unit[0]["genotype"]), []).append(unit)
    return tuple(
        GroupMeasures(
            method,
            variety,
            per_area=_measure(units, _over("ttwp", "plot_area"), "kg/m^2", confidence),
            per_occupied=_measure(units, _over("ttwp", "occupied_area"), "kg/m^2", confidence),
            per_plant=_measure(units, _over("ttwp", "ntp"), "kg/plant", confidence),
            marketable=_measure(units, _over("mtwp", "ttwp"), "", confidence, most=1.0),
        )
        for (method, variety), units in groups.items()
    )


def _over(top: str, bottom: str) -> Callable[[Sequence[Row]], float | None]:
    """Return what divides the sums of two columns of a unit; None where it cannot be."""

    def ratio(unit: Sequence[Row]) -> float | None:
        full = [row for row in unit if row[top] is not None and row[bottom] is not None]
        under = sum(float(row[bottom]) for row in full)
        return sum(float(row[top]) for row in full) / under if under > 0 else None

    return ratio


def _measure(
    units: Sequence[Sequence[Row]],
    of: Callable[[Sequence[Row]], float | None],
    unit: str,
    confidence: float,
    most: float = float("inf"),
) -> Measure | None:
    values = [value for value in map(of, units) if value is not None]
    if not values:
        return None
    ends: Any = mean_interval(values, confidence) or (None, None)
    low, high = ends
    return Measure(
        len(values),
        with_unit(sum(values) / len(values), unit),
        None if low is None else with_unit(max(low, 0.0), unit),
        None if high is None else with_unit(min(high, most), unit),
    )
