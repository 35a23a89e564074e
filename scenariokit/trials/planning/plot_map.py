"""The map of a trial to scale: tanks, sections and the ways between them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.trials.planning.layout import Layout, PlannedPlot
from scenariokit.trials.planning.tanks import Tank
from scenariokit.units import Quantity, QuantityLike


@dataclass(frozen=True)
class MapArea:
    """One rectangle of a map, all numbers in cm.

    Parameters
    ----------
    kind : str
        ``"tank"``, ``"plot"``, ``"empty"`` (a section without a plot) or
        ``"walkway"``.
    x, y : float
        Left and upper edge, from the upper left corner of the ground [cm]; y
        counts downward.
    width, height : float
        Size along x and y [cm].
    label : str
        What to write on it: the tank's or the plot's name; blank on walkways.
    tank, treatment, variety, block : str
        What it belongs to and is given, for colours and tooltips.
    """

    kind: str
    x: float
    y: float
    width: float
    height: float
    label: str = ""
    tank: str = ""
    treatment: str = ""
    variety: str = ""
    block: str = ""


@dataclass(frozen=True)
class PlotMap:
    """A map of a trial.

    Parameters
    ----------
    areas : tuple of MapArea
        Walkways, then tanks, then their sections: each over the one before.
    width, height : float
        Size of the ground with the way around it [cm].
    """

    areas: tuple[MapArea, ...]
    width: float
    height: float

    @property
    def ground(self) -> Quantity:
        """The ground that the trial takes up, with walkways [m²]."""
        return with_unit(self.width * self.height / 1e4, "m^2")


def plot_map(
    layout: Layout, *, walkway: QuantityLike = "60 cm", tanks_per_row: int | None = None
) -> PlotMap:
    """Return the map of a layout: where its tanks and plots lie, to scale.

    Parameters
    ----------
    layout : Layout
        A layout drawn with tanks.
    walkway : quantity
        Width of the way between tanks and around them all, 0 or more.
    tanks_per_row : int, optional
        Tanks side by side, 1 or more. If left out, a row for each block or row
        of the design where its tanks hold nothing else; otherwise about as many
        rows as tanks in a row.

    Returns
    -------
    PlotMap

    Raises
    ------
    ArgumentError
        If the layout has no tanks, or a number cannot be. All problems at once.

    Notes
    -----
    Tanks lie with their length from left to right, in the order in which they
    were stated. How the room or garden really lies is for the planter to say.

    Examples
    --------
    >>> from scenariokit.trials.planning.designs import block_layout
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> tanks = equal_tanks(3, "240 cm", "60 cm", sections=2)
    >>> found = plot_map(block_layout(["bag", "pots"], 3, seed=1, tanks=tanks))
    >>> found.width, found.height
    (360.0, 420.0)
    """
    problems = []
    if not layout.tanks:
        reason = tr("the layout was drawn without tanks, so nothing has a size")
        problems.append(Problem("layout", "", reason, tr("draw it again with tanks=")))
    if tanks_per_row is not None and not _is_count(tanks_per_row):
        reason = tr("is not a number of tanks")
        problems.append(Problem("tanks_per_row", repr(tanks_per_row), reason, "1, 2, 3 ...", "4"))
    if problems:
        raise argument_error(problems, "plot_map")
    way = float(checked_floats("plot_map", {"walkway": (walkway, "walkway")})["walkway"])
    rows = _rows(layout, tanks_per_row)
    width = max(_length(row, way) for row in rows)
    walkways: list[MapArea] = []
    tanks: list[MapArea] = []
    plots: list[MapArea] = []
    top = way
    for row in rows:
        height = max(tank.width.m_as("cm") for tank in row)
        walkways += _ways(row, top, height, width, way)
        left = way
        for tank in row:
            tanks.append(_rectangle(tank, left, top))
            plots += _sections(layout, tank, left, top)
            left += tank.length.m_as("cm") + way
        top += height + way
    if way:
        walkways.append(MapArea("walkway", 0.0, top - way, width, way))
    return PlotMap((*walkways, *tanks, *plots), width, top)


def _is_count(number: object) -> bool:
    return isinstance(number, int) and not isinstance(number, bool) and number >= 1


def _length(row: Sequence[Tank], way: float) -> float:
    """Return the length of a row of tanks with the ways beside them [cm]."""
    return float(sum(tank.length.m_as("cm") + way for tank in row) + way)


def _rows(layout: Layout, tanks_per_row: int | None) -> list[tuple[Tank, ...]]:
    """Return the tanks in rows."""
    tanks = layout.tanks
    if tanks_per_row is None:
        grouped = _rows_by_group(layout)
        if grouped:
            return grouped
        tanks_per_row = math.ceil(math.sqrt(len(tanks)))
    return [tanks[i : i + tanks_per_row] for i in range(0, len(tanks), tanks_per_row)]


def _rows_by_group(layout: Layout) -> list[tuple[Tank, ...]]:
    """Return a row of tanks for each block or row of the design; none if they share tanks."""
    groups: dict[str, set[int]] = {tank.id: set() for tank in layout.tanks}
    for plot in layout.plots:
        groups[plot.tank].add(plot.row)
    if any(len(found) > 1 for found in groups.values()):
        return []
    rows: dict[int, list[Tank]] = {}
    here = min(plot.row for plot in layout.plots)
    for tank in layout.tanks:
        # An unused tank stands where it was stated, beside the one before it.
        here = next(iter(groups[tank.id]), here)
        rows.setdefault(here, []).append(tank)
    return [tuple(row) for row in rows.values()] if len(rows) > 1 else []


def _rectangle(tank: Tank, left: float, top: float) -> MapArea:
    length, width = (float(side.m_as("cm")) for side in (tank.length, tank.width))
    return MapArea("tank", left, top, length, width, tank.id, tank.id)


def _sections(layout: Layout, tank: Tank, left: float, top: float) -> Iterator[MapArea]:
    """Yield the sections of a tank, with the plots in them."""
    by_section: dict[int, PlannedPlot] = {
        plot.section: plot for plot in layout.plots if plot.tank == tank.id
    }
    length = float(tank.length.m_as("cm")) / tank.sections
    width = float(tank.width.m_as("cm"))
    for section in range(1, tank.sections + 1):
        x = left + (section - 1) * length
        plot = by_section.get(section)
        if plot is None:
            yield MapArea("empty", x, top, length, width, "", tank.id)
        else:
            yield MapArea("plot", x, top, length, width, plot.plot_id, tank.id,
                          plot.treatment, plot.variety, plot.block)  # fmt: skip


def _ways(
    row: Sequence[Tank], top: float, height: float, width: float, way: float
) -> Iterator[MapArea]:
    """Yield the way above a row and those beside its tanks."""
    if not way:
        return
    yield MapArea("walkway", 0.0, top - way, width, way)
    left = 0.0
    for tank in row:
        yield MapArea("walkway", left, top, way, height)
        left += way + float(tank.length.m_as("cm"))
    yield MapArea("walkway", left, top, width - left, height)
