"""What a page fetches while its kernel is being made."""

from __future__ import annotations

import gzip

import pytest

from scenariokit.serve.early_files import chunk_names, early_links, engine_address, engine_file
from scenariokit.serve.static_files import patient
from scenariokit.widgets.engine import ChartEngine
from scenariokit.widgets.engine_source import ENGINE_VARIABLE, engine_source


def test_chunk_names_repeated_piece_is_named_once() -> None:
    assert chunk_names("e(1),x.e(22),y.e(1),e(x)") == ["1.voila.js", "22.voila.js"]


def test_early_links_name_the_main_script_its_pieces_and_the_drawing_code() -> None:
    links = early_links()
    assert links.count('rel="preload"') > 30
    assert 'href="/voila/static/voila.js"' in links
    assert f'rel="modulepreload" href="{engine_address()}"' in links


def test_engine_file_is_the_module_packed() -> None:
    file = engine_file()
    assert gzip.decompress(file.zipped) == file.plain == engine_source().encode()
    assert len(file.zipped) < 300_000
    assert file.tag.strip('"') in engine_address()


def test_chart_engine_with_an_address_carries_no_libraries(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv(ENGINE_VARIABLE, engine_address())
    carried = ChartEngine()._esm
    assert engine_address() in carried
    assert len(carried) < 3_000


def test_patient_text_without_signs_of_formulas_fetches_nothing() -> None:
    script = b"async typeset(e){try{await this._ensureInitialized()}catch(e){}}"
    assert b"if(!/[$\\\\]/.test(e.textContent))return;try{" in patient(script)
