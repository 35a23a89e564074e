"""What whole plants take up: the shipped rows, how they are joined, and damaged ones."""

from __future__ import annotations

import pytest

from scenariokit import catalog
from scenariokit.catalog import checks, entries
from scenariokit.catalog.entries import shipped_table
from scenariokit.catalog.tables import Table
from scenariokit.errors import RecordError


def table_with(change):
    """Return `shipped_table` with the rows of plant_uptake changed."""
    real = entries.shipped_table

    def fake(asked, table=""):
        found = real(asked, table)
        if asked != "plant_uptake":
            return found
        return Table(found.name, change([dict(row) for row in found.rows]), [], found.columns)

    return fake


def test_uptake_every_crop_has_every_element_once():
    rows = shipped_table("plant_uptake").rows
    pairs = [(row["crop"], row["element"]) for row in rows]
    wanted = {(crop, element) for crop in catalog.crops() for element in entries.UPTAKE_ELEMENTS}
    assert set(pairs) == wanted
    assert len(pairs) == len(wanted)


def test_uptake_times_the_produce_is_joined_in_grams():
    # By hand: tubers hold 3.2 g/kg of nitrogen, the plant takes up 1.45 (1.3 to 1.6) times that.
    potato = catalog.crops()["potato"]
    assert potato.uptake["N"] == pytest.approx(4.64)
    assert potato.uptake_bounds["N"] == pytest.approx((4.16, 5.12))


def test_uptake_of_the_whole_plant_is_joined_as_it_stands():
    potato = catalog.crops()["potato"]
    assert potato.uptake["Ca"] == 0.8
    assert potato.uptake_bounds["Ca"] == (0.6, 1.5)


def test_uptake_of_potato_calcium_and_magnesium_by_hand():
    """40 and 33 lb/acre with 25 short tons/acre, as read: both by the pound of tubers."""
    potato = catalog.crops()["potato"]
    assert potato.uptake["Ca"] == pytest.approx(1000 * 40 / (25 * 2000), abs=0.005)
    assert potato.uptake["Mg"] == pytest.approx(1000 * 33 / (25 * 2000), abs=0.005)


def test_uptake_of_kale_and_lettuce_is_mostly_produce():
    for name in ("kale", "lettuce"):
        crop = catalog.crops()[name]
        for element, grams in crop.uptake.items():
            assert 1.1 <= grams / crop[f"removal_{element}"] <= 1.2


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"crop": "rice"}, "crop = rice: is not known"),
        ({"uptake_low": 2.0}, "2, 1.45, 1.6: do not rise in this order"),
        ({"uptake_high": 1.0}, "do not rise"),
        ({"uptake_low": 0.9}, "uptake_low = 0.9: the whole plant .* less .* allowed: 1 or more"),
        ({"basis": "plant"}, "uptake_low = 1.3: the whole plant .* allowed: 3.2 or more"),
    ],
)
def test_uptake_damaged_row_names_file_row_and_field(monkeypatch, changes, words):
    change = table_with(lambda rows: [{**rows[0], **changes}, *rows[1:]])
    monkeypatch.setattr(entries, "shipped_table", change)
    with pytest.raises(RecordError, match=rf"plant_uptake.csv, row 2: .*{words}"):
        entries._load_crops()


def test_uptake_lost_row_names_crop_and_element(monkeypatch):
    monkeypatch.setattr(entries, "shipped_table", table_with(lambda rows: rows[1:]))
    with pytest.raises(RecordError, match="element = N: has no row for potato"):
        entries._load_crops()


def test_uptake_problems_good_row_has_none():
    crops = {"potato": {"removal_N": 3.2}}
    row = {"crop": "potato", "element": "N", "basis": "plant", "uptake_low": 3.2,
           "uptake_typical": 4.6, "uptake_high": 5.0}  # fmt: skip
    assert checks.uptake_problems(row, crops) == []
