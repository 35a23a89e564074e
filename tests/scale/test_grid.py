"""The layout of a large comparison, what it holds, and what is refused."""

from __future__ import annotations

import numpy as np
import pytest

from scenariokit.errors import ArgumentError, InfeasibleError, RangeError
from scenariokit.scale import Chunk, Grid, chunks, example_grid
from scenariokit.scale import grid as grid_module
from scenariokit.scenario import scenario_for
from scenariokit.uncertainty import Uncertain, Uncertainty, pert, usual_uncertainty

TWO = ("medium_bag", "wedge_pots")


def test_grid_cells_are_sites_by_months_by_lists_in_order():
    grid = Grid(TWO, sites=("tern_hollow",), planting_months=(3, 9),
                price_lists=("tern_hollow", "dunmarrow"))  # fmt: skip
    cells = grid.cells()
    assert [one.number for one in cells] == [0, 1, 2, 3]
    assert [(one.planting_month, one.price_list) for one in cells] == [
        (3, "tern_hollow"), (3, "dunmarrow"), (9, "tern_hollow"), (9, "dunmarrow"),
    ]  # fmt: skip
    assert [one.currency for one in cells] == ["EUR", "USD", "EUR", "USD"]
    assert grid.size == 2 * 4 * 4096


def test_grid_scenarios_of_a_cell_are_planted_in_its_month_with_its_prices():
    grid = Grid(TWO, sites=("dunmarrow",), planting_months=(9,), price_lists=("dunmarrow",))
    found = grid.scenarios(grid.cells()[0])
    assert [one.method.id for one in found] == list(TWO)
    assert {one.site.planting_month for one in found} == {9}
    assert {one.site.id for one in found} == {"dunmarrow"}
    assert {one.prices.currency for one in found} == {"USD"}


def test_grid_scenarios_are_those_of_the_catalogue_in_each_cell():
    """They are kept for the next cells, which must not mix them up."""
    grid = example_grid()
    for cell in (*grid.cells(), *reversed(grid.cells())):
        one = grid.scenarios(cell)[1]
        made = scenario_for(one.method.id, "potato", cell.site, cell.price_list)
        assert (one.method, one.prices, one.harvest) == (made.method, made.prices, made.harvest)
        assert (one.site.id, one.site.planting_month) == (cell.site, cell.planting_month)
        np.testing.assert_array_equal(one.site.rain.magnitude, made.site.rain.magnitude)


def test_grid_drawn_is_what_is_usual_unless_stated():
    grid = Grid(TWO)
    scenarios = grid.scenarios(grid.cells()[0])
    assert grid.drawn(scenarios) == usual_uncertainty(scenarios)
    stated = Uncertainty((Uncertain("prices.produce_price", pert(0.5, 1, 2), relative=True),))
    assert Grid(TWO, uncertainty=stated).drawn(scenarios) == stated


def test_grid_of_a_list_without_a_price_is_said_when_its_cells_are_made(monkeypatch):
    def unpriced(*_arguments):
        raise InfeasibleError("does not price paper")

    monkeypatch.setattr(grid_module, "_scenario", unpriced)
    with pytest.raises(InfeasibleError, match="does not price paper"):
        Grid(TWO).scenarios(Grid(TWO).cells()[0])


def test_grid_takes_lists_and_whole_numbers_of_numpy():
    given = Grid(list(TWO), planting_months=list(np.array([3, 4])), draws=np.int64(64),
                 seed=np.uint8(0))  # fmt: skip
    plain = Grid(TWO, planting_months=(3, 4), draws=64, seed=0)
    assert given == plain
    assert given.digest == plain.digest
    assert type(given.planting_months[0]) is int


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"methods": ()}, "methods.*is empty"),
        ({"methods": "medium_bag"}, "methods.*is no list"),
        ({"methods": ("medium_bag", "moon_base")}, "moon_base.*is not known"),
        ({"methods": ("medium_bag", "medium_bag")}, "medium_bag: stands twice"),
        ({"crop": "yam"}, "yam.*is not known"),
        ({"crop": ["potato"]}, "crop.*is not known"),
        ({"sites": ("atlantis",)}, "atlantis"),
        ({"sites": ({},)}, "sites.*is not known"),
        ({"planting_months": (13,)}, "13.*is not known"),
        ({"planting_months": (0,)}, "planting_months = 0"),
        ({"planting_months": 4}, "planting_months = 4: is no list"),
        ({"planting_months": (True,)}, "True.*is not known"),
        ({"planting_months": (4.0,)}, r"4\.0.*is not known"),
        ({"price_lists": ("free",)}, "free"),
        ({"outcomes": ("joy",)}, "joy"),
        ({"draws": 0}, "draws = 0"),
        ({"draws": 2.5}, r"draws = 2\.5"),
        ({"draws": True}, "draws = True"),
        ({"draws": 2**41}, "draws = 2199023255552"),
        ({"seed": -1}, "seed = -1"),
        ({"uncertainty": 0.2}, r"uncertainty = 0\.2: is no Uncertainty"),
    ],
)
def test_grid_refuses_what_cannot_be(changes, words):
    with pytest.raises(RangeError, match=words):
        Grid(**{"methods": TWO, **changes})


def test_grid_says_all_that_is_wrong_at_once():
    with pytest.raises(ArgumentError) as caught:
        Grid(("moon_base",), sites=("atlantis",), draws=0)
    assert all(word in str(caught.value) for word in ("moon_base", "atlantis", "draws"))


def test_grid_of_too_many_cells_is_refused(monkeypatch):
    monkeypatch.setattr(grid_module, "MOST_CELLS", 3)
    with pytest.raises(RangeError, match="cells = 4: are too many; allowed: 3 at most"):
        Grid(TWO, planting_months=(1, 2, 3, 4))


def test_grid_of_a_crop_takes_only_methods_that_grow_it():
    with pytest.raises(RangeError, match=r"paper_wrap.*is not known"):
        Grid(("paper_wrap",), crop="lettuce")


@pytest.mark.parametrize(
    "changes",
    [
        {"draws": 65}, {"seed": 1}, {"methods": TWO[::-1]}, {"outcomes": ("yield_per_area",)},
        {"planting_months": (5,)}, {"sites": ("dunmarrow",)}, {"price_lists": ("dunmarrow",)},
        {"uncertainty": Uncertainty(())},
    ],
)  # fmt: skip
def test_grid_digest_changes_with_the_numbers(changes):
    assert Grid(**{"methods": TWO, "draws": 64, **changes}).digest != Grid(TWO, draws=64).digest


def test_grid_digest_stays_the_same_from_run_to_run():
    """A folder that was begun yesterday is gone on with today."""
    assert Grid(TWO, draws=64, outcomes=("yield_per_area",)).digest == "73bb4831d6c427501be1"


@pytest.mark.parametrize("size", [1, 7, 64, 100, 1000])
def test_chunks_hold_every_draw_of_every_cell_once(size):
    grid = Grid(TWO, planting_months=(3, 4), draws=100)
    seen = [
        (one.cell.number, draw) for one in chunks(grid, size) for draw in range(one.start, one.stop)
    ]
    assert seen == [(cell, draw) for cell in (0, 1) for draw in range(100)]
    assert all(0 < one.rows <= size for one in chunks(grid, size))


def test_chunk_names_differ_and_say_where_it_is():
    grid = Grid(TWO, planting_months=(3, 4), draws=100)
    names = [one.name for one in chunks(grid, 60)]
    assert len(set(names)) == 4
    assert Chunk(grid.cells()[1], 60, 100).name == "part-000001-000000000060-000000000100"


@pytest.mark.parametrize("size", [0, -5, 2.5, True])
def test_chunks_of_no_draws_are_refused(size):
    with pytest.raises(RangeError, match=f"chunk = {size}"):
        chunks(Grid(TWO), size)
