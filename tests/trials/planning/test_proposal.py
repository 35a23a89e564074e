"""A planned trial whole: from the question to the records of its harvest."""

from __future__ import annotations

import csv
import io
from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import ArgumentError, InfeasibleError
from scenariokit.trials.analysis import (
    analyse,
    completely_randomised,
    latin_square,
    randomised_blocks,
    split_plot,
    treatment_means,
)
from scenariokit.trials.planning import proposal
from scenariokit.trials.planning.aim import TrialAim, error_behind, replicates_for_aim
from scenariokit.trials.planning.budget import trial_budget
from scenariokit.trials.planning.field_book import field_book_csv
from scenariokit.trials.planning.field_rows import BookDetails
from scenariokit.trials.planning.needs import PlotNeeds
from scenariokit.trials.planning.proposal import drawn, independent_replicates, propose
from scenariokit.trials.planning.tanks import Tank, equal_tanks
from scenariokit.trials.records import read_records

FOUR, TWO = ["bag", "pots", "wick", "tray"], ["early", "late"]
AIM = TrialAim(FOUR, difference=0.25)
NEEDS = PlotNeeds("20 plant/m^2", "1 L/plant", "10 money/m^2")


def tanks(count, sections=1, *, watertight=False):
    made = equal_tanks(count, "120 cm", "60 cm", sections=sections)
    return tuple(replace(one, watertight=watertight) for one in made)


# -- how many ------------------------------------------------------------------------------


def test_propose_takes_what_the_difference_needs_where_it_fits():
    plan = propose(AIM, tanks(24), seed=1, needs=NEEDS)
    assert (plan.needed, plan.room, plan.replicates, plan.counted) == (5, 6, 5, 5)
    assert plan.enough
    assert plan.power >= 0.8
    assert plan.smallest <= 0.25
    assert 0 < plan.half_width < plan.smallest
    assert Counter(plot.treatment for plot in plan.layout.plots) == dict.fromkeys(FOUR, 5)


def test_propose_takes_what_fits_and_says_what_that_finds():
    plan = propose(AIM, tanks(16), seed=1)
    assert (plan.needed, plan.replicates, plan.enough) == (5, 4, False)
    assert plan.smallest > 0.25


@pytest.mark.parametrize(("wanted", "found"), [("room", 6), (3, 3), (6, 6)])
def test_propose_replicates_can_be_asked_for(wanted, found):
    assert propose(AIM, tanks(25), seed=1, replicates=wanted).replicates == found


def test_propose_hopeless_difference_takes_all_the_room():
    plan = propose(replace(AIM, difference=0.001, cv=0.5), tanks(24), seed=1)
    assert (plan.needed, plan.replicates, plan.enough) == (None, 6, False)


def test_propose_counts_no_more_than_there_is_water_for():
    """Two blocks of two in each tank of four sections: its plots of a kind are one."""
    aim = TrialAim(FOUR[:2])
    shared = propose(aim, tanks(4, 4), seed=0)
    assert (shared.replicates, shared.counted) == (8, 4)
    assert shared.power < propose(aim, tanks(16), seed=0).power
    walled = propose(aim, tanks(4, 4, watertight=True), seed=0)
    assert (walled.replicates, walled.counted) == (8, 8)


def test_propose_one_tank_finds_nothing():
    plan = propose(TrialAim(FOUR[:2]), tanks(1, 12), seed=0, replicates=6)
    assert plan.counted == 1
    assert (plan.power, plan.smallest, plan.half_width, plan.enough) == (None, None, None, False)


# -- map and budget -----------------------------------------------------------------------


def test_propose_map_has_a_row_for_each_block_and_unused_tanks_after_them():
    plan = propose(AIM, tanks(22), seed=1)
    tops = Counter(area.y for area in plan.map.areas if area.kind == "tank")
    assert sorted(tops.items()) == [(60 + 120 * row, 4) for row in range(5)] + [(660, 2)]
    assert plan.map.width == 4 * 180 + 60


def test_propose_map_of_blocks_within_tanks_is_about_square():
    plan = propose(AIM, equal_tanks(12, "240 cm", "60 cm", sections=4), seed=1)
    assert len({area.x for area in plan.map.areas if area.kind == "tank"}) == 2


def test_propose_budget_stands_on_the_ground_of_the_map():
    plan = propose(AIM, tanks(22), seed=1, needs=NEEDS, walkway="50 cm")
    assert plan.budget.ground == plan.map.ground
    assert plan.budget.plots == 20
    assert plan.budget.cost.m_as("money") == pytest.approx(20 * 0.72 * 10)
    rest = trial_budget(plan.layout, NEEDS, walkway="50 cm", tanks_per_row=4)
    assert rest == plan.budget


def test_propose_without_needs_has_no_budget():
    assert propose(AIM, tanks(24), seed=1).budget is None


def test_propose_plot_too_small_for_a_plant_is_refused():
    with pytest.raises(ArgumentError, match="no room for a plant"):
        propose(AIM, equal_tanks(24, "20 cm", "20 cm"), seed=1, needs=NEEDS)


# -- what does not fit ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("aim", "where", "wanted", "words"),
    [
        (AIM, tanks(6), "needed", ["8 plots", "6 tanks with 6 sections", "8 tanks", "3 treatments"]),
        (AIM, tanks(12), 5, ["20 plots", "20 tanks", "2 treatments instead of 4"]),
        (
            TrialAim(FOUR, design="latin_square"), tanks(12), "needed",
            ["16 plots", "16 tanks", "blocks instead of a Latin square", "3 treatments"],
        ),
        (
            TrialAim(FOUR, TWO, design="split_plot"), tanks(12), "needed",
            ["16 plots", "takes 8 tanks of 2 sections", "Possible: tanks of 2 sections"],
        ),
        (TrialAim(FOUR[:3]), tanks(3, 2), "needed", ["stay whole", "4 tanks", "2 treatments"]),
        (
            TrialAim(FOUR[:2], ["a", "b", "c"]), tanks(9), "needed",
            ["12 plots", "12 tanks", "1 treatment instead of 2", "2 varieties instead of 3"],
        ),
        (TrialAim(FOUR[:2]), tanks(1), "needed", ["1 tank with 1 section", "6 tanks"]),
    ],
)  # fmt: skip
def test_propose_that_does_not_fit_says_what_would(aim, where, wanted, words):
    if "1 treatment instead of 2" in words:
        aim = replace(aim, compare="variety")
    with pytest.raises(InfeasibleError) as caught:
        propose(aim, where, seed=1, replicates=wanted)
    for word in words:
        assert word in str(caught.value)


@pytest.mark.parametrize(
    ("aim", "count", "sections"),
    [(AIM, 8, 1), (TrialAim(FOUR, design="latin_square"), 16, 1), (TrialAim(FOUR[:3]), 4, 2),
     (TrialAim(FOUR, TWO, design="split_plot"), 8, 2)],
)  # fmt: skip
def test_propose_what_is_called_possible_is_possible(aim, count, sections):
    assert propose(aim, tanks(count, sections), seed=1).replicates >= aim.first
    with pytest.raises(InfeasibleError, match=f"{count} tanks"):
        propose(aim, tanks(count - 1, sections), seed=1)


@pytest.mark.parametrize("wanted", [1, True, 2.5, "all"])
def test_propose_impossible_number_of_replicates_is_refused(wanted):
    with pytest.raises(ArgumentError, match="replicates"):
        propose(AIM, tanks(24), seed=1, replicates=wanted)


def test_propose_latin_square_wants_whole_squares():
    aim = TrialAim(FOUR, design="latin_square")
    with pytest.raises(ArgumentError, match="4, 8, 12"):
        propose(aim, tanks(32), seed=1, replicates=6)
    assert propose(aim, tanks(32), seed=1, replicates=8).replicates == 8


def test_propose_all_faults_at_once():
    with pytest.raises(ArgumentError) as caught:
        propose(AIM, [], seed=1, replicates=0)
    assert [problem.field for problem in caught.value.problems] == ["replicates", "tanks"]


def test_propose_more_sections_than_anybody_plants_are_refused():
    with pytest.raises(ArgumentError, match="5000 in all"):
        propose(AIM, [Tank("T", "1 m", "1 m", 10**9)], seed=1)


# -- properties ----------------------------------------------------------------------------

DESIGNS = st.sampled_from(["randomised", "blocks", "latin_square", "split_plot"])


@settings(max_examples=60, deadline=None)
@given(DESIGNS, st.integers(2, 4), st.integers(2, 3), st.integers(1, 14), st.integers(1, 5))
def test_room_is_what_can_be_drawn_and_no_more(design, many, kinds, count, sections):
    aim = TrialAim(FOUR[:many], [f"v{one}" for one in range(kinds)], design=design)
    where = tanks(count, sections)
    room = proposal._room(aim, where)
    if room:
        assert drawn(aim, room, 3, where).design == design
    with pytest.raises(InfeasibleError):
        drawn(aim, room + aim.step, 3, where)


@settings(max_examples=40, deadline=None)
@given(DESIGNS, st.integers(0, 2**40), st.integers(10, 30), st.booleans())
def test_propose_same_seed_same_plan_and_no_more_replicates_counted(design, seed, count, walls):
    aim = TrialAim(FOUR[:2], TWO, design=design)
    where = tanks(count, 2, watertight=walls)
    plan = propose(aim, where, seed=seed)
    assert plan == propose(aim, where, seed=seed)
    assert independent_replicates(plan.layout) == plan.counted <= plan.replicates <= plan.room
    if walls:
        assert plan.counted == plan.replicates
    assert plan.replicates == min(replicates_for_aim(aim), plan.room)


# -- from the plan to the harvest and back ------------------------------------------------------

SHAPES = {
    "randomised": completely_randomised("method", "variety"),
    "blocks": randomised_blocks("method", "variety"),
    "latin_square": latin_square("method", "variety"),
    "split_plot": split_plot("method", "variety"),
}


def harvested(layout, weight):
    """Fill in the field book as after a harvest, and read it back."""
    text = field_book_csv(layout, BookDetails("t", "2027-04-20"))
    head, *rows = csv.reader(io.StringIO(text))
    at = {name: head.index(name) for name in ("ttwp [kg]", "plot_area [m^2]", "harvest_date")}
    for row, plot in zip(rows, layout.plots, strict=True):
        row[at["ttwp [kg]"]] = f"{weight(plot) * float(row[at['plot_area [m^2]']]):.9f}"
        row[at["harvest_date"]] = "2027-08-18"
    out = io.StringIO()
    csv.writer(out).writerows([head, *rows])
    records = read_records(out.getvalue(), name="book.csv")
    assert records.problems == ()
    return records


@pytest.mark.parametrize("compare", ["treatment", "variety"])
@pytest.mark.parametrize("design", SHAPES)
def test_planned_degrees_are_those_of_the_analysis_after_harvest(design, compare):
    """What the plan counts on is what the analysis of the filled-in field book has."""
    aim = TrialAim(FOUR[:2], TWO, design=design, compare=compare)
    where = tanks(12, 2) if design == "split_plot" else tanks(24)
    plan = propose(aim, where, seed=5, replicates=4)
    rng = np.random.default_rng(3)
    records = harvested(plan.layout, lambda plot: 4 + rng.normal())
    found = analyse(records.plots, SHAPES[design])
    row = found.row("method" if compare == "treatment" else "variety")
    assert found.row(row.error).df == error_behind(aim, plan.replicates)


def test_field_book_filled_in_gives_back_the_true_means():
    """Without any variation but that of blocks, means are exact and blocks take all else."""
    plan = propose(TrialAim(FOUR, ["early"]), tanks(28), seed=9)
    true = dict(zip(FOUR, (5.0, 4.0, 3.0, 2.0), strict=True))
    rng = np.random.default_rng(8)
    noise = rng.normal(0, 0.01, len(plan.layout.plots))
    index = {plot.plot_id: number for number, plot in enumerate(plan.layout.plots)}
    records = harvested(
        plan.layout,
        lambda plot: true[plot.treatment] + 0.3 * int(plot.block) + noise[index[plot.plot_id]],
    )
    found = analyse(records.plots, randomised_blocks("method"))
    means = {one.label: one.mean.m_as("kg/m^2") for one in treatment_means(found, "method")}
    shift = 0.3 * (plan.replicates + 1) / 2
    for method, value in true.items():
        assert means[method] == pytest.approx(value + shift, abs=0.02)
    assert found.row("method").p < 1e-9
