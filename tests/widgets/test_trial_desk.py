"""The trial desk at the level of its traits: controls, words, charts, files."""

from __future__ import annotations

import io
import json
import logging
import re
from html import unescape

import openpyxl
import pytest

from scenariokit import catalog
from scenariokit.trials.demo import demo_files, demo_records
from scenariokit.trials.over_studies import StudiesSummary
from scenariokit.trials.records import read_records, record_template
from scenariokit.widgets import trial_desk
from scenariokit.widgets.chart_view import parameter_names, source_names
from scenariokit.widgets.file_saver import FileSaver
from scenariokit.widgets.trial_desk import TrialDesk, open_trial

FAULT = "Something went wrong inside scenariokit"
POTS = catalog.methods()["wedge_pots"]["label"]
HOSTILE = "<img src=x onerror=alert(1)>"


@pytest.fixture
def desk():
    return open_trial()


def move(desk, **values):
    """Move controls, as the page does it: the whole mapping is sent anew."""
    desk.toolbar.values = {**desk.toolbar.values, **values}


def words(widget):
    """Return what a person reads in an HTML widget."""
    return " ".join(unescape(re.sub("<[^>]+>", " ", widget.value)).split())


def texts(desk):
    parts = (desk.title, desk.says, desk.table, desk.against, desk.pairs, desk.next, desk.checks,
             desk.analysis, desk.findings)  # fmt: skip
    return " ".join(words(part) for part in parts)


def keys(desk):
    return [one["key"] for one in desk.toolbar.fields]


def options(desk, key):
    field = next(one for one in desk.toolbar.fields if one["key"] == key)
    return [value for value, _ in field["options"]]


def shown(view):
    return view.layout.display != "none"


def bring(desk, *files):
    """Hand files to the picker as the page does."""
    picker = desk.files.picker
    content = {"kind": "files", "names": [name for name, _ in files]}
    picker._received(picker, content, [memoryview(part) for _, part in files])
    return picker


def press(desk, label):
    """Press a button as the page does; return what it sends back."""
    (saver,) = [one for one in desk.files.widgets
                if isinstance(one, FileSaver) and label in one.label]  # fmt: skip
    answers = []
    saver.send = lambda content, buffers=None: answers.append((content, buffers))
    saver._received(saver, {"kind": "want", "view": "v1"}, [])
    ((content, buffers),) = answers
    return content, None if buffers is None else bytes(buffers[0])


# -- what is shown -------------------------------------------------------------------------


def test_trial_desk_begins_with_the_invented_trial_and_says_so(desk):
    assert "Invented for demonstration" in words(desk.title)
    assert "That the method makes a difference is shown" in words(desk.says)
    assert keys(desk) == [
        "source", "compare", "design", "control", "per", "system", "language", "varieties",
    ]  # fmt: skip
    assert options(desk, "source") == ["trial", "single", "pool"]
    assert [shown(one) for one in (desk.means, desk.residuals, desk.scores, desk.forest)] == [
        True, True, True, False,
    ]  # fmt: skip


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("source", ["trial", "single", "pool"])
def test_trial_desk_charts_get_what_they_name(desk, source, system):
    move(desk, source=source)
    move(desk, system=system)
    for view in (desk.means, desk.residuals, desk.scores, desk.forest):
        if not shown(view):
            continue
        named = set(source_names(view.spec)) - set(view.spec.get("datasets", {}))
        assert set(view.datasets) == named, view.heading
        assert set(view.signals) == set(parameter_names(view.spec)), view.heading
        assert 0 < sum(len(rows) for rows in view.datasets.values()) < 5_000
        assert view.table_rows
        assert all(len(row) == len(view.table_columns) for row in view.table_rows)
        json.dumps(view.datasets, allow_nan=False)


@pytest.mark.parametrize("source", ["trial", "single", "pool"])
def test_trial_desk_us_reader_meets_no_metric_yield(desk, source):
    move(desk, source=source)
    move(desk, system="us")
    assert "kg/m²" not in texts(desk)
    assert "lb/ft²" in texts(desk)


def test_trial_desk_single_plots_claim_nothing(desk):
    move(desk, source="single")
    assert "One plot proves little." in words(desk.says)
    assert "none exists" in words(desk.table)
    assert (desk.analysis.value, desk.checks.value, desk.against.value) == ("", "", "")
    assert not shown(desk.residuals)
    assert not shown(desk.scores)
    assert "two plots or more" in words(desk.next)
    assert not re.search(r"p [<=]|significant|is shown", texts(desk))


def test_trial_desk_pool_shows_the_forest_and_what_was_refused(desk):
    move(desk, source="pool")
    assert keys(desk) == [
        "source", "compare", "study", "forest", "control", "per", "system", "language",
        "varieties",
    ]  # fmt: skip
    assert shown(desk.forest)
    assert not shown(desk.means)
    assert "of the variation is among studies" in words(desk.says)
    assert "demo_pool_moss_end.csv, row 6" in words(desk.findings)
    assert desk.forest.heading.endswith(desk.toolbar.values["forest"])


def test_trial_desk_forest_of_another_method(desk):
    move(desk, source="pool")
    other = options(desk, "forest")[-1]
    move(desk, forest=other)
    assert desk.forest.heading == f"Study by study: {other}"


def test_trial_desk_forest_without_a_study_to_draw_is_empty(desk):
    """No study grew both: each variety against the other has no value anywhere."""
    rows = [{"study_id": s, "plot_id": str(i), "rep": "1", "treatment": m, "genotype": "x",
             "planting_date": "2026-05-01", "plot_area": 1.0, "ttwp": 4.0 + i / 10}
            for i, (s, m) in enumerate([("S", "A"), ("S", "A"), ("T", "B"), ("T", "B")])]  # fmt: skip
    picker = bring(desk, ("mine.csv", record_template(rows).encode()))
    assert not picker.refused
    assert isinstance(desk.state.found, StudiesSummary)
    assert desk.forest.datasets["forest"] == []
    assert desk.forest.table_rows


def test_trial_desk_usual_method_is_held_against_all_others(desk):
    move(desk, control=POTS)
    assert "Against the usual one" in words(desk.against)
    assert words(desk.against).count(f"against {POTS}") == 3
    move(desk, source="pool")
    move(desk, control=POTS)
    assert f"each method is held against {POTS}" in words(desk.says)


def test_trial_desk_many_pairs_begin_folded(desk):
    assert "<details class='sk-fold' open>" in desk.pairs.value
    move(desk, compare="method:variety")
    assert "<details class='sk-fold'>" in desk.pairs.value


def test_trial_desk_one_study_of_the_pool(desk):
    move(desk, source="pool")
    move(desk, study="moss-end-1")
    assert "One plot proves little" in words(desk.says)
    assert "design" in keys(desk)
    move(desk, study="")
    assert shown(desk.forest)


def test_trial_desk_variety_left_out(desk):
    move(desk, varieties=["late red"])
    assert desk.toolbar.values["varieties"] == ["late red"]
    assert "11 of 12 plots were harvested" in words(desk.says)
    move(desk, varieties=[])
    assert desk.toolbar.values["varieties"] == ["early white", "late red"]


# -- what cannot be ------------------------------------------------------------------------


def test_trial_desk_design_that_cannot_be_is_said_under_the_control(desk):
    before = desk.says.value
    move(desk, design="latin")
    assert "column" in desk.toolbar.errors["design"]
    assert desk.toolbar.values["design"] == "auto"
    assert desk.says.value == before
    move(desk, design="randomised")
    assert desk.toolbar.errors == {}
    assert "as you chose" in words(desk.says)


def test_trial_desk_same_values_again_do_nothing(desk, monkeypatch):
    monkeypatch.setattr(desk, "rebuild", lambda: pytest.fail("nothing was picked"))
    desk._on_toolbar({"old": desk.toolbar.values, "new": dict(desk.toolbar.values)})


def test_trial_desk_fault_is_said_and_logged(desk, monkeypatch, caplog):
    monkeypatch.setattr(trial_desk, "trial_sentences", lambda *_: 1 / 0)
    with caplog.at_level(logging.ERROR):
        move(desk, compare="variety")
    assert FAULT in words(desk.status)
    assert "ZeroDivisionError" in caplog.text


def test_trial_desk_error_of_ours_outside_a_control_is_said(desk):
    def refuse(_change):
        desk.state.pick(design="latin")

    desk.guarded(refuse)(None)
    assert "row" in words(desk.status)


def test_trial_desk_names_that_a_person_wrote_are_escaped(desk):
    rows = [{"study_id": HOSTILE, "plot_id": str(i), "rep": str(i), "treatment": m,
             "genotype": HOSTILE, "planting_date": "2026-05-01", "plot_area": 1.0, "ttwp": 4.0 + i,
             "reservoir": "T1"}
            for i, m in enumerate([HOSTILE, HOSTILE, "B", "B"])]  # fmt: skip
    assert not bring(desk, (f"{HOSTILE}.csv", record_template(rows).encode())).refused
    move(desk, control=HOSTILE)
    for part in (desk.title, desk.says, desk.table, desk.against, desk.pairs, desk.next,
                 desk.checks, desk.analysis, desk.findings, desk.status):  # fmt: skip
        assert "<img" not in part.value
    assert "&lt;img" in desk.findings.value


def test_trial_desk_two_in_one_kernel_do_not_touch():
    one, other = TrialDesk(), TrialDesk(demo_records("single"))
    assert one.toolbar.prefix != other.toolbar.prefix
    before = texts(other)
    move(one, compare="variety")
    assert texts(other) == before


def test_trial_desk_is_displayed_by_a_notebook(desk, monkeypatch):
    displayed = []
    monkeypatch.setattr("IPython.display.display", displayed.append)
    desk._ipython_display_()
    assert displayed == [desk.widget]


# -- files ---------------------------------------------------------------------------------


def test_trial_desk_file_replaces_the_invented_trial_and_stays_to_be_picked(desk):
    picker = bring(desk, *demo_files(("alder_ford",)))
    assert not picker.refused
    assert "12 plots taken over" in picker.message
    assert desk.toolbar.values["source"] == "own"
    assert options(desk, "source")[-1] == "own"
    move(desk, source="trial")
    move(desk, source="own")
    assert desk.state.studies() == ["alder-ford-1"]


def test_trial_desk_many_files_are_pooled_and_problems_counted(desk):
    picker = bring(desk, *demo_files())
    assert "4 files: 52 plots taken over; 1 problems and 0 flags" in picker.message
    assert "sk-bad" in desk.status.value
    assert shown(desk.forest)


def test_trial_desk_bad_file_is_refused_and_nothing_changes(desk):
    before = texts(desk)
    picker = bring(desk, ("mine.csv", b"what,is,this\n1,2,3\n"))
    assert picker.refused
    assert "the column is missing" in words(desk.status)
    assert texts(desk) == before


def test_trial_desk_decimal_comma_is_declared(desk):
    lines = ["study_id;plot_id;rep;treatment;genotype;planting_date;plot_area [m^2];ttwp [kg]"]
    lines += [f"S;{i};{i};pots;early;2026-05-01;2,5;{i}0,5" for i in (1, 2)]
    desk.files.decimal.values = {"decimal": ","}
    assert not bring(desk, ("mine.csv", "\n".join(lines).encode())).refused
    assert "6.20" in words(desk.table)  # (10.5 + 20.5) / 2 / 2.5


def test_trial_desk_means_as_csv_are_those_shown(desk):
    content, sent = press(desk, "means")
    assert content["filename"] == "trial_means.csv"
    head, first, *_ = sent.decode().splitlines()
    assert head.startswith("Method,Mean (kg/m²),Letters")
    best = desk.state.found.means[0]
    assert first.startswith(f"{best.label},{best.mean.m:.2f},{best.letters}")
    move(desk, source="pool")
    _, sent = press(desk, "means")
    assert sent.decode().splitlines()[0].endswith("Plots harvested")


def test_trial_desk_means_of_studies_without_a_model_are_refused(desk):
    rows = [{"study_id": s, "plot_id": "1", "rep": "1", "treatment": m, "genotype": "x",
             "planting_date": "2026-05-01", "plot_area": 1.0, "ttwp": 4.0}
            for s, m in (("S", "A"), ("T", "B"))]  # fmt: skip
    bring(desk, ("mine.csv", record_template(rows).encode()))
    content, _ = press(desk, "means")
    assert content["kind"] == "refused"
    assert "no means over all studies" in content["text"]


def test_trial_desk_report_lists_every_problem(desk):
    move(desk, source="pool")
    _, sent = press(desk, "Report of problems")
    assert "harvest_date,2026-02-20" in sent.decode()


def test_trial_desk_templates_are_in_the_readers_units(desk):
    _, sent = press(desk, "Plot record to fill in (CSV)")
    assert "ttwp [kg]" in sent.decode()
    move(desk, system="us")
    _, sent = press(desk, "Plot record to fill in (CSV)")
    assert "ttwp [lb]" in sent.decode()
    _, sent = press(desk, "Plot record to fill in (XLSX)")
    book = openpyxl.load_workbook(io.BytesIO(sent))
    assert "ttwp [lb]" in [cell.value for cell in book["plots"][1]]
    _, sent = press(desk, "Sheet of a study")
    assert sent.decode().startswith("key,value,meaning")


def test_trial_desk_template_filled_in_reads_back_into_the_desk(desk):
    _, sent = press(desk, "Plot record to fill in (CSV)")
    head = sent.decode().splitlines()[0]
    assert read_records(head + "\n" + ",".join(
        ["S", "1", "1", "", "", "", "", "pots", "early", "2026-05-01", "", "1", *[""] * 3, "4"]
        + [""] * 8)).rows  # fmt: skip


def test_trial_desk_more_measures_by_plant_and_what_can_be_used():
    desk = open_trial()
    told = desk.measures.value
    assert "kg per plant" in told.lower()
    assert "Marketable (%)" in told
    assert told.count("<tr>") == 1 + 8


def choose(desk, **values):
    desk.toolbar.values = {**desk.toolbar.values, **values}


def test_trial_desk_other_studies_are_heard_only_when_chosen_and_the_prior_is_named():
    desk = open_trial()
    assert "temper" not in keys(desk)
    choose(desk, source="pool")
    assert "temper" not in keys(desk)
    choose(desk, study="moss-end-1")
    assert "temper" in keys(desk)
    assert desk.tempered.value == ""
    choose(desk, temper="yes")
    told = desk.tempered.value
    assert "You chose to hear the other studies" in told
    assert "with the prior of 3 studies: tern-hollow-1, alder-ford-1, gull-reach-1" in told
    assert "fewer than two other studies repeated both" in told
    choose(desk, system="us")
    assert "lb/ft²" in desk.tempered.value
    choose(desk, temper="no")
    assert desk.tempered.value == ""


def test_trial_desk_repeated_trial_hears_no_other_study():
    desk = open_trial()
    choose(desk, source="pool")
    choose(desk, study="moss-end-1")
    choose(desk, temper="yes")
    choose(desk, study="tern-hollow-1")
    assert "temper" not in keys(desk)
    assert desk.tempered.value == ""
