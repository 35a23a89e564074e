"""Plots that were not harvested: what is said of them, and what they would have given."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from scenariokit import units
from scenariokit.language import tr
from scenariokit.quantities import with_unit
from scenariokit.trials.analysis.design_matrix import model, pseudo_inverse
from scenariokit.trials.analysis.designs import Design
from scenariokit.trials.plots import PlotTable, factor_text

if TYPE_CHECKING:
    from scenariokit.trials.analysis.anova import Analysis

ESTIMABLE = 1e-6
"""How far a row may lie outside the rows of the plots harvested and still be estimated."""


def missing_notes(plots: PlotTable, design: Design) -> list[str]:
    """Return sentences on the plots that were not harvested."""
    known = plots.known()
    lost = len(plots) - len(known)
    if not lost:
        return []
    notes = [
        tr(
            "{lost} of {count} plots were not harvested; the others were fitted by least "
            "squares, and means are adjusted for what is missing.",
            lost=lost,
            count=len(plots),
        )
    ]
    for factor in (*design.blocks, *design.treatments):
        gone = [level for level in plots.levels(factor) if level not in known.levels(factor)]
        notes += [
            tr(
                "{factor} {level} was harvested in no plot and is left out.",
                factor=factor_text(factor),
                level=level,
            )
            for level in gone
        ]
    if design.main:
        notes.append(
            tr(
                "With plots missing from a split plot the tests of whole plots are close, not exact; "
                "a mixed model uses such plots better."
            )
        )
    return notes


def missing_yields(plots: PlotTable, analysis: Analysis) -> dict[str, units.Quantity | None]:
    """Return what each plot that was not harvested would have given, by least squares.

    y = x b, b the least squares fit to the plots harvested, x the missing plot's
    row of the design.

    Parameters
    ----------
    plots : PlotTable
        The plots, those without a weight among them.
    analysis : Analysis
        What `analyse` gave for the same plots.

    Returns
    -------
    dict
        Name of the plot to its yield in kg/m², or None where the plots harvested do
        not say: all plots of its block or treatment are missing.

    Notes
    -----
    For a look at the field plan only. An analysis with these numbers filled in would
    count plots that nobody weighed; `analyse` does not.

    References
    ----------
    Yates 1933, Empire J. of Experimental Agriculture 1:129; from memory.

    Examples
    --------
    >>> from scenariokit.trials.analysis.anova import analyse
    >>> from scenariokit.trials.analysis.designs import randomised_blocks
    >>> plots = PlotTable(
    ...     [4.0, 5.0, 6.0, 5.0, 6.2, float("nan")],
    ...     {"method": ("A", "B", "C") * 2, "block": ("1",) * 3 + ("2",) * 3},
    ... )
    >>> found = missing_yields(plots, analyse(plots, randomised_blocks("method")))
    >>> {plot: f"{value:.1f~P}" for plot, value in found.items()}
    {'6': '7.1 kg/m²'}
    """
    known = analysis.model.plots
    found: dict[str, units.Quantity | None] = dict.fromkeys(analysis.missing)
    seen = [
        name
        for name in analysis.missing
        if all(
            plots.column(factor)[plots.plot_ids.index(name)] in known.levels(factor)
            for factor in (*analysis.design.blocks, *analysis.design.treatments)
        )
    ]
    if not seen:
        return found
    # Harvested plots come first, so that the levels keep the order of the analysis.
    order = [*known.plot_ids, *seen]
    where = [plots.plot_ids.index(name) for name in order]
    joint = PlotTable(
        plots.yields[where],
        {name: tuple(levels[i] for i in where) for name, levels in plots.factors.items()},
        tuple(order),
    )
    built = model(joint, analysis.design)
    # Whole plots are among the columns: a part shares what is peculiar to its whole plot.
    matrix = built.matrix
    rows, wanted = matrix[: len(known)], matrix[len(known) :]
    square = rows.T @ rows
    inverse, _ = pseudo_inverse(square)
    mean = float(known.yields.mean())
    values = wanted @ inverse @ rows.T @ (known.yields - mean) + mean
    inside = np.abs(wanted - wanted @ inverse @ square).max(axis=1) < ESTIMABLE
    for name, value, estimable in zip(seen, values, inside, strict=True):
        found[name] = with_unit(value, "kg/m^2") if estimable else None
    return found
