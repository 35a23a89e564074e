"""What a chart widget holds and refuses, without a page."""

from __future__ import annotations

import subprocess
import sys
from typing import Any

import altair as alt
import numpy as np
import pytest

from scenariokit.errors import ArgumentError
from scenariokit.language import language_as, tr
from scenariokit.widgets.chart_view import ChartView, parameter_names, plain_rows, source_names
from scenariokit.widgets.engine import chart_engine, engine_key


def chart(name: str = "rows", description: str = "Bars") -> Any:
    return (
        alt.Chart(alt.NamedData(name=name), description=description)
        .mark_bar()
        .encode(x="value:Q", y="method:N")
        .add_params(alt.param(name="marked", value=[]), alt.param(name="top", value=1))
    )


def sent(view: ChartView, monkeypatch: pytest.MonkeyPatch) -> list[dict[str, Any]]:
    """Return the list to which every state that `view` sends is added."""
    states: list[dict[str, Any]] = []

    def send_state(key: Any = None) -> None:
        states.append(view.get_state(key=key))

    monkeypatch.setattr(view, "send_state", send_state)
    return states


def test_from_altair_named_data_takes_specification_and_description() -> None:
    view = ChartView.from_altair(chart(), heading="Yield", selection_field="method")
    assert view.spec["mark"]["type"] == "bar"
    assert view.description == "Bars"
    assert view.engine == f"IPY_MODEL_{chart_engine().model_id}"
    assert view.engine_key == engine_key()


def test_update_sends_rows_signals_and_table_in_one_message(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    view = ChartView.from_altair(chart())
    states = sent(view, monkeypatch)
    view.update({"rows": [{"method": "a", "value": 1.5}]}, {"top": 3.0}, [["M", "V"], ["a", "1.5"]])
    assert len(states) == 1
    assert set(states[0]) == {"datasets", "signals", "table_columns", "table_rows"}
    assert states[0]["datasets"] == {"rows": [{"method": "a", "value": 1.5}]}
    assert states[0]["table_rows"] == [["a", "1.5"]]


def test_update_same_values_again_sends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    view = ChartView.from_altair(chart())
    view.update({"rows": [{"value": 1.0}]}, {"top": 2})
    states = sent(view, monkeypatch)
    view.update({"rows": [{"value": 1.0}]}, {"top": 2})
    assert all(not state for state in states)


def test_update_unknown_names_are_all_refused_with_the_known_ones() -> None:
    view = ChartView.from_altair(chart(), heading="Yield")
    with pytest.raises(ArgumentError, match=r"chart 'Yield'.*no such data source.*allowed: rows"):
        view.update({"row": []})
    with pytest.raises(ArgumentError, match=r"(?s)2 problems.*\bbottom\b.*marked, top"):
        view.update(signals={"bottom": 1, "left": 2})
    assert view.datasets == {}


@pytest.mark.parametrize("value", [float("nan"), float("inf"), np.float64("nan"), 1j, {"a": 1}])
def test_plain_rows_undrawable_value_is_refused_with_its_place(value: Any) -> None:
    with pytest.raises(ArgumentError, match=r"row 2: rows\.value"):
        plain_rows("rows", [{"value": 1}, {"value": value}])


def test_plain_rows_numpy_values_become_plain() -> None:
    row = {"a": np.float64(1.5), "b": np.int64(2), "c": np.bool_(True), "d": None, "e": ("x", 1)}
    (plain,) = plain_rows("rows", [row])
    assert plain == {"a": 1.5, "b": 2, "c": True, "d": None, "e": ["x", 1]}
    assert [type(plain[key]) for key in "abc"] == [float, int, bool]


def test_show_other_chart_drops_what_it_has_no_place_for() -> None:
    view = ChartView.from_altair(chart("old"))
    view.update({"old": [{"value": 1}]}, {"top": 2})
    view.show(chart("new", "Other bars"))
    assert view.datasets == {}
    assert view.signals == {"top": 2}
    assert view.description == "Other bars"


def test_show_equal_chart_sends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    spec = chart().to_dict()
    view = ChartView()
    view.show(spec)
    states = sent(view, monkeypatch)
    view.show(dict(spec))
    assert all("spec" not in state for state in states)


def test_draw_same_chart_is_made_once_for_each_language() -> None:
    made: list[list[tuple[str, str]]] = []

    def make(methods: list[tuple[str, str]], source: str) -> alt.Chart:
        made.append(methods)
        return chart(source, tr("Method"))

    first, second = ChartView(), ChartView()
    first.draw(make, [("wick", "Wick tank")], "rows")
    second.draw(make, [("wick", "Wick tank")], "rows")
    assert len(made) == 1
    assert first.spec == second.spec == chart("rows", tr("Method")).to_dict()
    with language_as("es"):
        second.draw(make, [("wick", "Wick tank")], "rows")
    assert second.description == "Método"
    second.draw(make, [("float", "Float tank")], "rows")
    assert len(made) == 3


def test_names_nested_specification_are_all_found() -> None:
    spec = {
        "params": [{"name": "a"}],
        "vconcat": [
            {"data": {"name": "one"}, "params": [{"name": "b"}]},
            {"layer": [{"data": {"name": "two"}}, {"params": [{"name": "c"}]}]},
        ],
        "transform": [{"lookup": "x", "from": {"data": {"name": "three"}}}],
    }
    assert set(source_names(spec)) == {"one", "two", "three"}
    assert set(parameter_names(spec)) == {"a", "b", "c"}


def test_selected_two_views_of_one_kernel_do_not_touch() -> None:
    first, second = ChartView(), ChartView()
    first.selected = ["bag"]
    assert second.selected == []


def test_import_of_widgets_leaves_altair_unloaded() -> None:
    code = (
        "import sys, scenariokit.widgets as w; w.ChartView(); w.FilePicker();"
        "sys.exit('altair' in sys.modules)"
    )
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
