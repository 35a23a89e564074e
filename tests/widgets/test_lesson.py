"""A lesson app shows what its function gives, moves with its sliders and says what cannot be."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from scenariokit import climate, nutrients, reservoir, substrate, trials, units, yields
from scenariokit.glossary import parameter
from scenariokit.quantities import checked
from scenariokit.widgets.lesson import LessonModel, explore

NOTEBOOKS = Path(__file__).parents[2] / "notebooks"
USED = {
    yields.per_area: ("area", {"mass": "12 kg", "area": "3 m^2"}),
    yields.light_limited: ("par", {}),
    substrate.cost_per_yield: ("volume_per_plant", {"price": "0.11 money/L"}),
    reservoir.autonomy: ("use_per_day", {"usable_depth": "8 cm"}),
    reservoir.reserve_volume: ("days", {"area": "4 m^2"}),
    nutrients.use_per_yield: ("concentration", {"concentration": "105 mg/L"}),
    nutrients.solution_holding: (
        "concentration",
        {"content": "7.2 g/kg", "concentration": "168 mg/L"},
    ),
    substrate.mean_air_filled_porosity: ("top", {"bottom": "0 cm", "top": "10 cm"}),
    reservoir.oxygen_saturation: ("temperature", {}),
    climate.penman_monteith: (
        "wind_speed",
        {"maximum_temperature": "21.5 degC", "minimum_temperature": "12.3 degC"},
    ),
    climate.hargreaves: (
        "maximum_temperature",
        {"maximum_temperature": "26.6 degC", "minimum_temperature": "14.8 degC"},
    ),
    trials.credible_difference: ("cv", {"mean": "4.6 kg/m^2", "plots": 1}),
}
used = pytest.mark.parametrize("function", USED, ids=lambda one: one.__name__)


def opened(function, **options):
    vary, values = USED[function]
    return explore(function, vary=vary, answer="Answer", values=values, **options)


def move(lesson, **values):
    lesson.panel.values = {**lesson.panel.values, **values}


def shown(lesson):
    return float(lesson.chart.datasets["here"][0]["y"])


def test_used_functions_are_those_of_the_notebooks():
    text = "".join(
        "".join(cell["source"])
        for path in NOTEBOOKS.glob("0[1-9]*.ipynb")
        for cell in json.loads(path.read_text("utf-8"))["cells"]
        if cell["cell_type"] == "code"
    )
    for function in USED:
        assert f"{function.__module__.split('.')[1]}.{function.__name__}" in text
    assert text.count("explore(") == len(USED)


@used
@pytest.mark.parametrize("system", ["metric", "us"])
def test_explore_shows_the_functions_own_result(function, system):
    lesson = opened(function, system=system)
    direct = function(**lesson.model.values).m_as(function.result_unit)
    assert shown(lesson) == pytest.approx(float(direct))
    assert f"{float(direct):.3g}" in lesson.says.value
    assert lesson.panel.errors == {}


@used
def test_explore_curve_is_the_function_along_the_argument(function):
    lesson = opened(function)
    vary = USED[function][0]
    described = parameter(function.expectations[vary].name)
    for row in lesson.chart.datasets["curve"][::10]:
        values = {**lesson.model.values, vary: units.quantity(row["x"], described.unit)}
        assert row["y"] == pytest.approx(float(function(**values).m_as(function.result_unit)))
    xs = [row["x"] for row in lesson.chart.datasets["curve"]]
    assert xs == sorted(xs)
    assert (xs[0], xs[-1]) == (lesson.chart.signals["x_low"], lesson.chart.signals["x_high"])


@used
@pytest.mark.parametrize("system", ["metric", "us"])
def test_explore_moved_slider_changes_model_answer_and_mark(function, system):
    lesson = opened(function, system=system)
    vary = USED[function][0]
    described = lesson.model.arguments[vary]
    field = next(one for one in lesson.panel.fields if one["key"] == vary)
    target = (field["low"] + field["high"]) / 2
    move(lesson, **{vary: target})
    wanted = units.quantity(target, described.shown_unit(system))
    assert lesson.model.values[vary].m_as(described.unit or "") == pytest.approx(
        wanted.m_as(described.unit or "")
    )
    assert lesson.chart.datasets["here"][0]["x"] == pytest.approx(target)
    assert shown(lesson) == pytest.approx(
        float(function(**lesson.model.values).m_as(function.result_unit))
    )


def test_explore_us_slider_sets_the_metric_value():
    lesson = opened(reservoir.autonomy, system="us")
    fields = {one["key"]: one["unit"] for one in lesson.panel.fields}
    assert fields["usable_depth"] == "in"
    move(lesson, usable_depth=10.0)
    assert lesson.model.values["usable_depth"].m_as("cm") == pytest.approx(25.4)


def test_explore_titles_carry_units_and_currency():
    lesson = explore(
        substrate.cost_per_yield, vary="price", answer="Medium", system="us", currency="NOK",
        result_unit="money/lb",
    )  # fmt: skip
    assert lesson.chart.table_columns[0].endswith("(NOK/dry qt)")
    assert lesson.chart.table_columns[1] == "Medium (NOK/lb)"
    assert "NOK/lb" in lesson.says.value
    direct = substrate.cost_per_yield(**lesson.model.values).m_as("money/lb")
    assert shown(lesson) == pytest.approx(float(direct))


def test_explore_zero_that_is_refused_is_left_out_of_the_curve():
    lesson = explore(yields.per_area, vary="area", answer="Yield")
    assert min(row["x"] for row in lesson.chart.datasets["curve"]) > 0
    lesson = explore(reservoir.autonomy, vary="use_per_day", answer="Days")
    assert all(np.isfinite(row["y"]) for row in lesson.chart.datasets["curve"])


def test_explore_refused_slider_says_so_beside_it_and_keeps_the_answer():
    lesson = opened(yields.per_area)
    before, model = shown(lesson), dict(lesson.model.values)
    move(lesson, area=0.0)
    assert set(lesson.panel.errors) == {"area"}
    assert "area" in lesson.panel.errors["area"]
    assert shown(lesson) == before
    assert lesson.model.values == model


def test_explore_other_slider_moves_while_one_is_refused():
    lesson = opened(yields.per_area)
    move(lesson, area=0.0)
    move(lesson, mass=24.0)
    assert set(lesson.panel.errors) == {"area"}
    assert shown(lesson) == pytest.approx(8)  # 24 kg on the 3 m² that still hold
    move(lesson, area=6.0)
    assert lesson.panel.errors == {}
    assert shown(lesson) == pytest.approx(4)


def test_explore_refused_value_is_taken_once_there_is_room():
    lesson = explore(
        reservoir.starting_depth, vary="season_use", answer="Depth",
        values={"season_use": "100 L/m^2", "rain": "0 L/m^2"},
    )  # fmt: skip
    move(lesson, rain=200.0)
    assert set(lesson.panel.errors) == {"rain"}
    move(lesson, season_use=400.0)
    assert lesson.panel.errors == {}
    assert lesson.model.values["rain"].m_as("L/m^2") == pytest.approx(200)


@pytest.mark.parametrize("here", ["50 L/m^2", "399.9 L/m^2"])
def test_explore_curve_ends_where_values_cannot_be_together(here):
    """More rain than use would raise the level: those points are left out, the others drawn."""
    lesson = explore(
        reservoir.starting_depth, vary="rain", answer="Depth",
        values={"season_use": "400 L/m^2", "rain": here},
    )  # fmt: skip
    xs = [row["x"] for row in lesson.chart.datasets["curve"]]
    assert len(xs) > 10
    assert max(xs) <= 400
    assert max(xs) < parameter("rain").slider[1]


def test_explore_unexpected_fault_is_said_and_logged(caplog, monkeypatch):
    lesson = opened(yields.per_area)
    before = dict(lesson.model.values)

    def broken():
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(lesson, "refresh", broken)
    move(lesson, mass=20.0)
    assert "Something went wrong inside scenariokit" in lesson.says.value
    assert "a fault of ours" in caplog.text
    assert lesson.model.values == before


@pytest.mark.parametrize(
    "function", [reservoir.load, yields.field_equivalent, nutrients.from_label, len],
    ids=lambda one: one.__name__,
)  # fmt: skip
def test_explore_function_without_a_single_result_is_refused(function):
    with pytest.raises(TypeError, match="one quantity"):
        explore(function, vary="depth", answer="?")


def test_explore_unknown_argument_lists_those_there_are():
    with pytest.raises(KeyError, match="mass, area"):
        explore(yields.per_area, vary="colour", answer="?")


def test_explore_ratio_without_unit_has_a_plain_title():
    lesson = explore(substrate.medium_use_factor, vary="crops_per_filling", answer="Share paid")
    assert lesson.chart.table_columns == ["Crops per filling", "Share paid"]


def test_lesson_model_begins_with_the_glossarys_values():
    model = LessonModel(yields.per_area, "area", {})
    assert model.values["mass"].m_as("kg") == parameter("harvest_mass").default


def test_lesson_model_curve_keeps_a_zero_that_is_allowed():
    @checked("kg", mass="harvest_mass")
    def same(mass):
        """Return the mass."""
        return mass

    along, found = LessonModel(same, "mass", {}).curve(
        units.quantity(0, "kg"), units.quantity(5, "kg")
    )
    assert along[0].magnitude == found[0].magnitude == 0


def test_lessons_do_not_touch():
    one, other = opened(yields.per_area), opened(yields.per_area)
    before = shown(other)
    move(one, mass=40.0)
    assert shown(other) == before
    assert one.panel.prefix != other.panel.prefix
