"""A trial's results become the yields of the board's scenarios."""

from __future__ import annotations

from importlib import resources

import pytest

from scenariokit import trials
from scenariokit.errors import RecordError
from scenariokit.widgets.board import Board
from scenariokit.widgets.board_state import BoardState

DATA = resources.files("scenariokit.trials").joinpath("data")
TRIAL, SINGLE = "demo_trial.csv", "demo_trial_single.csv"


def content(name):
    return DATA.joinpath(name).read_bytes()


def test_load_trial_means_and_intervals_become_the_yields():
    state = BoardState()
    problems, yields, unknown = state.load_trial(content(TRIAL), TRIAL)
    assert not problems
    assert unknown == ()
    means = trials.treatment_means(trials.summarise(trials.demo_records().plots).analysis, "method")
    assert {method for method, _ in yields} == {one.label for one in means}
    for one in means:
        harvest = state.scenarios[one.label].harvest
        assert harvest.typical.m == pytest.approx(one.mean.m)
        assert (harvest.low.m, harvest.high.m) == pytest.approx((one.low.m, one.high.m))
        assert harvest.interval
        assert harvest.status == "trial"


def test_load_trial_one_plot_for_each_method_has_no_interval():
    state = BoardState()
    _, yields, _ = state.load_trial(content(SINGLE), SINGLE)
    for method, _ in yields:
        harvest = state.scenarios[method].harvest
        assert not harvest.interval
        assert harvest.low.m == harvest.typical.m == harvest.high.m


def test_load_trial_other_methods_keep_their_yields():
    state = BoardState()
    before = state.scenarios["suspended_pot"].harvest
    state.load_trial(content(TRIAL), TRIAL)
    assert state.scenarios["suspended_pot"].harvest == before


def test_load_trial_unknown_method_is_told_and_left_aside():
    text = content(TRIAL).decode("utf-8").replace("wedge_pots", "hanging_gutter")
    state = BoardState()
    _, yields, unknown = state.load_trial(text.encode("utf-8"), "mine.csv")
    assert unknown == ("hanging_gutter",)
    assert ("wedge_pots", "potato") not in yields


def test_load_trial_of_unknown_methods_only_changes_nothing():
    text = content(TRIAL).decode("utf-8")
    for method in ("medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray"):
        text = text.replace(method, f"my_{method}")
    state = BoardState()
    before = dict(state.scenarios)
    with pytest.raises(RecordError, match=r"mine.csv.*no method that this board knows"):
        state.load_trial(text.encode("utf-8"), "mine.csv")
    assert state.scenarios == before


def test_load_trial_without_a_weight_changes_nothing():
    heading, *rows = trials.record_template(
        [{"study_id": "S", "plot_id": "1", "rep": "1", "treatment": "medium_bag",
          "genotype": "early", "planting_date": "2026-05-01", "plot_area": 1.0}]
    ).splitlines()  # fmt: skip
    state = BoardState()
    with pytest.raises(RecordError, match="holds no plot with a weight"):
        state.load_trial("\n".join([heading, *rows]).encode("utf-8"), "mine.csv")
    assert state.own_harvest == {}


def test_board_files_trial_is_told_with_its_intervals():
    board = Board()
    board.files._load_trial(TRIAL, content(TRIAL))
    said = board.status.value
    assert "these yields now stand for the invented ones" in said
    assert "95 % interval" in said
    assert 'class="sk-good"' in said
