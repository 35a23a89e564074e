"""The layout of a trial: which plot stands where and what it is given."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.trials.planning.tanks import Tank


@dataclass(frozen=True)
class PlannedPlot:
    """One plot to be planted.

    Parameters
    ----------
    plot_id : str
        Name of the plot, in the order in which one walks past.
    tank : str
        Name of its tank.
    section : int
        Section of the tank, from 1.
    block : str
        Block that it belongs to; blank where there are none.
    row, column : int
        Row and column of a Latin square; otherwise the block (or 1) and the
        place within it.
    treatment, variety : str
        What it is given; blank where the trial does not say.
    main : str
        Whole plot that it is part of, in a split plot only.
    """

    plot_id: str
    tank: str
    section: int
    block: str
    row: int
    column: int
    treatment: str
    variety: str
    main: str = ""


@dataclass(frozen=True)
class Layout:
    """The plots of a planned trial.

    Parameters
    ----------
    plots : tuple of PlannedPlot
        In the order in which one walks past.
    seed : int
        What the layout was drawn from; the same seed gives the same layout.
    design : str
        ``"randomised"``, ``"blocks"``, ``"latin_square"``, ``"split_plot"`` or
        ``"augmented"``.
    tanks : tuple of Tank
        Where the plots stand; empty if none were stated: then every plot has a
        tank of its own, of unknown size.
    notes : tuple of str
        What to know before planting, in sentences.
    """

    plots: tuple[PlannedPlot, ...]
    seed: int
    design: str
    tanks: tuple[Tank, ...] = ()
    notes: tuple[str, ...] = ()

    def tank_of(self, plot: PlannedPlot) -> Tank:
        """Return the tank in which a plot stands.

        Raises
        ------
        ArgumentError
            If the layout was drawn without tanks.
        """
        for tank in self.tanks:
            if tank.id == plot.tank:
                return tank
        reason = tr("the layout was drawn without tanks, so nothing has a size")
        problem = Problem("tanks", plot.tank, reason, tr("draw it again with tanks="))
        raise argument_error([problem], "layout")

    def replicate_of(self) -> dict[str, int]:
        """Return for each plot which repeat of its treatment and variety it is, from 1."""
        seen: Counter[tuple[str, str]] = Counter()
        found = {}
        for plot in self.plots:
            seen[plot.treatment, plot.variety] += 1
            found[plot.plot_id] = seen[plot.treatment, plot.variety]
        return found


@dataclass(frozen=True)
class Cell:
    """A plot of a design that has no place yet."""

    block: str
    row: int
    column: int
    treatment: str
    variety: str
    main: str = ""
