import copy
import pickle

import pytest

from scenariokit import catalog
from scenariokit.catalog import checks, entries
from scenariokit.catalog.tables import Table
from scenariokit.errors import RecordError


def test_entry_is_read_as_mapping_and_by_attribute():
    potato = catalog.crops()["potato"]
    assert potato.salinity_threshold == potato["salinity_threshold"] == 1.7
    assert len(potato) == len(list(potato))
    assert "Entry" in repr(potato)


def test_entry_cannot_be_changed():
    potato = catalog.crops()["potato"]
    with pytest.raises(AttributeError, match="replace"):
        potato.label = "x"
    with pytest.raises(AttributeError, match="replace"):
        del potato.label
    with pytest.raises(AttributeError, match="salinity_slope"):
        _ = potato.colour
    with pytest.raises(AttributeError, match="no 'colour'"):
        potato.replace(colour=1)
    assert potato.replace(dry_matter=0.25).dry_matter == 0.25
    assert potato.dry_matter == 0.2


def test_entry_copies_and_pickles_equal():
    method = catalog.methods()["medium_bag"]
    assert pickle.loads(pickle.dumps(method)) == method  # noqa: S301
    assert copy.deepcopy(method) == method
    assert hash(copy.deepcopy(method)) == hash(method)


def test_load_is_made_once_and_cannot_be_changed():
    assert catalog.load("methods") is catalog.methods()
    with pytest.raises(TypeError):
        catalog.methods()["x"] = 1


def test_load_unknown_kind_lists_the_kinds():
    with pytest.raises(KeyError, match="recipes"):
        catalog.load("things")


def test_field_unit_gives_the_schema_unit():
    assert catalog.field_unit("methods", "volume_per_plant") == "L"
    assert catalog.field_unit("methods", "plants_per_area") == "plant/m^2"
    assert catalog.field_unit("method_yields", "yield_typical") == "kg/m^2"


def test_load_methods_carry_supplies_and_yields():
    method = catalog.methods()["paper_wrap"]
    assert method.yields["potato"] == (1.5, 2.8, 3.9)
    assert {row.use for row in method.supplies} == {"per_crop", "equipment"}


def test_load_mixes_hold_single_media_too():
    mixes = catalog.mixes()
    assert mixes["peat_perlite"].components == (("white_peat", 0.6), ("coarse_perlite", 0.4))
    assert mixes["coir_pith"].components == (("coir_pith", 1.0),)


def test_load_sites_carry_twelve_months_in_order():
    for site in catalog.sites().values():
        assert [row.month for row in site.climate] == list(range(1, 13))


def test_load_recipes_carry_salts_in_grams_per_litre():
    # Computed by hand: 5 mmol/L of KNO3 at 101.102 g/mol.
    assert catalog.recipes()["hoagland_1"].salts["potassium_nitrate"] == pytest.approx(0.50551)


def patch_table(monkeypatch, name, **changes):
    """Make one shipped table hold a changed first row."""
    real = entries.shipped_table

    def fake(asked, table=""):
        found = real(asked, table)
        if asked != name:
            return found
        rows = [{**found.rows[0], **changes}, *found.rows[1:]]
        return Table(found.name, rows, [], found.columns)

    monkeypatch.setattr(entries, "shipped_table", fake)


@pytest.mark.parametrize(
    ("name", "loader", "changes", "words"),
    [
        ("methods", "methods", {"mix": "mud"}, ["methods.csv, row 2", "mix = mud", "peat_perlite"]),
        ("methods", "methods", {"sheet": "felt", "sheet_area_per_area": 1}, ["felt", "cotton"]),
        ("methods", "methods", {"rim_height": 1}, ["overflow"]),
        ("method_supplies", "methods", {"item": "rope"}, ["item = rope", "tank_box"]),
        ("method_supplies", "methods", {"method": "raft"}, ["method = raft", "medium_bag"]),
        ("method_yields", "methods", {"crop": "rice"}, ["crop = rice", "potato"]),
        ("method_yields", "methods", {"yield_low": 50}, ["do not rise"]),
        ("mixes", "mixes", {"component": "mud"}, ["component = mud", "white_peat"]),
        ("mixes", "mixes", {"share": 0.5}, ["do not add to 1"]),
        ("mixes", "mixes", {"mixing_loss": 0.5}, ["differs from row 2 of peat_perlite"]),
        ("media", "media", {"theta_residual": 0.95}, ["no water to take"]),
        ("recipes", "recipes", {"salt": "salt"}, ["salt = salt", "potassium_nitrate"]),
        ("crops", "crops", {"planting_item": "bulb"}, ["bulb", "seed_potato"]),
        ("site_climate", "sites", {"site": "moon"}, ["site = moon", "tern_hollow"]),
    ],
)
def test_load_damaged_table_names_file_row_column_and_allowed(
    monkeypatch, name, loader, changes, words
):
    patch_table(monkeypatch, name, **changes)
    with pytest.raises(RecordError) as caught:
        entries._LOADERS[loader]()
    for word in words:
        assert word in str(caught.value)


def test_load_sites_with_a_month_lost_is_refused(monkeypatch):
    real = entries.shipped_table

    def fake(asked, table=""):
        found = real(asked, table)
        rows = found.rows[1:] if asked == "site_climate" else found.rows
        return Table(found.name, rows, [], found.columns)

    monkeypatch.setattr(entries, "shipped_table", fake)
    with pytest.raises(RecordError, match="twelve months are needed for tern_hollow"):
        entries._load_sites()


@pytest.mark.parametrize(
    ("changes", "reason"),
    [
        ({"plants_per_area": 60}, "would cover 1.20"),
        ({"medium_height": 15}, "above the container"),
        ({"volume_per_plant": 3}, "holds 15.00 L"),
        ({"level_low": 5}, "do not rise"),
        ({"rim_height": 4}, "would overflow"),
        ({"mix": ""}, "is missing"),
        ({"sheet": "cotton_cloth"}, "give both, or neither"),
    ],
)
def test_method_problems_impossible_geometry_is_found(changes, reason):
    method = catalog.methods()["medium_bag"].replace(**changes)
    (problem,) = checks.method_problems(method)
    assert reason in problem.reason


def test_medium_problems_more_air_than_pores_is_found():
    medium = catalog.media()["sand"].replace(air_at_10cm=0.6)
    assert "more than all pores" in checks.medium_problems(medium)[0].reason
