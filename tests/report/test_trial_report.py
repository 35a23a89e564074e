"""What is said of a trial is true of its numbers, in the reader's units, and safe as HTML."""

from __future__ import annotations

import dataclasses
import datetime
import re
from html import unescape

import pytest

from scenariokit import quantity
from scenariokit.charts.frames import Showing
from scenariokit.errors import Problem
from scenariokit.report.trial_numbers import (
    bare_chance,
    chance,
    in_reader_units,
    signed,
    span_text,
    yield_text,
)
from scenariokit.report.trial_studies import (
    file_findings,
    forest_rows_text,
    note_sentences,
    studies_rows,
    studies_sentences,
    studies_table,
)
from scenariokit.report.trial_tables import analysis_table, means_rows, means_table, pairs_table
from scenariokit.report.trials import (
    against_sentences,
    check_sentences,
    reach_sentences,
    study_sentence,
    trial_sentences,
)
from scenariokit.trials.analysis import ratio_in
from scenariokit.trials.demo import demo_files, demo_records, demo_study
from scenariokit.trials.over_studies import summarise_studies
from scenariokit.trials.plots import PlotTable
from scenariokit.trials.pooling import pool
from scenariokit.trials.summary import summarise

METRIC, US = Showing("metric"), Showing("us")
PER_FOOT = 0.204816143622  # lb/ft² in a kg/m²: 0.09290304 / 0.45359237
NAN = float("nan")
HOSTILE = "<img src=x onerror=alert(1)>"


def plots_of(values, **factors):
    return PlotTable(values, {name: tuple(levels) for name, levels in factors.items()})


@pytest.fixture(scope="module")
def found():
    return summarise(demo_records().plots, control="wedge_pots")


@pytest.fixture(scope="module")
def single():
    return summarise(demo_records("single").plots)


@pytest.fixture(scope="module")
def studies():
    return summarise_studies(pool(demo_files()).plots(), common="wedge_pots")


def text(lines):
    return "\n".join(lines)


# -- numbers -------------------------------------------------------------------------------


def test_yield_text_in_both_units():
    assert yield_text(quantity("4.5 kg/m^2"), METRIC) == "4.50 kg/m²"
    assert yield_text(quantity("4.5 kg/m^2"), US) == f"{4.5 * PER_FOOT:.3f} lb/ft²"


@pytest.mark.parametrize(("value", "words"), [(-1.5, "−1.50"), (1.5, "+1.50"), (0.0, "+0.00")])
def test_signed_shows_the_sign(value, words):
    assert signed(quantity(value, "kg/m^2"), METRIC, unit=False) == words


def test_span_text_without_ends_says_so():
    assert span_text(None, None, METRIC) == "none exists"
    ends = quantity(-1.0, "kg/m^2"), quantity(2.0, "kg/m^2")
    assert span_text(*ends, METRIC, differences=True) == "−1.00 to +2.00"


def test_in_reader_units_decimal_comma_is_read_as_one():
    assert (
        in_reader_units("La media es 1,9 kg/m².", US) == f"La media es {1.9 * PER_FOOT:.2g} lb/ft²."
    )


def test_in_reader_units_turns_every_yield_and_nothing_else():
    said = "2 plots: 1.9 kg/m² less, then 12 kg/m² more (F = 3.1)"
    assert in_reader_units(said, METRIC) == said
    assert in_reader_units(said, US) == "2 plots: 0.39 lb/ft² less, then 2.5 lb/ft² more (F = 3.1)"
    assert in_reader_units("1e+02 kg/m²", US) == "20 lb/ft²"


def test_chance_small_ones_are_not_spelt_out():
    assert [chance(p) for p in (0.00099, 0.001, 1.0)] == ["p < 0.001", "p = 0.001", "p = 1.000"]
    assert bare_chance(0.0002) == "<\u00a00.001"
    assert bare_chance(0.25) == "0.250"


# -- sentences -----------------------------------------------------------------------------


def test_trial_sentences_say_what_is_shown_with_its_numbers(found):
    said = trial_sentences(found, METRIC)
    row, best = found.analysis.row("method"), found.means[0]
    assert said[0] == f"That the method makes a difference is shown (F = {row.f:.2f}, p < 0.001)."
    assert f"{best.label} yields most: {best.mean.m:.2f} kg/m²" in said[1]
    assert f"interval {best.low.m:.2f} to {best.high.m:.2f}" in said[1]
    assert "more than every other is shown" in said[1]
    assert "23 of 24 plots were harvested" in text(said)
    assert "vary by 12 % of it" in text(said)


def test_trial_sentences_guess_is_called_a_guess_and_a_choice_is_not(found):
    assert "Read as randomised blocks, a guess: each of 3 blocks" in text(
        trial_sentences(found, METRIC)
    )
    chosen = summarise(demo_records().plots, design="randomised")
    said = text(trial_sentences(chosen, METRIC))
    assert "Read as completely randomised, as you chose." in said
    assert "guess" not in said


def test_trial_sentences_us_reader_meets_no_metric_yield(found):
    for lines in (trial_sentences(found, US), against_sentences(found, US),
                  reach_sentences(found, US)):  # fmt: skip
        assert "kg/m²" not in text(lines)
    assert f"{found.means[0].mean.m * PER_FOOT:.3f} lb/ft²" in text(trial_sentences(found, US))


def test_trial_sentences_not_shown_is_no_proof():
    one = summarise(demo_records().plots, compare="variety")
    said = text(trial_sentences(one, METRIC))
    assert "That the variety makes a difference is not shown" in said
    assert "no proof that there is none" in said
    assert "that it yields more than any other is not shown" in said


def test_trial_sentences_critical_difference_where_all_pairs_share_one():
    plots = plots_of([4.0, 4.4, 5.0, 5.6, 6.2, 6.0], method="AABBCC")
    one = summarise(plots)
    said = text(trial_sentences(one, METRIC))
    assert f"must lie {one.comparisons.critical.m:.2f} kg/m² apart" in said


def test_trial_sentences_combination_is_not_given_the_test_of_the_interaction():
    one = summarise(demo_records().plots, compare="method:variety")
    said = trial_sentences(one, METRIC)
    assert said[0].startswith("medium_bag · late red yields most")
    assert "is not shown for medium_bag · early white, for the others it is" in said[0]


def test_trial_sentences_single_plots_claim_nothing(single):
    said = text(trial_sentences(single, METRIC))
    assert said.startswith("One plot proves little.")
    assert "no test and no interval" in said
    assert "is shown" not in said
    assert "p =" not in said
    assert "p <" not in said
    assert "significant" not in said


def test_trial_sentences_single_plots_largest_difference_beside_the_usual_variation(single):
    said = text(trial_sentences(single, METRIC))
    widest = max(single.differences, key=lambda one: abs(one.observed.m))
    assert f"gave {abs(widest.observed.m):.2f} kg/m² more" in said
    for row in widest.credible:
        assert f"{row.difference.m:.2f} kg/m² where they vary by {100 * row.cv:.0f} %" in said
    assert "passes what plots that vary by 12 % do by chance" in said


def test_trial_sentences_small_difference_lies_within_chance():
    one = summarise(plots_of([4.0, 4.1], method="AB"))
    said = text(trial_sentences(one, METRIC))
    assert "B gave 0.10 kg/m² more than A" in said
    assert "within what chance does even among even plots" in said


def test_trial_sentences_one_level_shows_its_value():
    said = text(trial_sentences(summarise(plots_of([4.1, 4.9, 5.3], method="AAA")), METRIC))
    assert "there is nothing to compare" in said
    assert "A: 4.77 kg/m² (95 % interval 3.25 to 6.28)." in said
    said = text(trial_sentences(summarise(plots_of([4.1], method="A")), METRIC))
    assert "A: 4.10 kg/m² (no interval exists)." in said


@pytest.mark.parametrize(
    ("plots", "words"),
    [
        (plots_of([4.0, 4.0, 6.0, 6.0], method="AABB"), "gave exactly the same"),
        (plots_of([4.0, 4.2, 6.0, 6.3], method="AABB", variety="xxyy"), "cannot be told"),
    ],
)
def test_trial_sentences_say_why_there_is_no_test(plots, words):
    assert words in trial_sentences(summarise(plots), METRIC)[0]


def test_trial_sentences_name_levels_not_harvested():
    one = summarise(plots_of([4.1, 4.9, 6.0, 6.4, NAN], method="AABBC"))
    assert "Not harvested at all, and left out: C." in trial_sentences(one, METRIC)


def test_trial_sentences_line_without_a_test_says_so(found):
    rows = tuple(row for row in found.analysis.rows if row.source != "method")
    bare = dataclasses.replace(found, analysis=dataclasses.replace(found.analysis, rows=rows))
    assert "cannot tell whether the method makes a difference" in trial_sentences(bare, METRIC)[0]


def test_against_sentences_difference_interval_and_ratio(found):
    said = against_sentences(found, METRIC)
    pair = next(one for one in found.against.pairs if one.first == "medium_bag")
    ratio = ratio_in(found.analysis, "method", "medium_bag", "wedge_pots")
    line = next(one for one in said if one.startswith("medium_bag against wedge_pots"))
    assert (
        f"+{pair.difference.m:.2f} kg/m² (+{pair.low.m:.2f} to +{pair.high.m:.2f}; p < 0.001)"
        in line
    )
    assert line.endswith(f"{ratio.ratio:.2f} times ({ratio.low:.2f} to {ratio.high:.2f}).")
    assert len(said) == 3


def test_against_sentences_without_a_usual_one_or_ratio(found):
    assert against_sentences(summarise(demo_records().plots), METRIC) == []
    assert "times" not in text(against_sentences(dataclasses.replace(found, ratios={}), METRIC))


def test_against_sentences_ratio_without_end_says_so():
    plots = plots_of([0.1, 3.0, 4.0, 7.0], method="AABB")
    one = summarise(plots, control="A")
    assert not one.ratios["B"].bounded
    assert "times (its interval has no end)" in text(against_sentences(one, METRIC))


def test_check_sentences_name_the_tests_and_what_they_cannot_do(found):
    (said,) = check_sentences(found)
    assert f"normal curve (Shapiro-Wilk) p = {found.checks.shapiro.p:.3f}" in said
    assert "no proof that all is well" in said


def test_check_sentences_ranks_where_they_are_safer():
    values = [4.0, 5.0, 6.0, 4.1, 5.1, 6.1, 4.2, 5.0, 6.2, 4.1, 5.2, 26.0, 4.0, 5.1, 6.1]
    one = summarise(plots_of(values, method="ABC" * 5, block=sorted("12345" * 3)))
    said = text(check_sentences(one))
    assert "Ranks are the safer look here, because" in said
    assert f"By ranks (Friedman: {one.ranks.statistic:.2f} with 2 degrees of freedom" in said
    assert "a difference is shown" in said


def test_check_sentences_without_checks_are_none(single, found):
    assert check_sentences(single) == []
    bare = dataclasses.replace(found.checks, shapiro=None, levene=None)
    assert check_sentences(dataclasses.replace(found, checks=bare)) == []


def test_reach_sentences_smallest_difference_and_plots_for_a_smaller_one(found):
    said = text(reach_sentences(found, METRIC))
    assert f"true difference of {found.reach.difference.m:.2f} kg/m² (22 % of the mean)" in said
    assert "80 of 100 such trials" in said
    assert "To find 20 % as often takes 7 plots of each level; here stood 5.8 on average." in said


def test_reach_sentences_enough_plots_need_no_more(found):
    enough = dataclasses.replace(found.reach, wanted_plots=3)
    assert len(reach_sentences(dataclasses.replace(found, reach=enough), METRIC)) == 1
    never = dataclasses.replace(found.reach, wanted_plots=None)
    said = text(reach_sentences(dataclasses.replace(found, reach=never), METRIC))
    assert "no trial of a usual size finds 20 %" in said


def test_reach_sentences_unreplicated_trial_is_told_to_repeat(single):
    assert reach_sentences(single, METRIC) == [
        "Give each two plots or more, each with a reservoir of its own, drawn by lot."
    ]
    assert reach_sentences(summarise(plots_of([4.1], method="A")), METRIC) == []


def test_study_sentence_says_title_place_and_licence():
    assert study_sentence(None) == ""
    said = study_sentence(demo_study())
    assert said.startswith("Invented for demonstration")
    assert "planted 2026-04-18; figures under CC0 1.0." in said
    bare = dataclasses.replace(demo_study(), place="", country="NZ",
                               planting=datetime.date(2026, 1, 2))  # fmt: skip
    assert "; NZ; planted 2026-01-02" in study_sentence(bare)


# -- tables --------------------------------------------------------------------------------


def cells(html):
    """Return the texts of a table, row by row."""
    rows = re.findall("<tr>(.*?)</tr>", html)
    return [[unescape(one) for one in re.findall("<t[hd][^>]*>(.*?)</t[hd]>", row)] for row in rows]


def test_means_table_holds_the_means_and_letters(found):
    head, *rows = cells(means_table(found, METRIC))
    assert head[:4] == ["Method", "Mean (kg/m²)", "Letters", "95 % interval (kg/m²)"]
    for row, one in zip(rows, found.means, strict=True):
        assert row[:3] == [one.label, f"{one.mean.m:.2f}", one.letters]
        assert row[3] == f"{one.low.m:.2f} to {one.high.m:.2f}"
        assert row[5:7] == [str(one.plots), str(one.unharvested)]


def test_means_table_single_plots_have_no_interval(single):
    _, *rows = cells(means_table(single, METRIC))
    assert {row[3] for row in rows} == {"none exists"}
    assert {row[2] for row in rows} == {"–"}
    assert "share a letter" not in means_table(single, METRIC)


def test_means_rows_us_reader_gets_us_numbers(found):
    head, first, *_ = means_rows(found, US)
    assert head[1] == "Mean (lb/ft²)"
    assert first[1] == f"{found.means[0].mean.m * PER_FOOT:.3f}"


@pytest.mark.parametrize(("showing", "factor"), [(METRIC, 1.0), (US, PER_FOOT)])
def test_analysis_table_squares_are_in_the_readers_unit(found, showing, factor):
    head, *rows = cells(analysis_table(found, showing))
    assert showing is METRIC or "lb/ft²" in head[2]
    by_source = {row[0]: row for row in rows}
    row = found.analysis.row("method")
    assert float(by_source["method"][2]) == pytest.approx(row.sum_of_squares * factor**2, rel=1e-3)
    assert by_source["method"][4:] == [f"{row.f:.2f}", "<\u00a00.001", "residual"]
    assert "method × variety" in by_source
    assert by_source["total"][3:] == ["", "", "", ""]


def test_analysis_table_without_an_analysis_is_empty(single):
    assert analysis_table(single, METRIC) == ""


def test_pairs_table_tested_pairs(found):
    _, *rows = cells(pairs_table(found, METRIC))
    assert len(rows) == 6
    for row, pair in zip(rows, found.comparisons.pairs, strict=True):
        assert row[0] == f"{pair.first} – {pair.second}"
        assert row[4] == ("yes" if pair.differs else "no")
        assert float(row[1].replace("−", "-")) == pytest.approx(pair.difference.m, abs=0.005)


def test_pairs_table_untested_pairs_stand_beside_the_usual_variation(single):
    head, *rows = cells(pairs_table(single, METRIC))
    assert head[2:] == [f"Like plots stay within, varying {cv} %" for cv in (5, 12, 35)]
    assert "p" not in head
    first = single.differences[0]
    passed = " (passed)" if first.credible[0].passed else ""
    assert rows[0][2] == f"± {first.credible[0].difference.m:.2f}{passed}"


def test_pairs_table_nothing_to_compare_is_empty():
    assert pairs_table(summarise(plots_of([4.1], method="A")), METRIC) == ""


def test_tables_escape_what_a_person_wrote():
    values = [4.0, 4.4, 5.0, 5.6]
    plots = plots_of(values, method=(HOSTILE, HOSTILE, "B", "B"))
    one = summarise(plots)
    for html in (means_table(one, METRIC), pairs_table(one, METRIC), analysis_table(one, METRIC)):
        assert "<img" not in html
    assert "&lt;img" in means_table(one, METRIC)


# -- several studies -----------------------------------------------------------------------


def test_studies_sentences_ratio_interval_and_heterogeneity(studies):
    said = studies_sentences(studies, METRIC)
    bag = next(one for one in studies.over if one.method == "medium_bag")
    line = next(one for one in said if one.startswith("medium_bag"))
    assert "4 studies, 51 of 52 plots harvested" in said[0]
    assert f"{bag.random.estimate.m:.2f} times the yield of wedge_pots" in line
    assert f"95 % interval {bag.random.low.m:.2f} to {bag.random.high.m:.2f}" in line
    assert f"{100 * bag.pool.i_squared:.0f} % of the variation is among studies" in line
    assert f"Q = {bag.pool.q:.1f}" in line
    assert "a difference is shown" in line
    assert "Shown apart and not pooled: moss-end-1" in line
    assert f"may give {bag.prediction.low.m:.2f} to {bag.prediction.high.m:.2f}" in line


def test_studies_sentences_method_of_one_repeated_study_is_not_pooled(studies):
    said = text(studies_sentences(studies, METRIC))
    assert "sheet_wick_tray: 1 of 2 studies can be pooled, and that takes two" in said


def test_studies_sentences_model_says_what_varies(studies):
    said = text(studies_sentences(studies, METRIC))
    plot = studies.model.components[-1]
    assert f"plots treated alike by {plot.standard_deviation.m:.2f} kg/m²" in said
    assert f"(F = {studies.model.tests[0].f:.2f}" in said
    assert "kg/m²" not in text(studies_sentences(studies, US))


def test_studies_sentences_differences_are_in_the_readers_unit():
    plots = pool(demo_files()).plots()
    one = summarise_studies(plots, common="wedge_pots", scale="difference")
    bag = next(row for row in one.over if row.method == "medium_bag")
    said = text(studies_sentences(one, US))
    assert f"{bag.random.estimate.m * PER_FOOT:.3f} lb/ft² beside wedge_pots" in said
    assert forest_rows_text(bag, US)[0][1] == "Difference (lb/ft²)"


def test_studies_sentences_two_studies_give_no_prediction():
    values = [4.0, 4.4, 5.0, 5.4, 3.1, 3.3, 4.4, 4.9]
    plots = plots_of(values, method="AABB" * 2, study="1111" + "2222")
    said = text(studies_sentences(summarise_studies(plots, common="A"), METRIC))
    assert "Another such study" not in said
    assert "apart" not in said


def test_studies_sentences_without_a_model_says_why():
    bare = summarise_studies(PlotTable([4.0, 5.0], {"method": ("A", "B"), "study": ("1", "2")}))
    assert "One model of all plots is not possible" in text(studies_sentences(bare, METRIC))
    assert studies_rows(bare, METRIC) == []
    assert studies_table(bare, METRIC) == ""


def test_studies_table_holds_the_means_of_the_model(studies):
    head, *rows = cells(studies_table(studies, METRIC))
    assert head[1] == "Mean (kg/m²)"
    means = sorted((float(one.mean.m) for one in studies.model.means("method")), reverse=True)
    assert [row[1] for row in rows] == [f"{mean:.2f}" for mean in means]


def test_forest_rows_text_has_studies_reasons_and_both_ends(studies):
    bag = next(one for one in studies.over if one.method == "medium_bag")
    _head, *rows = forest_rows_text(bag, METRIC)
    assert [row[0] for row in rows] == [
        *(row.study for row in bag.rows), "moss-end-1", "All studies", "Another such study",
    ]  # fmt: skip
    assert "no plot was repeated" in rows[3][5]
    assert rows[3][2] == "none"
    sheet = next(one for one in studies.over if one.method == "sheet_wick_tray")
    assert forest_rows_text(sheet, METRIC)[1][5] == "no other study to pool it with"


def test_forest_rows_text_study_without_the_common_method_has_no_value():
    values = [4.0, 4.4, 5.0, 5.4, 3.1, 3.3]
    plots = plots_of(values, method="AABBBB", study="111122")
    one = summarise_studies(plots, common="A").over[0]
    assert forest_rows_text(one, METRIC)[2][1] == "–"


def test_file_findings_problems_and_flags_are_told_apart_and_escaped():
    bad = Problem("ttwp", HOSTILE, "is not a number", row=3)
    flag = Problem("reservoir", "T1", "feeds 2 plots", row=4)
    html = file_findings([bad], [flag])
    assert html.index("Not used") < html.index("Used, but look again")
    assert "<img" not in html
    assert file_findings([], []) == ""


def test_note_sentences_each_once_as_a_sentence():
    notes = ["the mean of 1.9 kg/m² is low", "the mean of 1.9 kg/m² is low", "Already one."]
    assert note_sentences(notes, US) == ["The mean of 0.39 lb/ft² is low.", "Already one."]
