"""Layouts in which plots are not all alike: split plots, and new entries beside checks."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Literal

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.trials.planning.degrees import degrees
from scenariokit.trials.planning.drawing import Lot
from scenariokit.trials.planning.layout import Cell, Layout
from scenariokit.trials.planning.names import count_faults, name_faults
from scenariokit.trials.planning.placing import placed_layout
from scenariokit.trials.planning.tanks import Tank


def split_plot_layout(
    main: Sequence[str],
    parts: Sequence[str],
    blocks: int,
    *,
    seed: int,
    main_is: Literal["treatment", "variety"] = "treatment",
    tanks: Iterable[Tank] = (),
) -> Layout:
    """Return a layout in which whole tanks get one factor and their sections another.

    Parameters
    ----------
    main : sequence of str
        What a whole tank is given, such as growing methods.
    parts : sequence of str
        What the sections of each tank are given, such as varieties.
    blocks : int
        Number of blocks; every block has a tank for each of `main`.
    seed : int
        What the layout is drawn from, 0 or more.
    main_is : {'treatment', 'variety'}
        Which of the two `main` is; `parts` is the other.
    tanks : iterable of Tank
        The tanks in the order in which one walks past, each with as many
        sections as there are parts; none: tanks of that kind.

    Returns
    -------
    Layout

    Raises
    ------
    ArgumentError
        If a name is blank or stands twice, there is nothing to compare, or a
        number cannot be. All problems at once.
    InfeasibleError
        If the plots do not fit the tanks.

    Notes
    -----
    For what can only be done to a whole tank, such as the water level. The main
    factor is compared between tanks and so less sharply than the parts.

    References
    ----------
    Yates 1935, "Complex experiments", Supplement to the Journal of the Royal
    Statistical Society 2:181; from memory.

    Examples
    --------
    >>> layout = split_plot_layout(["bag", "pots"], ["early", "late"], 2, seed=0)
    >>> sorted({plot.treatment for plot in layout.plots if plot.main == "T1"})
    ['pots']
    """
    problems = [*name_faults("main", main, 2), *name_faults("parts", parts, 2)]
    problems += count_faults(blocks=blocks)
    if main_is not in ("treatment", "variety"):
        problems.append(
            Problem(
                "main_is", repr(main_is), tr("is not known"), "treatment, variety", kind="range"
            )
        )
    if problems:
        raise argument_error(problems, "split_plot_layout")
    lot, groups = Lot(seed), []
    for block in range(1, blocks + 1):
        for position, whole in enumerate(lot.order(len(main))):
            first = position * len(parts) + 1
            group = []
            for column, part in enumerate(lot.order(len(parts)), start=first):
                pair = (main[whole], parts[part])
                treatment, variety = pair if main_is == "treatment" else pair[::-1]
                group.append(Cell(str(block), block, column, treatment, variety, main[whole]))
            groups.append(group)
    error = degrees(len(main), blocks, "blocks")
    return placed_layout(groups, tanks, seed, "split_plot", error)


def augmented_layout(
    checks: Sequence[str],
    entries: Sequence[str],
    blocks: int,
    *,
    seed: int,
    treatment: str = "",
    tanks: Iterable[Tank] = (),
) -> Layout:
    """Return a layout with known varieties in every block and new ones planted once.

    Parameters
    ----------
    checks : sequence of str
        Known varieties, each once in every block, 2 or more.
    entries : sequence of str
        New varieties, each in one plot of the whole trial.
    blocks : int
        Number of blocks, 2 or more.
    seed : int
        What the layout is drawn from, 0 or more.
    treatment : str
        The growing method, the same throughout.
    tanks : iterable of Tank
        The tanks in the order in which one walks past; none: a tank for each plot.

    Returns
    -------
    Layout
        Blocks differ by one entry at most; which are the larger is drawn too.

    Raises
    ------
    ArgumentError
        If a name is blank or stands twice, or a number cannot be. All problems
        at once.
    InfeasibleError
        If the plots do not fit the tanks.

    Notes
    -----
    For seed of which there is only a little. The checks alone tell how variable
    plots are; an entry's own value is uncertain by a whole plot.

    References
    ----------
    Federer 1956, "Augmented (or hoonuiaku) designs", Hawaiian Planters' Record
    55:191; from memory.

    Examples
    --------
    >>> layout = augmented_layout(["old", "older"], ["n1", "n2", "n3"], 3, seed=0)
    >>> sum(plot.variety == "old" for plot in layout.plots), len(layout.plots)
    (3, 9)
    """
    problems = name_faults("checks", checks, 2) + name_faults("entries", entries, 1)
    both = [name for name in checks if name in entries]
    reason = tr("is both a check and an entry")
    problems += [Problem("entries", name, reason, tr("other names"), kind="range") for name in both]
    problems += count_faults(least=2, blocks=blocks)
    if problems:
        raise argument_error(problems, "augmented_layout")
    lot = Lot(seed)
    shares: list[list[str]] = [list(checks) for _ in range(blocks)]
    turns = lot.order(blocks)
    for turn, number in enumerate(lot.order(len(entries))):
        shares[turns[turn % blocks]].append(entries[number])
    groups = [
        [
            Cell(str(block), block, column, treatment, names[number])
            for column, number in enumerate(lot.order(len(names)), start=1)
        ]
        for block, names in enumerate(shares, start=1)
    ]
    return placed_layout(groups, tanks, seed, "augmented", degrees(len(checks), blocks, "blocks"))
