"""What is said of a plan are its own numbers, in plain words, with what it cannot show."""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from scenariokit.charts.frames import Showing
from scenariokit.report.planning import (
    DRAW_ONCE,
    NO_BLAME,
    ONE_PLACE,
    SHARED_LEVEL,
    of_hundred,
    percent,
    plan_limits,
    plan_sentences,
    plots_text,
)
from scenariokit.report.planning_budget import budget_sentences, budget_table
from scenariokit.trials.planning.aim import (
    TrialAim,
    chance_of_finding,
    replicates_for_aim,
    smallest_interaction,
)
from scenariokit.trials.planning.needs import PlotNeeds
from scenariokit.trials.planning.proposal import propose
from scenariokit.trials.planning.tanks import equal_tanks

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.0)
FOUR, TWO = ["bag", "pots", "wick", "tray"], ["early", "late"]
AIM = TrialAim(FOUR, difference=0.25)
NEEDS = PlotNeeds("20 plant/m^2", "1 L/plant", "10 money/m^2")


def plan_of(aim=AIM, count=24, sections=1, **options):
    tanks = equal_tanks(count, "120 cm", "60 cm", sections=sections)
    return propose(aim, tanks, seed=1, **{"needs": NEEDS, **options})


# -- numbers in words --------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("share", "text"),
    [(0.25, "25 %"), (0.125, "12.5 %"), (0.2307, "23 %"), (0.0876, "8.8 %"), (0.05, "5 %"),
     (0.0005, "0.05 %"), (1.2, "120 %"), (0.1 + 0.2, "30 %")],
)  # fmt: skip
def test_percent_has_the_digits_that_mean_something(share, text):
    assert percent(share) == text


@pytest.mark.parametrize(
    ("chance", "text"),
    [(0.804, "80 of 100"), (0.9999, "more than 99 of 100"), (0.001, "fewer than 1 of 100"),
     (0.05, "5 of 100")],
)  # fmt: skip
def test_of_hundred_is_so_many_of_a_hundred(chance, text):
    assert of_hundred(chance) == f"{text} such trials"


def test_plots_text_has_the_plural():
    assert (plots_text(1), plots_text(1200)) == ("1 plot", "1,200 plots")


# -- sentences -------------------------------------------------------------------------------


def test_plan_sentences_say_what_is_found_and_with_how_much():
    plan = plan_of()
    said = " ".join(plan_sentences(plan))
    assert "With 5 replicates a difference of 25 % between two methods is found in 86 of" in said
    assert "80 of 100 take 5 replicates, and your tanks hold 6 (24 plots)" in said
    assert f"found in 80 of 100 is {percent(plan.smallest)}" in said
    assert f"± {percent(plan.half_width)} of the mean yield (95 % interval)" in said
    assert "Randomised blocks: 20 plots in 20 of 24 tanks. Seed 1" in said


def test_plan_sentences_say_what_it_would_take():
    said = " ".join(plan_sentences(plan_of(replace(AIM, difference=0.1))))
    assert "80 of 100 would take 24 replicates (96 plots); your tanks hold 6 (24 plots)" in said
    assert "ask for that, or find room" in said


def test_plan_sentences_hopeless_difference():
    said = " ".join(plan_sentences(plan_of(replace(AIM, difference=0.001, cv=0.5))))
    assert "More than 10,000 replicates would be needed" in said


@pytest.mark.parametrize(
    ("compare", "words", "behind"),
    [("treatment", "two methods", 6), ("variety", "two varieties", 6),
     ("combination", "combinations of method and variety", None)],
)  # fmt: skip
def test_plan_sentences_name_what_is_compared(compare, words, behind):
    said = " ".join(plan_sentences(plan_of(TrialAim(FOUR[:2], TWO, compare=compare), replicates=3)))
    assert words in said
    assert (f"stand {behind} plots" in said) == (behind is not None)


def test_plan_sentences_shared_water_counts_what_counts():
    plan = plan_of(TrialAim(FOUR[:2]), 4, 4)
    said = plan_sentences(plan)
    assert said[0].startswith("With 4 replicates")
    assert plan.needed > 4
    assert f"take {plan.needed} replicates that count, and here 4 of {plan.replicates}" in said[1]


def test_plan_sentences_one_body_of_water_finds_nothing():
    plan = plan_of(TrialAim(FOUR[:2]), 1, 12, replicates=3, needs=None)
    said = plan_sentences(plan)
    assert said[0].startswith("Too few plots count (1 replicate): no difference")
    assert len(said) == 2
    assert "half as large" not in " ".join(plan_limits(plan))


@pytest.mark.parametrize(
    ("design", "words"),
    [("randomised", "Plots drawn freely"), ("latin_square", "Latin square"),
     ("split_plot", "Split plot")],
)  # fmt: skip
def test_plan_sentences_name_the_design(design, words):
    aim = TrialAim(FOUR[:2], TWO, design=design)
    assert words in plan_sentences(plan_of(aim, 24, 2))[-1]


# -- limits ---------------------------------------------------------------------------------


def test_plan_limits_are_the_plans_own_numbers():
    plan = plan_of()
    said = " ".join(plan_limits(plan))
    half = chance_of_finding(plan.aim, 5, difference=0.125)
    assert f"half as large, 12.5 %, is found in {of_hundred(half)}" in said
    unlike = chance_of_finding(plan.aim, 5, cv=0.35)
    assert (
        f"0.35, as in some trials with small plots, 25 % is found in {of_hundred(unlike)}" in said
    )
    pairs = replicates_for_aim(plan.aim, alpha=0.05 / 6)
    assert (
        f"All 6 pairs at a shared risk of 0.05 (0.0083 each) would take {pairs} replicates" in said
    )
    for words in (NO_BLAME, ONE_PLACE, DRAW_ONCE, "Empty: T21"):
        assert words in said


def test_plan_limits_leave_out_what_does_not_apply():
    plan = plan_of(TrialAim(FOUR[:2], cv=0.4), 20)
    said = " ".join(plan_limits(plan))
    for words in ("is a guess", "pairs at a shared", "suits one variety", "Empty", SHARED_LEVEL):
        assert words not in said


def test_plan_limits_all_pairs_of_a_hopeless_difference():
    said = " ".join(plan_limits(plan_of(replace(AIM, difference=0.001, cv=0.5))))
    assert "would take more than 10,000 replicates" in said


def test_plan_limits_interaction_is_seen_less_sharply():
    plan = plan_of(TrialAim(FOUR[:2], TWO))
    size = percent(smallest_interaction(plan.aim, plan.counted))
    assert f"a difference of differences of {size} on" in " ".join(plan_limits(plan))
    every = plan_of(TrialAim(FOUR[:2], TWO, compare="combination"))
    assert "difference of differences" not in " ".join(plan_limits(every))


def test_plan_limits_shared_water_and_level():
    said = " ".join(plan_limits(plan_of(TrialAim(FOUR[:2]), 4, 4)))
    assert re.search(r"Of \d replicates only 4 count", said)
    assert SHARED_LEVEL in said
    split = plan_of(TrialAim(FOUR[:2], TWO, design="split_plot"), 24, 2)
    assert SHARED_LEVEL not in " ".join(plan_limits(split))
    varieties = plan_of(TrialAim(["bag"], TWO), 12, 2)
    assert SHARED_LEVEL not in " ".join(plan_limits(varieties))


def test_plan_limits_few_plants_in_a_plot():
    few = PlotNeeds("9 plant/m^2")
    assert "Plots of 6 plants depend much" in " ".join(plan_limits(plan_of(needs=few)))
    assert "depend much" not in " ".join(plan_limits(plan_of()))
    assert "depend much" not in " ".join(plan_limits(plan_of(needs=None)))


def test_plan_limits_many_empty_sections_are_counted():
    assert "20 sections stay empty." in plan_limits(plan_of(AIM, 40))


# -- budget ------------------------------------------------------------------------------------


def cells(html):
    return [
        re.findall(r"<t[hd][^>]*>(.*?)</t[hd]>", row) for row in re.findall(r"<tr>(.*?)</tr>", html)
    ]


def test_budget_table_hand_worked():
    """Five plots of 0.72 m²: 14 plants each, a litre and 10 EUR/m²."""
    rows = cells(budget_table(plan_of(), {"bag": "Medium bag"}, METRIC))
    assert rows[0][3:] == ["Tank area (m²)", "Growing medium (L)", "Cost of one crop (EUR)"]
    assert rows[1] == ["A – Medium bag", "5", "70", "3.60", "70", "36.00"]
    assert rows[2][0] == "B – pots"
    assert rows[-1] == ["All", "20", "280", "14.40", "280", "144.00"]


def test_budget_table_in_us_units():
    rows = cells(budget_table(plan_of(), {}, US))
    assert rows[0][3:] == ["Tank area (ft²)", "Growing medium (dry qt)", "Cost of one crop (USD)"]
    assert rows[1][3:] == ["38.75", "64", "36.00"]  # 3.6 / 0.09290304; 70 / 1.1012209


def test_budget_table_of_one_method_has_no_letter_and_no_sum():
    rows = cells(budget_table(plan_of(TrialAim(["bag"], TWO)), {}, METRIC))
    assert [row[0] for row in rows] == ["Method", "bag"]


def test_budget_table_what_is_not_stated_is_a_dash():
    rows = cells(budget_table(plan_of(needs=PlotNeeds("20 plant/m^2")), {}, METRIC))
    assert rows[-1][4:] == ["–", "–"]
    assert len(budget_sentences(plan_of(needs=PlotNeeds("20 plant/m^2")), METRIC)) == 1


def test_budget_table_names_are_escaped():
    plan = plan_of(TrialAim(["<b>bag", "pots"]))
    assert "<b>" not in budget_table(plan, {}, METRIC)
    assert "&lt;i&gt;" in budget_table(plan, {"pots": "<i>"}, METRIC)


def test_budget_without_needs_says_so():
    plan = plan_of(needs=None)
    assert "no budget" in budget_table(plan, {}, METRIC)
    assert budget_sentences(plan, METRIC) == []


@pytest.mark.parametrize(
    ("showing", "words"),
    [
        # 24 tanks of 0.72 m²; 6 rows of 4 with 60 cm ways: 7.8 m by 7.8 m.
        (METRIC, ["17.3 m² of water", "60.8 m² of ground", "144.00 EUR"]),
        (US, ["186.0 ft² of water", "654.9 ft² of ground", "144.00 USD"]),
    ],
    ids=["metric", "us"],
)
def test_budget_sentences_hand_worked(showing, words):
    said = " ".join(budget_sentences(plan_of(), showing))
    for word in words:
        assert word in said
