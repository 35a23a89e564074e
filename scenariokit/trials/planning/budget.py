"""What a planned trial takes: area, plants, growing medium and money."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from scenariokit.quantities import with_unit
from scenariokit.trials.planning.layout import Layout, PlannedPlot
from scenariokit.trials.planning.needs import Needs, needs_of, plants_in
from scenariokit.trials.planning.plot_map import plot_map
from scenariokit.units import Quantity, QuantityLike


@dataclass(frozen=True)
class TreatmentBudget:
    """What the plots of one treatment take.

    Parameters
    ----------
    treatment : str
        Its name.
    plots, plants : int
        How many.
    area : quantity
        Water surface of its plots [m²].
    medium : quantity or None
        Growing medium in place [L]; None if not stated.
    cost : quantity or None
        Cost of one crop [money]; None if not stated.
    """

    treatment: str
    plots: int
    plants: int
    area: Quantity
    medium: Quantity | None
    cost: Quantity | None


@dataclass(frozen=True)
class TrialBudget:
    """What a trial takes.

    Parameters
    ----------
    treatments : tuple of TreatmentBudget
        By treatment, in the order of the plots.
    plots, plants : int
        How many in all.
    plot_area : quantity
        Water surface of the plots [m²].
    tank_area : quantity
        Water surface of all tanks, empty sections too [m²].
    ground : quantity
        Ground with walkways [m²].
    medium : quantity or None
        Growing medium in place [L]; None unless stated for every treatment.
    cost : quantity or None
        Cost of one crop of all plots [money]; None unless stated for every
        treatment.
    """

    treatments: tuple[TreatmentBudget, ...]
    plots: int
    plants: int
    plot_area: Quantity
    tank_area: Quantity
    ground: Quantity
    medium: Quantity | None
    cost: Quantity | None


def trial_budget(
    layout: Layout,
    needs: Needs,
    *,
    walkway: QuantityLike = "60 cm",
    tanks_per_row: int | None = None,
) -> TrialBudget:
    """Return what a planned trial takes: Σ A, Σ n, Σ n v and Σ A c over its plots.

    A is the area of a plot, n its whole plants ⌊A p⌋, v the growing medium for
    each plant and c the cost per area of its treatment.

    Parameters
    ----------
    layout : Layout
        A layout drawn with tanks.
    needs : PlotNeeds or mapping of str to PlotNeeds
        What a square metre needs, one for all or by treatment.
    walkway : quantity
        Width of the way between tanks and around them all, 0 or more.
    tanks_per_row : int, optional
        Tanks side by side, as in `plot_map`.

    Returns
    -------
    TrialBudget

    Raises
    ------
    ArgumentError
        If the layout has no tanks, a treatment's needs are not stated, a plot
        has no room for a plant, or a size cannot be.

    Notes
    -----
    Cost counts the plots, not empty sections, and what the cost per area
    counts: the catalogue's counts one crop with equipment over its life. A trial
    also takes the time to weigh and write. Nothing is added for spare plants.

    Examples
    --------
    >>> from scenariokit.trials.planning.designs import block_layout
    >>> from scenariokit.trials.planning.needs import PlotNeeds
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> tanks = equal_tanks(3, "240 cm", "60 cm", sections=2)
    >>> layout = block_layout(["bag", "pots"], 3, seed=1, tanks=tanks)
    >>> needs = PlotNeeds("9 plant/m^2", "3 L/plant", "20 money/m^2")
    >>> found = trial_budget(layout, needs)
    >>> found.plants, f"{found.medium:g~P}", round(found.cost.m_as("money"), 2)
    (36, '108 l', 86.4)
    """
    ground = plot_map(layout, walkway=walkway, tanks_per_row=tanks_per_row).ground
    by_treatment: dict[str, list[PlannedPlot]] = {}
    for plot in layout.plots:
        by_treatment.setdefault(plot.treatment, []).append(plot)
    rows = tuple(
        _treatment_budget(name, layout, plots, needs) for name, plots in by_treatment.items()
    )
    return TrialBudget(
        treatments=rows,
        plots=len(layout.plots),
        plants=sum(row.plants for row in rows),
        plot_area=_total([row.area for row in rows], "m^2"),
        tank_area=_total([tank.area for tank in layout.tanks], "m^2"),
        ground=ground,
        medium=_known_total([row.medium for row in rows], "L"),
        cost=_known_total([row.cost for row in rows], "money"),
    )


def _treatment_budget(
    name: str, layout: Layout, plots: Sequence[PlannedPlot], needs: Needs
) -> TreatmentBudget:
    stated = needs_of(plots[0], needs)
    area = _total([layout.tank_of(plot).section_area for plot in plots], "m^2")
    plants = sum(plants_in(layout, plot, needs) for plot in plots)
    medium = cost = None
    if stated.volume_per_plant is not None:
        medium = with_unit(plants * stated.volume_per_plant.m_as("L/plant"), "L")
    if stated.cost_per_area is not None:
        cost = with_unit(area.m_as("m^2") * stated.cost_per_area.m_as("money/m^2"), "money")
    return TreatmentBudget(name, len(plots), plants, area, medium, cost)


def _total(parts: Sequence[Quantity], unit: str) -> Quantity:
    return with_unit(float(sum(part.m_as(unit) for part in parts)), unit)


def _known_total(parts: Sequence[Quantity | None], unit: str) -> Quantity | None:
    """Return the sum, or None where a part is not stated: half a sum misleads."""
    known = [part for part in parts if part is not None]
    return _total(known, unit) if len(known) == len(parts) else None
