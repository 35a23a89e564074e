"""The strength at which a recipe has the EC that is wanted, in the water it is made with."""

from __future__ import annotations

import functools
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any, NamedTuple

import numpy as np
from numpy.polynomial import Chebyshev

from scenariokit.errors import InfeasibleError, Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.nutrients.conductivity.charge import checked_ions, ionic_strength
from scenariokit.nutrients.conductivity.ions import STRENGTH_LIMIT, electrical_conductivity
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

Items = tuple[tuple[str, float], ...]

_DEGREES = (24, 48, 96, 192)
_TABLE_TOLERANCE = 1e-11
_ROUNDING = 1e-9
_MOST_STEPS = 40
_CHUNK = 8192


@dataclass(frozen=True, eq=False)
class StrengthCurve:
    """EC against strength for one recipe in one water, both ways, on plain floats.

    EC(s) = EC(water + s recipe) of `electrical_conductivity`. As a function of
    the square root of the ionic strength it is so smooth that a polynomial gives
    it to eight digits and more, and so is its inverse; both are found once, when
    the curve is first asked, in a few milliseconds. After that a look-up takes
    some tens of microseconds.

    Parameters
    ----------
    ions : mapping of str to float
        What the recipe brings at strength 1 [mmol/L of each ion].
    water : mapping of str to float
        What the water brings at any strength [mmol/L].

    Raises
    ------
    ArgumentError
        If an amount is no single number, negative or not finite, or an ion is
        unknown.
    InfeasibleError
        If the water alone is too concentrated for the model of EC.

    Examples
    --------
    >>> curve = StrengthCurve({"K": 10.0, "NO3": 10.0}, {"Na": 1.0, "Cl": 1.0})
    >>> f"{curve.ec(1.0):.2f} dS/m; {curve.strength(1.0):.2f} of full strength for 1 dS/m"
    '1.48 dS/m; 0.64 of full strength for 1 dS/m'
    """

    ions: Mapping[str, float]
    water: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Check the ions, and the water against the limit of the model."""
        for name, given in (("ions", self.ions), ("water", self.water)):
            amounts = {ion: with_unit(amount, "mmol/L") for ion, amount in given.items()}
            checked_scalars(amounts, "StrengthCurve", name)
            object.__setattr__(self, name, {ion: float(value) for ion, value in given.items()})
        self._exact(0.0)  # refuses water that is too concentrated

    @functools.cached_property
    def water_ec(self) -> float:
        """EC of the water alone [dS/m]."""
        return float(self._exact(0.0))

    @functools.cached_property
    def highest_strength(self) -> float:
        """The strength at which the model of EC ends; infinite for a recipe without ions."""
        unit = ionic_strength.floats(self.ions)
        left = STRENGTH_LIMIT - ionic_strength.floats(self.water)
        return float(left / unit * (1 - _ROUNDING)) if unit > 0 else float("inf")

    @property
    def highest_ec(self) -> float:
        """EC at `highest_strength` [dS/m]."""
        return self._table.highest_ec if self._holds_ions else self.water_ec

    def ec(self, strength: Floats) -> Floats:
        """Return EC at 25 °C in dS/m.

        Parameters
        ----------
        strength : float or array
            1 for the recipe as written, 0 for the water alone.

        Raises
        ------
        InfeasibleError
            If a strength is below 0 or above `highest_strength`.
        """
        given = np.asarray(strength, dtype=np.float64)
        self._refuse(given, (0.0, self.highest_strength), mark("strength"), "")
        if not self._holds_ions:
            return _plain(np.full(given.shape, self.water_ec))
        return _plain(_by_chunks(self._table.ec, given))

    def strength(self, ec: Floats) -> Floats:
        """Return the strength that has an EC.

        Parameters
        ----------
        ec : float or array
            EC at 25 °C that is wanted [dS/m].

        Returns
        -------
        float or ndarray
            1 for the recipe as written; of the shape of `ec`.

        Raises
        ------
        InfeasibleError
            If an EC is below that of the water, above what the model of EC
            covers, or the recipe holds no ions.
        """
        given = np.asarray(ec, dtype=np.float64)
        if not self._holds_ions:
            raise InfeasibleError(
                tr("the recipe brings no ions that conduct: no strength of it changes the EC")
            )
        self._refuse(given, (self.water_ec, self._table.highest_ec), "EC", " dS/m")
        found = _by_chunks(self._table.strength, given)
        # An EC at the very end may come out a rounding beyond the strength that has it.
        return _plain(np.clip(found, 0.0, self.highest_strength))

    @property
    def _holds_ions(self) -> bool:
        return self.highest_strength < float("inf")

    @functools.cached_property
    def _table(self) -> _Table:
        return _tabulated(self._exact, self.highest_strength, self._water_share)

    @property
    def _water_share(self) -> float:
        """Ionic strength of the water, in strengths of the recipe."""
        return float(ionic_strength.floats(self.water) / ionic_strength.floats(self.ions))

    def _exact(self, strength: Floats) -> Floats:
        """Return EC from the ions themselves."""
        mixed = {
            ion: self.water.get(ion, 0.0) + strength * self.ions.get(ion, 0.0)
            for ion in {**self.water, **self.ions}
        }
        return electrical_conductivity.floats(mixed)

    def _refuse(self, given: Any, span: tuple[float, float], name: str, unit: str) -> None:
        """Raise an error that says how many values lie outside `span`, and why."""
        low, high = span
        below, above = given < low * (1 - _ROUNDING), given > high * (1 + _ROUNDING)
        unknown = np.isnan(given)
        if not (np.any(below) or np.any(above) or np.any(unknown)):
            return
        parts = []
        if np.any(unknown):
            parts.append(
                tr(
                    "{name} is NaN (a missing value){counted}",
                    name=tr(name),
                    counted=_count(unknown),
                )
            )
        if np.any(below):
            sentence = (
                mark(
                    "{name} of {value:.4g}{unit} is below that of the water itself, "
                    "{low:.4g}{unit}{counted}"
                )
                if unit
                else mark("{name} of {value:.4g} is below zero, {low:.4g}{counted}")
            )
            parts.append(
                tr(
                    sentence,
                    name=tr(name),
                    value=np.nanmin(given),
                    unit=unit,
                    low=low,
                    counted=_count(below),
                )
            )
        if np.any(above):
            parts.append(
                tr(
                    "{name} of {value:.4g}{unit} is above what the model of EC covers, "
                    "{high:.4g}{unit}{counted}",
                    name=tr(name),
                    value=np.nanmax(given),
                    unit=unit,
                    high=high,
                    counted=_count(above),
                )
            )
        raise InfeasibleError("; ".join(parts))


class _Table(NamedTuple):
    """Polynomials both ways in the square roots of ionic strength and of EC."""

    root_to_ec: Chebyshev
    ec_to_root: Chebyshev
    water_share: float
    highest_ec: float

    def ec(self, strength: Floats) -> Floats:
        return self.root_to_ec(np.sqrt(strength + self.water_share)) ** 2

    def strength(self, ec: Floats) -> Floats:
        # Below zero only by rounding: an EC below the water's own was refused.
        return np.maximum(self.ec_to_root(np.sqrt(ec)) ** 2 - self.water_share, 0.0)


def _tabulated(exact: Callable[[Floats], Floats], highest: float, water_share: float) -> _Table:
    """Return polynomials through exact values, fine enough for eight digits and more."""
    roots = (float(np.sqrt(water_share)), float(np.sqrt(highest + water_share)))

    def root_ec(root: Floats) -> Floats:
        return np.sqrt(exact(np.clip(root**2 - water_share, 0.0, highest)))

    first, last = (float(value) for value in root_ec(np.array(roots)))
    forward = _polynomial(root_ec, roots)

    def root_at(wanted: Floats) -> Floats:
        return _inverted(forward, wanted, roots)

    return _Table(forward, _polynomial(root_at, (first, last)), water_share, last**2)


def _polynomial(function: Callable[[Floats], Floats], span: tuple[float, float]) -> Chebyshev:
    """Return the Chebyshev series of least degree whose last terms are nothing."""
    for degree in _DEGREES:
        found = Chebyshev.interpolate(function, degree, domain=list(span))
        size = np.abs(found.coef)
        if np.max(size[-3:]) <= _TABLE_TOLERANCE * np.max(size):
            break
    return found.trim(1e-14 * float(np.max(size)))


def _inverted(forward: Chebyshev, wanted: Floats, span: tuple[float, float]) -> Floats:
    """Return where a rising polynomial takes the wanted values, by Newton's method."""
    low, high = span
    first, last = forward(np.array(span))
    slope = forward.deriv()
    root = low + (high - low) * (wanted - first) / (last - first)
    for _ in range(_MOST_STEPS):
        step = (forward(root) - wanted) / slope(root)
        root = np.clip(root - step, low, high)
        if np.max(np.abs(step)) <= 1e-15 * high:
            break
    return root


def _by_chunks(function: Callable[[Floats], Floats], given: Any) -> Any:
    """Return a function of an array, worked on in chunks that stay in a processor's cache."""
    if given.size <= _CHUNK:
        return function(given)
    flat, result = given.reshape(-1), np.empty(given.size)
    for start in range(0, given.size, _CHUNK):
        result[start : start + _CHUNK] = function(flat[start : start + _CHUNK])
    return result.reshape(given.shape)


def _plain(value: Any) -> Any:
    return float(value) if np.ndim(value) == 0 else value


def _count(outside: Any) -> str:
    return (
        (
            " "
            + tr(
                "({outside} of {size} values)",
                outside=np.count_nonzero(outside),
                size=outside.size,
            )
        )
        if outside.ndim
        else ""
    )


def checked_scalars(ions: Mapping[str, QuantityLike], subject: str, name: str) -> dict[str, float]:
    """Return ions as single plain numbers in mmol/L.

    Raises
    ------
    ArgumentError
        If an ion is unknown, or an amount has the wrong unit, lies outside its
        range or is an array.
    """
    amounts = checked_ions(ions, subject, name)
    problems = [
        Problem(f"{name}[{ion}]", str(amount), tr("is an array; a curve is for one recipe"),
                tr("one amount"), f'{name}={{"{ion}": "6 mmol/L"}}')
        for ion, amount in amounts.items()
        if np.ndim(amount)
    ]  # fmt: skip
    if problems:
        raise argument_error(problems, subject)
    return amounts


@functools.lru_cache(maxsize=128)
def strength_curve(ions: Items, water: Items = ()) -> StrengthCurve:
    """Return the `StrengthCurve` of plain amounts, kept from the last time it was asked for.

    Parameters
    ----------
    ions, water : tuple of (str, float)
        Ion and amount [mmol/L], so that they can be looked up: of the recipe at
        strength 1, and of the water.

    Examples
    --------
    >>> curve = strength_curve((("K", 10.0), ("NO3", 10.0)))
    >>> curve is strength_curve((("K", 10.0), ("NO3", 10.0)))
    True
    """
    return StrengthCurve(dict(ions), dict(water))


def strength_for_ec(
    ec: QuantityLike,
    ions: Mapping[str, QuantityLike],
    water_ions: Mapping[str, QuantityLike] | None = None,
) -> Quantity:
    """Return the strength at which a recipe has an EC in the water it is made with.

    The s for which EC(water + s recipe) = EC, by `electrical_conductivity`.

    Parameters
    ----------
    ec : quantity
        EC at 25 °C that is wanted [dS/m], scalar or array.
    ions : mapping of str to quantity
        What the recipe brings at strength 1: ion to one amount [mmol/L].
    water_ions : mapping of str to quantity, optional
        What the water brings at any strength; pure water if left out.

    Returns
    -------
    quantity
        s, 1 for the recipe as written and 0 for the water alone.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If an ion is unknown, or an amount is an array.
    InfeasibleError
        If an EC is below that of the water, or above what the model of EC
        covers (usually 6 to 8 dS/m), or the recipe holds no ions.

    Notes
    -----
    EC does not go with strength in proportion: half strength has 52 to 53 % of
    the EC of a feed.

    Examples
    --------
    >>> ions = {"K": "6 mmol/L", "Ca": "5 mmol/L", "Mg": "2 mmol/L",
    ...         "NO3": "15 mmol/L", "H2PO4": "1 mmol/L", "SO4": "2 mmol/L"}
    >>> f"{strength_for_ec('1.2 dS/m', ions).m_as(''):.2f}"
    '0.53'
    """
    subject = "strength_for_ec"
    wanted = checked_floats(subject, {"ec": (ec, "electrical_conductivity")})["ec"]
    recipe = checked_scalars(ions, subject, "ions")
    water = checked_scalars(water_ions or {}, subject, "water_ions")
    curve = strength_curve(tuple(sorted(recipe.items())), tuple(sorted(water.items())))
    return with_unit(curve.strength(wanted), "")
