"""No message about what went wrong, and no line of the command, is outside the catalogues."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from pseudo_language import bare_words, bracketed, citations, column_names, demo_words

from scenariokit import catalog, cli
from scenariokit.errors import ScenarioKitError
from scenariokit.trials import read_harvest, read_records
from scenariokit.trials.demo import demo_files


@pytest.fixture(autouse=True)
def brackets(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    with bracketed(monkeypatch):
        yield


def bare(text: str, *allowed: str) -> list[str]:
    known = {*column_names(), *allowed}
    return [word for word in bare_words(text, [*citations(), *demo_words()]) if word not in known]


def told(problems: Any) -> str:
    text = "\n".join(map(str, problems))
    assert text
    return text


BAD_PRICES = b"""item,price,unit,currency,package_size
perlite,abc,money/L,EUR,
unobtainium,3,money/L,EUR,
tank,-4,money/m^2,EUR,
labour,12,money/kg,EUR,
labour,12,money/hour,USD,
"""
BAD_HARVEST = b"""plot,method,crop,area,mass
1,medium_bag,potato,2 m^2,8 kg
2,balloon,potato,2 m^2,8 kg
3,medium_bag,turnip,2 m^2,8 kg
4,medium_bag,potato,-2 m^2,eight
5,medium_bag,potato,,,,9
"""


def read_prices(content: bytes) -> Any:
    return catalog.read_prices(content, base=catalog.price_list("tern_hollow"), name="my.csv")[1]


@pytest.mark.parametrize(
    ("read", "content"),
    [
        (read_prices, BAD_PRICES),
        (lambda content: read_harvest(content, name="my.csv").problems, BAD_HARVEST),
        (lambda content: _flagged(content), demo_files()[0][1].replace(b"early white", b"")),
    ],
)  # fmt: skip
def test_problems_of_a_file_are_in_the_catalogues(
    read: Callable[[bytes], Any], content: bytes
) -> None:
    said = told(_problems(read, content))
    assert said.count("\n") >= 2
    assert bare(said, "perlite", "unobtainium", "balloon", "turnip", "eight", "abc", "csv") == []


def _problems(read: Callable[[bytes], Any], content: bytes) -> Any:
    try:
        return read(content)
    except ScenarioKitError as error:
        return [error]


def _flagged(content: bytes) -> Any:
    found = read_records(content, name="my.csv")
    return [*found.problems, *found.flags]


@pytest.mark.parametrize(
    "content",
    [b"", b"\x00\x01\x02", b"item,price\n", b"item;price\n1;2\n", b"PK\x03\x04 broken",
     b"nothing,known\n1,2\n", "préço,3\n".encode("utf-16")],
)  # fmt: skip
@pytest.mark.parametrize("name", ["my.csv", "my.xlsx", "my.doc"])
def test_message_about_an_unreadable_file_is_in_the_catalogues(content: bytes, name: str) -> None:
    base = catalog.price_list("tern_hollow")
    readers: list[Callable[[], Any]] = [
        lambda: catalog.read_prices(content, base=base, name=name)[1],
        lambda: read_harvest(content, name=name).problems,
        lambda: read_records(content, name=name).problems,
    ]
    for read in readers:
        said = told(_problems(lambda _content, read=read: read(), content))  # type: ignore[misc]
        assert bare(said, "csv", "xlsx", "doc", "CSV", "XLSX", "nothing", "known", "préço") == []


def test_message_of_a_slider_out_of_range_is_in_the_catalogues() -> None:
    from scenariokit.widgets import open_board

    board = open_board()
    board.common.values = {**board.common.values, "prices.labour_price": -1.0}
    board.common.values = {**board.common.values, "feed.ec": 9e9}
    board.method.values = {**board.method.values, "method.plants_per_area": 900.0}
    said = [*board.common.errors.values(), *board.method.errors.values()]
    assert len(said) == 3
    assert [one for one in said if bare(one)] == []


def test_message_of_a_broken_link_is_in_the_catalogues() -> None:
    from scenariokit.widgets import open_board

    board = open_board()
    for text in ("broken", "1.AAAA", "9.xyz", "1." + "A" * 300):
        board.page.link._received(None, {"kind": "address", "board": text}, [])
        assert "sk-bad" in board.status.value
        assert bare(board.status.value) == []


def test_message_of_a_recipe_that_cannot_be_is_in_the_catalogues() -> None:
    from scenariokit.nutrients.recipe.solve import NoRecipeError, solve

    wanted = {"K": "100 mg/L", "Cl": "100 mg/L"}
    with pytest.raises(NoRecipeError) as caught:
        solve(wanted, ["potassium_chloride"], {"Cl": "30 mg/L"}, prices={"potassium_chloride": 1})
    assert bare(str(caught.value), "solve", "potassium", "chloride", "water") == []


def run(capsys: pytest.CaptureFixture[str], *arguments: str) -> str:
    cli.main(arguments)
    said = capsys.readouterr()
    return f"{said.out}\n{said.err}"


def test_command_compare_prints_nothing_outside_the_catalogues(
    capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> None:
    said = run(
        capsys, "compare", "--methods", "medium_bag,wedge_pots", "--csv", str(tmp_path / "1")
    )
    assert len(said) > 500
    assert bare(said.replace(str(tmp_path), "")) == []
    said = run(capsys, "compare", "--methods", "balloon")
    assert (
        bare(said, "scenariokit", "compare", "balloon", *"_".join(catalog.methods()).split("_"))
        == []
    )


@pytest.mark.parametrize(("kind", "content"), [("prices", BAD_PRICES), ("harvest", BAD_HARVEST)])
def test_command_check_prints_nothing_outside_the_catalogues(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, kind: str, content: bytes
) -> None:
    (tmp_path / "1.csv").write_bytes(content)
    said = run(capsys, "check", kind, str(tmp_path / "1.csv"), str(tmp_path / "2.csv"))
    said = said.replace(str(tmp_path), "")
    allowed = ("csv", "perlite", "unobtainium", "balloon", "turnip", "eight", "abc")
    assert bare(said, *allowed, "No", "such", "file", "directory", "or") == []  # the system's words


def test_command_help_has_our_texts_in_the_catalogues(capsys: pytest.CaptureFixture[str]) -> None:
    for name in ("compare", "check"):
        with pytest.raises(SystemExit):
            cli.main([name, "--help"])
        said = capsys.readouterr().out
        assert "⟦" in said
