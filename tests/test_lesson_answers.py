"""Every number in a hidden answer of a lesson is worked out here, or stands in the lesson itself."""

from __future__ import annotations

import re
from collections.abc import Callable
from pathlib import Path

import nbformat
import numpy as np
import pytest
from scipy.stats import t

from scenariokit import catalog, cautions, climate, nutrients, reservoir, substrate, trials, units
from scenariokit.decide import breaches, break_even, payoffs, weigh
from scenariokit.decide.criteria import Criterion
from scenariokit.scenario import compare, crop_from, scenario_for
from scenariokit.trials.demo import demo_records
from scenariokit.trials.demo_rooms import demo_rooms
from scenariokit.trials.planning.aim import (
    TrialAim,
    chance_of_finding,
    replicates_for_aim,
    smallest_difference,
)
from scenariokit.trials.pooling import pool
from scenariokit.trials.records import plots_of, read_records, record_template
from scenariokit.trials.room_results import FEWEST_ROOMS, room_results
from scenariokit.trials.summary import summarise
from scenariokit.uncertainty.usual import usual_uncertainty
from scenariokit.widgets.board_state import BoardState

FOLDER = Path(__file__).parents[1] / "notebooks"
LESSONS = sorted(FOLDER.glob("[0-9]*.ipynb"))
ANSWER = re.compile(r"<details><summary>Answer</summary>(.*?)</details>", re.DOTALL)
CLAIM = re.compile(r"<b>(.*?)</b>")
NUMBER = re.compile(r"\d+(?:\.\d+)?")
SIX = BoardState().chosen
FOUR = ["medium_bag", "wedge_pots", "sheet_wick_tray", "perforated_tray"]


def text_of(path: Path) -> str:
    """Return all that a reader sees of a notebook: text, code and stored outputs."""
    book = nbformat.read(path, as_version=4)
    outputs = [output.get("text", "") for cell in book.cells for output in cell.get("outputs", ())]
    return "\n".join([*(cell.source for cell in book.cells), *outputs])


# -- what the answers claim ------------------------------------------------------------------


def dearest_medium() -> list[str]:
    found = compare([scenario_for(method) for method in SIX])
    worst = max(found, key=lambda one: float(one["cost_medium"].m))
    cost = float(worst["cost_medium"].m_as(units.unit_of("money/kg")))
    return [worst.scenario.method.label, f"{cost:.2f}", f"{cost / 2:.2f}"]


def hours_of_bag() -> list[str]:
    (bag,) = compare([scenario_for("medium_bag")])
    return [f"{float(bag['labour_per_area'].m):.2f}"]


def tanks_for_a_quarter() -> list[str]:
    return [str(replicates_for_aim(TrialAim(FOUR, ["e"], cv=0.12, difference=0.25)))]


def cheapest_by_list() -> list[str]:
    best = []
    for prices in ("tern_hollow", "dunmarrow"):
        found = compare([scenario_for(method, prices=prices) for method in SIX])
        best.append(min(found, key=lambda one: float(one["cost_per_kilogram"].m)))
    assert len({one.scenario.method.label for one in best}) == 1
    label, cost = best[0].scenario.method.label, float(best[0]["cost_per_kilogram"].m)
    return [label, f"{cost:.2f}"]


def like_tanks(cv: float) -> str:
    return f"{100 * float(trials.credible_difference('1 kg/m^2', cv, 1).m):.0f}"


def plots_for_half_the_width() -> list[str]:
    wanted = t.ppf(0.975, 2) / np.sqrt(3) / 2
    count = next(n for n in range(3, 50) if t.ppf(0.975, n - 1) / np.sqrt(n) <= wanted)
    return [str(count), f"{t.ppf(0.975, 2):.3f}", f"{t.ppf(0.975, count - 1):.3f}"]


def fourteen_pounds() -> list[str]:
    kilograms = units.quantity(14, "lb").m_as(units.unit_of("kg"))
    return [f"{kilograms:.2f}", f"{cautions.RECORD_FIELD:g}"]


def yield_of_b() -> list[str]:
    a = substrate.cost_per_yield("0.11 money/L", "0.25 L/plant", "31 plant/m^2", "3.4 kg/m^2")
    needed = 2.5 * 18.6 * 0.11 / float(a.m_as("money/kg"))
    assert needed > cautions.RECORD_CHAMBER
    return [f"{needed:.1f}", f"{cautions.RECORD_CHAMBER:g}"]


def air_in_tray() -> list[str]:
    curve = (0.2415, 0.95, "0.1276 1/cm", 1.735)
    above = float(substrate.mean_air_filled_porosity("0 cm", "4 cm", *curve).m)
    whole = float(substrate.mean_air_filled_porosity("-1 cm", "4 cm", *curve).m)
    assert whole == pytest.approx(above * 4 / 5)
    return [f"{100 * whole:.1f}", f"{100 * above:.1f}"]


def falls_faster() -> list[str]:
    free = reservoir.starting_depth("120 L/m^2", "2 cm").m_as("cm") - 2
    full = reservoir.starting_depth("120 L/m^2", "2 cm", displaced=0.5).m_as("cm") - 2
    return [f"{float(full / free):.0f}"]


def share_replaced() -> list[str]:
    return [f"{100 * (2.5 - 1.6) / 2.5:.0f}"]


def potassium_to_nitrogen() -> list[str]:
    gone = nutrients.removed(crop_from(catalog.crops()["potato"]), "10 kg/m^2")
    return [f"{float((gone['K'] / gone['N']).m_as('')):.1f}"]


def half_the_bicarbonate() -> list[str]:
    shelf = [
        "calcium_nitrate", "potassium_nitrate", "monopotassium_phosphate", "magnesium_sulfate",
        "potassium_sulfate", "iron_edta", "boric_acid", "manganese_sulfate", "zinc_sulfate",
        "copper_sulfate", "sodium_molybdate",
    ]  # fmt: skip
    rest = {"Mg": "12 mg/L", "Na": "20 mg/L", "K": "2 mg/L", "SO4": "40 mg/L", "Cl": "35 mg/L",
            "NO3": "15 mg/L", "pH": 7.4}  # fmt: skip
    hard = nutrients.source_water({**rest, "Ca": "100 mg/L", "HCO3": "300 mg/L"}, label="hard")
    soft = nutrients.source_water({**rest, "Ca": "50 mg/L", "HCO3": "150 mg/L"}, label="soft")
    before, after = (nutrients.solve("potato_window", shelf, water) for water in (hard, soft))
    gains = {
        salt: float(rate.m_as("mg/L")) - float(before.used[salt].m_as("mg/L"))
        for salt, rate in after.used.items()
        if salt in before.used
    }
    assert max(gains, key=lambda salt: gains[salt]) == "calcium_nitrate"
    nitrates = [float(one.used["calcium_nitrate"].m_as("mg/L")) for one in (before, after)]
    (nitrogen,) = [miss for miss in after.unmet if miss.element == "N"]
    return [f"{nitrates[0]:.0f}", f"{nitrates[1]:.0f}",
            f"{float(nitrogen.reached.m_as('mg/L')):.0f}", f"{soft.alkalinity:.0f}"]  # fmt: skip


def soil_for_the_rest() -> list[str]:
    left = nutrients.nitrate_left("105 mg/L", "300 L")
    return [f"{float(left.soil_area.m_as('m^2')):.1f}"]


def under_a_roof() -> list[str]:
    net = f"{0.7 * 13.28} MJ/m^2/day"
    demand = climate.penman_monteith("21.5 degC", "12.3 degC", "1.409 kPa", "0.5 m/s", net, "100 m")
    return [f"{float(demand.m_as('mm/day')):.2f}"]


def basal() -> list[str]:
    crop = catalog.crops()["potato"]
    return [f"{crop['kcb_mid']:.2f}", f"{crop['kcb_initial']:.2f}"]


def drawn_freely() -> list[str]:
    plots = demo_records().plots
    early = plots.where(np.array([one == "early white" for one in plots.column("variety")]))
    return [f"{summarise(early, design='randomised').analysis.row('method').f:.1f}"]


def sections_on_one_reservoir() -> list[str]:
    row = {"study_id": "S", "rep": "1", "treatment": "pots", "genotype": "e", "plot_area": 1.0,
           "planting_date": "2026-05-01", "reservoir": "tank", "ttwp": 4.0}  # fmt: skip
    text = record_template([{**row, "plot_id": str(n)} for n in range(6)])
    return [str(len(plots_of(read_records(text))))]


def shown_in_twelve_tanks() -> list[str]:
    four = smallest_difference(TrialAim(FOUR, ["e"], cv=0.12), 3)
    two = smallest_difference(TrialAim(FOUR[:2], ["e"], cv=0.12), 6)
    return [f"{100 * four:.0f}", f"{100 * two:.0f}"]


def one_of_two_trials() -> list[str]:
    chance = chance_of_finding(TrialAim(FOUR, ["e"], cv=0.12, difference=0.25), 2)
    return [f"{100 * (1 - (1 - chance) ** 2):.0f}"]


def false_alarms() -> list[str]:
    return [f"{0.05 * 8 * 7 / 2:.1f}"]


def may_stay() -> list[str]:
    given = {"most_medium": "5 L/m^2", "deepest_water": "6 cm"}
    found = compare([scenario_for(method) for method in SIX])
    return [str(sum(not breaches(one, given) for one in found))]


def crossing_of_medium() -> list[str]:
    pair = scenario_for("medium_bag"), scenario_for("suspended_pot")
    (met,) = break_even(*pair, "prices.medium_factor", "margin_per_area").crossings
    return [f"{float(met.at.m):.2f}"]


def never_first() -> list[str]:
    points = np.array([[0.0, 10.0], [4.0, 4.0], [10.0, 0.0]])
    criteria = [Criterion(name, name, "", 0, 10, "ours") for name in ("yield", "money")]
    tops = []
    for share in np.linspace(0, 1, 101):
        if 0 < share < 1:
            total = weigh(points, criteria, [share, 1 - share]).total
            assert total.argmax() != 1
        tops.append((points @ np.array([share, 1 - share])).max())
    return [f"{min(tops):.0f}"]


def between_seasons() -> list[str]:
    a, b, _ = ([60, 40, 10], [90, 30, -30], [20, 20, 20])
    assert min(b) == payoffs([a, b], probabilities=[0.3, 0.5, 0.2]).worst[1]
    return [str(max(b) - min(b)), str(max(a) - min(a))]


def spread_of_one_plot() -> list[str]:
    state = BoardState()
    sheet = "plot,method,tank_area [m^2],harvest_mass [kg]\n1,medium_bag,1,5\n"
    state.load_harvest(sheet.encode(), "one.csv")
    bag = state.scenarios["medium_bag"]
    (one,) = [one for one in usual_uncertainty([bag]).inputs if "harvest" in one.path]
    spread = one.spread
    share = float(spread.variance.m**0.5 / spread.mean.m)
    return [f"{100 * share:.0f}"]


def wall_of_the_class() -> list[str]:
    plots = pool(demo_rooms()).plots()
    bag = next(one for one in room_results(plots).methods if one.method == "medium_bag")
    return [str(bag.replicated), str(sum(room.plots == 1 for room in bag.rooms))]


def two_like_rooms() -> list[str]:
    return [str(FEWEST_ROOMS)]


def litres_for_groups() -> list[str]:
    water = float(reservoir.volume(f"{8 * 2 * 1.2 * 0.6} m^2", "4 cm").m_as("L"))
    assert min((50, 300, 900), key=lambda guess: abs(guess - water)) == 300
    return [f"{water:.0f}", f"{1.2 * water:.0f}"]


def weight_of_four() -> list[str]:
    return [f"{float(reservoir.load('4 cm').mass_per_area.m_as('kg/m^2')):.0f}"]


CLAIMS: dict[str, dict[int, Callable[[], list[str]]]] = {
    "00_board": {1: dearest_medium, 2: hours_of_bag, 3: tanks_for_a_quarter, 4: cheapest_by_list},
    "01_yield": {1: lambda: [like_tanks(0.12)], 2: plots_for_half_the_width, 3: fourteen_pounds},
    "02_growing_medium": {1: yield_of_b, 4: air_in_tray},
    "03_reservoir": {1: falls_faster, 4: share_replaced},
    "04_nutrients": {1: potassium_to_nitrogen, 2: half_the_bicarbonate, 5: soil_for_the_rest},
    "05_climate": {2: under_a_roof, 3: basal},
    "06_trial_results": {
        2: drawn_freely,
        3: lambda: [like_tanks(0.12), like_tanks(0.05)],
        4: sections_on_one_reservoir,
    },
    "07_next_trial": {1: shown_in_twelve_tanks, 2: one_of_two_trials, 4: false_alarms},
    "08_choose": {1: may_stay, 4: crossing_of_medium, 5: never_first},
    "09_how_sure": {2: between_seasons, 4: spread_of_one_plot},
    "10_results_wall": {1: wall_of_the_class, 2: two_like_rooms},
    "20_facilitator": {1: litres_for_groups, 2: weight_of_four, 3: sections_on_one_reservoir},
}
"""Notebook, number of the question, and what works its claims out, in their order."""

CONDITIONS = {
    ("00_board", 3): {"25", "12", "80", "100"},
    ("03_reservoir", 4): {"1.6"},
    ("05_climate", 2): {"70"},
}
"""Numbers that an answer takes as given, as the function beside it does."""


@pytest.mark.parametrize(
    ("name", "question"),
    [(name, question) for name, found in CLAIMS.items() for question in found],
)
def test_answer_claims_what_is_worked_out(name, question):
    answers = ANSWER.findall(text_of(FOLDER / f"{name}.ipynb"))
    assert CLAIM.findall(answers[question - 1]) == CLAIMS[name][question]()


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_answer_numbers_are_claims_or_stand_in_the_lesson(path):
    text = text_of(path)
    known = set(NUMBER.findall(ANSWER.sub("", text)))
    for number, answer in enumerate(ANSWER.findall(text), 1):
        if CLAIM.search(answer):
            assert number in CLAIMS.get(path.stem, {}), f"{path.stem}, answer {number}"
        plain = re.sub(r"lessons? \d+", "", CLAIM.sub("", answer))
        bare = set(NUMBER.findall(plain)) - known - CONDITIONS.get((path.stem, number), set())
        assert not bare, f"{path.stem}, answer {number}: where do {sorted(bare)} come from?"


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_says_place_minutes_aims_and_what_comes_before(path):
    book = nbformat.read(path, as_version=4)
    head = book.cells[0].source
    minutes = re.search(r"about (\d+) minutes", head)
    assert minutes, f"{path.name} has no time"
    assert "**Before it:**" in head
    aims = head.split("**After it you can**")[1].split("**Predict first.**")[0]
    assert 2 <= aims.count("\n- ") <= 4
    index = (FOLDER / "index.ipynb").read_text("utf-8")
    (line,) = [line for line in index.splitlines() if f"]({path.name})" in line]
    assert f"| {minutes[1]} |" in line


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_lesson_asks_to_predict_before_each_app_and_hides_its_answers(path):
    book = nbformat.read(path, as_version=4)
    since = ""
    for cell in book.cells:
        if cell.cell_type == "markdown":
            since = cell.source
        elif "nbval-ignore-output" in cell.metadata.get("tags", ()):
            assert "**Predict first.**" in since, f"{path.name}: {cell.id} has no prediction"
            since = ""
    text = text_of(path)
    asked = re.findall(
        r"^\d+\. ", text.split("## Questions")[1].split("## Sources")[0], re.MULTILINE
    )
    assert len(ANSWER.findall(text)) == len(asked) >= 3
