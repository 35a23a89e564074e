"""Layouts in which every treatment is repeated alike: free, in blocks, in Latin squares."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from scenariokit.trials.planning.degrees import degrees
from scenariokit.trials.planning.drawing import Lot, latin_square
from scenariokit.trials.planning.layout import Cell, Layout
from scenariokit.trials.planning.names import treatment_pairs
from scenariokit.trials.planning.placing import placed_layout
from scenariokit.trials.planning.tanks import Tank


def randomised_layout(
    treatments: Sequence[str],
    replicates: int,
    *,
    seed: int,
    varieties: Sequence[str] = (),
    tanks: Iterable[Tank] = (),
) -> Layout:
    """Return a layout in which any plot may get any treatment.

    Parameters
    ----------
    treatments : sequence of str
        Names of the treatments, such as growing methods.
    replicates : int
        Plots of each, 1 or more.
    seed : int
        What the layout is drawn from, 0 or more.
    varieties : sequence of str
        Names of varieties. With several, every treatment is combined with every
        variety (a factorial trial); a single one is grown throughout.
    tanks : iterable of Tank
        The tanks in the order in which one walks past; none: a tank for each plot.

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
    For tanks that are alike in light and wind; otherwise use blocks. Every
    arrangement is equally likely. Where sections share water, `Layout.notes`
    says which plots are no replicates.

    References
    ----------
    Fisher 1935, The Design of Experiments, chapters 2 and 3; from memory.

    Examples
    --------
    >>> layout = randomised_layout(["bag", "pots"], 2, seed=0)
    >>> [plot.treatment for plot in layout.plots]
    ['pots', 'bag', 'pots', 'bag']
    """
    pairs = treatment_pairs("randomised_layout", treatments, varieties, replicates=replicates)
    lot = Lot(seed)
    cells = [
        Cell("", 1, column, *pairs[number % len(pairs)])
        for column, number in enumerate(lot.order(len(pairs) * replicates), start=1)
    ]
    error = degrees(len(pairs), replicates, "randomised")
    return placed_layout([[cell] for cell in cells], tanks, seed, "randomised", error)


def block_layout(
    treatments: Sequence[str],
    blocks: int,
    *,
    seed: int,
    varieties: Sequence[str] = (),
    tanks: Iterable[Tank] = (),
) -> Layout:
    """Return a layout in which every block holds each treatment once, in drawn order.

    Parameters
    ----------
    treatments : sequence of str
        Names of the treatments, such as growing methods.
    blocks : int
        Number of blocks, 1 or more.
    seed : int
        What the layout is drawn from, 0 or more.
    varieties : sequence of str
        Names of varieties. With several, every treatment is combined with every
        variety (a factorial trial); a single one is grown throughout.
    tanks : iterable of Tank
        The tanks in the order in which one walks past; none: a tank for each
        plot. A block stays in one tank if it can, else begins with a fresh one.

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
    A block is a group of neighbouring plots alike in light, wind and care.

    References
    ----------
    Fisher 1935, The Design of Experiments, chapter 4; from memory.

    Examples
    --------
    >>> layout = block_layout(["bag", "pots", "wick"], 3, seed=0)
    >>> sorted(plot.treatment for plot in layout.plots if plot.block == "2")
    ['bag', 'pots', 'wick']
    """
    pairs = treatment_pairs("block_layout", treatments, varieties, blocks=blocks)
    lot = Lot(seed)
    groups = [
        [
            Cell(str(block), block, column, *pairs[number])
            for column, number in enumerate(lot.order(len(pairs)), start=1)
        ]
        for block in range(1, blocks + 1)
    ]
    return placed_layout(groups, tanks, seed, "blocks", degrees(len(pairs), blocks, "blocks"))


def latin_square_layout(
    treatments: Sequence[str],
    *,
    seed: int,
    varieties: Sequence[str] = (),
    squares: int = 1,
    tanks: Iterable[Tank] = (),
) -> Layout:
    """Return a layout in which every row and every column holds each treatment once.

    Parameters
    ----------
    treatments : sequence of str
        Names of the treatments, such as growing methods.
    seed : int
        What the layout is drawn from, 0 or more.
    varieties : sequence of str
        Names of varieties. With several, every treatment is combined with every
        variety; a single one is grown throughout.
    squares : int
        Number of squares, 1 or more. Rows and columns count on from one square
        to the next, because each square has its own.
    tanks : iterable of Tank
        The tanks in the order in which one walks past; none: a tank for each
        plot. A row stays in one tank if it can.

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
    For two gradients, such as light along the tanks and wind across them. Up to
    8 treatments or so: every treatment needs as many plots as there are.

    References
    ----------
    Fisher 1935, The Design of Experiments, chapter 5; from memory.

    Examples
    --------
    >>> layout = latin_square_layout(["A", "B", "C", "D"], seed=0)
    >>> sorted(plot.treatment for plot in layout.plots if plot.column == 3)
    ['A', 'B', 'C', 'D']
    """
    pairs = treatment_pairs("latin_square_layout", treatments, varieties, squares=squares)
    lot, size = Lot(seed), len(pairs)
    groups = []
    for square in range(squares):
        drawn = latin_square(size, lot)
        groups += [
            [
                Cell(
                    str(square + 1) if squares > 1 else "",
                    square * size + row + 1,
                    square * size + column + 1,
                    *pairs[drawn[row, column]],
                )
                for column in range(size)
            ]
            for row in range(size)
        ]
    error = degrees(size, size * squares, "latin_square")
    return placed_layout(groups, tanks, seed, "latin_square", error)
