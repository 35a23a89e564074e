"""What the trial desk knows: records, choices, and that a refused choice changes nothing."""

from __future__ import annotations

import pytest

from scenariokit import catalog
from scenariokit.errors import InfeasibleError, RangeError, RecordError
from scenariokit.trials.demo import DEMOS as TRIALS
from scenariokit.trials.demo import demo_files, demo_records
from scenariokit.trials.over_studies import StudiesSummary
from scenariokit.trials.records import read_records, record_template
from scenariokit.trials.summary import TrialSummary
from scenariokit.widgets.trial_state import BOTH, DEMOS, OWN, TrialState, from_records, read_files

BAG = catalog.methods()["medium_bag"]["label"]
POTS = catalog.methods()["wedge_pots"]["label"]
ROW = {
    "study_id": "S", "rep": "1", "treatment": "pots", "genotype": "early",
    "planting_date": "2026-05-01", "plot_area": 2.0, "ttwp": 8.0,
}  # fmt: skip


def file_of(*rows, name="mine.csv"):
    made = [{**ROW, "plot_id": str(place), **row} for place, row in enumerate(rows, 1)]
    return name, record_template(made).encode()


def loaded(*rows):
    return read_files([file_of(*rows)])


@pytest.fixture
def state():
    return TrialState()


def test_trial_state_begins_with_the_invented_trial(state):
    assert state.source == "trial"
    assert isinstance(state.found, TrialSummary)
    assert state.study.place == "Tern Hollow (invented)"
    assert state.levels() == list(state.plots.known().levels("method"))
    assert {BAG, POTS} <= set(state.levels())  # ids are shown as the catalogue's labels


def test_trial_state_own_records_are_kept_beside_the_invented_ones():
    state = TrialState(demo_records("single"))
    assert state.source == OWN
    state.pick_source("trial")
    assert state.source == "trial"
    state.pick_source(OWN)
    assert state.loaded is state.own


def test_trial_state_unknown_source_changes_nothing(state):
    before = state.loaded
    state.pick_source(OWN)  # there are none
    state.pick_source("nothing")
    assert state.loaded is before


@pytest.mark.parametrize("source", DEMOS)
def test_trial_state_every_invented_source_opens(state, source):
    state.pick_source(source)
    assert state.loaded.label.startswith("Invented")
    assert isinstance(state.found, StudiesSummary) == (source == "pool")


def test_trial_state_pick_refused_changes_nothing(state):
    before, found = state.choices, state.found
    with pytest.raises(RangeError):
        state.pick(design="latin")
    assert state.choices is before
    assert state.found is found


def test_trial_state_control_goes_where_it_is_no_level(state):
    state.pick(control=POTS)
    assert state.found.against is not None
    state.pick(compare="variety")
    assert state.choices.control == ""
    state.pick(compare=BOTH, control=f"{POTS}:late red")
    assert len(state.found.against.pairs) == 7


def test_trial_state_varieties_left_out_are_not_analysed(state):
    state.pick(varieties=("late red",))
    assert len(state.plots) == 12
    assert list(state.comparisons()) == ["method"]
    state.pick(varieties=("early white", "late red"))
    assert state.choices.varieties == ()  # all of them is no choice


def test_trial_state_comparison_that_is_gone_falls_back(state):
    state.pick(compare=BOTH)
    state.pick(varieties=("late red",))
    assert state.choices.compare == "method"


def test_trial_state_yield_per_area_taken_up_is_lower(state):
    tank = state.found.means[0].mean
    state.pick(per="occupied")
    assert state.found.means[0].mean.m == pytest.approx(tank.m * 0.96 / 1.4)


def test_trial_state_area_taken_up_is_not_offered_where_it_is_missing():
    state = TrialState(loaded({}, {"rep": "2"}))
    assert not state.loaded.has_occupied
    state.pick(per="occupied")
    assert state.choices.per == "tank"


def test_trial_state_one_study_of_a_pool_is_a_trial(state):
    state.pick_source("pool")
    assert len(state.studies()) == 4
    state.pick(study="alder-ford-1")
    assert isinstance(state.found, TrialSummary)
    assert state.study is None  # no sheet was given for it
    state.pick(study="tern-hollow-1")
    assert state.study is not None


def test_trial_state_choices_without_a_place_are_dropped(state):
    state.pick(system="us", control=POTS)
    state.pick_source("single")
    assert (state.choices.system, state.choices.control) == ("us", "")
    state.pick(study="nothing", forest="nothing")
    assert (state.choices.study, state.choices.forest) == ("", "")


def test_trial_state_usual_method_is_the_common_one_of_a_pool(state):
    state.pick_source("pool")
    state.pick(control=POTS)
    assert state.found.common == POTS


def test_trial_state_pool_of_one_method_is_refused():
    rows = ({}, {"study_id": "T", "rep": "2"})
    with pytest.raises(InfeasibleError, match="2 studies"):
        TrialState(loaded(*rows))


def test_trial_state_pool_with_one_study_harvested_is_that_trial():
    rows = ({}, {"treatment": "bags", "ttwp": 9.0}, {"study_id": "T", "ttwp": None})
    state = TrialState(loaded(*rows))
    assert isinstance(state.found, TrialSummary)
    assert state.found.without == "no repeats"


def test_trial_state_one_variety_varied_is_compared_by_variety():
    rows = ({}, {"rep": "2"}, {"genotype": "late", "ttwp": 9.0}, {"genotype": "late", "rep": "2"})
    state = TrialState(loaded(*rows))
    assert state.choices.compare == "variety"


def test_trial_state_nothing_harvested_is_refused():
    with pytest.raises(InfeasibleError, match="no plot was harvested"):
        TrialState(loaded({"ttwp": None}))


# -- files ---------------------------------------------------------------------------------


def test_read_files_one_file_is_read_and_several_are_pooled():
    one = read_files(demo_files(("single",)))
    assert one.label == TRIALS["single"]
    many = read_files(demo_files())
    assert many.label == "4 files"
    assert len(many.rows) == 52
    assert len(many.problems) == 1
    assert set(many.studies) == {"tern-hollow-1"}
    assert many.notes


def test_read_files_one_trial_with_its_sheet_needs_no_word_of_pooling():
    found = read_files(demo_files(("trial",)))
    assert found.notes == ()
    assert found.studies["tern-hollow-1"].country == "nowhere (invented)"


def test_read_files_decimal_comma_is_declared():
    text = "study_id;plot_id;rep;treatment;genotype;planting_date;plot_area [m^2];ttwp [kg]\n"
    text += "S;1;1;pots;early;2026-05-01;2,5;10,0\n"
    found = read_files([("mine.csv", text.encode())], ",")
    assert found.rows[0]["plot_area"] == 2.5


def test_read_files_sheet_of_a_study_alone_is_refused():
    sheet = [file for file in demo_files(("trial",)) if "study" in file[0]]
    with pytest.raises(RecordError, match="together with its plot records"):
        read_files(sheet)


def test_read_files_without_a_good_row_is_refused_with_every_problem():
    with pytest.raises(RecordError, match="no row can be used") as caught:
        read_files([file_of({"ttwp": -1.0}), file_of({"ttwp": -2.0}, name="other.csv")])
    assert {problem.file for problem in caught.value.problems} == {"mine.csv", "other.csv"}


def test_loaded_trials_report_lists_problems_and_flags():
    found = loaded({"reservoir": "T1"}, {"reservoir": "T1", "rep": "2"}, {"ttwp": -1.0})
    report = found.report().splitlines()
    assert report[0].startswith("file,row,column,value")
    assert sum("not used" in line for line in report) == 1
    assert sum("used, but look again" in line for line in report) == 2


def test_from_records_sheet_goes_to_every_study_of_the_file():
    assert set(from_records(demo_records()).studies) == {"tern-hollow-1"}
    bare = from_records(read_records(file_of({})[1]), "mine")
    assert (bare.label, bare.studies) == ("mine", {})
