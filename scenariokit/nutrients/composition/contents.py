"""What a solution holds: the keys of a content, and the sum of fertilisers and water."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import TYPE_CHECKING, Any

import numpy as np

from scenariokit.errors import ArgumentError, Problem, argument_error
from scenariokit.language import tr
from scenariokit.quantities import checked_floats, with_floats, with_unit
from scenariokit.units import Quantity, QuantityLike

if TYPE_CHECKING:
    from scenariokit.nutrients.composition.product import Fertiliser

FORMS = ("N_nitrate", "N_ammonium", "N_urea")
"""The known forms of nitrogen, each counted as N."""

CONTENT = (
    "N", *FORMS, "P", "K", "Ca", "Mg", "S", "Cl", "Na", "Fe", "Mn", "Zn", "B", "Cu", "Mo", "HCO3",
)  # fmt: skip
"""Keys of a content: masses of the element, and bicarbonate as HCO3."""

IONS = ("K", "Na", "NH4", "Ca", "Mg", "H", "NO3", "Cl", "SO4", "H2PO4", "HCO3")
"""Ions that a solution is taken to hold."""

ALWAYS = ("N", "N_nitrate", "N_ammonium", "P", "K", "Ca", "Mg", "S")
"""Always in a content, zero where there is none."""

_ROUNDING = 1.01


def with_total_nitrogen(content: Mapping[str, Any]) -> dict[str, Any]:
    """Return plain contents or shares with ``N`` filled by its forms where it is missing."""
    forms = [content[form] for form in FORMS if form in content]
    if "N" in content or not forms:
        return dict(content)
    return {"N": sum(forms[1:], start=forms[0]), **content}


def key_problems(given: Mapping[str, Any], allowed: Iterable[str], field: str) -> list[Problem]:
    """Return a problem for each key of `given` that is not allowed."""
    known = tuple(allowed)
    if not isinstance(given, Mapping):
        return [Problem(field, str(given), tr("must map keys to quantities"), ", ".join(known))]
    return [
        Problem(f"{field}[{key}]", str(value), tr("is not a known key"), ", ".join(known))
        for key, value in given.items()
        if key not in known
    ]


def checked_content(
    content: Mapping[str, QuantityLike], subject: str, field: str = "content"
) -> dict[str, Any]:
    """Return a content as plain floats in mg/L.

    Parameters
    ----------
    content : mapping of str to quantity
        Content key to concentration.
    subject, field : str
        Names of the function and its argument, for the message.

    Raises
    ------
    ArgumentError
        If a key is unknown, or a value has the wrong unit or lies outside its
        range, all at once; or if the forms of nitrogen exceed the total by more
        than a hundredth, which rounding would not explain.
    """
    floats = checked_keys(content, CONTENT, "concentration", subject, field)
    problems = _nitrogen_problems(floats, field)
    if problems:
        raise argument_error(problems, subject)
    return floats


def _nitrogen_problems(floats: Mapping[str, Any], field: str) -> list[Problem]:
    """Return a problem if a total of nitrogen is less than the forms of it."""
    forms = sum(np.asarray(floats[form]) for form in FORMS if form in floats)
    if "N" not in floats or not np.any(forms > _ROUNDING * np.asarray(floats["N"])):
        return []
    reason = tr("is less than its forms together, {forms:g} mg/L", forms=np.max(forms))
    allowed = tr("total nitrogen, or only the forms")
    return [Problem(f"{field}[N]", f"{floats['N']} mg/L", reason, allowed, kind="range")]


def checked_keys(
    given: Mapping[str, QuantityLike], allowed: Iterable[str], name: str, subject: str, field: str
) -> dict[str, Any]:
    """Return a mapping of quantities, each the parameter `name`, as plain floats.

    Raises
    ------
    ArgumentError
        If a key is not allowed, or a value has the wrong unit or lies outside
        its range; all at once.
    """
    problems = key_problems(given, allowed, field)
    found, more = _floats_of(given, name, subject, field)
    if problems or more:
        raise argument_error([*problems, *more], subject)
    return found


def _floats_of(
    given: Any, name: str, subject: str, field: str
) -> tuple[dict[str, Any], list[Problem]]:
    """Return the values of a mapping as plain floats, and what is wrong with them."""
    if not isinstance(given, Mapping):
        return {}, []
    expected = {f"{field}[{key}]": (value, name) for key, value in given.items()}
    try:
        found = checked_floats(subject, expected)
    except ArgumentError as error:
        return {}, list(error.problems)
    return {key: found[f"{field}[{key}]"] for key in given}, []


def _content_floats(
    rates: Mapping[str, Any],
    fertilisers: Mapping[str, Fertiliser],
    water: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """Return content in mg/L from plain rates in g/L and plain water contents in mg/L."""
    start = with_total_nitrogen(water or {})
    given = (*rates.values(), *start.values())
    zero = np.zeros(np.broadcast_shapes(*(np.shape(value) for value in given)))[()]
    total: dict[str, Any] = dict.fromkeys(ALWAYS, zero)
    for key, value in start.items():
        total[key] = zero + value
    for name, rate in rates.items():
        for key, share in fertilisers[name].shares.items():
            total[key] = total.get(key, zero) + 1000 * share * rate
    return {key: total[key] for key in CONTENT if key in total}


@with_floats(_content_floats)
def content_of(
    rates: Mapping[str, QuantityLike],
    fertilisers: Mapping[str, Fertiliser],
    water: Mapping[str, QuantityLike] | None = None,
) -> dict[str, Quantity]:
    """Return what a solution holds: its fertilisers and the water they go into.

    Content [mg/L] = water [mg/L] + sum of rate [g/L] x 1000 x share.

    Parameters
    ----------
    rates : mapping of str to quantity
        Fertiliser id to grams in each litre of ready solution [g/L], scalar or
        array, 0 or more. Empty for plain water.
    fertilisers : mapping of str to Fertiliser
        Each fertiliser by its id; others may be in it too.
    water : mapping of str to quantity, optional
        Content of the source water [mg/L]; pure water if left out.

    Returns
    -------
    dict of str to quantity
        Content key to concentration [mg/L]. N, N_nitrate, N_ammonium, P, K, Ca,
        Mg and S are always there, others where something brings them.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If a fertiliser or a key of the water is unknown, or shapes do not
        broadcast together.

    Notes
    -----
    Bicarbonate of the water is carried through as it is; acid that removes it
    is a matter of the water, not of this sum. Nothing is said about whether all
    stays dissolved.

    Examples
    --------
    >>> from scenariokit.nutrients.composition.fertilisers import shelf
    >>> rates = {"potassium_nitrate": "0.50551 g/L"}
    >>> found = content_of(rates, shelf(), {"Ca": "40 mg/L"})
    >>> [f"{key} {found[key].m_as('mg/L'):.1f}" for key in ("N", "K", "Ca")]
    ['N 70.0', 'K 195.5', 'Ca 40.0']
    """
    subject = "content_of"
    problems = key_problems(rates, fertilisers, "rates")
    amounts, bad_rates = _floats_of(rates, "salt_rate", subject, "rates")
    problems += bad_rates
    start: dict[str, Any] = {}
    try:
        start = checked_content(water or {}, subject, "water")
    except ArgumentError as error:
        problems += error.problems
    problems = problems or _shape_problems({**amounts, **start})
    if problems:
        raise argument_error(problems, subject)
    total = _content_floats(amounts, fertilisers, start)
    return {key: with_unit(value, "mg/L") for key, value in total.items()}


def _shape_problems(values: Mapping[str, Any]) -> list[Problem]:
    """Return a problem if rates and water do not broadcast together."""
    try:
        np.broadcast_shapes(*(np.shape(value) for value in values.values()))
    except ValueError:
        text = ", ".join(f"{key} {np.shape(value)}" for key, value in values.items())
        return [Problem("shapes", text, tr("do not broadcast together"), kind="range")]
    return []
