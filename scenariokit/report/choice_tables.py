"""What a choice rests on and what would be worth finding out: tables and sentences."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from scenariokit.charts.frames import Showing
from scenariokit.decide import DriverShare, DriverValue, TrialValue, best_trial
from scenariokit.economics import BudgetRow, PartialBudget
from scenariokit.language import list_text, tr, tr_n
from scenariokit.report.choice_words import money, said, shown_labels
from scenariokit.report.sentences import within_sentence
from scenariokit.uncertainty import Uncertain, Uncertainty
from scenariokit.uncertainty.inputs import name_of


def assumption_table(uncertainty: Uncertainty) -> str:
    """Return what is taken as uncertain, how much, and what that rests on, as an HTML table."""
    causes = {one.name: tr(one.label) for one in uncertainty.causes}
    rows = "".join(
        f'<tr><th scope="row">{escape(name_of(one))}</th>'
        f"<td>{escape(_spread_words(one))}</td>"
        f"<td>{escape(_cause_words(causes.get(one.cause, ''), one.strength))}</td>"
        f"<td>{escape(tr(one.note))}</td></tr>"
        for one in uncertainty.inputs
    )
    heads = "".join(
        f'<th scope="col">{escape(head)}</th>'
        for head in (tr("Input"), tr("Spread"), tr("Moved by"), tr("Rests on"))
    )
    return (
        f'<details class="sk-fold"><summary>{tr("What is taken as uncertain, and how much")}'
        '</summary><div class="sk-scroll" tabindex="0" role="region" '
        f'aria-label="{escape(tr("What is taken as uncertain"))}">'
        f'<table class="sk-table"><thead><tr>{heads}</tr></thead>'
        f"<tbody>{rows}</tbody></table></div></details>"
    )


def _spread_words(one: Uncertain) -> str:
    words = one.spread.words()
    return tr("times what is stated: {spread}", spread=words) if one.relative else words


def _cause_words(label: str, strength: float) -> str:
    if not label:
        return tr("nothing else")
    written = tr("{cause} (correlation {strength:g})", cause=label, strength=strength)
    return written.replace("-", "−")


def budget_table(budget: PartialBudget, labels: dict[str, str], showing: Showing) -> str:
    """Return a partial budget as an HTML table, cheapest first, with its rates of return."""
    head = (tr("Method"), tr("Adjusted yield"), tr("Gross benefit"), tr("Costs that vary"),
            tr("Net benefit"), tr("Rate of return"))  # fmt: skip
    labels, rows = shown_labels(labels), ""
    for row in budget.rows:
        amounts = [
            said(part, "margin_per_area", showing)
            for part in (row.gross_benefit, row.cost_that_varies, row.net_benefit)
        ]
        cells = [
            said(row.adjusted_yield, "yield_per_area", showing),
            *amounts,
            _rate_words(row, labels),
        ]
        name = labels[row.name] + (" ←" if row.name == budget.recommended else "")
        rows += f'<tr><th scope="row">{escape(name)}</th>' + "".join(
            f"<td>{escape(cell)}</td>" for cell in cells
        )
        rows += "</tr>"
    heads = "".join(f'<th scope="col">{escape(word)}</th>' for word in head)
    note = tr(
        "Each step up must bring {percent:.0f} % of what it costs more: the arrow marks where that "
        "ends, at {recommended}. The highest net benefit is that of {highest}. Adjusted yields are "
        "trial yields less a tenth (CIMMYT 1988, from memory).",
        percent=100 * budget.least_return,
        recommended=labels[budget.recommended],
        highest=labels[budget.highest],
    )
    return (
        '<div class="sk-scroll" tabindex="0" role="region" '
        f'aria-label="{escape(tr("Partial budget"))}">'
        f'<table class="sk-table"><thead><tr>{heads}</tr></thead><tbody>{rows}</tbody></table></div>'
        f"<p>{escape(note)}</p>"
    )


def _rate_words(row: BudgetRow, labels: dict[str, str]) -> str:
    """Return what a step up brings, or which option beats this one."""
    if row.rate_of_return is not None:
        return tr(
            "{percent:.0f} % over {method}",
            percent=100 * row.rate_of_return,
            method=labels[row.over],
        )
    return tr("beaten by {method}", method=labels[row.beaten_by]) if row.beaten_by else "–"


def learning_sentences(
    shares: Sequence[DriverShare],
    values: Sequence[DriverValue],
    trials: Sequence[TrialValue],
    name: str,
    showing: Showing,
) -> list[str]:
    """Return where the spread comes from, what is worth finding out, and whether a trial pays."""
    lines = []
    if shares:
        top = [f"{within_sentence(one.driver)} ({100 * one.total:.0f} %)" for one in shares[:3]]
        lines.append(
            tr(
                "The spread of the difference between the first two comes mostly from {inputs}.",
                inputs=list_text(top),
            )
        )
    worth = [one for one in values if one.told][:3]  # the others may be noise of the draws
    if worth:
        listed = [
            f"{within_sentence(one.driver)} ({said(one.value, name, showing)})" for one in worth
        ]
        lines.append(
            tr("Worth the most to find out before choosing: {inputs}.", inputs=list_text(listed))
        )
    if trials:
        lines.append(_trial_words(trials, showing))
    return lines


def _trial_words(trials: Sequence[TrialValue], showing: Showing) -> str:
    best = best_trial(trials)
    if best is None:
        most = max(trials, key=lambda one: one.net.magnitude)
        return tr(
            "One more trial does not pay: even {plots} of each method would be worth {worth} and "
            "cost {cost}.",
            plots=_plots(most.replicates),
            worth=money(most.worth, showing),
            cost=money(most.cost, showing),
        )
    return tr(
        "One more trial pays: with {plots} of each method it is worth {worth} and costs {cost}.",
        plots=_plots(best.replicates),
        worth=money(best.worth, showing),
        cost=money(best.cost, showing),
    )


def _plots(count: int) -> str:
    return tr_n("one plot", "{count} plots", count)
