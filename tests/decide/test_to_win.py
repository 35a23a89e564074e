"""What would make a method the best, or no longer the best, beside algebra worked by hand."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_methods import plain

from scenariokit.decide.break_even import Turn as SameTurn
from scenariokit.decide.break_even import break_even
from scenariokit.decide.to_win import Turn, to_win, turns
from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.scenario import outcome_values, scenario_for, with_draws, with_values
from scenariokit.uncertainty import Uncertain, Uncertainty, pert, uniform

COST = "cost_per_kilogram"


@pytest.fixture(scope="module")
def three():
    """Costs of (2 f + 4) / 5 = 1.2, 6 / 4 = 1.5 and (1 f + 2) / 2 = 1.5 money/kg."""
    return [
        plain("medium_bag", medium=0.1, litres=2.0, hours=0.1, harvest=5.0),
        plain("wedge_pots", litres=1.0, hours=0.15, harvest=4.0),
        plain("sheet_wick_tray", medium=0.1, litres=1.0, hours=0.05, harvest=2.0),
    ]


def named(method, scenario):
    """Return the scenario with its method under another id."""
    return dataclasses.replace(scenario, method=dataclasses.replace(scenario.method, id=method))


def turn(found, path):
    (one,) = (one for one in found.turns if one.path == path)
    return one


def test_to_win_common_price_moves_the_rivals_too(three):
    # (2 f + 4) / 5 = 6 / 4 -> f = 1.75; the third is at (f + 2) / 2, above both there
    found = to_win(three, "medium_bag", COST, ["prices.medium_factor"])
    assert found.wins
    assert found.best_other in ("wedge_pots", "sheet_wick_tray")
    assert found.lead.m_as("money/kg") == pytest.approx(0.3)  # better by so much
    one = turn(found, "prices.medium_factor")
    assert one.at == pytest.approx(1.75, abs=1e-12)
    assert (one.wins, one.rival, one.kind) == ("below", "wedge_pots", "equal")
    assert one.change == pytest.approx(0.75)
    assert one.far == pytest.approx(0.75 / 3)  # the slider goes from 0 to 3
    assert one.value.units == found.turns[0].value.units


def test_to_win_nearest_of_two_sides(three):
    # wage: the second wins below (2 + w) / 5 = 1.5 w / 4, w = 16/7 from 4; and never above
    found = to_win(three, "medium_bag", COST, ["prices.labour_price"])
    one = turn(found, "prices.labour_price")
    assert one.at == pytest.approx(16 / 7, abs=1e-12)
    assert (one.wins, one.rival) == ("above", "wedge_pots")
    # from its own side the second wins only below that
    other = turn(to_win(three, "wedge_pots", COST, ["prices.labour_price"]), "prices.labour_price")
    assert other.at == pytest.approx(one.at, abs=1e-12)
    assert (other.wins, other.rival) == ("below", "medium_bag")


def test_to_win_own_yield_against_the_best_of_the_others(three):
    # 6 / Y < 1.2 -> Y > 5, against the first and not the third
    found = to_win(three, "wedge_pots", COST, ["harvest.typical", "method.labour.filling"])
    assert not found.wins
    assert found.best_other == "medium_bag"
    assert found.lead.m_as("money/kg") == pytest.approx(-0.3)
    one = turn(found, "harvest.typical")
    assert one.at == pytest.approx(5.0, abs=1e-12)
    assert (one.wins, one.rival) == ("above", "medium_bag")
    # h x 10 x 4 / 4 < 1.2 -> h < 0.12; the slider ends at 0.1, but 0.15 stands
    labour = turn(found, "method.labour.filling")
    assert labour.at == pytest.approx(0.12, abs=1e-12)
    assert labour.looked == (0.0, 0.15)
    assert labour.change == pytest.approx(-0.2)


def test_to_win_sorted_by_how_near_and_never_last(three):
    found = to_win(three, "wedge_pots", COST)
    far = [one.far for one in found.turns]
    assert far == sorted(far)
    assert math.isinf(far[-1])
    assert len(found.within_range) == sum(one.at is not None for one in found.turns)
    assert {one.path for one in found.turns} >= {"prices.produce_price", "harvest.typical"}


def test_to_win_number_without_effect_is_named_so(three):
    found = to_win(three, "wedge_pots", COST, ["prices.produce_price", "prices.medium_factor"])
    assert not turn(found, "prices.produce_price").effect
    assert turn(found, "prices.medium_factor").effect


def test_to_win_common_number_that_differs_moves_alone(three):
    dear = [with_values(three[0], {"prices.labour_price": "5 money/hour"}), *three[1:]]
    # alone: (2 + w) / 5 = 1.5 -> w = 5.5
    one = turn(to_win(dear, "medium_bag", COST, ["prices.labour_price"]), "prices.labour_price")
    assert one.at == pytest.approx(5.5, abs=1e-12)
    assert one.wins == "below"


def test_to_win_chance_is_that_beyond_the_turn(three):
    spread = Uncertainty(
        (
            Uncertain("prices.medium_factor", uniform(0.5, 2.5), relative=True),
            Uncertain("harvest.typical", pert("3 kg/m^2", "4 kg/m^2", "4.5 kg/m^2"), method="wedge_pots"),
            Uncertain("method.medium.mixing_loss", uniform(0.0, 0.2), method="paper_wrap"),
        )
    )  # fmt: skip
    paths = ["prices.medium_factor", "harvest.typical", "prices.labour_price"]
    found = to_win(three, "wedge_pots", COST, paths, uncertainty=spread)
    # beyond 1.75 lies (2.5 - 1.75) / 2 of a uniform spread; 5 kg/m² cannot come
    assert turn(found, "prices.medium_factor").chance == pytest.approx(0.375)
    assert turn(found, "harvest.typical").chance == 0
    assert math.isnan(turn(found, "prices.labour_price").chance)
    assert [one.path for one in found.likeliest] == paths


def test_to_win_chance_below(three):
    spread = Uncertainty(
        (Uncertain("prices.labour_price", uniform("2 money/hour", "6 money/hour")),)
    )
    found = to_win(three, "medium_bag", COST, ["prices.labour_price"], uncertainty=spread)
    assert found.turns[0].chance == pytest.approx((16 / 7 - 2) / 4)


def test_to_win_chance_of_unknown_path_is_refused(three):
    spread = Uncertainty((Uncertain("prices.labor", uniform(1, 2)),))
    with pytest.raises(RangeError, match="is no number of a scenario"):
        to_win(three, "medium_bag", COST, ["prices.labour_price"], uncertainty=spread)


def test_to_win_rival_without_value_loses(three):
    nothing = with_values(
        three[1], dict.fromkeys(("harvest.low", "harvest.typical", "harvest.high"), "0 kg/m^2")
    )
    found = to_win([nothing, three[0]], "medium_bag", COST, ["prices.labour_price"])
    assert found.wins
    assert found.best_other == ""
    assert math.isnan(found.lead.m)
    assert found.turns[0].at is None
    # and it wins, by a leap from no value, as soon as it yields; 6 / Y < 1.2 only above 5
    own = to_win([nothing, three[0]], "wedge_pots", COST, ["harvest.typical"])
    assert own.turns[0].at == pytest.approx(5.0, abs=1e-12)
    assert math.isnan(own.turns[0].change)  # of zero there is no share


def test_to_win_ceasing_to_have_a_value_is_a_jump(three):
    idle = plain("wedge_pots", hours=0.0)
    found = to_win([three[0], idle], "medium_bag", "return_to_labour", ["method.labour.filling"])
    assert found.wins  # whoever works no hour earns nothing in an hour
    one = found.turns[0]
    assert (one.kind, one.rival, one.wins) == ("jump", "", "above")
    assert one.at == pytest.approx(0.0, abs=1e-12)


def test_to_win_fewer_fills_is_a_jump():
    # 129 days after the first fill: 64 fills every second day, 43 every third, 32 every fourth;
    # 3.5 days are rounded to 4
    paper = scenario_for("paper_wrap")
    other = named("other", with_values(paper, {"method.level.fill_interval": "3 day"}))
    found = to_win([paper, other], "paper_wrap", "refills", ["method.level.fill_interval"])
    one = found.turns[0]
    assert (one.kind, one.wins, one.rival) == ("jump", "above", "other")
    assert one.at == pytest.approx(3.5, abs=1e-12)


def test_to_win_alone_has_no_rival(three):
    found = to_win(three[:1], "medium_bag", COST, ["prices.labour_price"])
    assert found.wins
    assert (found.best_other, found.turns[0].at) == ("", None)


def test_to_win_same_method_under_other_names_ties(three):
    twin = named("twin", three[0])
    found = to_win([three[0], twin], "twin", COST, ["prices.labour_price", "harvest.typical"])
    assert not found.wins
    assert found.lead.m == 0
    assert turn(found, "prices.labour_price").at is None
    assert turn(found, "harvest.typical").at == pytest.approx(5.0)  # any more and it is ahead


def test_to_win_labels_and_frame(three):
    paths = ["prices.labour_price", "harvest.typical", "prices.produce_price"]
    found = to_win(three, "wedge_pots", COST, paths, labels=["Wage", "Yield", "Price"])
    table = found.frame()
    assert set(table["label"]) == {"Wage", "Yield", "Price"}
    assert table["at"].isna().sum() == 1
    assert list(table["unit"])[:2] == [one.unit for one in found.turns[:2]]
    assert list(to_win(three, "wedge_pots", COST, []).frame().columns) == list(table.columns)


def test_turns_are_those_of_to_win(three):
    assert SameTurn is Turn
    paths = ["prices.labour_price", "harvest.typical"]
    found = turns(three, "wedge_pots", paths, COST)
    # Their chances are NaN, which equals nothing, itself included.
    assert repr(found) == repr(to_win(three, "wedge_pots", COST, paths).turns)


def test_to_win_bad_arguments_are_refused(three):
    with pytest.raises(RangeError, match="is not compared"):
        to_win(three, "paper_wrap", COST)
    with pytest.raises(RangeError, match="is no number"):
        to_win(three, "medium_bag", COST, ["prices.nothing"])
    with pytest.raises(RangeError, match="is no outcome"):
        to_win(three, "medium_bag", "profit")
    with pytest.raises(InfeasibleError, match="stands twice"):
        to_win([*three, three[0]], "medium_bag", COST)
    drawn = with_draws(three[1], {"prices.water_price": np.array([1.0, 2.0])})
    with pytest.raises(RangeError, match="several values already"):
        to_win([three[0], drawn], "medium_bag", COST)


@given(
    hours=st.floats(0.02, 0.2),
    harvest=st.floats(2, 9),
    path=st.sampled_from(["prices.medium_factor", "prices.labour_price", "harvest.typical"]),
    method=st.sampled_from(["medium_bag", "wedge_pots"]),
)
@settings(max_examples=25, deadline=None)
def test_to_win_of_two_agrees_with_their_break_even(hours, harvest, path, method):
    pair = [
        plain("medium_bag", medium=0.1, hours=hours, harvest=harvest),
        plain("wedge_pots", litres=1.0, hours=0.15, harvest=4.0),
    ]
    found = to_win(pair, method, COST, [path])
    only = method if path.startswith("harvest") else ""
    crossings = [
        one for one in break_even(*pair, path, COST, only=only).crossings if one.kind == "equal"
    ]
    here = found.turns[0].stated
    best = min(pair, key=lambda one: outcome_values(one, [COST])[COST])
    assert found.wins == (best.method.id == method) or found.lead.m == pytest.approx(0, abs=1e-12)
    if not crossings:
        assert found.turns[0].at is None
        return
    nearest = min(crossings, key=lambda one: abs(one.at.m - here))
    assert found.turns[0].at == pytest.approx(float(nearest.at.m), rel=1e-11)
    assert found.turns[0].wins == ("below" if nearest.below == method else "above")
