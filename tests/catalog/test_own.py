import csv
import io

import pytest

from scenariokit import catalog
from scenariokit.catalog.own import with_own_media, with_own_methods
from scenariokit.errors import RecordError
from scenariokit.scenario.build import method_from

BASE = {
    "id": "my_bag", "label": "My bag", "summary": "A bag.", "container_shape": "round",
    "container_length": 10, "container_width": 10, "container_height": 20,
    "plants_per_container": 1, "plants_per_area": 20, "base_height": 0, "medium_height": 10,
    "mix": "coir_pith", "volume_per_plant": 0.5, "crops_per_filling": 2, "top_up_fraction": 0,
    "sheet": "", "sheet_area_per_area": 0, "level_regime": "constant", "level_low": 1,
    "level_high": 3, "level_start": 3, "rim_height": 10, "displaced_fraction": 0.1,
    "open_fraction": 0.1, "labour_per_plant": 0.05, "crop": "potato", "yield_low": 2,
    "yield_typical": 3, "yield_high": 4, "supplies_like": "medium_bag",
}  # fmt: skip


def methods_file(*changes):
    return catalog.write_csv([{**BASE, **change} for change in changes], "own_methods")


def test_with_own_methods_adds_without_touching_the_shipped():
    before = dict(catalog.methods())
    merged = with_own_methods(methods_file({}, {"crop": "kale", "yield_high": 5}), name="mine.csv")
    method = merged.entries["my_bag"]
    assert merged.problems == ()
    assert merged.own == ("my_bag",)
    assert method.yields == {"potato": (2, 3, 4), "kale": (2, 3, 5)}
    assert method.supplies == catalog.methods()["medium_bag"].supplies
    assert (method.source, method.status) == ("mine.csv", "own")
    assert set(method) == set(catalog.methods()["medium_bag"])
    assert dict(catalog.methods()) == before
    assert "my_bag" not in catalog.methods()


def test_with_own_methods_stated_source_is_kept():
    text = methods_file({"source": "my log book", "status": "seen", "supplies_like": ""})
    method = with_own_methods(text).entries["my_bag"]
    assert (method.source, method.status, method.supplies) == ("my log book", "seen", ())


@pytest.mark.parametrize(("like", "filling"), [("paper_wrap", 0.05), ("", 0.25)])
def test_with_own_methods_one_number_of_labour_is_split_like_the_method_named(like, filling):
    method = with_own_methods(methods_file({"supplies_like": like})).entries["my_bag"]
    assert method.labour_per_plant == 0.05
    labour = method_from(method).labour
    assert labour.filling.m_as("hour/plant") == pytest.approx(0.05 * filling)
    assert labour.total.m_as("hour/plant") == pytest.approx(0.05, rel=1e-12)


def test_method_from_labour_of_every_shipped_method_adds_to_its_total():
    for row in catalog.methods().values():
        labour = method_from(row).labour
        assert labour.hours() == pytest.approx(row.labour_per_plant, rel=1e-12)
        assert labour.total.m_as("hour/plant") == pytest.approx(labour.hours(), rel=1e-12)


def test_with_own_methods_second_file_adds_to_the_first():
    first = with_own_methods(methods_file({}))
    second = with_own_methods(
        methods_file({"id": "other", "supplies_like": "my_bag"}), first.entries
    )
    assert {"my_bag", "other", "medium_bag"} <= set(second.entries)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"id": "medium_bag"}, "is taken"),
        ({"mix": "mud"}, "mix = mud"),
        ({"sheet": "felt", "sheet_area_per_area": 1}, "sheet = felt"),
        ({"crop": "rice"}, "crop = rice"),
        ({"supplies_like": "raft"}, "supplies_like = raft"),
        ({"yield_low": 9}, "do not rise"),
        ({"volume_per_plant": 5}, "holds 0.79 L"),
        ({"level_regime": "tidal"}, "hand-filled"),
    ],
)
def test_with_own_methods_bad_row_is_listed_and_not_used(change, words):
    merged = with_own_methods(methods_file({"id": "good"}, change), name="mine.csv")
    assert merged.own == ("good",)
    assert any(words in str(problem) for problem in merged.problems)
    assert {(problem.file, problem.row) for problem in merged.problems} == {("mine.csv", 3)}


def test_with_own_methods_no_good_row_leaves_the_shipped():
    merged = with_own_methods(methods_file({"crop": "rice"}))
    assert merged.own == ()
    assert merged.entries == dict(catalog.methods())


def test_with_own_methods_rows_of_one_method_must_agree():
    merged = with_own_methods(methods_file({}, {"crop": "kale", "rim_height": 11}))
    assert list(merged.entries["my_bag"].yields) == ["potato"]
    (problem,) = merged.problems
    assert problem.field == "rim_height"
    assert "differs from row 2" in problem.reason


MEDIUM = {
    "id": "rice_hulls", "label": "Rice hulls", "total_porosity": 0.8, "air_at_10cm": 0.5,
    "bulk_density": 120, "theta_residual": 0.1, "theta_saturated": 0.8, "vg_alpha": 0.6,
    "vg_n": 1.6,
}  # fmt: skip


def test_with_own_media_can_be_used_by_a_method_and_priced():
    media = with_own_media(catalog.write_csv([MEDIUM], "own_media"), name="media.csv")
    assert media.entries["rice_hulls"].status == "own"
    assert media.entries["rice_hulls"].source == "media.csv"
    assert "rice_hulls" not in catalog.media()
    mixes = {**catalog.mixes(), **catalog.single_mixes(media.entries)}
    merged = with_own_methods(methods_file({"mix": "rice_hulls"}), mixes=mixes)
    assert merged.entries["my_bag"].mix == "rice_hulls"
    text = "item,package_size,price,currency,fill_factor\nrice_hulls,50 L,2,EUR,0.8\n"
    prices, problems = catalog.read_prices(text, items=catalog.items_of(media.entries))
    assert problems == []
    # Computed by hand: 2 / (50 * 0.8).
    assert prices.unit_price("rice_hulls") == pytest.approx(0.05)


def test_with_own_media_unit_of_the_heading_is_converted():
    text = catalog.write_template("own_media", [MEDIUM], system="us")
    assert "bulk_density [lb/ft^3]" in text
    assert with_own_media(text).entries["rice_hulls"].bulk_density == pytest.approx(120)


@pytest.mark.parametrize("taken", ["sand", "labour"])
def test_with_own_media_taken_name_is_refused(taken):
    merged = with_own_media(catalog.write_csv([{**MEDIUM, "id": taken}], "own_media"))
    assert merged.own == ()
    assert "is taken" in merged.problems[0].reason


def test_with_own_media_without_a_needed_column_is_refused():
    rows = list(csv.reader(io.StringIO(catalog.write_csv([MEDIUM], "own_media"))))
    text = "\n".join(",".join(row[:1]) for row in rows) + "\n"
    with pytest.raises(RecordError, match="label: the column is missing"):
        with_own_media(text)


def test_with_own_media_of_unknown_pores_is_taken():
    entry = with_own_media("id,label\nrice_hulls,Rice hulls\n").entries["rice_hulls"]
    assert entry.vg_n is None
    assert entry.status == "own"


@pytest.mark.parametrize(("system", "heading"), [("metric", "cm/day"), ("us", "inch/day")])
def test_with_own_media_conductivity_is_kept_in_either_unit(system, heading):
    text = catalog.write_template("own_media", [{**MEDIUM, "conductivity": 254.0}], system=system)
    assert f"conductivity [{heading}]" in text
    assert with_own_media(text).entries["rice_hulls"].conductivity == pytest.approx(254)


def test_with_own_media_of_unknown_conductivity_is_taken():
    assert (
        with_own_media(catalog.write_csv([MEDIUM], "own_media")).entries["rice_hulls"].conductivity
        is None
    )
