"""From plot records to experimental units: plots on one reservoir are one plot."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from scenariokit.errors import Problem, RecordError
from scenariokit.language import mark, tr
from scenariokit.trials.plots import PlotTable, factor_text
from scenariokit.yields import per_area

if TYPE_CHECKING:
    from scenariokit.trials.records.reading import Records

Row = Mapping[str, Any]
Per = Literal["tank", "occupied"]

_AREAS = {"tank": "plot_area", "occupied": "occupied_area"}


def shared_reservoirs(rows: Iterable[Row]) -> dict[tuple[str, str], list[Row]]:
    """Return the rows of each reservoir that feeds more than one plot.

    Returns
    -------
    dict
        (study, reservoir) to its rows. A plot without a named reservoir has one
        of its own.
    """
    groups: dict[tuple[str, str], list[Row]] = {}
    for row in rows:
        if row["reservoir"]:
            groups.setdefault((row["study_id"], row["reservoir"]), []).append(row)
    return {key: group for key, group in groups.items() if len(group) > 1}


def reservoir_flags(rows: Iterable[Row], file: str) -> list[Problem]:
    """Return a flag for each plot that shares its reservoir with another."""
    return [
        Problem(
            "reservoir",
            row["reservoir"],
            tr(
                "feeds {count} plots; plots on one reservoir are not independent replicates",
                count=len(group),
            ),
            tr("one reservoir for each plot"),
            file=file,
            row=row["_row"],
        )
        for group in shared_reservoirs(rows).values()
        for row in group
    ]


def plots_of(records: Records | Sequence[Row], *, per: Per = "tank") -> PlotTable:
    r"""Return the plots of records as analyses take them.

    y = Σ m / Σ A

    y is the yield of an experimental unit, m the weight of all tubers of its
    harvested plots, A their area. A unit is one plot, or all plots of one study
    that share a reservoir, a treatment and a variety.

    Parameters
    ----------
    records : Records or sequence of mapping
        What `read_records` gave, or its rows.
    per : {'tank', 'occupied'}, optional
        Whether to divide by the tank's area or by the ground that it takes up.

    Returns
    -------
    PlotTable
        Yields in kg/m², NaN for a plot not harvested. Factors: ``method`` (the
        treatment), ``variety``, ``rep``, ``block`` (the replicate where blocks
        are not recorded for every plot), ``study``; ``row`` and ``column`` where
        every plot has them; ``main``, the reservoir, where any is named. Where
        there are several studies, levels that belong to one of them, such as
        blocks, bear its name. Notes say which plots were merged.

    Raises
    ------
    RecordError
        If `per` is neither word, or the occupied area of a row is missing.

    Notes
    -----
    Replicates on one reservoir share its solution, its level and its faults:
    taken as independent they make an error look smaller than it is. Plots of
    different treatments or varieties on one reservoir stay apart, with the
    reservoir as level of ``main``, so that a split-plot analysis can take it.

    References
    ----------
    Hurlbert 1984, "Pseudoreplication and the design of ecological field
    experiments", Ecological Monographs 54:187.

    Examples
    --------
    >>> from scenariokit.trials.records import plots_of, read_records
    >>> heading = "study_id,plot_id,rep,treatment,genotype,planting_date,reservoir"
    >>> heading += ",plot_area [m^2],ttwp [kg]"
    >>> rows = ["S,1,1,pots,early,2026-05-01,T1,1,4", "S,2,2,pots,early,2026-05-01,T1,3,16"]
    >>> plots_of(read_records("\n".join([heading, *rows]))).yields.tolist()
    [5.0]
    """
    rows: Sequence[Row] = records if isinstance(records, Sequence) else records.rows
    if per not in _AREAS:
        raise RecordError([Problem("per", repr(per), tr("is not known"), "'tank' or 'occupied'")])
    missing = [
        Problem("occupied_area", "", tr("is missing"), tr("the ground that the plot takes up"),
                file=row.get("_file", ""), row=row["_row"])
        for row in rows
        if row[_AREAS[per]] is None
    ]  # fmt: skip
    if missing:
        raise RecordError(missing, tr("yield per occupied area"))
    if not rows:
        return PlotTable(np.empty(0), {"method": (), "variety": (), "study": ()})
    units = units_of(rows)
    factors, notes = _factors(units, rows)
    return PlotTable(
        np.array([_yield(unit, _AREAS[per]) for unit in units]),
        factors,
        _names(units, rows),
        (*notes, *_merge_notes(units, rows)),
    )


def units_of(rows: Sequence[Row]) -> list[list[Row]]:
    """Return the rows of each experimental unit, in the order of first rows."""
    groups: dict[tuple[Any, ...], list[Row]] = {}
    for number, row in enumerate(rows):
        own: tuple[Any, ...] = (number,)
        if row["reservoir"]:
            own = (row["study_id"], row["reservoir"], row["treatment"], row["genotype"])
        groups.setdefault(own, []).append(row)
    return list(groups.values())


def _yield(unit: Sequence[Row], area: str) -> float:
    weighed = [row for row in unit if row["ttwp"] is not None]
    if not weighed:
        return float("nan")
    total = sum(row["ttwp"] for row in weighed)
    return float(per_area.floats(total, sum(row[area] for row in weighed)))


def _joined(unit: Sequence[Row], column: str) -> str:
    """Return the level of a unit: that of its plots, or all of them joined."""
    return "+".join(dict.fromkeys(row[column] for row in unit))


def _names(units: Sequence[Sequence[Row]], rows: Sequence[Row]) -> tuple[str, ...]:
    several = len({row["study_id"] for row in rows}) > 1
    return tuple(
        f"{unit[0]['study_id']}/{_joined(unit, 'plot_id')}" if several else _joined(unit, "plot_id")
        for unit in units
    )


def _factors(
    units: Sequence[Sequence[Row]], rows: Sequence[Row]
) -> tuple[dict[str, tuple[str, ...]], list[str]]:
    """Return the factors of the units, and notes on those that are not complete."""
    notes = []
    columns = {"method": "treatment", "variety": "genotype", "rep": "rep", "study": "study_id"}
    filled = {name: sum(bool(row[name]) for row in rows) for name in ("block", "row", "col")}
    for name, count in filled.items():
        if 0 < count < len(rows):
            notes.append(
                tr(
                    "{name} is recorded for {count} of {all} plots and was not used",
                    name=factor_text(name),
                    count=count,
                    all=len(rows),
                )
            )
    columns["block"] = "block" if filled["block"] == len(rows) else "rep"
    if columns["block"] == "rep":
        notes.append(tr("the replicate stands for the block"))
    if filled["row"] == filled["col"] == len(rows):
        columns |= {"row": "row", "column": "col"}
    several = len({row["study_id"] for row in rows}) > 1
    factors = {}
    for factor, column in columns.items():
        # Block 1 of one study is not block 1 of another.
        nested = several and factor in ("rep", "block", "row", "column")
        factors[factor] = tuple(
            f"{unit[0]['study_id']}/{_joined(unit, column)}" if nested else _joined(unit, column)
            for unit in units
        )
    if any(row["reservoir"] for row in rows):
        factors["main"] = tuple(
            f"reservoir {unit[0]['study_id']}/{unit[0]['reservoir']}"
            if unit[0]["reservoir"]
            else f"plot {unit[0]['study_id']}/{unit[0]['plot_id']}"
            for unit in units
        )
    return factors, notes


def _merge_notes(units: Sequence[Sequence[Row]], rows: Sequence[Row]) -> list[str]:
    """Return sentences on plots that share a reservoir."""
    notes = []
    for unit in units:
        if len(unit) == 1:
            continue
        plots = ", ".join(row["plot_id"] for row in unit)
        weighed = sum(row["ttwp"] is not None for row in unit)
        if 0 < weighed < len(unit):
            note = mark(
                "plots {plots} of study {study} share reservoir {reservoir} and count as one plot, "
                "with the mean by area of the {count} harvested"
            )
        else:
            note = mark(
                "plots {plots} of study {study} share reservoir {reservoir} and count as one plot, "
                "with the mean by area"
            )
        notes.append(
            tr(
                note,
                plots=plots,
                study=unit[0]["study_id"],
                reservoir=unit[0]["reservoir"],
                count=weighed,
            )
        )
    for (study, reservoir), group in shared_reservoirs(rows).items():
        kinds = {(row["treatment"], row["genotype"]) for row in group}
        if len(kinds) > 1:
            notes.append(
                tr(
                    "reservoir {reservoir} of study {study} feeds {count} treatments or varieties: these "
                    "plots are not independent; the reservoir is their main plot",
                    reservoir=reservoir,
                    study=study,
                    count=len(kinds),
                )
            )
    return notes
