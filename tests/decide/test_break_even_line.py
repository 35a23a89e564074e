"""The line along which two methods are equal, beside algebra worked by hand."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_methods import plain

from scenariokit.decide.break_even_line import _Mesh, break_even_line
from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.scenario import outcome_values, with_draws

COST = "cost_per_kilogram"
FACTOR, WAGE = "prices.medium_factor", "prices.labour_price"
RANGES = {FACTOR: ("0.1", "2"), WAGE: ("0.5 money/hour", "8 money/hour")}


@pytest.fixture(scope="module")
def pair():
    """Costs of (2 f + 1 w) / 5 and 1.5 w / 4."""
    return (
        plain("medium_bag", medium=0.1, litres=2.0, hours=0.1, harvest=5.0),
        plain("wedge_pots", litres=1.0, hours=0.15, harvest=4.0),
    )


def test_break_even_line_every_end_lies_on_it(pair):
    # 0.4 f + 0.2 w = 0.375 w  ->  w = 0.4 f / 0.175
    line = break_even_line(pair, FACTOR, WAGE, COST, ranges=RANGES)
    assert len(line) > 20
    for f, w in ((line.x_start, line.y_start), (line.x_end, line.y_end)):
        assert w.m_as("money/hour") == pytest.approx(0.4 / 0.175 * f.m, rel=1e-12)
    assert not line.jump.any()
    # w goes from 0.5 to 0.4 x 2 / 0.175: the pieces make one line from end to end
    ends = np.concatenate([line.y_start.m, line.y_end.m])
    assert (ends.min(), ends.max()) == pytest.approx((0.5, 0.8 / 0.175), rel=1e-12)
    lengths = np.abs(line.y_end.m - line.y_start.m)
    assert lengths.sum() == pytest.approx(0.8 / 0.175 - 0.5, rel=1e-12)


def test_break_even_line_swapped_is_the_same(pair):
    line = break_even_line(pair, FACTOR, WAGE, COST, (7, 5), RANGES)
    other = break_even_line(pair[::-1], FACTOR, WAGE, COST, (7, 5), RANGES)
    assert (other.one, other.other) == (line.other, line.one)
    assert other.x_start.m.tolist() == pytest.approx(line.x_start.m.tolist(), rel=1e-12)


def test_break_even_line_nowhere_is_empty(pair):
    line = break_even_line(pair, FACTOR, WAGE, COST, (3, 3), {**RANGES, FACTOR: ("0", "0.01")})
    assert len(line) == 0
    assert line.x_start.m.shape == (0,)
    assert line.frame().empty


def test_break_even_line_upright_is_found(pair):
    # the price of the produce moves both alike: the line stands at one factor, 1.75
    line = break_even_line(pair, FACTOR, "prices.produce_price", COST, (6, 4))
    assert len(line) == 4
    assert line.x_start.m.tolist() == pytest.approx([1.75] * 4)
    lying = break_even_line(pair, "prices.produce_price", FACTOR, COST, (4, 6))
    assert lying.y_end.m.tolist() == pytest.approx([1.75] * 4)


def test_break_even_line_frame_carries_units(pair):
    line = break_even_line(pair, WAGE, FACTOR, COST, (5, 5), {WAGE: RANGES[WAGE]})
    table = line.frame("us", rate=3.0)
    assert list(table) == [
        "start_prices_labour_price_money_per_hour", "start_prices_medium_factor",
        "end_prices_labour_price_money_per_hour", "end_prices_medium_factor", "jump",
    ]  # fmt: skip
    assert table.iloc[0, 0] == pytest.approx(3 * line.x_start.m[0])
    assert table.iloc[0, 1] == pytest.approx(line.y_start.m[0])


def saddle(high):
    """Return a mesh of one cell whose corners alternate, with its middle above or below zero."""

    def ahead(across, up):
        return (across - 0.4) * (up - 0.4) + (0.1 if high else -0.1)

    x = np.array([0.0, 1.0])
    corners = ahead(*np.meshgrid(x, x))
    return _Mesh(x, x, corners, ahead)


@pytest.mark.parametrize(("high", "joined"), [(True, {("low", "right"), ("high", "left")}),
                                              (False, {("low", "left"), ("high", "right")})])  # fmt: skip
def test_break_even_line_saddle_is_joined_by_its_middle(high, joined):
    def side(x, y):
        return {0.0: "left", 1.0: "right"}.get(x) or {0.0: "low", 1.0: "high"}[y]

    pieces = saddle(high).pieces()
    found = {tuple(sorted((side(*one[:2]), side(*one[2:4])))) for one in pieces}
    assert found == {tuple(sorted(pair)) for pair in joined}


def test_break_even_line_corner_without_value_ends_it():
    def ahead(across, up):
        return np.where(across + up < 0.5, np.nan, across - up)

    x = np.array([0.0, 1.0])
    mesh = _Mesh(x, x, ahead(*np.meshgrid(x, x)), ahead)
    assert mesh.pieces() == []


def test_break_even_line_jump_of_a_step():
    def ahead(across, up):
        return np.where(across < 0.3, -1.0, 1.0) + 0 * up

    x = np.array([0.0, 1.0])
    ((x_start, _, x_end, _, jump),) = _Mesh(x, x, ahead(*np.meshgrid(x, x)), ahead).pieces()
    assert (x_start, x_end) == pytest.approx((0.3, 0.3))
    assert jump


def test_break_even_line_bad_arguments_are_refused(pair):
    with pytest.raises(RangeError, match="2 problems"):
        break_even_line(pair, FACTOR, FACTOR, COST, (0, 4))
    with pytest.raises(RangeError, match="is no outcome"):
        break_even_line(pair, FACTOR, WAGE, "profit")
    with pytest.raises(InfeasibleError, match="stands twice"):
        break_even_line((pair[0], pair[0]), FACTOR, WAGE, COST)
    drawn = with_draws(pair[0], {"prices.water_price": np.array([1.0, 2.0])})
    with pytest.raises(RangeError, match="several values already"):
        break_even_line((drawn, pair[1]), FACTOR, WAGE, COST)


@given(medium=st.floats(0.05, 0.3), hours=st.floats(0.02, 0.14))
@settings(max_examples=10, deadline=None)
def test_break_even_line_equalises_the_methods(medium, hours):
    pair = (
        plain("medium_bag", medium=medium, hours=hours, harvest=5.0),
        plain("wedge_pots", litres=1.0, hours=0.15, harvest=4.0),
    )
    line = break_even_line(pair, FACTOR, WAGE, COST, (5, 5), RANGES)
    for f, w in zip(line.x_end.m, line.y_end.m, strict=True):
        first, second = (
            outcome_values(with_draws(one, {FACTOR: f, WAGE: w}), [COST])[COST] for one in pair
        )
        assert first == pytest.approx(second, rel=1e-10)
