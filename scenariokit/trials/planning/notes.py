"""What to know about a layout before planting it."""

from __future__ import annotations

from collections.abc import Sequence

from scenariokit.language import tr
from scenariokit.trials.planning.degrees import LEAST_ERROR_DEGREES
from scenariokit.trials.planning.layout import PlannedPlot
from scenariokit.trials.planning.tanks import Tank


def layout_notes(
    plots: Sequence[PlannedPlot], tanks: Sequence[Tank], error: float
) -> tuple[str, ...]:
    """Return sentences on shared water, empty sections and too few plots.

    Parameters
    ----------
    plots : sequence of PlannedPlot
        The plots.
    tanks : sequence of Tank
        Where they stand.
    error : float
        Degrees of freedom that the design leaves for error.
    """
    notes = []
    if error < LEAST_ERROR_DEGREES:
        notes.append(
            tr(
                "This trial leaves {error:g} degrees of freedom for error: no difference in it can "
                "be told from chance. Plant more replicates if you can.",
                error=error,
            )
        )
    return (*notes, *_water_notes(plots, tanks), *_empty_notes(plots, tanks))


def _water_notes(plots: Sequence[PlannedPlot], tanks: Sequence[Tank]) -> list[str]:
    """Return what shared water means for the plots that share it."""
    by_name = {tank.id: tank for tank in tanks}
    shared: dict[str, list[PlannedPlot]] = {}
    for plot in plots if by_name else ():
        shared.setdefault(by_name[plot.tank].reservoir_of(plot.section), []).append(plot)
    notes = []
    for name, users in shared.items():
        groups: dict[tuple[str, str], list[str]] = {}
        for plot in users:
            groups.setdefault((plot.treatment, plot.variety), []).append(plot.plot_id)
        notes += [
            tr(
                "Plots {plots} are treated alike and drink from one reservoir ({reservoir}): they count "
                "as one plot, not as replicates.",
                plots=", ".join(ids),
                reservoir=name,
            )
            for ids in groups.values()
            if len(ids) > 1
        ]
    if any(len({plot.treatment for plot in users}) > 1 for users in shared.values()):
        notes.append(
            tr(
                "Treatments stand in one water: it must suit them all in level and solution, and "
                "what one does to the water reaches the others."
            )
        )
    return notes


def _empty_notes(plots: Sequence[PlannedPlot], tanks: Sequence[Tank]) -> list[str]:
    """Return which sections stay empty."""
    used = {(plot.tank, plot.section) for plot in plots}
    empty = [
        tr("{tank} section {section}", tank=tank.id, section=section)
        if tank.sections > 1
        else tank.id
        for tank in tanks
        for section in range(1, tank.sections + 1)
        if (tank.id, section) not in used
    ]
    return [tr("Empty: {places}.", places=", ".join(empty))] if empty else []
