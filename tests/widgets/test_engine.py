"""The drawing code as text, and the one widget that carries it."""

from __future__ import annotations

from scenariokit.widgets import engine


def test_engine_source_holds_every_library_once_and_no_source_map() -> None:
    source = engine.engine_source()
    for row in engine.vendored():
        assert source.count(f'["{row["name"]}", function') == 1
    assert "sourceMappingURL" not in source
    assert "__ENGINE_KEY__" not in source
    assert "__SOURCES__" not in source


def test_engine_key_names_the_versions() -> None:
    for row in engine.vendored():
        assert f"{row['name']}-{row['version']}" in engine.engine_key()
    assert engine.engine_key() in engine.engine_source()


def test_chart_engine_asked_twice_is_one_and_after_close_another() -> None:
    first = engine.chart_engine()
    assert engine.chart_engine() is first
    first.close()
    second = engine.chart_engine()
    assert second is not first
    assert second._esm == engine.engine_source()
