"""Which design plots are read as, and that a choice is never overruled."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from scenariokit.errors import RangeError
from scenariokit.trials.demo import demo_records
from scenariokit.trials.design_guess import read_design, treatments_of
from scenariokit.trials.plots import PlotTable

NAN = float("nan")


def table(cells, *names, yields=None):
    """Return plots with one tuple of levels each."""
    columns = dict(zip(names, zip(*cells, strict=True), strict=True))
    numbers = np.arange(1.0, len(cells) + 1) if yields is None else yields
    return PlotTable(numbers, columns)


def square():
    rows = ("ABC", "BCA", "CAB")
    cells = [(m, str(r), str(c)) for r, row in enumerate(rows) for c, m in enumerate(row)]
    return table(cells, "method", "row", "column")


def shared(method_within=False, blocks=True):
    """Two sections in each tank: varieties in the tank of one method, or methods together."""
    cells = []
    for block, method in itertools.product("12", "AB"):
        tank = f"tank {block}{method}"
        for variety in ("early", "late"):
            where = f"tank {block}{variety}" if method_within else tank
            cells.append((method, variety, block if blocks else "1", where))
    return table(cells, "method", "variety", "block", "main")


def test_read_design_demo_is_blocks_and_says_why():
    read = read_design(demo_records().plots, ("method", "variety"))
    assert (read.name, read.guessed) == ("blocks", True)
    assert read.reason == "each of 3 blocks holds several treatments"
    assert read.design.blocks == ("block",)


def test_read_design_square_is_latin():
    assert read_design(square(), ("method",)).name == "latin"


def test_read_design_rows_and_columns_without_a_square_are_not_latin():
    spoilt = square()
    methods = ("A", "A", "B", *spoilt.column("method")[3:])
    plots = PlotTable(spoilt.yields, {**spoilt.factors, "method": methods})
    assert read_design(plots, ("method",)).name == "randomised"


def test_read_design_varieties_within_tanks_are_a_split_plot():
    read = read_design(shared(), ("method", "variety"))
    assert read.name == "split"
    assert read.design.main == ("method",)
    assert read.design.whole_plot == ("main",)
    assert read.design.blocks == ("block",)
    assert "one method" in read.reason


def test_read_design_methods_within_tanks_make_variety_the_whole():
    assert read_design(shared(method_within=True), ("method", "variety")).design.main == (
        "variety",
    )


def test_read_design_split_without_blocks_needs_none():
    assert read_design(shared(blocks=False), ("method", "variety")).design.blocks == ()


def test_read_design_split_tank_over_two_blocks_drops_the_block():
    plots = shared()
    blocks = tuple("12" * 4)
    plots = PlotTable(plots.yields, {**plots.factors, "block": blocks})
    assert read_design(plots, ("method", "variety")).design.blocks == ()


def test_read_design_all_treatments_in_each_tank_make_tanks_blocks():
    cells = [(m, v, f"tank {t}") for t in "12" for m in "AB" for v in "xy"]
    read = read_design(table(cells, "method", "variety", "main"), ("method", "variety"))
    assert (read.name, read.design.blocks) == ("blocks", ("main",))
    assert "share a reservoir" in read.reason


def test_read_design_one_reservoir_for_all_is_no_block():
    cells = [(m, "tank 1", b) for b in "12" for m in "AB"]
    without = table([cell[:2] for cell in cells], "method", "main")
    assert read_design(without, ("method",)).name == "randomised"
    with_blocks = table(cells, "method", "main", "block")
    assert read_design(with_blocks, ("method",)).design.blocks == ("block",)


def test_read_design_blocks_of_one_treatment_are_no_blocks():
    cells = [("A", "1"), ("A", "1"), ("B", "2"), ("B", "2")]
    assert read_design(table(cells, "method", "block"), ("method",)).name == "randomised"


def test_read_design_block_left_with_one_treatment_harvested_is_no_block():
    cells = [("A", "1"), ("B", "1"), ("A", "2"), ("B", "2")]
    plots = table(cells, "method", "block", yields=[4.0, 5.0, 4.5, NAN])
    assert read_design(plots, ("method",)).name == "randomised"


@pytest.mark.parametrize(
    ("choice", "name"),
    [
        ("randomised", "completely randomised"),
        ("blocks", "randomised blocks"),
        ("latin", "Latin square"),
        ("split", "split plot"),
    ],
)
def test_read_design_choice_is_taken(choice, name):
    read = read_design(demo_records().plots, ("method", "variety"), choice)
    assert (read.name, read.design.name, read.guessed, read.reason) == (choice, name, False, "")


def test_read_design_chosen_split_reads_the_reservoirs_where_they_are_shared():
    assert read_design(shared(), ("method", "variety"), "split").design.whole_plot == ("main",)
    single = read_design(demo_records().plots, ("method", "variety"), "split")
    assert single.design.whole_plot == ("block", "method")


def test_read_design_split_of_one_treatment_is_refused():
    with pytest.raises(RangeError, match="needs two treatments"):
        read_design(demo_records("single").plots, ("method",), "split")


def test_read_design_all_faults_at_once():
    with pytest.raises(RangeError, match=r"(?s)'?design.*lattice.*treatments"):
        read_design(demo_records().plots, (), "lattice")


def test_treatments_of_takes_what_varies_among_harvested_plots():
    cells = [("A", "x", "1"), ("A", "y", "1"), ("B", "y", "2")]
    plots = table(cells, "method", "variety", "rep", yields=[NAN, 4.0, 5.0])
    assert treatments_of(plots, "method") == ("method",)
    assert treatments_of(plots, "rep") == ("method", "rep")


def test_treatments_of_unknown_factor_lists_those_recorded():
    with pytest.raises(RangeError, match=r"colour.*not recorded.*method"):
        treatments_of(square(), "method:colour")
