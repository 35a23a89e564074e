"""What is usually uncertain, and that it is said."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from scipy import stats

from scenariokit.scenario import harvest_from_plots, scenario_for, with_values
from scenariokit.trials import read_harvest, yield_by_method
from scenariokit.uncertainty import ensemble, placed, usual_uncertainty, yield_spread

BAG, POTS = scenario_for("medium_bag"), scenario_for("wedge_pots")
HEAD = "plot,method,tank_area [m^2],harvest_mass [kg]\n"


def weighed(*masses):
    rows = "".join(f"{at},wedge_pots,1,{mass}\n" for at, mass in enumerate(masses))
    found = yield_by_method(read_harvest(HEAD + rows))["wedge_pots", "potato"]
    return dataclasses.replace(POTS, harvest=harvest_from_plots(found))


def test_usual_uncertainty_fits_every_method_of_the_catalogue():
    ids = ("medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray", "paper_wrap",
           "suspended_pot", "field_soil")  # fmt: skip
    scenarios = [scenario_for(name) for name in ids]
    thought = usual_uncertainty(scenarios)
    assert len(placed(scenarios, thought)) == len(ids)
    assert sum(one.path == "harvest.typical" for one in thought.inputs) == len(ids)
    found = ensemble(scenarios, thought, 64)
    assert all(np.isfinite(rows).all() for name, rows in found.outcomes.items() if "usable" in name)


def test_usual_uncertainty_says_what_each_input_rests_on():
    lines = usual_uncertainty([BAG, POTS]).assumptions()
    assert len(lines) == 8
    assert all("common practice, no published source" in line for line in lines[2:])
    assert "most likely 6.6, from 4.9 to 8.1 kg/m²" in lines[0]
    assert "invented" in lines[0]


def test_usual_uncertainty_good_season_brings_yield_and_takes_little_water():
    thought = usual_uncertainty([BAG, POTS])
    by_path = {one.path: number for number, one in enumerate(thought.inputs)}
    correlations = thought.correlations()
    assert correlations[0, 1] > 0.3  # two methods in the same season
    assert correlations[0, by_path["site.climate_factor"]] < 0
    assert correlations[by_path["prices.produce_price"], by_path["prices.medium_factor"]] > 0
    assert correlations[0, by_path["prices.produce_price"]] == 0


def test_yield_spread_catalogue_is_pert_of_its_range():
    spread, note = yield_spread(BAG)
    assert spread.kind == "pert"
    assert spread.numbers == (4.9, 6.6, 8.1)
    assert note.startswith("low, usual and high")


def test_yield_spread_plots_keep_their_interval():
    spread, note = yield_spread(weighed(4.1, 4.6, 4.9, 5.0, 5.3))
    assert (spread.kind, spread.numbers[2]) == ("student", 4)
    values = np.array([4.1, 4.6, 4.9, 5.0, 5.3])
    half = stats.t.ppf(0.975, 4) * values.std(ddof=1) / np.sqrt(5)
    assert spread.quantile([0.025, 0.975]).m == pytest.approx([4.78 - half, 4.78 + half])
    assert note == "95 % interval of 5 plots weighed"


def test_yield_spread_two_plots_have_a_variance_all_the_same():
    spread, _ = yield_spread(weighed(4.5, 4.9))
    assert spread.numbers[2] == 3
    assert np.isfinite(spread.variance.m)
    half = 12.7062 * 0.2  # t(0.975, 1) of Student's table, s/√2 = 0.4/2
    assert spread.quantile(0.975).m == pytest.approx(4.7 + half, rel=1e-5)


def test_yield_spread_interval_cut_at_zero_keeps_its_upper_half():
    scenario = weighed(0.5, 4.9)
    assert scenario.harvest.low.magnitude == 0
    spread, _ = yield_spread(scenario)
    assert spread.quantile(0.975).m == pytest.approx(scenario.harvest.high.magnitude)


def test_yield_spread_one_plot_is_wide_and_says_so():
    spread, note = yield_spread(weighed(4.5))
    assert spread.mean.m == pytest.approx(4.5)
    assert spread.variance.m == pytest.approx((0.35 * 4.5) ** 2)
    assert "one plot" in note
    assert "35%" in note


def test_yield_spread_trial_that_does_not_count_plots_is_normal():
    harvest = dataclasses.replace(POTS.harvest, status="trial", basis="mixed model")
    spread, _ = yield_spread(dataclasses.replace(POTS, harvest=harvest))
    assert spread.kind == "normal"


def test_yield_spread_moved_out_of_its_range_takes_the_usual_cv():
    moved = with_values(BAG, {"harvest.typical": "12 kg/m^2"})
    spread, note = yield_spread(moved)
    assert spread.mean.m == pytest.approx(12)
    assert spread.variance.m == pytest.approx((0.12 * 12) ** 2)
    assert "outside" in note


def test_yield_spread_without_yield_or_range_is_fixed():
    names = ("low", "typical", "high")
    none = with_values(BAG, {f"harvest.{name}": "0 kg/m^2" for name in names})
    assert yield_spread(none)[0].numbers == (0,)
    same = with_values(BAG, {f"harvest.{name}": "3 kg/m^2" for name in names})
    spread, note = yield_spread(same)
    assert (spread.kind, spread.numbers) == ("fixed", (3,))
    assert "without a range" in note
