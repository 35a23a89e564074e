"""The yield of each method in each room, and over rooms as far as they allow it."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace

import numpy as np

from scenariokit.cautions import RECORD_CHAMBER
from scenariokit.errors import ScenarioKitError
from scenariokit.quantities import with_unit
from scenariokit.trials.analysis import analyse
from scenariokit.trials.design_guess import read_design, treatments_of
from scenariokit.trials.effect_pool import EffectPool
from scenariokit.trials.harvest import mean_interval
from scenariokit.trials.meta import Interval, MethodOverStudies, meta_analysis
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.to_yields import method_yields
from scenariokit.units import Quantity

FEWEST_ROOMS = 3
"""Rooms with repeated plots from which on a mean over rooms is told.

With two, the interval has one degree of freedom and holds nearly everything.
"""
FEWEST_TO_EXPECT = 5
"""Rooms with repeated plots from which on it is told where another such room may lie."""

_METHOD, _ROOM, _YIELD = "method", "study", "kg/m^2"


@dataclass(frozen=True)
class RoomMean:
    """What one method gave in one room.

    Parameters
    ----------
    room, method : str
        Their names.
    plots : int
        Plots harvested.
    mean : quantity
        Their mean yield [kg/m²].
    low, high : quantity or None
        Its 95 % interval, not below zero; None where the room's own plots give none.
    """

    room: str
    method: str
    plots: int
    mean: Quantity
    low: Quantity | None
    high: Quantity | None

    @property
    def beyond(self) -> bool:
        """Whether the mean lies beyond every record, so that an error is likely."""
        return float(self.mean.m) > RECORD_CHAMBER


@dataclass(frozen=True)
class MethodInRooms:
    """What all rooms say of one method.

    Parameters
    ----------
    method : str
        Its name.
    rooms : tuple of RoomMean
        Each room's mean, the highest first.
    replicated : int
        Rooms whose plots have a standard error.
    pooled, another : Interval or None
        Mean over rooms like these, and where another such room may lie; None
        with fewer than `FEWEST_ROOMS` or `FEWEST_TO_EXPECT` rooms with repeated plots.
    pool : EffectPool or None
        How much rooms differ; None as `pooled`.
    """

    method: str
    rooms: tuple[RoomMean, ...]
    replicated: int
    pooled: Interval | None
    another: Interval | None
    pool: EffectPool | None


@dataclass(frozen=True)
class RoomResults:
    """What all rooms say of all methods.

    Parameters
    ----------
    rooms : tuple of str
        Rooms with a plot harvested, in their order.
    plots : int
        Plots harvested.
    methods : tuple of MethodInRooms
        The method that stood in most rooms first, then by name.
    notes : tuple of str
        Why the plots of a room give no interval, as far as that is no matter of
        their number.
    """

    rooms: tuple[str, ...]
    plots: int
    methods: tuple[MethodInRooms, ...]
    notes: tuple[str, ...] = ()


def room_results(plots: PlotTable) -> RoomResults:
    """Return the yield of each method in each room, and over rooms as far as they allow it.

    Parameters
    ----------
    plots : PlotTable
        Plots with the factors ``method`` and ``study``; a study is a room.

    Returns
    -------
    RoomResults
        Without any method if no plot was harvested.

    Notes
    -----
    Within a room the interval is that of the room's own analysis (`analyse`, with
    the design that its plots look like), or of the plain mean where one method
    was grown (Student's t); one plot has none. Over rooms the means are pooled
    by `meta_analysis`: each weighted, rooms taken as drawn from such rooms, with
    the interval of Knapp and Hartung. Rooms differ in much more than the method:
    place, season, variety, and who weighed. A mean beyond every record (20 kg/m²,
    lamp-lit chambers, `cautions.RECORD_CHAMBER`) is shown and not pooled.

    References
    ----------
    As for `meta_analysis`.

    Examples
    --------
    >>> from scenariokit.trials.demo import demo_files
    >>> from scenariokit.trials.pooling import pool
    >>> from scenariokit.trials.room_results import room_results
    >>> found = room_results(pool(demo_files()).plots())
    >>> bag = found.methods[0]
    >>> bag.method, len(bag.rooms), bag.replicated
    ('medium_bag', 4, 3)
    >>> [one.room for one in bag.rooms if one.low is None], f"{bag.pooled.estimate:.1f~P}"
    (['moss-end-1'], '6.5 kg/m²')
    """
    known = plots.known()
    if not len(known):
        return RoomResults((), 0, ())
    means: list[RoomMean] = []
    notes: list[str] = []
    column = np.array(known.column(_ROOM))
    for room in known.levels(_ROOM):
        found, note = _room_means(room, known.where(column == room))
        means += found
        notes += [note] if note else []
    over = _over_rooms(known, {(one.room, one.method) for one in means if one.beyond})
    methods = [
        _method(name, [one for one in means if one.method == name], over.get(name))
        for name in known.levels(_METHOD)
    ]
    methods.sort(key=lambda one: (-len(one.rooms), one.method))
    return RoomResults(known.levels(_ROOM), len(known), tuple(methods), tuple(notes))


def _room_means(room: str, plots: PlotTable) -> tuple[list[RoomMean], str]:
    """Return the mean of each method in one room, and why there is no analysis of it."""
    treatments = treatments_of(plots, _METHOD)
    if _METHOD not in treatments:
        return [_single(room, plots, alone=not treatments)], ""
    try:
        found = method_yields(analyse(plots, read_design(plots, treatments).design))
    except ScenarioKitError as error:
        # Plots that allow no analysis still have their plain means, without an interval.
        column = np.array(plots.column(_METHOD))
        plain = [
            _single(room, plots.where(column == name), alone=False)
            for name in plots.levels(_METHOD)
        ]
        return plain, f"{room}: {error}" if _repeated(plots) else ""
    return [
        RoomMean(room, name, one.plots, one.mean, one.low, one.high)
        for name, one in found.items()
    ], ""  # fmt: skip


def _single(room: str, plots: PlotTable, *, alone: bool) -> RoomMean:
    """Return the plain mean of one method, with its interval if nothing else varied."""
    (method,) = plots.levels(_METHOD)
    values = plots.yields.tolist()
    mean = with_unit(float(np.mean(values)), _YIELD)
    # Equal weights of all plots say nothing of how much plots vary.
    ends = mean_interval(values) if alone and len(set(values)) > 1 else None
    if ends is None:
        return RoomMean(room, method, len(values), mean, None, None)
    low, high = (with_unit(max(end, 0.0), _YIELD) for end in ends)
    return RoomMean(room, method, len(values), mean, low, high)


def _repeated(plots: PlotTable) -> bool:
    """Return whether some treatment stood in two plots."""
    return len(plots) > len(set(zip(plots.column(_METHOD), plots.column("variety"), strict=True)))


def _over_rooms(
    plots: PlotTable, apart: Collection[tuple[str, str]]
) -> dict[str, MethodOverStudies]:
    """Return each method over the rooms, without the means that lie beyond every record."""
    cells = zip(plots.column(_ROOM), plots.column(_METHOD), strict=True)
    kept = plots.where(np.array([cell not in apart for cell in cells]))
    if not len(kept):
        return {}
    return {one.method: one for one in meta_analysis(_unblocked(kept), scale="mean")}


def _unblocked(plots: PlotTable) -> PlotTable:
    """Return plots without the blocks of rooms that grew one thing only.

    There a block is but the number of a tank, and taking blocks out would leave nothing.
    """
    if "block" not in plots.factors:
        return plots
    rooms = plots.column(_ROOM)
    grown: dict[str, set[tuple[str, str]]] = {}
    for room, method, variety in zip(
        rooms, plots.column(_METHOD), plots.column("variety"), strict=True
    ):
        grown.setdefault(room, set()).add((method, variety))
    blocks = tuple(
        block if len(grown[room]) > 1 else room
        for room, block in zip(rooms, plots.column("block"), strict=True)
    )
    return replace(plots, factors={**plots.factors, "block": blocks})


def _method(name: str, means: Sequence[RoomMean], over: MethodOverStudies | None) -> MethodInRooms:
    ranked = tuple(sorted(means, key=lambda one: -float(one.mean.m)))
    if over is None:
        return MethodInRooms(name, ranked, 0, None, None, None)
    count = len(over.rows)
    enough = count >= FEWEST_ROOMS
    return MethodInRooms(
        name,
        ranked,
        count,
        over.random if enough else None,
        over.prediction if count >= FEWEST_TO_EXPECT else None,
        over.pool if enough else None,
    )
