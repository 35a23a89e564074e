"""The decorator that gives a function of plain floats its units and its checks."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import pint

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.language import tr
from scenariokit.parameters import Parameter


@dataclass(frozen=True)
class Expect:
    """What one argument must be: a parameter of the glossary, perhaps narrowed.

    Parameters
    ----------
    name : str
        Name of the parameter in the glossary.
    above_zero : bool
        Refuse zero, for a quantity that is divided by.
    why : str
        The reason, added to the message when zero is refused.
    optional : bool
        Let ``None`` through unchecked.
    """

    name: str
    above_zero: bool = False
    why: str = ""
    optional: bool = False


def checked(
    result: str | Mapping[str, str] | None, **arguments: str | Expect
) -> Callable[[Callable[..., Any]], Any]:
    """Return a decorator: convert and check the named arguments, attach the result's unit.

    Parameters
    ----------
    result : str, mapping or None
        Unit of the result; for a named tuple a mapping from field to unit;
        ``None`` for a result without unit.
    **arguments : str or Expect
        For each dimensional argument the glossary's parameter that it is.
        Arguments not named here pass untouched.

    Notes
    -----
    The wrapped function takes quantities of any registry, strings such as
    ``"5 cm"``, scalars or arrays of mutually broadcastable shapes; bare numbers
    only where the parameter has no dimension. Its plain float body stays
    reachable as ``function.floats`` for loops that convert once at their edge.
    Every bad argument is reported in one `ArgumentError`. NaN is refused:
    a missing value must be dropped or filled by whoever knows what it means.
    """
    expectations = {
        key: value if isinstance(value, Expect) else Expect(value)
        for key, value in arguments.items()
    }
    described = {key: parameter(value.name) for key, value in expectations.items()}

    def decorate(function: Callable[..., Any]) -> Callable[..., Any]:
        signature = inspect.signature(function)
        missing = set(expectations) - set(signature.parameters)
        if missing:
            raise TypeError(f"{function.__name__} has no argument {', '.join(sorted(missing))}")

        @functools.wraps(function)
        def wrapper(*args: Any, **kwargs: Any) -> Any:
            bound = signature.bind(*args, **kwargs)
            bound.apply_defaults()
            values = bound.arguments
            problems: list[Problem] = []
            for key, expectation in expectations.items():
                if values[key] is None and expectation.optional:
                    continue
                found, problem = to_floats(key, values[key], described[key], expectation)
                values[key] = found
                if problem is not None:
                    problems.append(problem)
            if not problems:
                problems.extend(_shape_problems({key: values[key] for key in expectations}))
            if problems:
                raise argument_error(problems, function.__name__)
            return _attach(function(*bound.args, **bound.kwargs), result)

        wrapper.floats = function  # type: ignore[attr-defined]
        wrapper.expectations = expectations  # type: ignore[attr-defined]
        wrapper.result_unit = result  # type: ignore[attr-defined]
        return wrapper

    return decorate


def to_floats(
    key: str, value: Any, described: Parameter, expectation: Expect | None = None
) -> tuple[Any, Problem | None]:
    """Return `value` as plain floats in the parameter's unit, and what is wrong with it.

    Parameters
    ----------
    key : str
        Name of the argument, for the message.
    value : quantity, str, number or sequence of these
        What the caller gave.
    described : Parameter
        Unit and range.
    expectation : Expect, optional
        A narrower condition.
    """
    try:
        numbers = _convert(value, described)
    except _RefusedError as refusal:
        return value, _problem(key, value, str(refusal), described, "unit")
    except pint.UndefinedUnitError as error:
        names = error.unit_names
        name = names if isinstance(names, str) else ", ".join(names)
        reason = tr("the unit {name!r} is not known", name=name)
        return value, _problem(key, value, reason, described, "unit")
    except pint.DimensionalityError as error:
        reason = tr(
            "the unit is {units1}, of another dimension than {value}",
            units1=error.units1,
            value=described.unit or tr("a number"),
        )
        if str(error.units1) == "dimensionless":
            reason = tr("has no unit; it needs one such as {unit}", unit=described.unit)
        return value, _problem(key, value, reason, described, "unit")
    except (ValueError, TypeError) as error:
        return value, _problem(key, value, str(error), described, "unit")
    bare = not (isinstance(value, str) or hasattr(value, "m_as"))
    reason = _range_reason(numbers, described, expectation, bare)
    if reason:
        return numbers, _problem(key, value, reason, described, "range")
    return numbers, None


class _RefusedError(ValueError):
    """A bare number where a dimension is due, or something that is no number."""


def _convert(value: Any, described: Parameter) -> Any:
    """Return `value` as a float or a float array in the parameter's unit."""
    if isinstance(value, bool | np.bool_):
        raise _RefusedError(tr("is true or false, not a quantity"))
    if isinstance(value, str):
        found = units.parse(value)
        if not found.unit_items() and not units.is_plain_number(described.unit):
            # Percent, g/kg and degrees are ratios too: a bare "0.7" could mean several things.
            raise _RefusedError(tr("has no unit; it needs one such as {unit}", unit=described.unit))
        return float(units.magnitude(found, described.unit))
    if hasattr(value, "m_as"):
        return _plain(units.magnitude(units.adopt(value), described.unit))
    if isinstance(value, list | tuple) and any(
        isinstance(item, str | list | tuple) or hasattr(item, "m_as") for item in value
    ):
        parts = [_convert(item, described) for item in value]
        if len({np.shape(part) for part in parts}) > 1:
            raise _RefusedError(tr("holds values of different shapes"))
        return np.array(parts, dtype=np.float64)
    if value is None:
        raise _RefusedError(tr("is missing"))
    array = np.asanyarray(value)
    if array.dtype.kind not in "iuf":
        raise _RefusedError(tr("is not a number"))
    if not units.is_plain_number(described.unit):
        raise _RefusedError(
            tr("is a bare number; it needs a unit such as {value}", value=described.unit or "%")
        )
    return _plain(array.astype(np.float64))


def _plain(value: Any) -> Any:
    """Return a float for a scalar and a float64 array otherwise."""
    if np.ma.is_masked(value):
        raise _RefusedError(tr("has masked (missing) values"))
    array = np.asarray(value, dtype=np.float64)
    return float(array) if array.ndim == 0 else array


def _range_reason(
    numbers: Any, described: Parameter, expectation: Expect | None, bare: bool
) -> str:
    """Return why `numbers` are outside the allowed range, or an empty text."""
    low, high = float(np.min(numbers, initial=np.inf)), float(np.max(numbers, initial=-np.inf))
    if np.size(numbers) == 0:
        return tr("holds no values")
    if np.isnan(low) or np.isnan(high):
        return tr("holds NaN (a missing value)")
    if np.isinf(low) or np.isinf(high):
        return tr("is not finite")
    slack = 1e-12
    if described.minimum is not None and low < described.minimum - slack * abs(described.minimum):
        return tr("is below the allowed range")
    if described.maximum is not None and high > described.maximum + slack * abs(described.maximum):
        if bare and described.maximum == 1 and not described.unit and high <= 100:
            return tr(
                "is above the allowed range (a share: write {share:g} or '{percent:g} %')",
                share=high / 100, percent=high,
            )  # fmt: skip
        return tr("is above the allowed range")
    if expectation is not None and expectation.above_zero and low <= 0:
        if expectation.why:
            return tr("must be more than zero: {why}", why=tr(expectation.why))
        return tr("must be more than zero")
    return ""


def _problem(key: str, value: Any, reason: str, described: Parameter, kind: str) -> Problem:
    return Problem(
        field=key,
        value=_show(value),
        reason=reason,
        allowed=described.allowed,
        example=f"{key}={described.example}",
        kind=kind,
    )


def _show(value: Any) -> str:
    """Return `value` as a reader would recognise it, never a page long."""
    if isinstance(value, str):
        return repr(value)
    if hasattr(value, "m_as") and np.size(value.magnitude) == 1:
        return f"{value:g~P}"
    return str(value)


def _shape_problems(values: Mapping[str, Any]) -> list[Problem]:
    """Return a problem if the shapes of `values` do not broadcast together."""
    shapes = {key: np.shape(value) for key, value in values.items() if value is not None}
    try:
        np.broadcast_shapes(*shapes.values())
    except ValueError:
        text = ", ".join(f"{key} {shape}" for key, shape in shapes.items() if shape)
        return [Problem("shapes", text, tr("do not broadcast together"), kind="range")]
    return []


def _attach(value: Any, result: str | Mapping[str, str] | None) -> Any:
    """Return `value` with its unit: one quantity, or a named tuple of them."""
    if result is None:
        return value
    if isinstance(result, str):
        return with_unit(value, result)
    fields = {name: with_unit(getattr(value, name), unit) for name, unit in result.items()}
    return value._replace(**fields)


def with_unit(value: Any, unit: str) -> units.Quantity:
    """Return plain floats as a quantity; a scalar of NumPy becomes a float of Python."""
    number = value.item() if isinstance(value, np.generic) else value
    return units.registry().Quantity(number, units.unit_of(unit))


def checked_floats(subject: str, given: Mapping[str, tuple[Any, str | Expect]]) -> dict[str, Any]:
    """Return several values as plain floats, or raise one error that lists all bad ones.

    For functions whose arguments are sequences or mappings of quantities,
    which `checked` cannot name one by one.

    Parameters
    ----------
    subject : str
        Name of the function, for the message.
    given : mapping
        Name of each value, for the message, to the value and what it must be.

    Raises
    ------
    ArgumentError
        If any value has the wrong unit or lies outside its range, or if the
        shapes do not broadcast together.
    """
    problems: list[Problem] = []
    found: dict[str, Any] = {}
    for key, (value, expected) in given.items():
        expectation = expected if isinstance(expected, Expect) else Expect(expected)
        found[key], problem = to_floats(key, value, parameter(expectation.name), expectation)
        if problem is not None:
            problems.append(problem)
    if not problems:
        problems.extend(_shape_problems(found))
    if problems:
        raise argument_error(problems, subject)
    return found


def with_floats(body: Callable[..., Any]) -> Callable[[Callable[..., Any]], Any]:
    """Return a decorator that keeps a plain float `body` as ``function.floats``.

    For functions whose arguments `checked` cannot name, or whose body leaves
    out a check that an ensemble must not fail as a whole.
    """

    def decorate(function: Callable[..., Any]) -> Any:
        function.floats = body  # type: ignore[attr-defined]
        return function

    return decorate
