"""The script that writes the README's table of times: what it reads, shows and replaces."""

from __future__ import annotations

import importlib.util
import json
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
SCRIPT = ROOT / ".ci" / "speed_table.py"
if not SCRIPT.exists():
    pytest.skip("no checkout: the checks' scripts are not here", allow_module_level=True)
spec = importlib.util.spec_from_file_location("speed_table", SCRIPT)
speed_table = importlib.util.module_from_spec(spec)
spec.loader.exec_module(speed_table)

VERSIONS = {"numpy": "2.4.6", "LibreOffice": "7.4"}


def benchmark(row, side, least, evaluations, **noted):
    return {
        "extra_info": {"row": row, "side": side, "evaluations": evaluations, **noted},
        "stats": {"min": least, "median": 10 * least},
    }


@pytest.fixture
def run():
    """A run as pytest-benchmark keeps it, cut to what is read, with round numbers."""
    kept = [benchmark(row, "scenariokit", 0.6, 6_000_000) for row in speed_table.ROWS]
    kept += [
        benchmark("model, a million draws", "numpy", 0.3, 6_000_000),
        benchmark("model, a million draws", "numba", 0.06, 6_000_000),
        benchmark("from scores to values", "scipy", 6.0, 6_000_000),
        benchmark("model, 2,000 draws", "libreoffice", 9.0, 12_000, seconds=0.6,
                  opened_and_saved=6.0),
        benchmark("memory", "scenariokit", 5.0, 6_000_000, bytes=880_000_000),
        {"extra_info": {}, "stats": {"min": 1.0}},
    ]  # fmt: skip
    info = {"node": "secret-host", "machine": "x86_64", "system": "Linux",
            "python_version": "3.11.7", "cpu": {"count": 2, "brand_raw": "A processor"}}  # fmt: skip
    text = json.dumps({"machine_info": info, "datetime": "2026-11-26T12:00:00", "benchmarks": kept})
    return json.loads(text)


def rows_of(markdown):
    lines = [line for line in markdown.splitlines() if line.startswith("|")]
    return [[one.strip() for one in line.strip("|").split("|")] for line in lines]


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0.0537, "54 ms"), (0.00123, "1.2 ms"), (0.000999, "1.0 ms"), (0.9994, "1,000 ms"),
     (0.9996, "1.0 s"), (1.04, "1.0 s"), (9.96, "10 s"), (41.6, "42 s"), (534.0, "530 s"),
     (4321.0, "4,300 s")],
)  # fmt: skip
def test_shown_has_two_digits_and_a_unit(seconds, words):
    assert speed_table.shown(seconds) == words


def test_seconds_are_the_least_of_a_run_for_a_million_evaluations(run):
    found = speed_table.seconds_of(run)
    assert tuple(found) == tuple(speed_table.ROWS)
    model = found["model, a million draws"]
    assert model == pytest.approx({"scenariokit": 0.1, "numpy": 0.05, "numba": 0.01})
    assert found["model, 2,000 draws"]["libreoffice"] == pytest.approx(0.6 / 12_000 * 1e6)
    assert found["from scores to values"]["numpy"] == pytest.approx(1.0)


def test_seconds_refuse_a_run_that_lacks_a_row(run):
    run["benchmarks"] = run["benchmarks"][1:]
    with pytest.raises(speed_table.NoRunError, match="lacks model, a million draws"):
        speed_table.seconds_of(run)


def test_table_has_a_row_for_each_benchmark_and_says_how_many_times(run):
    head, _, first, second, *others = rows_of(speed_table.table(run))
    assert head[1:] == list(speed_table.SIDES.values())
    assert first[1:] == ["100 ms", "50 ms (0.50 ×)", "10 ms (0.10 ×)", ""]
    assert second[4] == "50 s (500 ×)"
    assert len(others) == len(speed_table.ROWS) - 2
    assert len({len(row) for row in (head, first, second, *others)}) == 1


def test_section_names_command_date_memory_and_versions_but_no_host(run):
    found = speed_table.section(run, VERSIONS)
    assert "`python .ci/speed_table.py`" in found
    assert "2026-11-26" in found
    assert "0.9 GB" in found
    assert "with opening and saving it takes 500 s" in found
    assert "2 cores (x86_64, Linux), Python 3.11.7, numpy 2.4.6, LibreOffice 7.4" in found
    assert "secret-host" not in found
    assert "```" not in found


def test_section_without_a_workbook_says_nothing_of_it(run):
    run["benchmarks"] = [
        one for one in run["benchmarks"] if one["extra_info"].get("side") != "libreoffice"
    ]
    assert "recalculates" not in speed_table.section(run, {})


def test_put_in_replaces_only_what_stands_between():
    text = f"before\n{speed_table.BEGIN}\nold\n{speed_table.END}\nafter\n"
    once = speed_table.put_in(text, "new")
    assert once == text.replace("old", "new")
    assert speed_table.put_in(once, "new") == once


@pytest.mark.parametrize("text", ["", "{0}", "{1} {0}", "{0} {0} {1}"])
def test_put_in_refuses_a_text_without_its_markers(text):
    with pytest.raises(speed_table.NoRunError, match="must hold"):
        speed_table.put_in(text.format(speed_table.BEGIN, speed_table.END), "new")


def test_main_writes_a_kept_run_into_a_file(run, tmp_path):
    kept, readme = tmp_path / "run.json", tmp_path / "README.md"
    kept.write_text(json.dumps(run), encoding="utf-8")
    readme.write_text(f"# T\n\n{speed_table.BEGIN}\n{speed_table.END}\n", encoding="utf-8")
    assert speed_table.main(["--from", str(kept), "--readme", str(readme)]) == 0
    assert rows_of(readme.read_text(encoding="utf-8"))[2][1] == "100 ms"


def test_main_leaves_the_file_alone_when_a_run_will_not_do(run, tmp_path, capsys):
    kept, readme = tmp_path / "run.json", tmp_path / "README.md"
    kept.write_text(json.dumps({**run, "benchmarks": []}), encoding="utf-8")
    readme.write_text(f"{speed_table.BEGIN}\nold\n{speed_table.END}", encoding="utf-8")
    assert speed_table.main(["--from", str(kept), "--readme", str(readme)]) == 1
    assert "lacks" in capsys.readouterr().err
    assert "old" in readme.read_text(encoding="utf-8")


def test_readme_holds_a_table_of_the_rows_that_the_script_writes():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    between = text.split(speed_table.BEGIN)[1].split(speed_table.END)[0]
    head, _, *rows = rows_of(between)
    assert head[1:] == list(speed_table.SIDES.values())
    assert [row[0] for row in rows] == list(speed_table.ROWS.values())
