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


@pytest.mark.parametrize(
    ("least", "walk"),
    [
        (1.0, [("A", "B", True), ("B", "D", False)]),
        (0.2, [("A", "B", True), ("B", "D", True)]),
        # From A to B 0.696 / 0.6 = 116 %; from A to D 1.04 / 2.2 = 47.3 %.
        (1.17, [("A", "B", False), ("A", "D", False)]),
    ],
)
def test_partial_budget_tells_each_step_and_whether_it_is_taken(least, walk):
    found = budget(least_return=least)
    assert [(step.start, step.end, step.taken) for step in found.steps] == walk
    last = found.steps[-1]
    assert last.rate_of_return == pytest.approx(0.215 if last.start == "B" else 1.04 / 2.2)
    assert last.more_cost.m_as("money/m^2") == pytest.approx(1.6 if last.start == "B" else 2.2)
    assert last.more_benefit.m == pytest.approx(last.rate_of_return * last.more_cost.m)


def test_partial_budget_leaps_over_a_poor_step_where_both_together_bring_enough():
    """Worked by hand, price 1: costs 1, 2, 3; net benefits 1, 1.5, 4: 50 %, then 300 % from first.

    The second step is measured from where the grower still stands: 3 / 2 = 150 %.
    """
    found = partial_budget(
        ["a", "b", "c"], ["2 kg/m^2", "3.5 kg/m^2", "7 kg/m^2"],
        ["1 money/m^2", "2 money/m^2", "3 money/m^2"], "1 money/kg", 0, 1.0,
    )  # fmt: skip
    assert [row.rate_of_return for row in found.rows] == [None, pytest.approx(0.5), 2.5]
    assert [(one.start, one.end, one.rate_of_return) for one in found.steps] == [
        ("a", "b", 0.5), ("a", "c", 1.5)]  # fmt: skip
    assert found.recommended == "c"


def test_partial_budget_takes_a_step_that_brings_just_the_least_return():
    # 0.3 x 0.6 = 0.18 more gross for 0.1 more: 0.08 left, 80 %; in floats a little less.
    found = partial_budget(
        ["a", "b"], ["1 kg/m^2", "1.6 kg/m^2"], ["0.2 money/m^2", "0.3 money/m^2"],
        "0.3 money/kg", 0, 0.8,
    )  # fmt: skip
    assert found.recommended == "b"


def test_partial_budget_costs_and_benefits_alike_but_for_rounding_are_ties():
    tenth = quantity(0.1 + 0.2, "money/m^2")  # 0.30000000000000004
    found = partial_budget(
        ["dear", "better", "cheap"], ["4 kg/m^2", "5 kg/m^2", "4 kg/m^2"],
        [tenth, tenth, "0.3 money/m^2"], PRICE,
    )  # fmt: skip
    assert found.rows[0].name == "better"
    assert {row.beaten_by for row in found.rows[1:]} == {"better"}
    # Net 1 both, 3 x 1.1 - 2.3 being 1.0000000000000004: the dearer one is not better.
    found = partial_budget(
        ["cheap", "dear"], ["2 kg/m^2", "3 kg/m^2"], ["1.2 money/m^2", "2.3 money/m^2"],
        "1.1 money/kg", 0, 0,
    )  # fmt: skip
    assert (found.rows[1].beaten_by, found.recommended, found.highest) == ("cheap",) * 3


def test_partial_budget_of_nothing_at_all_has_ties_only():
    found = partial_budget(["a", "b"], ["0 kg/m^2"] * 2, ["0 money/m^2"] * 2, PRICE)
    assert (found.recommended, found.steps) == ("a", ())
    assert found.rows[1].beaten_by == "a"


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
    # The recommended one has the highest residual, net benefit less the return asked on its cost.
    residual = {row.name: row.net_benefit.m - least * row.cost_that_varies.m for row in left}
    assert residual[found.recommended] == pytest.approx(max(residual.values()), abs=1e-6)
    assert {step.end for step in found.steps if step.taken} <= set(residual)
