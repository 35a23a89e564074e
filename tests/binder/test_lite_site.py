"""What the site for the browser is made of: notebooks that fetch scenariokit first, a start page."""

from __future__ import annotations

import importlib.util
import json
import re
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[2]
BUILD = ROOT / "binder" / "lite" / "build.py"


@pytest.fixture(scope="module")
def lite() -> ModuleType:
    spec = importlib.util.spec_from_file_location("lite_build", BUILD)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_copy_notebooks_puts_the_fetching_cell_before_all_code(
    lite: ModuleType, tmp_path: Path
) -> None:
    books = lite.copy_notebooks(tmp_path / "notebooks")
    assert len(books) == len(list((ROOT / "notebooks").glob("*.ipynb")))
    with_code = 0
    for book in books:
        before = json.loads(book.read_text(encoding="utf-8"))["cells"]
        made = json.loads((tmp_path / "notebooks" / book.name).read_text(encoding="utf-8"))["cells"]
        code = [cell for cell in made if cell["cell_type"] == "code"]
        assert [cell for cell in made if cell["id"] != "in-the-browser"] == before
        if code:
            with_code += 1
            assert 'piplite.install("scenariokit")' in code[0]["source"]
            compile(code[0]["source"].replace("await ", ""), book.name, "exec")
    assert with_code > 8
    assert (tmp_path / "notebooks" / "pictures" / "board.png").is_file()


def test_start_page_links_every_lesson_by_its_heading(lite: ModuleType) -> None:
    books = sorted((ROOT / "notebooks").glob("*.ipynb"))
    page = lite.start_page(books)
    linked = re.findall(r"path=notebooks/(\w+)\.ipynb", page)
    assert linked == [book.stem for book in books if book.stem != "index"]
    assert "The comparison board" in page
    assert 'id="jupyter-config-data"' in page
    assert "invented examples" in page


def test_start_page_fetches_nothing(lite: ModuleType) -> None:
    page = lite.start_page(sorted((ROOT / "notebooks").glob("*.ipynb")))
    assert not re.search(r"https?:|src=|<link", page)


def test_main_into_a_folder_that_is_there_is_refused(
    lite: ModuleType, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit):
        lite.main(["--into", str(tmp_path)])
    assert "is there already" in capsys.readouterr().err
