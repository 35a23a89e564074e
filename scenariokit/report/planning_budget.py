"""What a planned trial takes: plots, plants, ground, growing medium and money."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape
from typing import Any

from scenariokit import units
from scenariokit.charts.frames import Showing
from scenariokit.charts.plot_map import letter
from scenariokit.language import number_text, tr
from scenariokit.trials.planning.budget import TreatmentBudget, TrialBudget
from scenariokit.trials.planning.proposal import TrialPlan


def budget_table(plan: TrialPlan, names: Mapping[str, str], showing: Showing) -> str:
    """Return what a planned trial takes as an HTML table, a row for each method.

    Parameters
    ----------
    plan : TrialPlan
        What `propose` gave.
    names : mapping
        What a person calls each treatment.
    showing : Showing
        Units and currency of the reader.
    """
    budget = plan.budget
    if budget is None:
        text = tr("What the methods need was not stated, so there is no budget.")
        return f"<p>{escape(text)}</p>"
    several = len(plan.aim.treatments) > 1
    letters = {name: letter(number) for number, name in enumerate(plan.aim.treatments)}
    by_name = {row.treatment: row for row in budget.treatments}
    labels = {name: tr(names.get(name, name)) for name in plan.aim.treatments}
    rows = [
        _row([f"{letters[name]} – {label}" if several else label, *_cells(by_name[name], showing)])
        for name, label in labels.items()
    ]
    if several:
        rows.append(_row([tr("All"), *_total_cells(budget, showing)]))
    heads = "".join(f'<th scope="col">{escape(head)}</th>' for head in _heads(showing))
    return (
        '<div class="sk-scroll" tabindex="0" role="region" '
        f'aria-label="{escape(tr("What the trial takes"))}">'
        f'<table class="sk-table"><thead><tr>{heads}</tr></thead>'
        f"<tbody>{''.join(rows)}</tbody></table></div>"
    )


def _row(cells: Sequence[str]) -> str:
    head, *rest = cells
    numbers = "".join(f"<td>{escape(cell)}</td>" for cell in rest)
    return f'<tr><th scope="row">{escape(head)}</th>{numbers}</tr>'


def _units(showing: Showing) -> tuple[str, str]:
    """Return the units of area and of growing medium."""
    return ("ft^2", "US_dry_quart") if showing.system == "us" else ("m^2", "L")


def _heads(showing: Showing) -> list[str]:
    area, volume = (units.unit_label(unit) for unit in _units(showing))
    return [
        tr("Method"), tr("Plots"), tr("Plants"), tr("Tank area ({unit})", unit=area),
        tr("Growing medium ({unit})", unit=volume),
        tr("Cost of one crop ({currency})", currency=showing.currency),
    ]  # fmt: skip


def _cells(row: TreatmentBudget, showing: Showing) -> list[str]:
    area, volume = _units(showing)
    return [
        str(row.plots),
        number_text(row.plants, ","),
        _number(row.area, area, 2),
        _number(row.medium, volume, 0),
        _money(row.cost, showing),
    ]


def _total_cells(budget: TrialBudget, showing: Showing) -> list[str]:
    area, volume = _units(showing)
    return [
        str(budget.plots),
        number_text(budget.plants, ","),
        _number(budget.plot_area, area, 2),
        _number(budget.medium, volume, 0),
        _money(budget.cost, showing),
    ]


def _number(value: Any, unit: str, digits: int) -> str:
    if value is None:
        return "–"
    return number_text(float(value.m_as(units.unit_of(unit))), f",.{digits}f")


def _money(value: Any, showing: Showing) -> str:
    if value is None:
        return "–"
    return number_text(float(value.m_as(units.unit_of("money"))) * showing.rate, ",.2f")


def budget_sentences(plan: TrialPlan, showing: Showing) -> list[str]:
    """Return ground, tanks and what the cost does and does not count.

    Parameters
    ----------
    plan : TrialPlan
        What `propose` gave.
    showing : Showing
        Units and currency of the reader.
    """
    budget = plan.budget
    if budget is None:
        return []
    unit, _ = _units(showing)
    said = [
        tr(
            "The tanks have {area} {unit} of water surface, and with the ways around them they take "
            "{ground} {unit} of ground.",
            area=_number(budget.tank_area, unit, 1),
            ground=_number(budget.ground, unit, 1),
            unit=units.unit_label(unit),
        )
    ]
    if budget.cost is not None:
        said.append(
            tr(
                "One crop of all plots costs {cost} {currency}: plots only, equipment for its share "
                "of a life; time to weigh and write comes on top.",
                cost=_money(budget.cost, showing),
                currency=showing.currency,
            )
        )
    return said
