"""Run the benchmarks of the whole model and write what they took into the README.

`python .ci/speed_table.py` runs them; with `--from run.json` it takes a run that was kept by
`pytest --benchmark-json`. Only the text between the two markers changes.
"""

from __future__ import annotations

import argparse
import importlib.metadata
import json
import os
import re
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parents[1]
BENCHMARKS = "tests/benchmarks/test_full_model.py"
BEGIN, END = "<!-- speed:begin -->", "<!-- speed:end -->"
SIDES = {
    "scenariokit": "scenariokit",
    "numpy": "NumPy by hand",
    "numba": "the same compiled by numba",
    "libreoffice": "LibreOffice",
}
ROWS = {
    "model, a million draws": "Model on given draws, 1,000,000 × 6 methods",
    "model, 2,000 draws": "Model on given draws, 2,000 × 6 methods",
    "season drawn day by day": "The same with each draw's season day by day, 20,000 × 6",
    "scrambled Sobol scores": "Scores of the draws (by hand: SciPy's Sobol), 131,072 × 6",
    "from scores to values": "From scores to values (by hand: SciPy's beta), 20,000 × 6",
    "from seed to outcomes, 1,000,000 draws": "Everything, from seed to outcomes, 1,000,000 × 6",
    "from seed to outcomes, 2,000 draws": "Everything, from seed to outcomes, 2,000 × 6",
}
LIBRARIES = ("numpy", "scipy", "pint", "numba")


class NoRunError(RuntimeError):
    """The benchmarks did not run through, or what they kept is not what a table needs."""


def seconds_of(run: Mapping[str, Any]) -> dict[str, dict[str, float]]:
    """Return seconds for a million evaluations, by row and side: the least of all rounds."""
    found: dict[str, dict[str, float]] = {}
    for one in run["benchmarks"]:
        noted = one["extra_info"]
        if noted.get("row") in ROWS:
            side = "numpy" if noted["side"] == "scipy" else noted["side"]
            taken = noted.get("seconds", one["stats"]["min"])
            found.setdefault(noted["row"], {})[side] = taken / noted["evaluations"] * 1e6
    lacking = [row for row in ROWS if "scenariokit" not in found.get(row, {})]
    if lacking:
        raise NoRunError(f"the run lacks {'; '.join(lacking)}")
    return {row: found[row] for row in ROWS}


def noted_of(run: Mapping[str, Any], name: str) -> tuple[float, int] | None:
    """Return a number that a benchmark noted beside its time, and how many evaluations it had."""
    for one in run["benchmarks"]:
        if name in one["extra_info"]:
            return one["extra_info"][name], one["extra_info"]["evaluations"]
    return None


def shown(seconds: float) -> str:
    """Return a time with two digits and a unit.

    >>> shown(0.0537), shown(41.6), shown(530.0), shown(1.04)
    ('54 ms', '42 s', '530 s', '1.0 s')
    """
    number, unit = (seconds, "s") if seconds >= 0.9995 else (seconds * 1000, "ms")
    return f"{two_digits(number)} {unit}"


def two_digits(number: float) -> str:
    """Return a number above zero with two significant digits, whole from ten on."""
    rounded = float(f"{number:.2g}")
    return f"{rounded:,.0f}" if rounded >= 10 else f"{rounded:#.2g}"


def cell(seconds: float | None, own: float) -> str:
    """Return a time of another side, and in brackets how many times scenariokit's that is."""
    return "" if seconds is None else f"{shown(seconds)} ({two_digits(seconds / own)} ×)"


def table(run: Mapping[str, Any]) -> str:
    """Return the table in Markdown."""
    others = [side for side in SIDES if side != "scenariokit"]
    lines = [f"| | {' | '.join(SIDES.values())} |", f"|---|{'---:|' * len(SIDES)}"]
    for row, taken in seconds_of(run).items():
        own = taken["scenariokit"]
        cells = [shown(own), *(cell(taken.get(side), own) for side in others)]
        lines.append(f"| {ROWS[row]} | {' | '.join(cells)} |")
    return "\n".join(lines)


def machine(run: Mapping[str, Any], versions: Mapping[str, str]) -> str:
    """Return in general words what the run was made on: no name of a machine."""
    info = run["machine_info"]
    cores = info["cpu"]["count"]
    parts = [
        f"{cores} core{'s' if cores != 1 else ''} ({info['machine']}, {info['system']})",
        f"Python {info['python_version']}",
        *(f"{name} {version}" for name, version in versions.items()),
    ]
    return ", ".join(parts)


def section(run: Mapping[str, Any], versions: Mapping[str, str]) -> str:
    """Return everything between the markers."""
    words = [
        "Time for a million evaluations, each of one method in one draw: yield, water, solution, "
        "eight parts of the cost, takings, margin, labour, payback. In brackets, how many times "
        "scenariokit's time that is. By hand is [the same model](tests/benchmarks/"
        "cost_model_numpy.py) written for these methods alone, without units, checks or choice of "
        "outcomes. All sides give the same numbers to nine digits and use one thread, but "
        "LibreOffice as many as it likes.",
        table(run),
    ]
    whole, peak = noted_of(run, "opened_and_saved"), noted_of(run, "bytes")
    notes = []
    if whole is not None:
        million = shown(whole[0] / whole[1] * 1e6)
        notes.append(
            "LibreOffice recalculates a workbook of live formulas, a row for each draw and "
            f"method, that is open already; with opening and saving it takes {million}."
        )
    if peak is not None:
        notes.append(
            f"A million draws of six methods with ten outcomes kept need {peak[0] / 1e9:.1f} GB."
        )
    notes.append(
        f"From a run of {run['datetime'][:10]} by `python .ci/speed_table.py` (the least of several "
        f"rounds): {machine(run, versions)}."
    )
    return "\n\n".join([*words, " ".join(notes)])


def put_in(text: str, between: str) -> str:
    """Return a text with what stands between the markers replaced."""
    if text.count(BEGIN) != 1 or text.count(END) != 1 or text.index(BEGIN) > text.index(END):
        raise NoRunError(f"the text must hold {BEGIN} and after it {END}, once each")
    before, rest = text.split(BEGIN)
    return f"{before}{BEGIN}\n{between}\n{END}{rest.split(END)[1]}"


def versions_here() -> dict[str, str]:
    """Return the versions of the libraries and of LibreOffice, as far as they are there."""
    found = {}
    for name in LIBRARIES:
        try:
            found[name] = importlib.metadata.version(name)
        except importlib.metadata.PackageNotFoundError:
            continue
    program = os.environ.get("SCENARIOKIT_SOFFICE", "soffice")
    try:
        said = subprocess.run([program, "--version"], capture_output=True, text=True, check=False)
    except OSError:
        return found
    number = re.search(r"LibreOffice (\d+\.\d+)", said.stdout)
    return {**found, "LibreOffice": number[1]} if number else found


def run_benchmarks(into: Path) -> None:
    """Run the benchmarks and keep what they took."""
    command = [
        sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-o", "addopts=",
        "--benchmark-only", f"--benchmark-json={into}", BENCHMARKS,
    ]  # fmt: skip
    if subprocess.call(command, cwd=ROOT):
        raise NoRunError("the benchmarks did not run through, so no table is written")


def main(arguments: list[str] | None = None) -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--from", dest="kept", type=Path, help="a run kept by --benchmark-json")
    parser.add_argument("--readme", type=Path, default=ROOT / "README.md")
    given = parser.parse_args(arguments)
    with tempfile.TemporaryDirectory() as folder:
        kept = given.kept or Path(folder) / "run.json"
        try:
            if given.kept is None:
                run_benchmarks(kept)
            run = json.loads(kept.read_text(encoding="utf-8"))
            text = put_in(given.readme.read_text(encoding="utf-8"), section(run, versions_here()))
        except NoRunError as error:
            print(error, file=sys.stderr)
            return 1
    given.readme.write_text(text, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
