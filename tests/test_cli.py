"""The command line: what it prints, what it returns, what it says when it cannot."""

from __future__ import annotations

from importlib import resources

import pytest

from scenariokit import catalog
from scenariokit.cli import main
from scenariokit.scenario import save, scenario_for

TRIAL_TEXT = """study_id,plot_id,rep,treatment,genotype,planting_date,plot_area [m^2],ttwp [kg]
S,1,1,pots,early,2026-05-01,1,4
S,2,2,pots,early,2026-05-01,1,5
"""


def test_compare_prints_numbers_sentences_and_cautions(capsys, tmp_path):
    table = tmp_path / "numbers.csv"
    assert main(["compare", "--methods", "medium_bag,paper_wrap", "--csv", str(table)]) == 0
    out = capsys.readouterr().out
    assert "Cost of the produce (EUR/kg)" in out
    assert "Cheapest at its usual yield" in out
    assert "licensed engineer" in out
    assert len(table.read_text().splitlines()) == 3


def test_compare_own_files_change_the_answer_and_list_bad_rows(capsys, tmp_path):
    harvest, prices = tmp_path / "harvest.csv", tmp_path / "prices.csv"
    harvest.write_text(
        "plot,method,tank_area [m^2],harvest_mass [kg]\nA,medium_bag,2,20\nB,nowhere,2,20\n"
    )
    prices.write_text("item,package_size,price,currency\nlabour,1 hour,0,EUR\n")
    arguments = [
        "compare",
        "--methods",
        "medium_bag",
        "--harvest",
        str(harvest),
        "--prices",
        str(prices),
    ]
    assert main(arguments) == 1
    said = capsys.readouterr()
    assert "10.00" in said.out
    assert "One plot each" in said.out
    assert "row 3" in said.err
    assert "nowhere" in said.err


def test_compare_scenario_files(capsys, tmp_path):
    path = tmp_path / "one.json"
    path.write_text(save(scenario_for("suspended_pot", site="dunmarrow", prices="dunmarrow")))
    assert main(["compare", str(path), "--units", "us"]) == 0
    assert "USD/lb" in capsys.readouterr().out


def test_compare_own_methods(capsys, tmp_path):
    path = tmp_path / "mine.csv"
    row = dict(catalog.methods()["wedge_pots"])
    row |= {"id": "my_pots", "label": "My pots", "crop": "potato", "supplies_like": "wedge_pots"}
    row |= {"yield_low": 3, "yield_typical": 4, "yield_high": 5}
    path.write_text(catalog.write_csv([row], "own_methods"))
    assert main(["compare", "--own-methods", str(path), "--methods", "my_pots"]) == 0
    assert "my_pots" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["compare", "--methods", "nowhere"], "unknown method 'nowhere'"),
        (["compare", "no_such_file.json"], "no_such_file.json: No such file"),
        (["compare", "--prices", "no_such_list"], "no_such_list: No such file"),
    ],
)
def test_compare_impossible_request_says_so_in_one_line(capsys, arguments, words):
    assert main(arguments) == 2
    assert words in capsys.readouterr().err


def test_check_looks_through_every_file_whatever_the_first_one_is(capsys, tmp_path):
    bad, good = tmp_path / "bad.csv", tmp_path / "good.csv"
    bad.write_text("")
    good.write_text(catalog.template(catalog.price_list("tern_hollow")))
    assert main(["check", "prices", str(bad), str(good)]) == 2
    said = capsys.readouterr()
    assert "bad.csv: cannot be used" in said.err
    assert "good.csv: " in said.out
    assert "0 problems" in said.out


@pytest.mark.parametrize(
    ("kind", "text", "status", "words"),
    [
        (
            "harvest",
            "plot,method,tank_area [m^2]\nA,medium_bag,2\nA,medium_bag,2\n",
            1,
            "1 good row",
        ),
        ("scenario", "SCENARIO", 0, "is in order"),
        ("media", "id,label\nrice_hulls,Rice hulls\n", 0, "1 growing medium in order"),
        (
            "weather",
            "date,maximum_temperature [degC],minimum_temperature [degC]\n"
            "2026-06-01,20,10\n2026-06-03,9,12\n",
            1,
            "1 good row",
        ),
        ("methods", "METHODS", 0, "1 method in order"),
    ],
)
def test_check_each_kind(capsys, tmp_path, kind, text, status, words):
    if text == "SCENARIO":
        text = save(scenario_for("medium_bag"))
    if text == "METHODS":
        row = {**catalog.methods()["wedge_pots"], "id": "mine", "crop": "potato"}
        row |= {"yield_low": 3, "yield_typical": 4, "yield_high": 5}
        text = catalog.write_csv([row], "own_methods")
    path = tmp_path / "file.txt"
    path.write_text(text)
    assert main(["check", kind, str(path)]) == status
    assert words in capsys.readouterr().out


def test_version(capsys):
    with pytest.raises(SystemExit) as ended:
        main(["--version"])
    assert ended.value.code == 0
    assert "scenariokit 0.1.0" in capsys.readouterr().out


def test_pool_puts_the_good_plots_of_all_files_into_one_table_and_goes_on(capsys, tmp_path):
    rooms, into = tmp_path / "rooms", tmp_path / "pool"
    rooms.mkdir()
    data = resources.files("scenariokit.trials").joinpath("data")
    for name in ("demo_trial.csv", "demo_pool_alder_ford.csv"):
        (rooms / name).write_bytes(data.joinpath(name).read_bytes())
    assert main(["pool", str(rooms), "--into", str(into)]) == 0
    told = capsys.readouterr()
    assert "2 of 2 files" in told.err
    assert (into / "plots.csv").exists()
    (rooms / "bad.csv").write_text("nothing,of,use\n1,2,3\n")
    assert main(["pool", str(rooms), "--into", str(into)]) == 1
    told = capsys.readouterr()
    assert "3 of 3 files" in told.err
    assert "files of which nothing was used: 1 of 3" in told.out


def test_pool_of_an_empty_folder_says_so(capsys, tmp_path):
    (tmp_path / "rooms").mkdir()
    assert main(["pool", str(tmp_path / "rooms"), "--into", str(tmp_path / "pool")]) == 2
    assert capsys.readouterr().err.startswith("scenariokit pool:")


@pytest.mark.parametrize(
    ("kind", "text", "status", "words"),
    [
        ("water", "water,parameter,value,unit\nwell,Ca,80,mg/L\nwell,HCO3,244,mg/L\n", 0,
         "1 analysis in order"),
        ("fertilisers", "id,label,grade\nmine,Mine,13-0-46\nother,Other,80-80-0\n", 1,
         "1 fertiliser in order, 1 problem"),
        ("targets", "id,element,target,unit\nmine,Ca,5,mmol/L\n", 0, "1 set of targets"),
        ("trial", TRIAL_TEXT, 0, "2 plots in order, 0 problems"),
    ],
)  # fmt: skip
def test_check_nutrient_and_trial_files(capsys, tmp_path, kind, text, status, words):
    path = tmp_path / "mine.csv"
    path.write_text(text)
    assert main(["check", kind, str(path)]) == status
    assert words in capsys.readouterr().out
