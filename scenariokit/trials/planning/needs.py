"""What a plot of each treatment needs: plants, growing medium, money."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TypeAlias

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import Expect, checked_floats, with_unit
from scenariokit.trials.planning.layout import Layout, PlannedPlot
from scenariokit.units import QuantityLike


@dataclass(frozen=True)
class PlotNeeds:
    """What a square metre of one treatment needs.

    Parameters
    ----------
    plants_per_area : quantity
        Plants per tank area [plant/m²].
    volume_per_plant : quantity, optional
        Growing medium for each plant, in place [L/plant]; not stated if left out.
    cost_per_area : quantity, optional
        Cost of one crop for each square metre of tank [money/m²]; not stated if
        left out.

    Raises
    ------
    ArgumentError
        If a value has the wrong unit or lies outside its range. All problems at
        once.

    Examples
    --------
    >>> from scenariokit.trials.planning.needs import PlotNeeds
    >>> f"{PlotNeeds('9 plant/m^2').plants_per_area:g~P}"
    '9 plant/m²'
    """

    plants_per_area: QuantityLike
    volume_per_plant: QuantityLike | None = None
    cost_per_area: QuantityLike | None = None

    def __post_init__(self) -> None:
        """Check the values and keep them as quantities."""
        units = {
            "plants_per_area": "plant/m^2",
            "volume_per_plant": "L/plant",
            "cost_per_area": "money/m^2",
        }
        given = {
            name: (getattr(self, name), Expect(name))
            for name in units
            if name == "plants_per_area" or getattr(self, name) is not None
        }
        for name, value in checked_floats("PlotNeeds", given).items():
            object.__setattr__(self, name, with_unit(float(value), units[name]))


Needs: TypeAlias = PlotNeeds | Mapping[str, PlotNeeds]
"""The same for every plot, or by treatment."""


def needs_of(plot: PlannedPlot, needs: Needs) -> PlotNeeds:
    """Return what a plot needs.

    Raises
    ------
    ArgumentError
        If its treatment is not among those stated.
    """
    if isinstance(needs, PlotNeeds):
        return needs
    if plot.treatment in needs:
        return needs[plot.treatment]
    problem = Problem("needs", plot.treatment, tr("is not stated"), ", ".join(needs))
    raise argument_error([problem], "needs")


def plants_in(layout: Layout, plot: PlannedPlot, needs: Needs) -> int:
    """Return how many whole plants find room in a plot at the stated spacing.

    Raises
    ------
    ArgumentError
        If the layout has no tanks, the plot's treatment is not stated, or there
        is no room for a single plant.
    """
    area = float(layout.tank_of(plot).section_area.m_as("m^2"))
    density = float(needs_of(plot, needs).plants_per_area.m_as("plant/m^2"))
    # Ten plants on exactly their area must not become nine by rounding.
    plants = math.floor(area * density * (1 + 1e-9))
    if plants < 1:
        reason = tr(
            "leaves no room for a plant in plot {plot} of {area:g} m²",
            plot=plot.plot_id,
            area=area,
        )
        problem = Problem(
            "plants_per_area", f"{density:g} plant/m²", reason,
            tr("{density:.3g} plant/m² or more", density=1 / area), kind="range",
        )  # fmt: skip
        raise argument_error([problem], "needs")
    return plants
