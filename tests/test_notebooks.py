"""The notebooks are checked for what nbval cannot: that numbers are compared at all."""

from __future__ import annotations

import copy
import re
import subprocess
import sys
from pathlib import Path

import nbformat
import pytest

FOLDER = Path(__file__).parents[1] / "notebooks"
LESSONS = sorted(FOLDER.glob("[0-9]*.ipynb"))
CHECKED = "nbval-check-output"


def read(path):
    return nbformat.read(path, as_version=4)


def tags(cell):
    return set(cell.metadata.get("tags", ()))


def test_notebooks_are_there():
    assert [path.stem[:2] for path in LESSONS] == [
        "00",
        "01",
        "02",
        "03",
        "04",
        "05",
        "06",
        "07",
        "08",
        "09",
        "10",
        "20",
    ]


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_notebook_has_the_parts_of_a_lesson(path):
    book = read(path)
    nbformat.validate(book)
    text = "\n".join(cell.source for cell in book.cells if cell.cell_type == "markdown")
    for word in ("**Aim.**", "**Predict first.**", "## Questions", "## Sources"):
        assert word in text, f"{path.name} lacks {word}"
    assert len(book.cells) <= 25
    assert sum("nbval-ignore-output" in tags(cell) for cell in book.cells) >= 1


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_notebook_checked_cells_keep_a_number(path):
    checked = [cell for cell in read(path).cells if CHECKED in tags(cell)]
    assert checked, f"{path.name} has no cell whose number is compared"
    for cell in checked:
        assert "keep_output" in tags(cell)
        printed = "".join(output.get("text", "") for output in cell.outputs)
        assert re.search(r"\d", printed), f"{path.name}: a checked cell shows no number"


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_notebook_code_is_short_and_stored_only_where_checked(path):
    for cell in read(path).cells:
        if cell.cell_type != "code":
            continue
        assert "def " not in cell.source, "lessons call the package; they define nothing"
        if CHECKED not in tags(cell):
            assert not cell.outputs, f"{path.name}: an output is stored that nothing compares"


def test_nbval_fails_when_a_stored_number_changes(tmp_path):
    """A check that cannot fail is none: change one stored digit and nbval must say so."""
    book = read(FOLDER / "03_reservoir.ipynb")
    book.cells = [
        cell for cell in book.cells if cell.cell_type == "code" and CHECKED in tags(cell)
    ][:1]
    book.cells[0].source = "from scenariokit import reservoir\n" + book.cells[0].source
    for name, stored, status in (("right", None, 0), ("wrong", "7.3 d\n", 1)):
        if stored:
            assert book.cells[0].outputs[0].text != stored
            book.cells[0].outputs[0].text = stored
        path = tmp_path / f"{name}.ipynb"
        nbformat.write(book, path)
        command = [
            sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "-o", "addopts=",
            "-c", str(tmp_path / "none.ini"), "--nbval", "--nbval-current-env", str(path),
        ]  # fmt: skip
        (tmp_path / "none.ini").write_text("[pytest]\n")
        run = subprocess.run(command, capture_output=True, text=True, cwd=tmp_path, check=False)
        assert run.returncode == status, run.stdout[-2000:]


@pytest.mark.parametrize("path", LESSONS, ids=lambda path: path.stem)
def test_notebook_runs_whole_and_twice_with_valid_messages(path):
    """nbval does not validate message types; one run of nbclient does. Cells may run twice."""
    from nbclient import NotebookClient

    book = read(path)
    book.cells = [
        copy.deepcopy(cell)
        for cell in book.cells
        for _ in range(2 if cell.cell_type == "code" else 1)
    ]
    for index, cell in enumerate(book.cells):
        cell["id"] = f"cell-{index}"
    done = NotebookClient(book, timeout=120, kernel_name="python3").execute()
    nbformat.validate(done)
    shown = [
        output
        for cell in done.cells
        if "nbval-ignore-output" in tags(cell)
        for output in cell.outputs
        if output.output_type == "display_data"
    ]
    assert shown
    assert all("application/vnd.jupyter.widget-view+json" in output.data for output in shown)
