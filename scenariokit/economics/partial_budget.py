"""Partial budget of several options: dominance and the marginal rate of return."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

_MONEY = "money/m^2"
_ALIKE = 1e-9
"""Sums of money count as equal within this share of the largest: what rounding may leave."""


@dataclass(frozen=True)
class BudgetRow:
    """One option of a partial budget.

    Parameters
    ----------
    name : str
        The option.
    adjusted_yield : quantity
        Its yield less what is taken off [kg/m²].
    gross_benefit, cost_that_varies, net_benefit : quantity
        Price times adjusted yield; the costs in which the options differ; and
        the first less the second [money/m²].
    beaten_by : str
        The cheaper option whose net benefit is as high or higher; empty if none.
    rate_of_return : float or None
        Marginal rate of return over the next cheaper undominated option: what
        it brings in more for what it costs more; 1 is 100 %. None for the
        first and for dominated ones.
    over : str
        That next cheaper option; empty where there is no rate.
    """

    name: str
    adjusted_yield: Quantity
    gross_benefit: Quantity
    cost_that_varies: Quantity
    net_benefit: Quantity
    beaten_by: str = ""
    rate_of_return: float | None = None
    over: str = ""


@dataclass(frozen=True)
class BudgetStep:
    """A step up that was weighed on the way to the recommended option, and whether it is taken.

    Parameters
    ----------
    start, end : str
        From where and to where.
    more_cost, more_benefit : quantity
        What it costs more, and what is left over more, costs paid [money/m²].
    rate_of_return : float
        The second over the first; 1 is 100 %.
    taken : bool
        Whether that is at least the rate asked for.
    """

    start: str
    end: str
    more_cost: Quantity
    more_benefit: Quantity
    rate_of_return: float
    taken: bool


@dataclass(frozen=True)
class PartialBudget:
    """A partial budget, cheapest option first. Make it by `partial_budget`.

    Parameters
    ----------
    rows : tuple of BudgetRow
        In the order of the costs that vary.
    least_return : float
        The rate of return that was asked for.
    recommended : str
        Where the steps that are taken end.
    steps : tuple of BudgetStep
        Why: the walk up the undominated options from the cheapest. After a
        step that brings too little, the next one is measured from the same
        start, for both together may bring enough.
    """

    rows: tuple[BudgetRow, ...]
    least_return: float
    recommended: str
    steps: tuple[BudgetStep, ...] = ()

    @property
    def highest(self) -> str:
        """The option of the highest net benefit; of several, the cheapest."""
        return [row.name for row in self.rows if not row.beaten_by][-1]


def partial_budget(
    names: Sequence[str],
    yields: Sequence[QuantityLike],
    costs_that_vary: Sequence[QuantityLike],
    price: QuantityLike,
    yield_adjustment: Any = 0.1,
    least_return: Any = 1.0,
) -> PartialBudget:
    """Return the partial budget of options that differ in yield and in some costs.

    NB = P Y (1 - a) - C. Sorted by C, an option is dominated if a cheaper one
    (or one as cheap) has the same or a higher NB; MRR = dNB / dC between
    successive options that are left.

    Parameters
    ----------
    names : sequence of str
        The options, each name once.
    yields : sequence of quantity
        Y, their yields [kg/m²].
    costs_that_vary : sequence of quantity
        C, the costs in which they differ [money/m²].
    price : quantity
        P, what a kilogram fetches after what it costs to harvest and sell it [money/kg].
    yield_adjustment : float
        a, share taken off trial yields, 0 to 0.9; 0.1 is customary.
    least_return : float
        The least rate of return asked of each step; 1 is 100 %, and 0.5 to 1
        is customary.

    Returns
    -------
    PartialBudget

    Raises
    ------
    ArgumentError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If there is no option, a name stands twice, or there are not as many
        yields and costs as names.

    Notes
    -----
    Costs that are alike for all options are left out; they change neither the
    order nor the rates. The option of the highest net benefit is not always
    the one to recommend: the last steps up to it may bring too little for what
    they cost. The recommended one has the highest NB - r C, r being the least
    return; where several have, the dearest of them, which a step that brings
    just r reaches. Sums that differ only by rounding count as equal. Single
    values only: apply it to each draw of an ensemble.

    References
    ----------
    CIMMYT (1988), From Agronomic Data to Farmer Recommendations: An Economics
    Training Manual (from memory, not checked against a copy).

    Examples
    --------
    >>> found = partial_budget(
    ...     ["A", "B", "C", "D"],
    ...     ["5 kg/m^2", "6.2 kg/m^2", "6.5 kg/m^2", "8 kg/m^2"],
    ...     ["3 money/m^2", "3.6 money/m^2", "4.6 money/m^2", "5.2 money/m^2"],
    ...     "1.2 money/kg",
    ... )
    >>> found.recommended, found.highest
    ('B', 'D')
    """
    subject = "partial_budget"
    if not names or len(set(names)) < len(names):
        raise InfeasibleError(tr("{subject}: name at least one option, each once", subject=subject))
    if not len(names) == len(yields) == len(costs_that_vary):
        raise InfeasibleError(
            tr(
                "{subject}: there are {count} names, {count2} yields and {count3} costs; give one of "
                "each for every option",
                subject=subject,
                count=len(names),
                count2=len(yields),
                count3=len(costs_that_vary),
            )
        )
    found = checked_floats(
        subject,
        {f"yields[{name}]": (value, "yield_per_area") for name, value in zip(names, yields, strict=True)}
        | {f"costs_that_vary[{name}]": (value, "cost_per_area")
           for name, value in zip(names, costs_that_vary, strict=True)}
        | {"price": (price, "produce_price"),
           "yield_adjustment": (yield_adjustment, "yield_adjustment"),
           "least_return": (least_return, "least_return")},
    )  # fmt: skip
    _refuse_arrays(found, subject)
    kept = 1 - found["yield_adjustment"]
    options = [
        (name, found[f"yields[{name}]"] * kept, found[f"costs_that_vary[{name}]"]) for name in names
    ]
    rows = _rows(options, found["price"])
    steps = _steps(rows, found["least_return"])
    end = next((step.end for step in reversed(steps) if step.taken), rows[0].name)
    return PartialBudget(rows, found["least_return"], end, steps)


def _refuse_arrays(found: dict[str, Any], subject: str) -> None:
    problems = [
        Problem(name, f"{len(value)} values", tr("is an array"), tr("one value"), kind="range")
        for name, value in found.items()
        if not isinstance(value, float)
    ]
    if problems:
        raise argument_error(problems, subject)


def _rows(options: list[tuple[str, float, float]], price: float) -> tuple[BudgetRow, ...]:
    """Return the rows in the order of cost, each beside what beats it or its step."""
    largest = max(max(price * adjusted, cost) for _, adjusted, cost in options) or 1.0
    # Of options that cost the same the one of the highest benefit comes first and beats the rest.
    ordered = sorted(
        options, key=lambda row: (round(row[2] / largest / _ALIKE), row[2] - price * row[1])
    )
    rows: list[BudgetRow] = []
    best: tuple[str, float, float] | None = None  # name, cost and benefit of the last one left
    for name, adjusted, cost in ordered:
        net = price * adjusted - cost
        beaten, rate, over = "", None, ""
        if best is not None and net <= best[2] + _ALIKE * largest:
            beaten = best[0]
        elif best is not None:
            rate, over = (net - best[2]) / (cost - best[1]), best[0]
        rows.append(
            BudgetRow(
                name, with_unit(adjusted, "kg/m^2"), with_unit(price * adjusted, _MONEY),
                with_unit(cost, _MONEY), with_unit(net, _MONEY), beaten, rate, over,
            )
        )  # fmt: skip
        if not beaten:
            best = (name, cost, net)
    return tuple(rows)


def _steps(rows: tuple[BudgetRow, ...], least: float) -> tuple[BudgetStep, ...]:
    """Return the steps of a grower who takes each that brings at least `least`."""
    here, *left = [row for row in rows if not row.beaten_by]
    steps = []
    for row in left:
        more = row.net_benefit.magnitude - here.net_benefit.magnitude
        spent = row.cost_that_varies.magnitude - here.cost_that_varies.magnitude
        taken = more / spent >= least * (1 - _ALIKE)
        steps.append(
            BudgetStep(
                here.name, row.name, with_unit(spent, _MONEY), with_unit(more, _MONEY),
                more / spent, taken,
            )
        )  # fmt: skip
        if taken:
            here = row
    return tuple(steps)
