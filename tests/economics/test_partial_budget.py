"""Partial budgets: dominance, steps and their rates of return, worked by hand."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.economics import partial_budget
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError

NAMES = ["A", "B", "C", "D"]
YIELDS = ["5 kg/m^2", "6.2 kg/m^2", "6.5 kg/m^2", "8 kg/m^2"]
COSTS = ["3 money/m^2", "3.6 money/m^2", "4.6 money/m^2", "5.2 money/m^2"]
PRICE = "1.2 money/kg"


def budget(**changes):
    given = {"names": NAMES, "yields": YIELDS, "costs_that_vary": COSTS, "price": PRICE}
    return partial_budget(**{**given, **changes})


def test_partial_budget_worked_example():
    """Worked by hand after the rules of CIMMYT 1988: yields less 10 %, price 1.20.

    Benefits 5.400, 6.696, 7.020, 8.640; net 2.400, 3.096, 2.420, 3.440;
    A to B 0.696 / 0.6 = 116 %, B to D 0.344 / 1.6 = 21.5 %.
    """
    rows = {row.name: row for row in budget().rows}
    gross = [rows[name].gross_benefit.m for name in NAMES]
    assert gross == pytest.approx([5.4, 6.696, 7.02, 8.64])
    assert [rows[name].net_benefit.m for name in NAMES] == pytest.approx([2.4, 3.096, 2.42, 3.44])
    assert rows["C"].beaten_by == "B"
    assert rows["C"].rate_of_return is None
    assert (rows["A"].rate_of_return, rows["A"].over) == (None, "")
    assert (rows["B"].rate_of_return, rows["B"].over) == (pytest.approx(1.16), "A")
    assert (rows["D"].rate_of_return, rows["D"].over) == (pytest.approx(0.215), "B")


@pytest.mark.parametrize(
    ("least", "recommended"), [(1.0, "B"), (0.5, "B"), (0.2, "D"), (1.17, "A"), (0.0, "D")]
)
def test_partial_budget_recommends_by_the_least_return(least, recommended):
    found = budget(least_return=least)
    assert found.recommended == recommended
    assert found.highest == "D"


def test_partial_budget_of_options_that_cost_the_same_keeps_the_better():
    found = partial_budget(["low", "high"], ["4 kg/m^2", "5 kg/m^2"], ["3 money/m^2"] * 2, PRICE)
    assert [row.name for row in found.rows] == ["high", "low"]
    assert found.rows[1].beaten_by == "high"
    assert found.recommended == "high"


def test_partial_budget_equal_benefit_at_a_higher_cost_is_beaten():
    found = partial_budget(
        ["cheap", "dear"], ["5 kg/m^2", "6 kg/m^2"], ["1 money/m^2", "2 money/m^2"],
        "1 money/kg", yield_adjustment=0,
    )  # fmt: skip
    assert found.rows[1].beaten_by == "cheap"


def test_partial_budget_of_one_option_recommends_it():
    found = partial_budget(["only"], ["2 kg/m^2"], ["9 money/m^2"], PRICE)
    assert found.recommended == "only"
    assert found.rows[0].net_benefit.m == pytest.approx(2 * 0.9 * 1.2 - 9)


def test_partial_budget_takes_other_units():
    found = budget(yields=[quantity(value, "lb/ft^2") for value in
                           (5 / 4.8824276, 6.2 / 4.8824276, 6.5 / 4.8824276, 8 / 4.8824276)])  # fmt: skip
    assert found.rows[1].rate_of_return == pytest.approx(1.16, rel=1e-6)


def test_partial_budget_says_all_that_is_wrong_at_once():
    with pytest.raises(ArgumentError) as caught:
        budget(yields=["5", "6 kg/m^2", "-1 kg/m^2", "8 kg/m^2"], price="1 money")
    text = str(caught.value)
    assert all(word in text for word in ("yields[A]", "yields[C]", "price"))


def test_partial_budget_refuses_arrays_and_wild_rates():
    with pytest.raises(RangeError, match=r"yields\[A\].*is an array"):
        budget(yields=[quantity([1.0, 2.0], "kg/m^2"), *YIELDS[1:]])
    with pytest.raises(RangeError, match="least_return"):
        budget(least_return=-1)


@pytest.mark.parametrize(
    ("names", "words"),
    [([], "at least one"), (["A", "A", "B", "C"], "each once"), (["A", "B"], "2 names, 4 yields")],
)
def test_partial_budget_names_must_fit(names, words):
    with pytest.raises(InfeasibleError, match=words):
        budget(names=names)


money = st.floats(0, 50)


@settings(max_examples=100, deadline=None)
@given(
    rows=st.lists(st.tuples(st.floats(0, 20), money), min_size=1, max_size=7), least=st.floats(0, 3)
)
def test_partial_budget_what_is_left_rises_in_cost_and_benefit(rows, least):
    names = [str(number) for number in range(len(rows))]
    found = partial_budget(
        names, [quantity(one, "kg/m^2") for one, _ in rows],
        [quantity(cost, "money/m^2") for _, cost in rows], PRICE, 0.1, least,
    )  # fmt: skip
    left = [row for row in found.rows if not row.beaten_by]
    benefits = [row.net_benefit.m for row in left]
    assert benefits == sorted(set(benefits))
    assert all(row.rate_of_return > 0 for row in left[1:])
    assert found.recommended in {row.name for row in left}
    assert found.highest == left[-1].name
