"""The shipped rows: sources, ranges, geometry, and values against published ones."""

import re
from importlib.resources import files

import pytest

from scenariokit import catalog
from scenariokit.catalog import checks
from scenariokit.catalog.entries import shipped_table
from scenariokit.catalog.fields import schema

STATUS = {"seen", "seen-2nd", "seen-pkg", "computed", "memory", "trade", "invented"}
TABLES = sorted(
    item.name.removesuffix(".csv")
    for item in files("scenariokit.catalog").joinpath("data").iterdir()
)


def table_of(name):
    return shipped_table(name, "prices" if name.startswith("prices_") else "")


@pytest.mark.parametrize("name", TABLES)
def test_data_every_row_has_source_and_known_status(name):
    rows = table_of(name).rows
    assert rows
    for row in rows:
        assert row["source"].strip(), row
        assert row["status"] in STATUS
        if row["status"] == "invented":
            assert "invented" in row["source"]
        if row["status"] == "memory":
            assert "memory" in row["source"]


@pytest.mark.parametrize("name", TABLES)
def test_data_every_row_has_every_number_within_its_range(name):
    rules = schema("prices" if name.startswith("prices_") else name)
    assert [field.name for field in rules.fields][-3:] == ["source", "status", "note"]
    for field in rules.fields:
        assert field.description
        for row in table_of(name).rows:
            value = row[field.name]
            if isinstance(value, float):
                assert field.minimum is not None
                assert field.maximum is not None or field.name == "molar_mass"
                assert field.minimum <= value <= field.maximum


@pytest.mark.parametrize("method", catalog.methods().values(), ids=lambda row: row.id)
def test_data_every_item_of_a_method_is_priced_in_both_lists(method):
    wanted = {row.item for row in method.supplies} | {"water", "labour"}
    if method.mix:
        wanted |= {name for name, _ in catalog.mixes()[method.mix].components}
    if method.sheet:
        wanted.add(method.sheet)
    for prices in catalog.price_lists().values():
        assert wanted <= set(prices.prices)


def test_data_price_lists_price_every_item():
    for prices in catalog.price_lists().values():
        assert set(prices.prices) == set(catalog.items())
        assert prices.missing == ()


def test_data_item_names_are_unique_over_the_tables():
    count = sum(len(catalog.load(kind)) for kind in ("media", "sheets", "salts", "supplies"))
    assert len(catalog.items()) == count


def test_data_medium_in_place_costs_ten_to_fourteen_cents():
    for prices in catalog.price_lists().values():
        for medium in catalog.media():
            assert 0.10 <= prices.unit_price(medium) <= 0.14


def test_data_produce_of_every_crop_has_a_price():
    for crop in catalog.crops().values():
        assert f"produce_{crop.id}" in catalog.items()
        assert crop.planting_item in catalog.items()


@pytest.mark.parametrize("method", catalog.methods().values(), ids=lambda row: row.id)
def test_data_method_geometry_holds_together(method):
    assert checks.method_problems(method) == []
    assert checks.base_share(method) <= 1 + 1e-9
    if method.container_shape == "round":
        assert method.container_length == method.container_width
    if method.level_regime.startswith("falling"):
        assert 10 <= method.level_start <= 20
    elif method.level_regime != "none":
        assert 2 <= method.level_low <= method.level_high <= 5
        assert method.level_start == method.level_high


@pytest.mark.parametrize("method", catalog.methods().values(), ids=lambda row: row.id)
def test_data_displaced_fraction_fits_what_stands_in_the_water(method):
    deepest = max(method.level_high, method.level_start)
    under = max(0.0, deepest - method.base_height) / deepest if deepest else 0.0
    # A sheet lies over hollow trays: only their walls stand in the water.
    solid = 0.03 if method.container_shape == "sheet" else checks.base_share(method) * under
    assert method.displaced_fraction == pytest.approx(solid, abs=0.011)


def test_data_sheet_reaches_higher_than_the_medium_stands():
    for method in catalog.methods().values():
        if method.sheet:
            lift = method.base_height - method.level_low
            assert lift < catalog.sheets()[method.sheet].maximum_rise


def test_data_potato_yields_are_kept_for_every_method_but_the_leafy_one():
    typical = {name: row.yields["potato"][1] for name, row in catalog.methods().items()
               if "potato" in row.yields}  # fmt: skip
    assert typical == {
        "medium_bag": 6.6, "wedge_pots": 4.8, "sheet_wick_tray": 3.6, "perforated_tray": 3.3,
        "paper_wrap": 2.8, "suspended_pot": 4.3, "field_soil": 3.5,
    }  # fmt: skip
    assert catalog.methods()["deep_litre"].yields["lettuce"][1] == 5.5


@pytest.mark.parametrize("medium", catalog.media().values(), ids=lambda row: row.id)
def test_data_air_at_ten_centimetres_fits_the_retention_curve(medium):
    # van Genuchten 1980, Soil Science Society of America Journal 44:892, equation from memory.
    m = 1 - 1 / medium.vg_n
    spread = medium.theta_saturated - medium.theta_residual
    water = medium.theta_residual + spread * (1 + (medium.vg_alpha * 10) ** medium.vg_n) ** -m
    assert medium.air_at_10cm == pytest.approx(medium.total_porosity - water, abs=0.015)


def test_data_media_conductivities_are_of_the_right_order():
    """Sand: 712.8 cm/day (Carsel and Parrish 1988, quoted elsewhere); the rest from memory."""
    known = {row.id: row.conductivity for row in catalog.media().values()}
    assert known["sand"] == 712.8
    assert all(50 <= value <= 20_000 for value in known.values())
    assert known["white_peat"] < known["pine_bark"] < known["coarse_perlite"]
    for row in catalog.media().values():
        assert row.status == "memory"
        assert "conductivity" in row.source


# IUPAC abridged standard atomic masses (Prohaska et al. 2022, Pure and Applied Chemistry
# 94:573), from memory.
MASSES = {
    "H": 1.0080, "B": 10.81, "C": 12.011, "N": 14.007, "O": 15.999, "Na": 22.990,
    "Mg": 24.305, "P": 30.974, "S": 32.06, "Cl": 35.45, "K": 39.098, "Ca": 40.078,
    "Mn": 54.938, "Fe": 55.845, "Cu": 63.546, "Zn": 65.38, "Mo": 95.95,
}  # fmt: skip


def atoms(formula):
    """Count atoms; a bracket is opened out by repeating it."""
    total = {}
    for part in formula.split("."):
        times, body = re.fullmatch(r"(\d*)(.*)", part).groups()
        while "(" in body:
            body = re.sub(r"\(([^()]*)\)(\d*)", lambda m: m[1] * int(m[2] or 1), body)
        for element, count in re.findall(r"([A-Z][a-z]?)(\d*)", body):
            total[element] = total.get(element, 0) + int(times or 1) * int(count or 1)
    return total


@pytest.mark.parametrize("salt", catalog.salts().values(), ids=lambda row: row.id)
def test_data_salt_mass_percents_follow_from_the_formula(salt):
    counted = atoms(salt.formula)
    mass = sum(MASSES[element] * count for element, count in counted.items())
    assert salt.molar_mass == pytest.approx(mass, rel=5e-4)
    for element in ("P", "K", "Ca", "Mg", "S", "Cl", "Na", "Fe", "Mn", "Zn", "B", "Cu", "Mo"):
        share = 100 * MASSES[element] * counted.get(element, 0) / mass
        assert salt[element] == pytest.approx(share, rel=5e-4), element
    nitrogen = 100 * MASSES["N"] * counted.get("N", 0) / mass
    # The nitrogen of a chelate is bound and feeds no plant.
    expected = 0 if "C" in counted else nitrogen
    assert salt.N_nitrate + salt.N_ammonium == pytest.approx(expected, rel=5e-4)
    assert salt.hazard


@pytest.mark.parametrize(
    ("salt", "nitrate", "ammonium"),
    [
        # Computed by hand: 5Ca(NO3)2.NH4NO3.10H2O holds 11 nitrate and 1 ammonium nitrogen,
        # each 14.007 / 1080.623 = 1.2962 % of the mass.
        ("calcium_nitrate_double_salt", 14.258, 1.296),
        ("ammonium_nitrate", 17.499, 17.499),
        ("monoammonium_phosphate", 0, 12.177),
        ("calcium_nitrate", 11.863, 0),
    ],
)
def test_data_salt_nitrogen_is_split_by_form(salt, nitrate, ammonium):
    row = catalog.salts()[salt]
    assert row.N_nitrate == pytest.approx(nitrate, rel=5e-4)
    assert row.N_ammonium == pytest.approx(ammonium, rel=5e-4)


def test_data_calcium_never_shares_a_stock_with_sulfate_or_phosphate():
    for salt in catalog.salts().values():
        if salt.Ca:
            assert salt.stock == "calcium"
        elif salt.S or salt.P:
            assert salt.stock == "sulfate_phosphate"


# Hoagland and Arnon 1950 (Calif. Agric. Exp. Stn Circular 347), mg/L as quoted in an
# encyclopedia article; the second solution and Steiner 1984 from memory.
@pytest.mark.parametrize(
    ("recipe", "element", "published", "tolerance"),
    [
        ("hoagland_1", "N", 210, 0.005), ("hoagland_1", "P", 31, 0.005),
        ("hoagland_1", "K", 235, 0.005), ("hoagland_1", "Ca", 200, 0.005),
        ("hoagland_1", "Mg", 48.6, 0.005), ("hoagland_1", "S", 64, 0.005),
        ("hoagland_1", "Fe", 2.9, 0.01), ("hoagland_1", "B", 0.5, 0.01),
        ("hoagland_1", "Mn", 0.5, 0.01), ("hoagland_1", "Zn", 0.05, 0.01),
        ("hoagland_1", "Cu", 0.02, 0.03), ("hoagland_1", "Mo", 0.011, 0.01),
        ("hoagland_1", "Cl", 0.65, 0.01),
        ("hoagland_2", "Ca", 160, 0.005), ("steiner", "K", 277, 0.05),
        ("steiner", "N", 167, 0.05), ("steiner", "Ca", 183, 0.05),
    ],
)  # fmt: skip
def test_data_recipes_give_the_published_concentrations(recipe, element, published, tolerance):
    total = 0.0
    for name, rate in catalog.recipes()[recipe].salts.items():
        salt = catalog.salts()[name]
        share = salt.N_nitrate + salt.N_ammonium if element == "N" else salt[element]
        total += 1000 * rate * share / 100
    assert total == pytest.approx(published, rel=tolerance)


def test_data_recipes_state_their_conductivity():
    # Computed with IPHREEQC 3.8.6 at 25 °C.
    found = {name: row.ec_full_strength for name, row in catalog.recipes().items()}
    assert found == {"hoagland_1": 2.166, "hoagland_2": 2.086, "steiner": 2.135}


# FAO Irrigation and Drainage Paper 56 (Allen et al. 1998), Tables 12, 17 and 11: Kc, basal Kcb,
# height in cm, stage lengths in days; read where a software package quotes them.
FAO_56 = {
    "potato": ((0.50, 1.15, 0.75), (0.15, 1.10, 0.65), 60, (25, 30, 45, 30)),
    "lettuce": ((0.70, 1.00, 0.95), (0.15, 0.90, 0.90), 30, (20, 30, 15, 10)),
    "tomato": ((0.60, 1.15, 0.80), (0.15, 1.10, 0.70), 60, (30, 40, 45, 30)),
    "sweet_pepper": ((0.60, 1.05, 0.90), (0.15, 1.00, 0.80), 70, (30, 35, 40, 20)),
    "kale": ((0.70, 1.05, 0.95), (0.15, 0.95, 0.85), 40, (25, 35, 25, 10)),
    "strawberry": ((0.40, 0.85, 0.75), (0.30, 0.80, 0.70), 20, None),
}


@pytest.mark.parametrize("name", FAO_56)
def test_data_crop_coefficients_are_those_of_fao_56(name):
    crop = catalog.crops()[name]
    coefficients, basal, height, days = FAO_56[name]
    assert (crop.kc_initial, crop.kc_mid, crop.kc_end) == coefficients
    assert (crop.kcb_initial, crop.kcb_mid, crop.kcb_end) == basal
    assert crop.canopy_height == height
    if days:
        stages = ("initial", "development", "mid", "late")
        assert tuple(crop[f"days_{stage}"] for stage in stages) == days


# FAO Irrigation and Drainage Paper 61, annex 1; the table read in Maas 1990. Kale is
# not listed there; its row says that it borrows from cabbage.
@pytest.mark.parametrize(
    ("name", "threshold", "slope"),
    [("potato", 1.7, 12), ("lettuce", 1.3, 13), ("tomato", 2.5, 9.9), ("sweet_pepper", 1.5, 14),
     ("strawberry", 1.0, 33)],
)  # fmt: skip
def test_data_salt_tolerance_is_that_of_fao_61(name, threshold, slope):
    crop = catalog.crops()[name]
    assert (crop.salinity_threshold, crop.salinity_slope) == (threshold, slope)


def test_data_potato_removal_is_the_working_set():
    # Middle of published tuber analyses, g/kg fresh; S from memory.
    crop = catalog.crops()["potato"]
    found = [crop[f"removal_{element}"] for element in ("N", "P", "K", "Mg", "Ca", "S")]
    assert found == [3.2, 0.5, 4.8, 0.2, 0.1, 0.3]


def test_data_printed_newspaper_warns():
    assert "mineral oil" in catalog.sheets()["printed_newsprint"].note
    assert "child" in catalog.supplies()["tank_box"].food_contact_note
