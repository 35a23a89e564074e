import pytest

from scenariokit import catalog
from scenariokit.catalog.own_feed import (
    NO_HAZARD_WORDS,
    read_targets,
    read_water,
    with_own_fertilisers,
)
from scenariokit.errors import Problem, RecordError, argument_error

SALT = {"id": "my_salt", "label": "My salt", "formula": "KNO3"}
BAG = {
    "id": "my_bag_feed", "label": "My bag", "grade": "15.5-0-0", "calcium": 19,
    "stated_as": "element", "nitrate": 14.4, "ammonium": 1.1, "stock": "calcium", "price": 0.9,
    "hazard": "eye damage",
}  # fmt: skip


def feeds(*rows):
    return catalog.write_csv(rows, "own_fertilisers")


def test_with_own_fertilisers_adds_without_touching_the_shipped():
    before = dict(catalog.salts())
    merged = with_own_fertilisers(feeds(SALT, BAG), name="mine.csv")
    assert merged.problems == ()
    assert merged.own == ("my_salt", "my_bag_feed")
    assert set(catalog.salts()["borax"]) <= set(merged.entries["my_salt"])
    assert set(merged.entries) == {*before, "my_salt", "my_bag_feed"}
    assert dict(catalog.salts()) == before


def test_with_own_fertilisers_keeps_what_the_label_declares():
    bag = with_own_fertilisers(feeds(BAG), name="mine.csv").entries["my_bag_feed"]
    assert (bag.grade, bag.calcium, bag.nitrate, bag.price) == ("15.5-0-0", 19, 14.4, 0.9)
    assert (bag.stock, bag.hazard) == ("calcium", "eye damage")
    assert (bag.source, bag.status) == ("mine.csv", "own")
    assert (bag.Ca, bag.N, bag.molar_mass) == (None, None, None)


def test_with_own_fertilisers_hazard_left_out_says_it_is_not_stated():
    assert with_own_fertilisers(feeds(SALT)).entries["my_salt"].hazard == NO_HAZARD_WORDS


def test_with_own_fertilisers_stated_source_is_kept():
    row = {**SALT, "source": "label", "status": "seen"}
    salt = with_own_fertilisers(feeds(row)).entries["my_salt"]
    assert (salt.source, salt.status) == ("label", "seen")


def test_with_own_fertilisers_second_file_adds_to_the_first():
    first = with_own_fertilisers(feeds(SALT))
    second = with_own_fertilisers(feeds(BAG, SALT), first.entries)
    assert second.own == ("my_bag_feed",)
    assert "my_salt" in second.entries
    assert "is taken" in second.problems[0].reason


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"id": "borax"}, "is taken"),
        ({"id": "water"}, "is taken"),
        ({"formula": "KNO3"}, "both are given"),
        ({"grade": ""}, "neither is given"),
        ({"grade": "", "formula": "KNO3"}, "calcium, nitrate, ammonium: goes with a grade"),
        ({"grade": "2026-05-11"}, "a spreadsheet may have made a date of it"),
        ({"grade": "15.5-0"}, "no grade"),
        ({"stated_as": ""}, "must say what calcium count"),
        ({"stated_as": "CaO"}, "element, oxide"),
        ({"iron": 101}, "0 to 100"),
        ({"stock": "A"}, "sulfate_phosphate"),
        ({"label": ""}, "label: is missing"),
    ],
)
def test_with_own_fertilisers_bad_row_is_listed_and_not_used(change, words):
    merged = with_own_fertilisers(feeds(SALT, {**BAG, **change}), name="mine.csv")
    assert merged.own == ("my_salt",)
    assert any(words in str(problem) for problem in merged.problems)
    assert {(problem.file, problem.row) for problem in merged.problems} == {("mine.csv", 3)}


def test_with_own_fertilisers_complete_fills_values():
    merged = with_own_fertilisers(feeds(SALT), complete=lambda row: {"K": 38.7, "stock": "either"})
    assert (merged.entries["my_salt"].K, merged.entries["my_salt"].stock) == (38.7, "either")


def test_with_own_fertilisers_error_of_complete_gets_its_place():
    def refuse(row):
        raise argument_error([Problem("grade", row["grade"], "cannot be")], "label")

    merged = with_own_fertilisers(feeds(BAG), complete=refuse, name="mine.csv")
    assert merged.own == ()
    assert str(merged.problems[0]) == "mine.csv, row 2: grade = 15.5-0-0: cannot be"


def test_with_own_fertilisers_price_per_pound_is_converted():
    text = catalog.write_template("own_fertilisers", [BAG], system="us")
    assert "price [money/lb]" in text
    assert with_own_fertilisers(text).entries["my_bag_feed"].price == pytest.approx(0.9)


def test_with_own_fertilisers_decimal_comma_is_declared():
    text = "id;label;grade;nitrate [%];ammonium [%]\nmine;Mine;15.5-0-0;14,4;1,1\n"
    assert with_own_fertilisers(text, decimal=",").entries["mine"].nitrate == 14.4


def test_with_own_fertilisers_unreadable_file_raises():
    with pytest.raises(RecordError, match="label: the column is missing"):
        with_own_fertilisers("id,formula\nmine,KNO3\n")


def test_with_own_fertilisers_unknown_column_is_listed_and_rows_are_used():
    merged = with_own_fertilisers("id,label,formula,colour\nmine,Mine,KNO3,red\n")
    assert merged.own == ("mine",)
    assert "colour" in str(merged.problems[0])


def water(*lines):
    return "\n".join(("water,label,parameter,value,unit,note", *lines)) + "\n"


def test_read_water_rows_as_measured():
    found = read_water(
        water("well,My well,Ca,80,mg/L,", "well,,HCO3,4.1,meq/L,filtered", "well,,EC,650,µS/cm,",
              "well,,pH,7.4,pH,", "tap,,Na,0.4,mmol/l,"),
        name="lab.csv",
    )  # fmt: skip
    assert found.problems == ()
    well = found.entries["well"]
    assert well.rows == (
        ("Ca", 80.0, "mg/L"), ("HCO3", 4.1, "meq/L"), ("EC", 650.0, "uS/cm"), ("pH", 7.4, ""),
    )  # fmt: skip
    assert (well.id, well.label, well.note) == ("well", "My well", "filtered")
    assert (well.source, well.status) == ("lab.csv", "own")
    assert found.entries["tap"].label == "tap"
    assert found.entries["tap"].rows == (("Na", 0.4, "mmol/L"),)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("well,,Ca,80,,", "unit: is missing; it is not guessed"),
        ("well,,Ca,80,dS/m,", "is no unit for Ca; allowed: mg/L, mmol/L, meq/L"),
        ("well,,Ca,80,ppm,", "in water write mg/L"),
        ("well,,Fe,1,meq/L,", "is no unit for Fe; allowed: mg/L, mmol/L"),
        ("well,,EC,65,mS/m,", "100 mS/m are 1 dS/m"),
        ("well,,EC,0.65,mg/L,", "allowed: dS/m, mS/cm, uS/cm"),
        ("well,,pH,7,mg/L,", "is no unit for pH; allowed: blank"),
        ("well,,pH,15,,", "is no pH"),
        ("well,,Ca,-1,mg/L,", "0 to 1e+06"),
        ("well,,Ca,,mg/L,", "value: is missing"),
        ("well,,Ca,< 5,mg/L,", "is not a number"),
        ("well,,Rb,1,mg/L,", "not one of the allowed words"),
        ("well,,K,1,mg/L,", "repeats row 2"),
        ("well,,NO3,1,mg/L,\nwell,,N_nitrate,1,mg/L,", "is the same as NO3 in row 3"),
        ("well,,SO4,9,mg/L,\nwell,,S,3,mg/L,", "is the same as SO4 in row 3"),
        ("well,Other,Ca,1,mg/L,", "differs from row 2 of well; allowed: My well"),
        ("My well,,Ca,1,mg/L,", "[a-z0-9_]+"),
    ],
)
def test_read_water_bad_row_is_listed_and_good_ones_kept(line, words):
    found = read_water(water("well,My well,K,3,mg/L,", line), name="lab.csv")
    (problem,) = found.problems
    assert words in str(problem)
    assert problem.file == "lab.csv"
    assert problem.row == 2 + len(line.splitlines())
    assert found.entries["well"].rows[0] == ("K", 3.0, "mg/L")


def test_read_water_same_parameter_of_two_waters_is_fine():
    found = read_water(water("a,,NO3,1,mg/L,", "b,,N_nitrate,1,mg/L,"))
    assert found.problems == ()
    assert set(found.entries) == {"a", "b"}


def test_read_water_alkalinity_and_bicarbonate_may_both_stand():
    found = read_water(water("a,,alkalinity_CaCO3,200,mg/L,", "a,,HCO3,244,mg/L,"))
    assert found.problems == ()
    assert len(found.entries["a"].rows) == 2


def test_read_water_empty_file_raises():
    with pytest.raises(RecordError, match="no rows"):
        read_water("water,parameter,value\n", name="lab.csv")


def test_read_water_refused_row_does_not_hide_its_twin():
    found = read_water(water("a,,NO3,1,ppm,", "a,,N_nitrate,1,mg/L,"))
    assert found.entries["a"].rows == (("N_nitrate", 1.0, "mg/L"),)
    assert [problem.row for problem in found.problems] == [2]


def targets(*lines):
    return "\n".join(("id,label,element,low,target,high,unit,note", *lines)) + "\n"


def test_read_targets_bands_as_stated():
    found = read_targets(
        targets("mine,My feed,N,140,150,160,mg/L,", "mine,,Ca,,3.5,,mmol/L,soft water"),
        name="aims.csv",
    )
    assert found.problems == ()
    mine = found.entries["mine"]
    assert (mine.id, mine.label, mine.note) == ("mine", "My feed", "soft water")
    nitrogen = mine.bands["N"]
    assert (nitrogen.low, nitrogen.target, nitrogen.high, nitrogen.unit) == (140, 150, 160, "mg/L")
    assert (nitrogen.source, nitrogen.status) == ("aims.csv", "own")
    assert (mine.bands["Ca"].low, mine.bands["Ca"].target) == (None, 3.5)


@pytest.mark.parametrize(
    ("line", "words"),
    [
        ("mine,,K,200,150,160,mg/L,", "low, target, high = 200, 150, 160: do not rise"),
        ("mine,,K,,150,120,mg/L,", "target, high = 150, 120: do not rise"),
        ("mine,,K,1,,2,mg/L,", "target: is missing"),
        ("mine,,K,1,2,3,ppm,", "mg/L, mmol/L, umol/L"),
        ("mine,,K,1,2,3,,", "unit: is missing"),
        ("mine,,K2O,1,2,3,mg/L,", "not one of the allowed words"),
        ("mine,,N,1,2,3,mg/L,", "repeats row 2"),
        ("mine,,K,-1,2,3,mg/L,", "low = -1: is below"),
        ("mine,Other,K,1,2,3,mg/L,", "differs from row 2 of mine"),
    ],
)
def test_read_targets_bad_row_is_listed_and_good_ones_kept(line, words):
    found = read_targets(targets("mine,My feed,N,1,2,3,mg/L,", line), name="aims.csv")
    assert any(words in str(problem) for problem in found.problems)
    assert {(problem.file, problem.row) for problem in found.problems} == {("aims.csv", 3)}
    assert list(found.entries["mine"].bands) == ["N"]


@pytest.mark.parametrize(
    ("name", "read"),
    [("own_fertilisers", with_own_fertilisers), ("own_water", read_water),
     ("own_targets", read_targets)],
)  # fmt: skip
@pytest.mark.parametrize("system", ["metric", "us"])
def test_templates_of_own_tables_are_read_back_once_filled(name, read, system):
    rows = {
        "own_fertilisers": [SALT, BAG],
        "own_water": [{"water": "a", "parameter": "Ca", "value": 1.5, "unit": "mg/L"}],
        "own_targets": [{"id": "a", "element": "K", "target": 2.5, "unit": "mg/L"}],
    }[name]
    assert read(catalog.write_template(name, rows, system=system)).problems == ()


def test_schemas_of_own_tables_describe_every_column():
    for name in ("own_fertilisers", "own_water", "own_targets"):
        for field in catalog.schema(name).fields:
            assert field.title
            assert field.description.endswith(".")
