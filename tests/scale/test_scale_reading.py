"""What is read of the results, and what they are summed up to."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from scenariokit.errors import InfeasibleError, RangeError, ScenarioFileError
from scenariokit.scale import Grid, fold, read, run, summarise
from scenariokit.scale import reading as reading_module
from scenariokit.uncertainty import Uncertain, Uncertainty, ensemble, fixed, usual_uncertainty

pytest.importorskip("pyarrow")

GRID = Grid(
    ("medium_bag", "wedge_pots", "paper_wrap"), planting_months=(4, 9), draws=300, seed=5,
    price_lists=("tern_hollow", "dunmarrow"),
    outcomes=("yield_per_area", "margin_per_area", "fullest_depth", "autonomy"),
)  # fmt: skip
WHERE = ["site", "planting_month", "price_list", "method"]


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    made = tmp_path_factory.mktemp("results")
    run(GRID, made, chunk=110)
    return made


def test_read_takes_only_what_is_asked_for(folder):
    found = read(folder, ["yield_per_area"], methods=["paper_wrap"], planting_months=[4],
                 sites=["tern_hollow"], price_lists=["dunmarrow"])  # fmt: skip
    assert list(found.columns) == [
        "method", "site", "planting_month", "price_list", "currency", "draw",
        "yield_per_area_kg_per_m2",
    ]  # fmt: skip
    assert found["draw"].tolist() == list(range(300))
    assert set(found["method"]) == {"paper_wrap"}
    assert set(found["currency"]) == {"USD"}


def test_read_of_everything_has_every_method_cell_and_draw_once(folder):
    found = read(folder)
    assert len(found) == GRID.size
    assert not found.duplicated([*WHERE, "draw"]).any()
    assert found["method"].dtype == "category"
    assert list(found.columns[6:]) == [
        "yield_per_area_kg_per_m2", "margin_per_area_money_per_m2", "fullest_depth_cm",
        "autonomy_day",
    ]  # fmt: skip


@pytest.mark.parametrize(
    "asked",
    [{"methods": ["none"]}, {"sites": ["none"]}, {"planting_months": [5]}, {"price_lists": ["x"]}],
)
def test_read_of_what_the_grid_has_not_is_refused(folder, asked):
    with pytest.raises(RangeError, match="is not in this grid"):
        read(folder, **asked)


def test_read_says_all_that_the_grid_has_not(folder):
    with pytest.raises(RangeError) as caught:
        read(folder, methods=["moon_base"], sites=["atlantis"])
    assert "moon_base" in str(caught.value)
    assert "atlantis" in str(caught.value)


@pytest.mark.parametrize("function", [lambda f: read(f, ["joy"]), lambda f: summarise(f, "joy")])
def test_read_what_was_not_kept_is_refused(folder, function):
    with pytest.raises(InfeasibleError, match="joy was not kept"):
        function(folder)


def test_read_of_no_grid_is_said(tmp_path):
    with pytest.raises(ScenarioFileError, match=r"grid\.json"):
        read(tmp_path)


def test_read_of_a_file_with_a_changed_byte_is_refused(tmp_path):
    """A byte in the middle leaves the end of the file, which a run looks at, as it was."""
    run(GRID, tmp_path)
    victim = sorted(tmp_path.glob("part-*"))[2]
    content = bytearray(victim.read_bytes())
    place = len(content) // 4
    content[place] ^= 0xFF
    victim.write_bytes(content)
    with pytest.raises(ScenarioFileError, match=f"{victim.name}: is damaged"):
        read(tmp_path)


def test_read_leaves_files_of_others_in_the_folder_alone(tmp_path):
    run(GRID, tmp_path)
    before = read(tmp_path)
    (tmp_path / "part-notes.parquet").write_text("mine")
    (tmp_path / "part-000000-000000000000-000000000010.parquet").write_text("mine")
    pd.testing.assert_frame_equal(read(tmp_path), before)


def test_summarise_gives_exact_quantiles_and_shares_of_each_cell(folder):
    found = summarise(folder, "margin_per_area", (0.1, 0.9)).set_index(WHERE)
    assert len(found) == 12
    for cell in GRID.cells():
        scenarios = GRID.scenarios(cell)
        drawn = ensemble(scenarios, usual_uncertainty(scenarios), 300, 5, ["margin_per_area"])
        values, shares = drawn.floats("margin_per_area"), drawn.share_best("margin_per_area")
        for number, method in enumerate(GRID.methods):
            one = found.loc[(cell.site, cell.planting_month, cell.price_list, method)]
            assert one["currency"] == cell.currency
            assert one["draws"] == 300
            assert one["margin_per_area_p10_money_per_m2"] == np.quantile(values[number], 0.1)
            assert one["margin_per_area_p90_money_per_m2"] == np.quantile(values[number], 0.9)
            assert one["margin_per_area_mean_money_per_m2"] == pytest.approx(
                values[number].mean(), rel=1e-13
            )
            assert one["margin_per_area_share_best"] == pytest.approx(shares[number], abs=1e-15)


def test_summarise_does_not_depend_on_the_chunks(folder, tmp_path):
    run(GRID, tmp_path)
    for name in ("yield_per_area", "autonomy"):
        pd.testing.assert_frame_equal(
            summarise(tmp_path, name), summarise(folder, name), check_exact=True
        )


def test_summarise_without_a_better_direction_names_none_best(folder):
    assert "fullest_depth_share_best" not in summarise(folder, "fullest_depth").columns


def test_summarise_shares_ties(tmp_path):
    """Two methods with one certain yield are best in half of the draws each."""
    same = tuple(
        Uncertain("harvest.typical", fixed("5 kg/m^2"), method=one)
        for one in ("medium_bag", "wedge_pots")
    )
    grid = Grid(("medium_bag", "wedge_pots"), draws=40, outcomes=("yield_per_area",),
                uncertainty=Uncertainty(same))  # fmt: skip
    run(grid, tmp_path)
    assert summarise(tmp_path, "yield_per_area")["yield_per_area_share_best"].tolist() == [0.5, 0.5]
    assert fold(grid)["yield_per_area_share_best"].tolist() == [0.5, 0.5]


def test_summarise_of_an_outcome_that_a_method_never_has(tmp_path):
    """Soil has no tank, so nothing runs dry there."""
    grid = Grid(("field_soil", "wedge_pots"), draws=50, outcomes=("autonomy",))
    run(grid, tmp_path)
    soil, pots = summarise(tmp_path, "autonomy").to_dict("records")
    assert (soil["autonomy_undefined"], pots["autonomy_undefined"]) == (50, 0)
    assert np.isnan(soil["autonomy_mean_day"])
    assert np.isnan(soil["autonomy_p50_day"])
    assert (soil["autonomy_share_best"], pots["autonomy_share_best"]) == (0.0, 1.0)


def test_summarise_reads_one_column_of_one_method_at_a_time(folder, monkeypatch):
    asked = []
    plain = reading_module._read_groups

    def noted(path, groups, columns):
        asked.append((len(groups), tuple(columns)))
        return plain(path, groups, columns)

    monkeypatch.setattr(reading_module, "_read_groups", noted)
    summarise(folder, "autonomy")
    assert {columns for _, columns in asked} == {("autonomy_day",)}
    # All methods together only of one chunk, to see which is best.
    assert {count for count, _ in asked} == {1, 3}


def test_summarise_refuses_levels_that_are_none(folder):
    with pytest.raises(RangeError, match="levels"):
        summarise(folder, "yield_per_area", (0.5, 1.5))
