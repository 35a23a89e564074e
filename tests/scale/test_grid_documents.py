"""A grid in its file: nothing is lost, and each fault is named where it stands."""

from __future__ import annotations

import json
import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.errors import ScenarioFileError
from scenariokit.scale import Grid, example_grid, load_grid, save_grid
from scenariokit.scale.documents import load_document, origin
from scenariokit.uncertainty import (
    Cause,
    Spread,
    Uncertain,
    Uncertainty,
    fixed,
    from_interval,
    lognormal,
    normal,
    pert,
    triangular,
    uniform,
)

TWO = ("medium_bag", "wedge_pots")
SPREADS = (
    fixed("20 money/hour"),
    uniform("10 money/hour", "30 money/hour"),
    triangular("10 money/hour", "10 money/hour", "30 money/hour"),
    pert("10 money/hour", "20 money/hour", "30 money/hour"),
    normal("20 money/hour", "5 money/hour"),
    normal("20 money/hour", "5 money/hour").within("1 money/hour"),
    normal("20 money/hour", "5 money/hour").within("1 money/hour", "40 money/hour"),
    lognormal("20 money/hour", "5 money/hour"),
    from_interval("20 money/hour", "10 money/hour", "30 money/hour", degrees=4),
)


def of(spread: Spread) -> Grid:
    """Return a grid with one uncertain number."""
    return Grid(TWO, draws=8, uncertainty=Uncertainty((Uncertain("prices.labour_price", spread),)))


def changed(**changes):
    """Return the document of a grid with some of its fields replaced."""
    document = json.loads(save_grid(Grid(TWO)))
    document["grid"].update(changes)
    return json.dumps(document)


@pytest.mark.parametrize("spread", SPREADS, ids=lambda one: one.words())
def test_save_grid_and_load_grid_keep_every_kind_of_spread(spread):
    grid = of(spread)
    again = load_grid(save_grid(grid))
    assert again == grid
    assert again.digest == grid.digest


def test_save_grid_and_load_grid_keep_causes_and_everything_else():
    price = Uncertain(
        "prices.produce_price", pert(0.5, 1.0, 2.0), relative=True, cause="m", strength=0.4,
        method="wedge_pots", label="Price", note="a guess",
    )  # fmt: skip
    thought = Uncertainty((price,), (Cause("m", "Market"),))
    grid = Grid(TWO, planting_months=(1, 12), draws=128, seed=3, uncertainty=thought)
    assert load_grid(save_grid(grid)) == grid
    assert load_grid(save_grid(grid).encode()) == grid
    assert load_grid(save_grid(grid).encode("utf-8-sig")) == grid
    assert load_grid(save_grid(example_grid())) == example_grid()


def test_save_grid_of_grids_alike_is_the_same_text():
    assert save_grid(Grid(list(TWO))) == save_grid(Grid(TWO))


@given(
    low=st.floats(0, 1e6), step=st.floats(1e-3, 1e6), seed=st.integers(0, 2**70),
    draws=st.integers(1, 2**40),
)  # fmt: skip
@settings(max_examples=50, deadline=None)
def test_save_grid_and_load_grid_keep_any_number_to_the_bit(low, step, seed, draws):
    spread = Spread("uniform", (low, low + step), "money/hour")
    thought = Uncertainty((Uncertain("prices.labour_price", spread),))
    grid = Grid(TWO, seed=seed, draws=draws, uncertainty=thought)
    assert load_grid(save_grid(grid)) == grid


def test_load_grid_needs_only_methods():
    text = '{"format": "scenariokit/grid", "version": 1, "grid": {"methods": ["medium_bag"]}}'
    assert load_grid(text) == Grid(("medium_bag",))


def test_load_grid_leaves_notes_and_the_run_aside():
    text = save_grid(Grid(TWO), notes=["mine"], run={"chunk": 5})
    grid, run = load_document(text, "grid.json")
    assert grid == Grid(TWO)
    assert grid.digest == Grid(TWO).digest
    assert run == {"chunk": 5}


def test_load_grid_takes_an_input_as_short_as_can_be():
    inputs = [{"path": "prices.labour_price", "relative": True,
               "spread": {"kind": "uniform", "numbers": [1, 2]}}]  # fmt: skip
    (found,) = load_grid(changed(uncertainty={"inputs": inputs})).uncertainty.inputs
    assert found == Uncertain("prices.labour_price", uniform(1, 2), relative=True)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("{", "is not a JSON document"),
        (b"\xff\xfe", "is not a JSON document"),
        ("[" * 100_000, "is not a JSON document"),
        ("[]", "is not a grid"),
        ('{"format": "scenariokit/scenario"}', "is not a grid"),
        ('{"format": "scenariokit/grid", "version": 2}', '"version" = 2'),
        ('{"format": "scenariokit/grid", "version": 1}', "grid is missing"),
        ('{"format": "scenariokit/grid", "version": 1, "grid": 5}', "grid is missing"),
        ('{"format": "scenariokit/grid", "version": 1, "gird": {}}', "gird is not known here"),
        ('{"format": "scenariokit/grid", "version": 1, "grid": {}}', "methods is missing"),
        (" " * 1_000_001, "longer than"),
    ],
)
def test_load_grid_refuses_other_documents(text, words):
    with pytest.raises(ScenarioFileError, match=words):
        load_grid(text, "mine.json")


ONE = {"path": "prices.labour_price", "spread": {"kind": "uniform", "numbers": [1, 2]}}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"colour": "red"}, "grid: colour is not known here"),
        ({"methods": None}, "methods = None: is no list"),
        ({"methods": ["moon_base"]}, "moon_base"),
        ({"draws": "many"}, "draws = many"),
        ({"draws": math.nan}, "draws = nan"),
        ({"crop": 5}, "grid.crop = 5: is not a text"),
        ({"uncertainty": 5}, "grid.uncertainty is missing, or no object"),
        ({"uncertainty": {}}, "inputs is missing"),
        ({"uncertainty": {"inputs": 5}}, "inputs = 5: is no list"),
        ({"uncertainty": {"inputs": [5]}}, r"inputs\[0\] is missing, or no object"),
        ({"uncertainty": {"inputs": [], "cause": []}}, "cause is not known here"),
        ({"uncertainty": {"inputs": [], "causes": [{"name": "m"}]}}, "label is missing"),
        ({"uncertainty": {"inputs": [], "causes": {}}}, "causes = {}: is no list"),
        ({"uncertainty": {"inputs": [{**ONE, "cause": "moon"}]}}, "is no cause that is listed"),
        ({"uncertainty": {"inputs": [{**ONE, "relative": 1}]}}, "relative = 1: is not true or"),
        ({"uncertainty": {"inputs": [{**ONE, "strength": True}]}}, "strength = True: is not a n"),
        ({"uncertainty": {"inputs": [ONE, ONE]}}, "is given twice"),
    ],
)
def test_load_grid_names_the_field_at_fault(change, words):
    with pytest.raises(ScenarioFileError, match=words) as caught:
        load_grid(changed(**change), "mine.json")
    assert str(caught.value).startswith("mine.json")


@pytest.mark.parametrize(
    ("spread", "words"),
    [
        ({"kind": "uniform"}, "numbers is missing"),
        ({"kind": "flat", "numbers": [1, 2]}, "kind = 'flat': there is fixed, uniform"),
        ({"kind": ["pert"], "numbers": [1, 2]}, "kind = "),
        ({"kind": "uniform", "numbers": [1]}, "needs 2 finite numbers"),
        ({"kind": "uniform", "numbers": [1, True]}, "needs 2 finite numbers"),
        ({"kind": "uniform", "numbers": [1, "2"]}, "needs 2 finite numbers"),
        ({"kind": "uniform", "numbers": [1, math.inf]}, "needs 2 finite numbers"),
        ({"kind": "uniform", "numbers": [2, 1]}, "out of order"),
        ({"kind": "pert", "numbers": [1, 1, 1]}, "all equal"),
        ({"kind": "triangular", "numbers": [1, 3, 2]}, "out of order"),
        ({"kind": "normal", "numbers": [1, 0]}, "above zero"),
        ({"kind": "student", "numbers": [1, 1, -2]}, "above zero"),
        ({"kind": "uniform", "numbers": [1, 2], "floor": 3}, "wholly outside"),
        ({"kind": "uniform", "numbers": [1, 2], "floor": math.nan}, "not NaN"),
        ({"kind": "uniform", "numbers": [1, 2], "floor": "low"}, "floor = 'low': is not a number"),
        ({"kind": "uniform", "numbers": [1, 2], "unit": 5}, "unit = 5: is not a text"),
        ({"kind": "uniform", "numbers": [1, 2], "colour": 5}, "colour is not known"),
    ],
)
def test_load_grid_names_what_is_wrong_with_a_spread(spread, words):
    inputs = [{"path": "prices.labour_price", "spread": spread}]
    with pytest.raises(ScenarioFileError, match=words) as caught:
        load_grid(changed(uncertainty={"inputs": inputs}), "mine.json")
    assert "inputs[0].spread" in str(caught.value)


def test_origin_names_version_and_catalogue():
    assert len(origin().catalogue) == 12
    assert str(origin()) == f"scenariokit {origin().version} with catalogue {origin().catalogue}"
