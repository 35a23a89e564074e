"""Where each plot of a design stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.trials.planning.layout import Cell, Layout, PlannedPlot
from scenariokit.trials.planning.notes import layout_notes
from scenariokit.trials.planning.tanks import Tank, distinct_tanks


def placed_layout(
    groups: Sequence[Sequence[Cell]], tanks: Iterable[Tank], seed: int, design: str, error: float
) -> Layout:
    """Return the layout of drawn groups, each given its place."""
    where = distinct_tanks(tanks)
    plots = placed(groups, where, apart=design == "split_plot")
    return Layout(plots, int(seed), design, where, layout_notes(plots, where, error))


def placed(
    groups: Sequence[Sequence[Cell]], tanks: Sequence[Tank], *, apart: bool = False
) -> tuple[PlannedPlot, ...]:
    """Return the plots with their place: groups stay together as far as tanks allow.

    Parameters
    ----------
    groups : sequence of sequence of Cell
        Plots that belong together, such as a block.
    tanks : sequence of Tank
        The tanks in the order in which one walks past; none: a tank each.
    apart : bool
        Whether each group needs a tank to itself, as a main plot does.

    Raises
    ------
    InfeasibleError
        If the plots do not fit.
    """
    places = _places([len(group) for group in groups], tanks, apart)
    cells = [cell for group in groups for cell in group]
    digits = len(str(len(cells)))
    return tuple(
        PlannedPlot(
            f"P{number:0{digits}}", tank, section, cell.block, cell.row, cell.column,
            cell.treatment, cell.variety, tank if cell.main else "",
        )
        for number, (cell, (tank, section)) in enumerate(zip(cells, places, strict=True), start=1)
    )  # fmt: skip


def _places(sizes: Sequence[int], tanks: Sequence[Tank], apart: bool) -> list[tuple[str, int]]:
    """Return tank and section of each plot."""
    if not tanks:
        return _imagined(sizes, apart)
    found: list[tuple[str, int]] = []
    free = [(tank, section) for tank in tanks for section in range(1, tank.sections + 1)]
    for size in sizes:
        while free and not _may_begin(free[0], size, apart):
            free.pop(0)
        if len(free) < size:
            raise InfeasibleError(_too_few(sizes, tanks, apart))
        taken, free = free[:size], free[size:]
        if apart and taken[0][0] is not taken[-1][0]:
            raise InfeasibleError(_too_few(sizes, tanks, apart))
        found += [(tank.id, section) for tank, section in taken]
    return found


def _may_begin(place: tuple[Tank, int], size: int, apart: bool) -> bool:
    """Return whether a group of that size may begin here."""
    tank, section = place
    return section == 1 or (not apart and tank.sections - section + 1 >= size)


def _imagined(sizes: Sequence[int], apart: bool) -> list[tuple[str, int]]:
    """Return a tank for each plot, or for each main plot, numbered."""
    if apart:
        digits = len(str(len(sizes)))
        return [
            (f"T{number:0{digits}}", section)
            for number, size in enumerate(sizes, start=1)
            for section in range(1, size + 1)
        ]
    digits = len(str(sum(sizes)))
    return [(f"T{number:0{digits}}", 1) for number in range(1, sum(sizes) + 1)]


def _too_few(sizes: Sequence[int], tanks: Sequence[Tank], apart: bool) -> str:
    """Return why the plots do not fit, and what would do."""
    have = tr(
        "there are {tanks} tanks with {sections} sections",
        tanks=len(tanks),
        sections=sum(tank.sections for tank in tanks),
    )
    if apart:
        return tr(
            "layout: {plots} whole plots need a tank each, with {sections} sections; {have}",
            plots=len(sizes),
            sections=max(sizes),
            have=have,
        )
    said = [tr("layout: {plots} plots do not fit", plots=sum(sizes)), have]
    if len(sizes) > 1:
        said.append(
            tr(
                "each of {groups} groups of {plots} plots begins where it can stay whole",
                groups=len(sizes),
                plots=max(sizes),
            )
        )
    return "; ".join(said)
