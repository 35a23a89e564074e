"""The package as a whole: what import brings in, and what the README promises."""

from __future__ import annotations

import importlib
import importlib.metadata
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import scenariokit

ROOT = Path(__file__).parents[1]
HEAVY = (
    "scipy.optimize",
    "scipy.stats",
    "scipy.special",
    "pandas",
    "altair",
    "ipywidgets",
    "anywidget",
    "openpyxl",
    "jsonschema",
    "IPython",
)


def loaded_after(code):
    """Return the names of the modules loaded by a fresh interpreter after `code`."""
    script = f"{code}\nimport sys; print('\\n'.join(sys.modules))"
    run = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    return set(run.stdout.split())


def test_import_loads_nothing_heavy():
    assert loaded_after("import scenariokit").isdisjoint(HEAVY)


@pytest.mark.parametrize("room", ["yields", "substrate", "reservoir", "nutrients", "economics"])
def test_import_of_a_science_room_loads_nothing_heavy(room):
    # Older pint itself loads dask, and what that needs, where dask is installed.
    pint_alone = loaded_after("import pint")
    assert (loaded_after(f"import scenariokit.{room}") - pint_alone).isdisjoint(HEAVY)


def test_evaluate_loads_no_widget_or_chart():
    code = "from scenariokit.scenario import compare, scenario_for; compare([scenario_for('medium_bag')])"
    assert loaded_after(code).isdisjoint(
        {"altair", "ipywidgets", "anywidget", "IPython", "scipy.stats"}
    )


def test_every_public_name_can_be_had():
    for name in scenariokit.__all__:
        assert getattr(scenariokit, name) is not None
    assert set(scenariokit.__all__) <= set(dir(scenariokit))


@pytest.mark.parametrize("room", ["catalog", "nutrients", "scenario", "charts", "report"])
def test_every_name_of_a_room_can_be_had_and_stands_once(room):
    module = importlib.import_module(f"scenariokit.{room}")
    assert len(set(module.__all__)) == len(module.__all__)
    for name in module.__all__:
        assert getattr(module, name) is not None


def test_unknown_public_name_lists_those_there_are():
    with pytest.raises(AttributeError, match=r"no 'nothing'.*yields"):
        scenariokit.nothing  # noqa: B018


def test_version_is_the_installed_one():
    assert importlib.metadata.version("scenariokit") == scenariokit.__version__


def test_readme_opens_with_the_job_and_two_commands():
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    title, job, *_ = re.split(r"\n\n+", text)
    assert title == "# scenariokit"
    assert len(job.split()) > 40
    assert not job.startswith(("#", "```", "!", "-"))
    blocks = re.findall(r"^```bash\n(.*?)^```", text, flags=re.DOTALL | re.MULTILINE)
    assert len(blocks) == 2
    for block in blocks:
        assert block.count("\n") == 1, "a command must work from one copied line"
        assert "-m venv" in block
        assert "install" in block
    assert "scenariokit serve" in blocks[0]
    assert blocks[1].strip().endswith("pytest")


def test_readme_names_files_that_exist():
    for document in ("README.md", "DEVELOPERS.md", "binder/README.md"):
        text = (ROOT / document).read_text(encoding="utf-8")
        for target in re.findall(r"\]\((?!https?:)([^)#]+)\)", text):
            assert ((ROOT / document).parent / target).exists(), f"{document} names {target}"


def test_top_level_holds_only_what_was_agreed():
    agreed = {
        "README.md", "DEVELOPERS.md", "pyproject.toml", "scenariokit", "notebooks", "tests",
        "binder", "LICENSE", "CITATION.cff", "CHANGELOG.md",
    }  # fmt: skip
    listed = subprocess.run(
        ["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False
    )
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert {name for name in top if not name.startswith(".")} <= agreed


def test_lowest_versions_are_the_low_ends_of_the_ranges():
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    extras = project["optional-dependencies"]
    ranges = {}
    named = ("app", "export", "scale", "test")
    for line in [*project["dependencies"], *(one for name in named for one in extras[name])]:
        found = re.match(r"([a-z-]+)>=([0-9.]+),<[0-9.]+$", line)
        assert found or line.startswith("scenariokit["), f"{line} is no range with both ends"
        if found:
            ranges[found[1]] = (found[2] + ".0.0").split(".")[:3]
    pins = dict(
        line.split("==")
        for line in (ROOT / ".ci" / "lowest.txt").read_text().splitlines()
        if not line.startswith("#")
    )
    assert pins.keys() == ranges.keys()
    for name, pin in pins.items():
        assert pin.split(".") == ranges[name], name


FIRST_CHART = """
import importlib.util, sys
from scenariokit.widgets.board import Board
Board()
assert "altair" in sys.modules
print("rfc3987_syntax" in sys.modules)
if importlib.util.find_spec("rfc3987_syntax"):
    import rfc3987_syntax
    assert rfc3987_syntax.is_valid_syntax("iri", "https://example.org/")
"""


def test_first_chart_waits_for_no_grammars_and_leaves_them_to_others() -> None:
    done = subprocess.run([sys.executable, "-c", FIRST_CHART], capture_output=True, text=True)
    assert (done.stdout, done.stderr) == ("False\n", "")
