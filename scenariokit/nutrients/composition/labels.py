"""Fertiliser labels: from the grade on the bag to elements in solution."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, Literal

import numpy as np

from scenariokit.errors import ArgumentError, Problem, argument_error
from scenariokit.glossary import parameter
from scenariokit.language import tr
from scenariokit.nutrients.composition.chemistry import element_from_oxide
from scenariokit.nutrients.composition.contents import key_problems
from scenariokit.quantities import checked_floats, to_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

StatedAs = Literal["element", "oxide"]

_SUBJECT = "from_label"
_GRADE = ("N", "P", "K")
_GRADE_OXIDES = {"P": "P2O5", "K": "K2O"}
_EXTRAS = {"calcium": ("Ca", "CaO"), "magnesium": ("Mg", "MgO"), "sulfur": ("S", "SO3")}
_EXAMPLE = 'grade="15.5-0-0"'
_MICRONUTRIENTS = ("Fe", "Mn", "Zn", "B", "Cu", "Mo", "Cl", "Na")
_ROUNDING = 0.1
"""Percentage points by which the forms of nitrogen may miss the total on a label."""


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
    percents = _grade(grade, _SUBJECT)
    extras = {"calcium": calcium, "magnesium": magnesium, "sulfur": sulfur}
    _require_basis(extras, stated_as, _SUBJECT)
    found = checked_floats(_SUBJECT, {"rate": (rate, "salt_rate")} | _stated(extras))
    _require_sum(grade, percents, [found[name] for name in extras if name in found], _SUBJECT)
    shares = _main_shares(percents, found, stated_as)
    return {
        element: with_unit(share * found["rate"] * 1000, "mg/L")
        for element, share in shares.items()
    }


def label_shares(
    grade: str | Sequence[Any],
    *,
    calcium: QuantityLike | None = None,
    magnesium: QuantityLike | None = None,
    sulfur: QuantityLike | None = None,
    nitrate: QuantityLike | None = None,
    ammonium: QuantityLike | None = None,
    urea: QuantityLike | None = None,
    micronutrients: Mapping[str, QuantityLike] | None = None,
    stated_as: StatedAs | None = None,
) -> dict[str, Quantity]:
    """Return what a gram of a labelled fertiliser holds, in the terms of its label.

    Share of element = percent / 100 x mass share of the element in what the
    percent counts.

    Parameters
    ----------
    grade : str or sequence of three
        N-P2O5-K2O: ``"15.5-0-0"``; or three percentages, as numbers or as
        ``"15.5 %"``.
    calcium, magnesium, sulfur : quantity, optional
        What the label declares besides, for example ``"19 %"``.
    nitrate, ammonium, urea : quantity, optional
        The declared split of total nitrogen, each in percent of N. With any of
        them, the others count as zero, and together they must make the total.
    micronutrients : mapping of str to quantity, optional
        Fe, Mn, Zn, B, Cu, Mo, and also Cl and Na, to the percent declared, each
        counted as the element.
    stated_as : {'element', 'oxide'}
        Whether calcium, magnesium and sulfur are Ca, Mg, S or CaO, MgO, SO3. It
        must be given with any of the three.

    Returns
    -------
    dict of str to quantity
        Content key to grams in a gram of product, a plain share of 0 to 1; what
        the label does not bring is left out. With a split ``N`` is the sum of
        its parts, ``N_nitrate``, ``N_ammonium`` and ``N_urea``; without one only
        ``N`` is there, for the form is unknown.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, if all percentages add to over 100,
        or if a grade looks like fractions.
    ArgumentError
        If the grade is not three numbers, is empty, `stated_as` is missing, a
        micronutrient is unknown, or the split misses the total nitrogen by more
        than 0.1 percentage points.

    Notes
    -----
    The 0.1 points allow for the rounding of a printed label (common practice,
    no published source).

    Examples
    --------
    >>> found = label_shares(
    ...     "15.5-0-0", calcium="19 %", stated_as="element", nitrate="14.4 %", ammonium="1.1 %"
    ... )
    >>> [f"{key} {share.m_as('percent'):.1f}" for key, share in found.items()]
    ['N 15.5', 'N_nitrate 14.4', 'N_ammonium 1.1', 'Ca 19.0']
    """
    subject = "label_shares"
    percents = _grade(grade, subject)
    extras = {"calcium": calcium, "magnesium": magnesium, "sulfur": sulfur}
    _require_basis(extras, stated_as, subject)
    split = {"nitrate": nitrate, "ammonium": ammonium, "urea": urea}
    traces, problems = _traces(micronutrients)
    try:
        found = checked_floats(subject, _stated({**extras, **split, **traces}))
    except ArgumentError as error:
        problems += error.problems
    else:
        problems += [
            Problem(name, str(value), tr("must be one number"), example=f'{name}="5 %"')
            for name, value in found.items()
            if np.ndim(value) > 0
        ]
    if problems:
        raise argument_error(problems, subject)
    besides = [value for name, value in found.items() if name not in split]
    _require_sum(grade, percents, besides, subject)
    shares = {
        **_nitrogen_shares(percents[0], {name: found[name] for name in split if name in found}),
        **{key: value for key, value in _main_shares(percents, found, stated_as).items()
           if key != "N"},
        **{element: found[key] / 100 for key, element in
           ((key, key.removeprefix("micronutrients[").rstrip("]")) for key in traces)},
    }  # fmt: skip
    return {key: with_unit(share, "") for key, share in shares.items() if share > 0}


def _traces(given: Mapping[str, QuantityLike] | None) -> tuple[dict[str, Any], list[Problem]]:
    """Return the declared micronutrients by the name of the argument, and what is wrong."""
    problems = key_problems({} if given is None else given, _MICRONUTRIENTS, "micronutrients")
    if problems or given is None:
        return {}, problems
    return {f"micronutrients[{element}]": value for element, value in given.items()}, []


def _nitrogen_shares(total: float, split: Mapping[str, float]) -> dict[str, float]:
    """Return the shares of nitrogen, with its forms where the label tells them."""
    if not split:
        return {"N": total / 100}
    known = sum(split.values())
    if abs(known - total) > _ROUNDING + 1e-9:
        parts = " + ".join(f"{name} {value:g}" for name, value in split.items())
        reason = tr("makes {known:g} % N, but the grade says {total:g}", known=known, total=total)
        allowed = tr(
            "{total:g} %, give or take {rounding:g}; name every form that is not zero",
            total=total,
            rounding=_ROUNDING,
        )
        raise argument_error(
            [Problem(tr("nitrogen split"), parts, reason, allowed)], "label_shares"
        )
    return {"N": known / 100, **{f"N_{name}": value / 100 for name, value in split.items()}}


def _main_shares(
    percents: Sequence[float], found: Mapping[str, Any], stated_as: str | None
) -> dict[str, Any]:
    """Return the shares of N, P, K, Ca, Mg and S as elements."""
    shares = {
        element: _element_share(percent, _GRADE_OXIDES.get(element))
        for element, percent in zip(_GRADE, percents, strict=True)
    }
    for name, (element, oxide) in _EXTRAS.items():
        percent = found.get(name, 0.0)
        shares[element] = _element_share(percent, oxide if stated_as == "oxide" else None)
    return shares


def _require_sum(
    grade: Any, percents: Sequence[float], besides: Sequence[Any], subject: str
) -> None:
    """Raise if a label declares more than the whole, or nothing."""
    total = sum(percents) + sum(float(np.max(value)) for value in besides)
    if total > 100 + 1e-9:
        problem = Problem("grade", str(grade), tr("the percentages add to {total:g}", total=total), tr("up to 100"),
                          _EXAMPLE, kind="range")  # fmt: skip
        raise argument_error([problem], subject)
    if total == 0:
        problem = Problem("grade", str(grade), tr("names no nutrient at all"), "", _EXAMPLE)
        raise argument_error([problem], subject)


def _element_share(percent: Any, oxide: str | None) -> Any:
    """Return the share of element in the fertiliser from the percent on the label."""
    if oxide is None:
        return percent / 100
    return element_from_oxide(with_unit(percent, "percent"), oxide).m_as("")


def _grade(grade: str | Sequence[Any], subject: str) -> list[float]:
    """Return the three percentages of a grade, checked."""
    parts = grade.strip().split("-") if isinstance(grade, str) else list(grade)
    explicit = not isinstance(grade, str) and all(
        isinstance(part, str) or hasattr(part, "m_as") for part in parts
    )
    problems, percents = [], []
    if len(parts) != 3:
        reason = tr("must be three numbers, N-P2O5-K2O")
        raise argument_error([Problem("grade", str(grade), reason, "", _EXAMPLE)], subject)
    for name, part in zip(_GRADE, parts, strict=True):
        percent, problem = _percent(f"grade[{name}]", part)
        percents.append(percent)
        if problem is not None:
            problems.append(problem)
    if not problems and not explicit and 0 < max(percents) < 1:
        written = "-".join(f"{100 * percent:g}" for percent in percents)
        reason = tr("looks like fractions; write percent, {written}", written=written)
        allowed = tr('percent; if it is so weak a feed, write each as ("0.5 %", "0.3 %", "0.6 %")')
        problems.append(Problem("grade", str(grade), reason, allowed, _EXAMPLE, kind="range"))
    if problems:
        raise argument_error(problems, subject)
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
        problem = Problem(key, str(part), tr("must be one number"), "", _EXAMPLE)
    return number, problem


def _stated(given: Mapping[str, Any]) -> dict[str, tuple[Any, str]]:
    """Return the percents that are declared, each with what it must be."""
    return {name: (value, "label_share") for name, value in given.items() if value is not None}


def _require_basis(extras: Mapping[str, Any], stated_as: str | None, subject: str) -> None:
    """Raise if the label declares calcium, magnesium or sulfur without saying as what."""
    named = [name for name, value in extras.items() if value is not None]
    if (named or stated_as is not None) and stated_as not in ("element", "oxide"):
        reason = tr(
            "must say whether {names} count element or oxide",
            names=", ".join(named) or tr("the extras"),
        )
        problem = Problem("stated_as", str(stated_as), reason, tr("'element' (Ca, Mg, S) or 'oxide' (CaO, MgO, SO3)"), 'stated_as="element"')  # fmt: skip
        raise argument_error([problem], subject)
