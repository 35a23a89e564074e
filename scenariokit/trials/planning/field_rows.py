"""The rows of a field book: plot records with all that is known before the harvest."""

from __future__ import annotations

import datetime
from dataclasses import dataclass
from typing import Any

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.trials.planning.layout import Layout, PlannedPlot
from scenariokit.trials.planning.names import is_name
from scenariokit.trials.planning.needs import Needs, needs_of, plants_in
from scenariokit.trials.records.schema import iso_date, record_document, record_schema

Row = dict[str, Any]


@dataclass(frozen=True)
class BookDetails:
    """What stands in every row of a field book.

    Parameters
    ----------
    study_id : str
        A short name of the trial.
    planting_date : date or str
        Day of planting; text as year-month-day.
    treatment : str
        The growing method, where the layout names none.
    variety : str
        The variety, where the layout names none.
    needs : PlotNeeds or mapping of str to PlotNeeds, optional
        To fill in how many plants and how much growing medium each plot gets.

    Raises
    ------
    ArgumentError
        If the name is blank or the date is none. All problems at once.

    Examples
    --------
    >>> from scenariokit.trials.planning.field_rows import BookDetails
    >>> BookDetails("spring", "2026-05-01").planting_date
    datetime.date(2026, 5, 1)
    """

    study_id: str
    planting_date: datetime.date | str
    treatment: str = ""
    variety: str = ""
    needs: Needs | None = None

    def __post_init__(self) -> None:
        """Check the details and keep the date as a date."""
        found = _date(self.planting_date)
        problems = [
            Problem(field, repr(name), tr("is not a name"), tr("text that is no blank and not NA"))
            for field, name, optional in (
                ("study_id", self.study_id, False),
                ("treatment", self.treatment, True),
                ("variety", self.variety, True),
            )
            if not (optional and name == "") and (not is_name(name) or _is_missing(name))
        ]
        if found is None or not 1900 <= found.year <= 2199:
            problems.append(
                Problem("planting_date", str(self.planting_date), tr("is not a possible date"),
                        tr("year-month-day, 1900 to 2199"), "2026-05-01")
            )  # fmt: skip
        if problems:
            raise argument_error(problems, tr("field book"))
        object.__setattr__(self, "planting_date", found)


def _is_missing(name: str) -> bool:
    """Return whether a name would be read back as a missing value."""
    return name in record_schema().missing_values


def field_rows(layout: Layout, details: BookDetails) -> list[Row]:
    """Return the rows of a field book, with the columns of the plot record.

    Parameters
    ----------
    layout : Layout
        A layout drawn with tanks.
    details : BookDetails
        What stands in every row.

    Returns
    -------
    list of dict
        One for each plot, in the order in which one walks past; areas in m²,
        volumes in L. What is known only at harvest is left out.

    Raises
    ------
    ArgumentError
        If the layout has no tanks, or a plot has no treatment or variety. All
        problems at once.

    Examples
    --------
    >>> from scenariokit.trials.planning.designs import block_layout
    >>> from scenariokit.trials.planning.tanks import equal_tanks
    >>> tanks = equal_tanks(3, "240 cm", "60 cm", sections=2)
    >>> layout = block_layout(["bag", "pots"], 3, seed=1, tanks=tanks)
    >>> details = BookDetails("spring", "2026-05-01", variety="early")
    >>> row = field_rows(layout, details)[0]
    >>> row["plot_id"], row["genotype"], round(row["plot_area"], 2)
    ('P1', 'early', 0.72)
    """
    problems = [
        *_gaps("treatment", [plot.treatment or details.treatment for plot in layout.plots]),
        *_gaps("variety", [plot.variety or details.variety for plot in layout.plots]),
    ]
    if problems:
        raise argument_error(problems, tr("field book"))
    rows = _rows(layout, details)
    problems = _long_names(rows)
    if problems:
        raise argument_error(problems, tr("field book"))
    return rows


def _rows(layout: Layout, details: BookDetails) -> list[Row]:
    replicates = layout.replicate_of()
    return [
        {
            "study_id": details.study_id,
            "plot_id": plot.plot_id,
            "rep": str(replicates[plot.plot_id]),
            "block": plot.block,
            "row": str(plot.row),
            "col": str(plot.column),
            "reservoir": layout.tank_of(plot).reservoir_of(plot.section),
            "treatment": plot.treatment or details.treatment,
            "genotype": plot.variety or details.variety,
            "planting_date": str(details.planting_date),
            "plot_area": _short(layout.tank_of(plot).section_area.m_as("m^2")),
            **_planned_needs(layout, plot, details.needs),
            "note": _place(layout, plot),
        }
        for plot in layout.plots
    ]


def _gaps(field: str, names: list[str]) -> list[Problem]:
    """Return what keeps the names of a column from being read back."""
    found = []
    if "" in names:
        reason = tr("is not stated, and a record needs one")
        found.append(Problem(field, "", reason, f"BookDetails({field}=...)"))
    found += [
        Problem(field, name, tr("would be read back as missing"), tr("another name"))
        for name in dict.fromkeys(names)
        if name and _is_missing(name)
    ]
    return found


def _long_names(rows: list[Row]) -> list[Problem]:
    """Return the names that are longer than a record may hold."""
    limits = {
        field["name"]: field["constraints"]["maxLength"]
        for field in record_document()["fields"]
        if "maxLength" in field.get("constraints", {})
    }
    return [
        Problem(
            column,
            text,
            tr("is too long for a record"),
            tr("{most} characters or fewer", most=limits[column]),
        )
        for column in limits
        for text in dict.fromkeys(row.get(column, "") for row in rows)
        if len(text) > limits[column]
    ]


def _planned_needs(layout: Layout, plot: PlannedPlot, needs: Needs | None) -> Row:
    """Return the plants and the growing medium of a plot, if they are stated."""
    if needs is None:
        return {}
    plants = plants_in(layout, plot, needs)
    volume = needs_of(plot, needs).volume_per_plant
    return {
        "ntp": plants,
        "medium_volume": None if volume is None else _short(plants * volume.m_as("L/plant")),
    }


def _short(number: float) -> float:
    """Return a number without the rounding of its unit, as a person would write it."""
    return float(f"{number:.10g}")


def _place(layout: Layout, plot: PlannedPlot) -> str:
    """Return where a plot stands, in words."""
    sections = layout.tank_of(plot).sections
    if sections > 1:
        return tr("tank {tank} section {section}", tank=plot.tank, section=plot.section)
    return tr("tank {tank}", tank=plot.tank)


def _date(given: datetime.date | str) -> datetime.date | None:
    """Return a date, or None."""
    if isinstance(given, datetime.datetime):
        return given.date()
    return given if isinstance(given, datetime.date) else iso_date(str(given))
