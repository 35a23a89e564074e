"""The command line: what it prints, what it returns, what it says when it cannot."""

from __future__ import annotations

import pytest

from scenariokit import catalog
from scenariokit.cli import main
from scenariokit.scenario import save, scenario_for


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
            "1 good rows",
        ),
        ("scenario", "SCENARIO", 0, "is in order"),
        ("media", "id,label\nrice_hulls,Rice hulls\n", 0, "1 growing media in order"),
        (
            "weather",
            "date,maximum_temperature [degC],minimum_temperature [degC]\n"
            "2026-06-01,20,10\n2026-06-03,9,12\n",
            1,
            "1 good rows",
        ),
        ("methods", "METHODS", 0, "1 methods in order"),
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
