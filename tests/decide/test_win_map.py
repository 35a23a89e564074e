"""Maps of the best method over two parameters, and the lines between its parts."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_methods import plain

from scenariokit import quantity
from scenariokit.decide.win_map import BLOCK, MOST_CELLS, grid_outcome, win_map
from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.scenario import compare, outcome_values, scenario_for, with_draws, with_values

COST = "cost_per_kilogram"
FACTOR, WAGE = "prices.medium_factor", "prices.labour_price"


@pytest.fixture(scope="module")
def pair():
    """Costs of (2 f + 1 w) / 5 and 1.5 w / 4."""
    return [
        plain("medium_bag", medium=0.1, litres=2.0, hours=0.1, harvest=5.0),
        plain("wedge_pots", litres=1.0, hours=0.15, harvest=4.0),
    ]


def test_win_map_by_hand(pair):
    ranges = {FACTOR: ("0", "2"), WAGE: ("0 money/hour", "4 money/hour")}
    found = win_map(pair, FACTOR, WAGE, COST, (3, 3), ranges)
    assert found.x.m.tolist() == [0, 1, 2]
    assert found.y.m_as("money/hour").tolist() == [0, 2, 4]
    # 0.4 f + 0.2 w against 0.375 w: the first wins where 0.4 f < 0.175 w
    first = np.array([[0.4 * f < 0.175 * w for f in (0, 1, 2)] for w in (0, 2, 4)])
    assert ((found.best == 0) | found.ties == first | found.ties).all()
    assert found.ties[0, 0]  # both are free
    assert found.ties.sum() == 1
    assert found.lead.m_as("money/kg")[1, 2] == pytest.approx(0.8 - 0.35)
    assert found.outcome.m_as("money/kg")[2, 0] == pytest.approx(0.8)
    assert found.shares == {"medium_bag": pytest.approx(4 / 9), "wedge_pots": pytest.approx(5 / 9)}


def test_win_map_us_ends_give_the_same(pair):
    metric = win_map(
        pair, "harvest.typical", WAGE, COST, (4, 3), {"harvest.typical": ("1 kg/m^2", "9 kg/m^2")}
    )
    ends = tuple(quantity(end).to("lb/ft^2") for end in ("1 kg/m^2", "9 kg/m^2"))
    us = win_map(pair, "harvest.typical", WAGE, COST, (4, 3), {"harvest.typical": ends})
    assert us.x.m.tolist() == pytest.approx(metric.x.m.tolist())
    assert (us.best == metric.best).all()


def test_win_map_without_value_has_no_winner(pair):
    nothing = [
        with_values(
            one, dict.fromkeys(("harvest.low", "harvest.typical", "harvest.high"), "0 kg/m^2")
        )
        for one in pair
    ]
    found = win_map(nothing, FACTOR, WAGE, COST, (2, 2))
    assert (found.best == -1).all()
    assert np.isnan(found.outcome.m).all()
    assert np.isnan(found.lead.m).all()
    assert not found.ties.any()
    assert set(found.frame()["best"]) == {""}
    one = win_map([pair[0], nothing[1]], FACTOR, WAGE, COST, (2, 2))
    assert (one.best == 0).all()
    assert np.isnan(one.lead.m).all()


def test_win_map_measures_that_do_not_fit_do_not_win(pair):
    found = win_map(
        pair[:1], "method.plants_per_area", "method.container.length", COST, (5, 4),
        {"method.plants_per_area": ("10 plant/m^2", "60 plant/m^2"),
         "method.container.length": ("10 cm", "40 cm")},
    )  # fmt: skip
    plants, length = np.meshgrid(found.x.m, found.y.m_as("m"))
    fits = plants * length * 0.15 <= 1 + 1e-9  # the pots are 15 cm wide
    assert ((found.best >= 0) == fits).all()
    assert fits.any()
    assert not fits.all()


def test_win_map_alone_leads_nobody(pair):
    found = win_map(pair[:1], FACTOR, WAGE, COST, (2, 3))
    assert found.best.shape == (3, 2)
    assert np.isnan(found.lead.m).all()


def test_win_map_frame_in_us_money(pair):
    found = win_map(pair, "prices.produce_price", "harvest.typical", "margin_per_area", (3, 2))
    table = found.frame("us", rate=2.0)
    assert list(table) == [
        "prices_produce_price_money_per_lb", "harvest_typical_lb_per_ft2", "best", "tie",
    ]  # fmt: skip
    assert len(table) == 6
    assert table.iloc[2, 0] == pytest.approx(2 * found.x.m[2] * 0.45359237)
    assert set(table["best"]) <= {"medium_bag", "wedge_pots"}


def test_grid_outcome_blocks_join(pair):
    x, y = np.linspace(0, 3, 130), np.linspace(0, 9, 90)
    assert x.size * y.size > BLOCK
    found = grid_outcome(pair[0], (FACTOR, WAGE), (x, y), COST)
    assert found[7, 100] == pytest.approx((2 * x[100] + y[7]) / 5)
    assert found[89, 129] == pytest.approx((2 * 3 + 9) / 5)


def test_win_map_bad_arguments_in_one_message(pair):
    with pytest.raises(RangeError, match="3 problems") as error:
        win_map(pair, FACTOR, FACTOR, COST, (1, MOST_CELLS), {WAGE: (None, None)})
    assert [one.field for one in error.value.problems] == ["y_path", "cells", "ranges"]


def test_win_map_strangers_are_refused(pair):
    with pytest.raises(RangeError, match="is no number"):
        win_map(pair, FACTOR, "prices.nothing", COST)
    with pytest.raises(RangeError, match="is no outcome"):
        win_map(pair, FACTOR, WAGE, "profit")
    with pytest.raises(InfeasibleError, match="stands twice"):
        win_map([*pair, pair[0]], FACTOR, WAGE, COST)
    drawn = with_draws(pair[0], {"prices.water_price": np.array([1.0, 2.0])})
    with pytest.raises(RangeError, match="several values already"):
        win_map([drawn], FACTOR, WAGE, COST)


@given(column=st.integers(0, 5), row=st.integers(0, 5))
@settings(max_examples=15, deadline=None)
def test_win_map_winner_is_that_of_a_comparison(column, row):
    scenarios = [scenario_for(name) for name in ("medium_bag", "wedge_pots", "suspended_pot")]
    found = win_map(scenarios, FACTOR, WAGE, "margin_per_area", (6, 6))
    there = [with_values(one, {FACTOR: found.x[column], WAGE: found.y[row]}) for one in scenarios]
    values = compare(there).values("margin_per_area")
    best = int(found.best[row, column])
    assert values[best] == pytest.approx(values.max(), rel=1e-12)
    assert found.outcome.m[row, column] == pytest.approx(values[best], rel=1e-12)
    second = np.sort(values)[-2]
    assert found.lead.m[row, column] == pytest.approx(values[best] - second, abs=1e-9)
    assert outcome_values(there[best], [COST])[COST] > 0
