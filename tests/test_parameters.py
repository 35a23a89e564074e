from __future__ import annotations

import dataclasses
import importlib

import pytest

import scenariokit
from scenariokit import PARAMETERS, errors, parameter, quantity, units
from scenariokit.errors import Problem, argument_error, shorten
from scenariokit.parameters import Outcome, Parameter

DEPTH = Parameter("d", "d", "Depth", "cm", 0, 500, (0, 40, 0.5), 5, "Depth.", "x", "tank", "inch")


def changed(**values):
    return dataclasses.replace(DEPTH, **values)


@pytest.mark.parametrize(
    ("minimum", "maximum", "unit", "words"),
    [
        (0, 500, "cm", "0 to 500 cm"), (0, 1, "", "0 to 1"), (2, None, "cm", "2 cm or more"),
        (None, 9, "cm", "9 cm or less"), (None, None, "cm", "any number of cm"),
        (None, None, "", "any number"),
    ],
)  # fmt: skip
def test_parameter_allowed_says_range_in_words(minimum, maximum, unit, words):
    assert changed(minimum=minimum, maximum=maximum, unit=unit).allowed == words


def test_parameter_example_has_quotes_only_with_unit():
    assert DEPTH.example == '"5 cm"'
    assert changed(unit="").example == "5"


def test_parameter_shown_unit_follows_system():
    assert DEPTH.shown_unit("metric") == "cm"
    assert DEPTH.shown_unit("us") == "inch"
    assert changed(us_unit="").shown_unit("us") == "cm"


def test_outcome_shown_unit_follows_system():
    outcome = Outcome("y", "Yield", "kg/m^2", "higher", "yield", "m / A", "lb/ft^2")
    assert outcome.shown_unit("metric") == "kg/m^2"
    assert outcome.shown_unit("us") == "lb/ft^2"
    assert dataclasses.replace(outcome, us_unit="").shown_unit("us") == "kg/m^2"


def test_parameter_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        DEPTH.unit = "m"


def test_parameter_unknown_name_lists_known():
    with pytest.raises(KeyError, match="yield_per_area"):
        parameter("nothing")


@pytest.mark.parametrize("row", PARAMETERS.values(), ids=PARAMETERS)
def test_glossary_every_row_is_complete_and_consistent(row):
    assert row.name.isidentifier()
    assert row.name == row.name.lower()
    assert all((row.symbol, row.label, row.help, row.source, row.topic))
    assert row.help.rstrip().endswith((".", ")"))
    low, high, step = row.slider
    assert low < high
    assert 0 < step <= (high - low)
    for value in (low, high, row.default):
        assert row.minimum is None or value >= row.minimum
        assert row.maximum is None or value <= row.maximum
    assert low <= row.default <= high


@pytest.mark.parametrize("row", PARAMETERS.values(), ids=PARAMETERS)
def test_glossary_every_unit_is_known_and_us_unit_fits(row):
    units.unit_of(row.unit)
    if row.us_unit:
        assert quantity(1, row.us_unit).is_compatible_with(units.unit_of(row.unit))


@pytest.mark.parametrize("row", PARAMETERS.values(), ids=PARAMETERS)
def test_glossary_every_example_is_accepted(row):
    from scenariokit.quantities import to_floats

    example = row.example.strip('"')
    found, problem = to_floats(row.name, example if row.unit else float(example), row)
    assert problem is None
    assert found == pytest.approx(row.default, rel=1e-5)


def test_glossary_names_are_unique():
    from scenariokit import glossary

    assert len(PARAMETERS) == len(glossary._ROWS)


def test_problem_text_says_what_where_which_and_what_is_allowed():
    problem = Problem("depth", "-1 cm", "is below", "0 to 500 cm", '"5 cm"', file="a.csv", row=3)
    assert str(problem) == (
        'a.csv, row 3: depth = -1 cm: is below; allowed: 0 to 500 cm; for example "5 cm"'
    )


def test_problem_text_row_without_file_and_bare_reason():
    assert str(Problem("depth", "", "is missing", row=2)) == "row 2: depth: is missing"
    assert str(Problem("depth", "", "is missing", file="a.csv")) == "a.csv: depth: is missing"


def test_shorten_long_text_is_cut_and_flattened():
    assert shorten("a\n  b") == "a b"
    assert len(shorten("x" * 100)) == 60
    assert shorten("x" * 100).endswith("…")


@pytest.mark.parametrize(
    ("kinds", "kind"),
    [(["unit"], errors.UnitError), (["range", "range"], errors.RangeError),
     (["unit", "range"], errors.ArgumentError), (["record"], errors.ArgumentError)],
)  # fmt: skip
def test_argument_error_narrowest_class_is_chosen(kinds, kind):
    problems = [Problem(f"a{n}", "1", "is wrong", kind=k) for n, k in enumerate(kinds)]
    assert type(argument_error(problems, "f")) is kind


def test_problems_error_one_or_several_rows_read_well():
    one = errors.RecordError([Problem("a", "1", "is wrong")])
    assert str(one) == "a = 1: is wrong"
    two = errors.RecordError([Problem("a", "1", "x"), Problem("b", "2", "y")], "plots.csv")
    assert str(two) == "plots.csv: 2 problems\n  - a = 1: x\n  - b = 2: y"
    assert str(errors.RecordError(two.problems)).startswith("2 problems")
    assert [problem.field for problem in two.problems] == ["a", "b"]


@pytest.mark.parametrize(
    "name", ["ArgumentError", "UnitError", "RangeError", "RecordError", "InfeasibleError",
             "ScenarioFileError"],
)  # fmt: skip
def test_errors_all_are_value_errors_of_one_family(name):
    kind = getattr(scenariokit, name)
    assert issubclass(kind, scenariokit.ScenarioKitError)
    assert issubclass(kind, ValueError)


def test_package_unknown_name_lists_known():
    with pytest.raises(AttributeError, match="quantity"):
        scenariokit.nothing  # noqa: B018


def test_package_dir_lists_public_names():
    assert {"quantity", "yields", "__version__"} <= set(dir(scenariokit))


def test_package_room_is_imported_when_asked_for():
    assert scenariokit.yields is importlib.import_module("scenariokit.yields")
