"""Partial budgets and break-evens of methods, worked by hand and held to the outcomes."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from decision_tables import rows_of
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_methods import plain

from scenariokit.decide.partial_budgets import (
    WHOLE,
    break_evens,
    costs_that_vary,
    partial_budget_of,
    varying_parts,
)
from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.scenario import compare, scenario_for, with_draws, with_values

HOURS = {"A": 0.075, "B": 0.09, "C": 0.115, "D": 0.13}
"""Hours for a plant; with 10 plants and 4 money/hour 3.0, 3.6, 4.6 and 5.2 money/m²."""
YIELDS = {"A": 5.0, "B": 6.2, "C": 6.5, "D": 8.0}
SOLD = {"crop.marketable_share": 1, "crop.loss_share": 0, "prices.produce_price": "1.2 money/kg"}


def renamed(one, name):
    return dataclasses.replace(one, method=dataclasses.replace(one.method, id=name))


def four(**changes):
    """Return the four options of the worked example as methods that cost labour only."""
    made = [
        renamed(plain(hours=HOURS[name], harvest=YIELDS[name]), name)
        for name in ("A", "B", "C", "D")
    ]
    return [with_values(one, {**SOLD, **changes}) for one in made]


def barren(one):
    return with_values(one, {f"harvest.{end}": "0 kg/m^2" for end in ("low", "typical", "high")})


SHIPPED = [scenario_for(name) for name in ("medium_bag", "wedge_pots", "perforated_tray")]


def test_partial_budget_of_methods_worked_by_hand():
    found = partial_budget_of(compare(four()))
    rows = {row.name: row for row in found.rows}
    for name, value, half in rows_of("four_steps", "net_benefit"):
        assert rows[name].net_benefit.m_as("money/m^2") == pytest.approx(value, abs=half)
    for name, value, half in rows_of("four_steps", "rate_of_return"):
        assert rows[name].rate_of_return == pytest.approx(value, abs=half)
    assert (rows["C"].beaten_by, found.recommended, found.highest) == ("B", "B", "D")
    assert partial_budget_of(compare(four()), least_return=0.2).recommended == "D"
    assert partial_budget_of(compare(four()), 0.0, 0.5).rows[0].adjusted_yield.m == pytest.approx(5)


def test_partial_budget_of_counts_what_can_be_sold():
    spoilt = four(**{"crop.marketable_share": 0.8, "crop.loss_share": 0.1})
    found = partial_budget_of(compare(spoilt), yield_adjustment=0)
    assert found.rows[0].adjusted_yield.m_as("kg/m^2") == pytest.approx(5 * 0.72)


def test_partial_budget_of_differences_are_those_of_margins():
    """Without an adjustment net benefits differ as margins do: what is alike falls out."""
    comparison = compare(SHIPPED)
    rows = {row.name: row.net_benefit.m for row in partial_budget_of(comparison, 0.0).rows}
    nets = np.array([rows[one.method.id] for one in SHIPPED])
    assert np.diff(nets) == pytest.approx(np.diff(comparison.values("margin_per_area")))


def test_partial_budget_of_what_lies_outside_its_range_is_refused():
    with pytest.raises(RangeError, match="yield_adjustment"):
        partial_budget_of(compare(SHIPPED), 1.5)


def test_partial_budget_of_several_prices_or_one_method_twice_is_refused():
    dear = with_values(SHIPPED[1], {"prices.produce_price": "9 money/kg"})
    with pytest.raises(InfeasibleError, match=r"fetches .*, 9 money/kg"):
        partial_budget_of(compare([SHIPPED[0], dear]))
    with pytest.raises(InfeasibleError, match="each once"):
        partial_budget_of(compare([SHIPPED[0], SHIPPED[0]]))


def test_several_values_of_one_scenario_are_refused():
    drawn = with_draws(SHIPPED[0], {"harvest.typical": np.array([4.0, 5.0])})
    for refuse in (partial_budget_of, varying_parts, costs_that_vary, break_evens):
        with pytest.raises(InfeasibleError, match="has several values"):
            refuse(compare([drawn, SHIPPED[1]]))


# -- the costs that vary --------------------------------------------------------------------


def test_varying_parts_leave_out_what_is_alike():
    parts = varying_parts(compare(four()))
    assert list(parts) == ["labour"]
    assert parts["labour"].m_as("money/m^2") == pytest.approx([3.0, 3.6, 4.6, 5.2])
    assert varying_parts(compare([SHIPPED[0]])) == {}
    assert costs_that_vary(compare([SHIPPED[0]])).m.tolist() == [0.0]


def test_varying_parts_and_what_is_alike_add_up_to_all():
    comparison = compare(SHIPPED)
    parts = varying_parts(comparison)
    alike = comparison.values("cost_per_area") - costs_that_vary(comparison).m_as("money/m^2")
    assert alike == pytest.approx([alike[0]] * 3)
    harvest = comparison.values("yield_per_area")
    for name, part in parts.items():
        assert part.m == pytest.approx(comparison.values(f"cost_{name}") * harvest)


def test_varying_parts_do_not_depend_on_the_yield():
    whole = varying_parts(compare(SHIPPED))
    failed = varying_parts(compare([SHIPPED[0], barren(SHIPPED[1]), SHIPPED[2]]))
    assert list(failed) == list(whole)
    for name, part in whole.items():
        assert failed[name].m == pytest.approx(part.m)


def test_varying_parts_where_salt_leaves_nothing_are_the_whole_costs():
    salt = {"feed.ec": "4 dS/m", "crop.salinity_slope": "100 percent/(dS/m)"}
    salty = [with_values(one, salt) for one in SHIPPED[:2]]
    comparison = compare(salty)
    assert comparison.values("yield_per_area").tolist() == [0.0, 0.0]
    parts = varying_parts(comparison)
    assert list(parts) == [WHOLE]
    assert parts[WHOLE].m == pytest.approx(comparison.values("cost_per_area"))
    cheapest = min(comparison, key=lambda one: one["cost_per_area"].m).scenario.method.id
    assert partial_budget_of(comparison).recommended == cheapest


# -- where each breaks even -----------------------------------------------------------------


def test_break_evens_worked_by_hand():
    """A costs 3.0 money/m², yields 5 kg/m² and fetches 1.2 money/kg: 0.6, 2.5 and half."""
    first, *_, last = break_evens(compare(four()))
    assert first.method == "A"
    assert first.price.m_as("money/kg") == pytest.approx(0.6)
    assert first.harvest.m_as("kg/m^2") == pytest.approx(2.5)
    assert first.may_fall == pytest.approx(0.5)
    assert last.price.m_as("money/kg") == pytest.approx(5.2 / 8)


def test_break_evens_leave_nothing_over_there():
    for one, found in zip(SHIPPED, break_evens(compare(SHIPPED)), strict=True):
        dear = with_values(one, {"prices.produce_price": found.price})
        assert compare([dear]).values("margin_per_area") == pytest.approx([0.0], abs=1e-9)
        less = with_draws(one, {"harvest.typical": found.harvest.m / _left(one)})
        assert compare([less]).values("margin_per_area") == pytest.approx([0.0], abs=1e-9)
        margin, takings = (
            compare([one]).values(name)[0] for name in ("margin_per_area", "takings_per_area")
        )
        assert found.may_fall == pytest.approx(margin / takings)


def _left(one):
    return compare([one]).values("salinity_factor")[0]


def test_break_evens_do_not_exist_where_nothing_is_sold_or_for_nothing():
    failed, free, unfit = break_evens(
        compare(
            [
                barren(SHIPPED[0]),
                with_values(SHIPPED[1], {"prices.produce_price": "0 money/kg"}),
                with_values(SHIPPED[2], {"crop.marketable_share": 0}),
            ]
        )
    )
    assert (failed.price, failed.may_fall) == (None, None)
    assert failed.harvest.m > 0
    assert free.price.m > 0
    assert (free.harvest, free.may_fall) == (None, None)
    assert (unfit.price, unfit.harvest, unfit.may_fall) == (None, None, None)


@settings(max_examples=20, deadline=None)
@given(st.floats(0.3, 20), st.floats(0.5, 15), st.floats(0.1, 10))
def test_break_evens_fall_short_just_where_a_loss_is_made(price, harvest, hours):
    one = with_values(
        plain(hours=hours / 10, harvest=harvest),
        {**SOLD, "prices.produce_price": f"{price!r} money/kg"},
    )
    (found,) = break_evens(compare([one]))
    loss = compare([one]).values("margin_per_area")[0] < 0
    assert (found.may_fall < 0) == loss
    assert (found.price.m > price) == loss
    assert found.harvest.m / harvest == pytest.approx(found.price.m / price)
