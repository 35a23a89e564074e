"""What one more trial is worth: worked by hand, its ceiling, its limits, its cost."""

from __future__ import annotations

import itertools
import math
from dataclasses import replace

import numpy as np
import pytest
from decision_tables import rows_of
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import quantity
from scenariokit.decide.information import unit_normal_loss
from scenariokit.decide.trial_value import (
    MOST_REPLICATES,
    TrialTerms,
    TrialValue,
    best_trial,
    trial_value_curve,
    trial_value_for,
    value_of_yields,
)
from scenariokit.decide.yield_beliefs import YieldBelief
from scenariokit.errors import ArgumentError, InfeasibleError, RangeError, UnitError
from scenariokit.trials.planning.aim import TrialAim

NONE = TrialTerms()


def belief(margins=(3.0, 2.0), yields=(5.0, 4.5), deviations=(0.8, 1.0), season=None, worth=1.5):
    count = len(margins)
    return YieldBelief(
        tuple("abcdefgh"[:count]),
        quantity(np.array(margins), "money/m^2"),
        quantity(np.array(yields), "kg/m^2"),
        quantity(np.array(deviations), "kg/m^2"),
        quantity(np.full(count, worth), "money/kg"),
        None if season is None else quantity(np.array(season), "kg/m^2"),
    )


FOUR = belief((3.0, 2.8, 2.0, 2.9), (5.0, 4.5, 4.0, 6.0), (0.8, 1.0, 0.6, 0.3))


def gains(found):
    return [one.gain.m_as("money/m^2") for one in found]


@pytest.mark.parametrize(
    ("replicates", "value", "half"),
    [(int(count), value, half) for count, value, half in rows_of("two_methods", "gain")],
)
def test_trial_value_curve_two_methods_worked_by_hand(replicates, value, half):
    (found,) = trial_value_curve(belief(), [replicates])
    assert found.gain.m_as("money/m^2") == pytest.approx(value, abs=half)


def test_trial_value_curve_worth_cost_and_net_by_hand():
    """0.311556 money/m² and crop over 200 m² and 6 crops; 4 plots at 20 and 50 for all."""
    terms = TrialTerms(set_up="50 money", area="200 m^2", crops=6)
    (found,) = trial_value_curve(belief(), [2], terms)
    assert found.plots == 4
    assert found.worth.m_as("money") == pytest.approx(0.311556 * 1200, abs=1e-3)
    assert found.cost.m_as("money") == pytest.approx(130)
    assert found.net.m_as("money") == pytest.approx(0.311556 * 1200 - 130, abs=1e-3)
    # The sign of a gap of 1 with the deviation 1.757156.
    assert found.changes == pytest.approx(0.5 * math.erfc(1 / 1.757156 / math.sqrt(2)), abs=1e-6)


def test_trial_value_curve_units_do_not_matter():
    one = trial_value_curve(belief(), [3], TrialTerms(area="100 m^2"))[0]
    feet = YieldBelief(
        ("a", "b"),
        quantity(np.array([3.0, 2.0]), "money/m^2").to("money/ft^2"),
        quantity(np.array([5.0, 4.5]), "kg/m^2").to("lb/ft^2"),
        quantity(np.array([800.0, 1000.0]), "g/m^2"),
        quantity(np.array([1.5, 1.5]), "money/kg").to("money/lb"),
    )
    other = trial_value_curve(feet, [3], TrialTerms(area="0.01 hectare", variation="12 %"))[0]
    assert other.worth.m_as("money") == pytest.approx(one.worth.m_as("money"))


def test_trial_value_curve_more_plots_teach_more_up_to_all_that_can_be_known():
    for thought in (belief(), FOUR):
        sizes = [1, 2, 4, 8, 30, 200, MOST_REPLICATES]
        found = gains(trial_value_curve(thought, sizes))
        ceiling = value_of_yields(thought).m_as("money/m^2")
        assert all(after > before for before, after in itertools.pairwise(found))
        assert found[-1] <= ceiling * (1 + 1e-9)
        assert found[-1] == pytest.approx(ceiling, rel=1e-3)


def test_value_of_yields_of_two_is_the_normal_loss():
    """The gap of 1 has the deviation 1.5 √(0.64 + 1)."""
    spread = 1.5 * math.sqrt(1.64)
    found = value_of_yields(belief()).m_as("money/m^2")
    assert found == pytest.approx(spread * unit_normal_loss(1 / spread))


def test_trial_value_curve_agrees_with_trials_that_are_carried_out():
    """Draw truths and plots, update by hand, choose, and take the truth of what was chosen."""
    rng = np.random.default_rng(8)
    yields, own, season = np.array([5.0, 4.5, 4.0]), np.array([0.8, 1.0, 0.6]), 0.5
    margins, worth, count, many = np.array([3.0, 2.8, 2.5]), 1.5, 3, 400_000
    truth = yields + own * rng.standard_normal((many, 3))
    error = np.sqrt((0.2 * yields) ** 2 / count + (0.05 * yields) ** 2)
    shift = season * rng.standard_normal((many, 1))
    seen = truth + shift + error * rng.standard_normal((many, 3))
    cover = np.diag(own**2 + error**2) + season**2
    after = (seen - yields) @ np.linalg.inv(cover) * own**2
    chosen = (margins + worth * after).argmax(axis=1)
    gained = (margins + worth * (truth - yields))[np.arange(many), chosen]
    thought = belief(margins, yields, own, season=np.full(3, season))
    terms = TrialTerms(variation=0.2, interaction=0.05)
    (found,) = trial_value_curve(thought, [count], terms)
    error = gained.std() / math.sqrt(many)
    assert found.gain.m_as("money/m^2") == pytest.approx(gained.mean() - 3.0, abs=4 * error)
    assert found.changes == pytest.approx((chosen != 0).mean(), abs=0.005)


def test_trial_value_curve_a_season_that_moves_all_alike_takes_little_from_a_comparison():
    """By hand, two plots: the season's variance 0.25 stands in every element of the error."""
    own, error = np.diag([0.64, 1.0]), np.diag([0.18, 0.1458]) + 0.25
    after = 1.5**2 * own @ np.linalg.inv(own + error) @ own
    spread = math.sqrt(after[0, 0] + after[1, 1] - 2 * after[0, 1])
    (found,) = trial_value_curve(belief(season=(0.5, 0.5)), [2])
    by_hand = spread * unit_normal_loss(1 / spread)
    assert found.gain.m_as("money/m^2") == pytest.approx(by_hand)
    calm = gains(trial_value_curve(belief(), [2]))[0]
    assert 0.99 * calm < by_hand < calm


def test_trial_value_curve_of_one_method_alone_suffers_from_the_season():
    calm = gains(trial_value_curve(belief(), [4], tested=["b"]))[0]
    moved = gains(trial_value_curve(belief(season=(1.0, 1.0)), [4], tested=["b"]))[0]
    beside = gains(trial_value_curve(belief(season=(1.0, 1.0)), [4]))[0]
    assert moved < 0.75 * calm
    assert beside > moved


def test_trial_value_curve_several_causes_add_up():
    two = belief(season=((0.3, 0.3), (0.4, 0.4)))
    one = belief(season=(0.5, 0.5))
    assert gains(trial_value_curve(two, [2])) == pytest.approx(gains(trial_value_curve(one, [2])))


def test_trial_value_curve_interaction_stays_however_many_plots():
    terms = TrialTerms(interaction=0.15)
    found = gains(trial_value_curve(belief(), [1, 10, MOST_REPLICATES], terms))
    assert found[0] < found[1] < found[2]
    assert found[2] < 0.95 * value_of_yields(belief()).m_as("money/m^2")


def test_trial_value_curve_some_methods_cost_less_and_teach_less():
    (some,) = trial_value_curve(FOUR, [3], tested=["a", "b"])
    (every,) = trial_value_curve(FOUR, [3])
    assert (some.plots, every.plots) == (6, 12)
    assert some.gain < every.gain
    alone = belief((3.0, 2.8), (5.0, 4.5), (0.8, 0.0))
    (found,) = trial_value_curve(alone, [2], tested=["a"])
    kept = 1.5 * 0.64 / math.sqrt(0.64 + 0.18)
    by_hand = kept * unit_normal_loss(0.2 / kept)
    assert found.gain.m_as("money/m^2") == pytest.approx(by_hand)


def test_trial_value_curve_a_method_that_yields_nothing_for_certain_is_no_trouble():
    thought = belief((3.0, -1.0), (5.0, 0.0), (0.8, 0.0))
    found = gains(trial_value_curve(thought, [1, 3]))
    assert 0 <= found[0] < found[1] < 0.05


def test_trial_value_curve_nothing_uncertain_is_refused():
    with pytest.raises(InfeasibleError, match="nothing to teach"):
        trial_value_curve(belief(deviations=(0.0, 0.0)), [2])
    with pytest.raises(InfeasibleError, match="nothing to teach"):
        trial_value_curve(belief(deviations=(0.8, 0.0)), [2], tested=["b"])


def test_trial_value_curve_unknown_method_is_refused_with_those_known():
    with pytest.raises(InfeasibleError, match=r"yield of z; known: a, b"):
        trial_value_curve(belief(), [2], tested=["a", "z"])


@pytest.mark.parametrize(
    "replicates", [[], [0], [2, 1.5], [MOST_REPLICATES + 1], [True], [math.nan]]
)
def test_trial_value_curve_numbers_of_plots_that_cannot_be_are_refused(replicates):
    with pytest.raises(RangeError, match="are no numbers of plots"):
        trial_value_curve(belief(), replicates)


def test_trial_terms_all_that_is_wrong_at_once():
    with pytest.raises(ArgumentError) as caught:
        TrialTerms(2.0, "20 kg", "-1 money", "10 m", 0, 1.5)
    fields = [problem.field for problem in caught.value.problems]
    assert fields == ["variation", "cost_per_plot", "set_up", "area", "crops", "interaction"]


@pytest.mark.parametrize(
    ("changes", "kind"),
    [
        ({"variation": math.nan}, RangeError), ({"variation": [0.1, 0.2]}, RangeError),
        ({"crops": math.nan}, RangeError), ({"interaction": -0.1}, RangeError),
        ({"area": 10}, UnitError),
    ],
)  # fmt: skip
def test_trial_terms_single_faults(changes, kind):
    with pytest.raises(kind):
        TrialTerms(**changes)


def test_best_trial_greatest_net_first_of_equals_or_none():
    def made(net, replicates=1):
        money = [quantity(number, "money") for number in (net + 5.0, 5.0)]
        return TrialValue(replicates, 2, quantity(1.0, "money/m^2"), *money)

    assert best_trial([made(1, 1), made(3, 2), made(3, 3)]).replicates == 2
    assert best_trial([made(-1), made(0.0)]) is None
    assert best_trial([]) is None
    assert math.isnan(made(1).changes)


def test_best_trial_depends_on_what_hangs_on_it():
    sizes = range(1, 16)
    assert best_trial(trial_value_curve(belief(), sizes, TrialTerms(area="5 m^2"))) is None
    small = best_trial(trial_value_curve(belief(), sizes, TrialTerms(area="100 m^2")))
    large = best_trial(trial_value_curve(belief(), sizes, TrialTerms(area="5000 m^2")))
    assert small.replicates < large.replicates < 15


# -- for a trial that is planned --------------------------------------------------------


def test_trial_value_for_an_aim_has_the_sizes_of_its_design():
    aim = TrialAim(["a", "b"], cv=0.12)
    found = trial_value_for(belief(), aim, 6)
    assert [one.replicates for one in found] == [3, 4, 5, 6]
    assert [one.plots for one in found] == [6, 8, 10, 12]
    assert gains(found) == pytest.approx(gains(trial_value_curve(belief(), [3, 4, 5, 6])))
    assert trial_value_for(belief(), aim, aim.first - 1) == ()


def test_trial_value_for_an_aim_takes_its_cv_and_its_names():
    aim = TrialAim(["a", "b"], cv=0.3)
    exact = trial_value_curve(FOUR, [3], TrialTerms(variation=0.3), tested=["a", "b"])
    assert gains(trial_value_for(FOUR, aim, 3)) == pytest.approx(gains(exact))
    with pytest.raises(InfeasibleError, match="yield of z"):
        trial_value_for(FOUR, TrialAim(["a", "z"]), 5)


def test_trial_value_for_varieties_counts_the_plots_behind_each_mean():
    aim = TrialAim(["a", "b"], ["early", "late"])
    found = trial_value_for(belief(), aim, 3)
    (behind,) = trial_value_curve(belief(), [2 * found[-1].replicates])
    assert found[-1].plots == 4 * found[-1].replicates
    assert gains(found)[-1] == pytest.approx(behind.gain.m_as("money/m^2"))


def test_trial_value_for_a_split_plot_counts_whole_tanks_as_plots_of_a_method():
    aim = TrialAim(["a", "b"], ["early", "late"], design="split_plot")
    (found,) = trial_value_for(belief(), aim, 3, TrialTerms(cost_per_plot="1 money"))
    assert (found.replicates, found.plots, found.cost.m) == (3, 12, 12)
    assert gains([found]) == pytest.approx(gains(trial_value_curve(belief(), [3])))


# -- properties ---------------------------------------------------------------------------

METHODS = st.lists(
    st.tuples(st.floats(-10, 10), st.floats(0.5, 10), st.floats(0.05, 2)), min_size=2, max_size=6
)


@settings(max_examples=40, deadline=None)
@given(METHODS, st.integers(1, 30), st.integers(1, 30), st.floats(0.02, 0.5))
def test_trial_value_curve_grows_with_plots_and_stays_below_its_ceiling(rows, few, more, cv):
    thought = belief(*np.array(rows).T)
    terms = TrialTerms(variation=cv)
    less, greater = gains(trial_value_curve(thought, [few, few + more], terms))
    ceiling = value_of_yields(thought).m_as("money/m^2")
    # With three or more methods the mean over imagined trials is near the true one, not on it.
    room = 1e-9 if len(rows) == 2 else 2e-3 * ceiling + 1e-4
    assert -1e-12 <= less <= greater + room
    assert greater <= ceiling + room


@settings(max_examples=30, deadline=None)
@given(METHODS, st.integers(1, 12), st.floats(0.1, 50))
def test_trial_value_curve_scales_with_money_and_area(rows, count, rate):
    margins, yields, own = np.array(rows).T
    (one,) = trial_value_curve(belief(margins, yields, own), [count], NONE)
    wide = replace(NONE, area=NONE.area * rate)
    (other,) = trial_value_curve(
        belief(rate * margins, yields, own, worth=1.5 * rate), [count], wide
    )
    assert other.gain.m == pytest.approx(rate * one.gain.m, rel=1e-6, abs=1e-9)
    assert other.worth.m == pytest.approx(rate**2 * one.worth.m, rel=1e-6, abs=1e-7)
    assert other.cost.m == pytest.approx(one.cost.m)
