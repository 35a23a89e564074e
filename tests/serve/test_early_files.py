"""What a page fetches while its kernel is being made."""

from __future__ import annotations

import gzip
import json
from typing import Any

import pytest

from scenariokit.environment import CODE_VARIABLE
from scenariokit.serve.early_files import chunk_names, code_addresses, code_files, early_links
from scenariokit.serve.static_files import patient
from scenariokit.widgets import ChartView, FieldPanel
from scenariokit.widgets.engine import ChartEngine
from scenariokit.widgets.engine_source import engine_source
from scenariokit.widgets.page_code import ENGINE, FIELD_PANEL, WIDGET_CODE


def test_chunk_names_repeated_piece_is_named_once() -> None:
    assert chunk_names("e(1),x.e(22),y.e(1),e(x)") == ["1.voila.js", "22.voila.js"]


def test_early_links_name_the_main_script_its_pieces_and_the_page_code() -> None:
    links = early_links()
    assert links.count('rel="preload"') > 30
    assert 'href="/voila/static/voila.js"' in links
    for address in code_files():
        assert f'rel="modulepreload" href="{address}"' in links


def test_code_files_drawing_code_is_the_module_packed() -> None:
    address = json.loads(code_addresses())[ENGINE]
    file = code_files()[address]
    assert gzip.decompress(file.zipped) == file.plain == engine_source().encode()
    assert len(file.zipped) < 300_000
    assert file.tag.strip('"') in address


def test_code_files_every_kind_of_widget_has_one_with_its_style() -> None:
    addresses = json.loads(code_addresses())
    assert list(addresses) == [ENGINE, *(one.name for one in WIDGET_CODE)]
    text = code_files()[addresses[FIELD_PANEL.name]].plain.decode()
    assert text.startswith(FIELD_PANEL.script_text)
    assert json.dumps(FIELD_PANEL.style_text) in text


@pytest.fixture
def told(monkeypatch: pytest.MonkeyPatch) -> dict[str, str]:
    """A kernel that is told where page code is served."""
    monkeypatch.setenv(CODE_VARIABLE, code_addresses())
    found: dict[str, str] = json.loads(code_addresses())
    return found


def test_chart_engine_with_an_address_carries_no_libraries(told: dict[str, str]) -> None:
    carried = ChartEngine()._esm
    assert json.dumps(told[ENGINE]) in carried
    assert "__" not in carried
    assert len(carried) < 3_000


@pytest.mark.parametrize("kind", [ChartView, FieldPanel])
def test_page_widget_with_an_address_carries_neither_code_nor_style(
    told: dict[str, str], kind: Any
) -> None:
    widget = kind()
    assert json.dumps(told[kind.CODE.name]) in widget._esm
    assert len(widget._esm) < 1_000
    assert widget._css == ""


@pytest.mark.parametrize("kind", [ChartView, FieldPanel])
def test_page_widget_without_an_address_brings_code_and_style(
    monkeypatch: pytest.MonkeyPatch, kind: Any
) -> None:
    monkeypatch.delenv(CODE_VARIABLE, raising=False)
    widget = kind()
    assert widget._esm == kind.CODE.script_text
    assert widget._css == kind.CODE.style_text


def test_patient_text_without_signs_of_formulas_fetches_nothing() -> None:
    script = b"async typeset(e){try{await this._ensureInitialized()}catch(e){}}"
    assert b"if(!/[$\\\\]/.test(e.textContent))return;try{" in patient(script)
