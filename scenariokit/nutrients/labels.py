"""Fertiliser labels: from the grade on the bag to elements in solution."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.nutrients.chemistry import element_from_oxide
from scenariokit.quantities import checked_floats, to_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

StatedAs = Literal["element", "oxide"]

_SUBJECT = "from_label"
_GRADE = ("N", "P", "K")
_GRADE_OXIDES = {"P": "P2O5", "K": "K2O"}
_EXTRAS = {"calcium": ("Ca", "CaO"), "magnesium": ("Mg", "MgO"), "sulfur": ("S", "SO3")}
_EXAMPLE = 'grade="15.5-0-0"'


def from_label(
    grade: str | Sequence[Any],
    rate: QuantityLike,
    calcium: QuantityLike | None = None,
    magnesium: QuantityLike | None = None,
    sulfur: QuantityLike | None = None,
    stated_as: StatedAs | None = None,
) -> dict[str, Quantity]:
    """Return the elements that a labelled fertiliser brings into solution.

    A grade N-P2O5-K2O is mass percent of total nitrogen, phosphate and potash.
    Element [mg/L] = rate [g/L] x 1000 x percent / 100 x share of element.

    Parameters
    ----------
    grade : str or sequence of three
        ``"15.5-0-0"``; or three percentages, as numbers or as ``"15.5 %"``.
    rate : quantity
        Fertiliser in each litre of solution [g/L], scalar or array, 0 or more.
    calcium, magnesium, sulfur : quantity, optional
        What the label declares besides, for example ``"19 %"``.
    stated_as : {'element', 'oxide'}
        Whether these are Ca, Mg, S or CaO, MgO, SO3. Labels differ by country,
        so there is no default: it must be given with any of the three.

    Returns
    -------
    dict of str to quantity
        ``N``, ``P``, ``K``, ``Ca``, ``Mg``, ``S`` [mg/L], as elements. N is
        total nitrogen; a grade does not tell nitrate from ammonium or urea.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, if all percentages add to over 100,
        or if a grade looks like fractions.
    ArgumentError
        If the grade is not three numbers, is empty, or `stated_as` is missing.

    Notes
    -----
    Where the law counts P and K as elements on the label, this convention does
    not hold.

    Warnings
    --------
    Keep fertilisers dry, locked, in their own bags and out of reach of
    children. Nitrates feed fire: away from fuel, straw, paper and acids.

    Examples
    --------
    >>> found = from_label("15.5-0-0", "0.6452 g/L", calcium="19 %", stated_as="element")
    >>> [f"{name} {found[name].m_as('mg/L'):.1f}" for name in ("N", "P", "Ca")]
    ['N 100.0', 'P 0.0', 'Ca 122.6']
    """
    percents = _grade(grade)
    extras = _extras({"calcium": calcium, "magnesium": magnesium, "sulfur": sulfur}, stated_as)
    found = checked_floats(_SUBJECT, {"rate": (rate, "salt_rate")} | extras)
    total = sum(percents) + sum(np.max(found[name]) for name in extras)
    if total > 100 + 1e-9:
        problem = Problem("grade", str(grade), f"the percentages add to {total:g}", "up to 100",
                          _EXAMPLE, kind="range")  # fmt: skip
        raise argument_error([problem], _SUBJECT)
    if total == 0:
        problem = Problem("grade", str(grade), "names no nutrient at all", "", _EXAMPLE)
        raise argument_error([problem], _SUBJECT)
    shares: dict[str, Any] = {}
    for element, percent in zip(_GRADE, percents, strict=True):
        shares[element] = _element_share(percent, _GRADE_OXIDES.get(element))
    for name, (element, oxide) in _EXTRAS.items():
        percent = found.get(name, 0.0)
        shares[element] = _element_share(percent, oxide if stated_as == "oxide" else None)
    return {
        element: with_unit(share * found["rate"] * 1000, "mg/L")
        for element, share in shares.items()
    }


def _element_share(percent: Any, oxide: str | None) -> Any:
    """Return the share of element in the fertiliser from the percent on the label."""
    if oxide is None:
        return percent / 100
    return element_from_oxide(with_unit(percent, "percent"), oxide).m_as("")


def _grade(grade: str | Sequence[Any]) -> list[float]:
    """Return the three percentages of a grade, checked."""
    parts = grade.strip().split("-") if isinstance(grade, str) else list(grade)
    explicit = not isinstance(grade, str) and all(
        isinstance(part, str) or hasattr(part, "m_as") for part in parts
    )
    problems, percents = [], []
    if len(parts) != 3:
        reason = "must be three numbers, N-P2O5-K2O"
        raise argument_error([Problem("grade", str(grade), reason, "", _EXAMPLE)], _SUBJECT)
    for name, part in zip(_GRADE, parts, strict=True):
        percent, problem = _percent(f"grade[{name}]", part)
        percents.append(percent)
        if problem is not None:
            problems.append(problem)
    if not problems and not explicit and 0 < max(percents) < 1:
        written = "-".join(f"{100 * percent:g}" for percent in percents)
        reason = f"looks like fractions; write percent, {written}"
        allowed = 'percent; if it is so weak a feed, write each as ("0.5 %", "0.3 %", "0.6 %")'
        problems.append(Problem("grade", str(grade), reason, allowed, _EXAMPLE, kind="range"))
    if problems:
        raise argument_error(problems, _SUBJECT)
    return percents


def _percent(key: str, part: Any) -> tuple[Any, Problem | None]:
    """Return one number of a grade; a bare one is percent, as on the bag."""
    text = part.strip() if isinstance(part, str) else part
    if isinstance(text, str) and "%" not in text and "percent" not in text:
        text = f"{text} %"
    elif not isinstance(text, str | bool) and isinstance(text, int | float | np.number):
        text = with_unit(float(text), "percent")
    number, problem = to_floats(key, text, parameter("label_share"))
    if problem is None and np.ndim(number) > 0:
        problem = Problem(key, str(part), "must be one number", "", _EXAMPLE)
    return number, problem


def _extras(given: dict[str, Any], stated_as: str | None) -> dict[str, tuple[Any, str]]:
    """Return the declared extras, refusing them if it is not said what they count."""
    extras = {name: (value, "label_share") for name, value in given.items() if value is not None}
    if (extras or stated_as is not None) and stated_as not in ("element", "oxide"):
        reason = f"must say whether {', '.join(extras) or 'the extras'} count element or oxide"
        problem = Problem("stated_as", str(stated_as), reason, "'element' (Ca, Mg, S) or 'oxide' "
                          "(CaO, MgO, SO3)", 'stated_as="element"')  # fmt: skip
        raise argument_error([problem], _SUBJECT)
    return extras
