"""The van Genuchten curve in plain floats, and a medium described by it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit.errors import InfeasibleError
from scenariokit.glossary import parameter
from scenariokit.language import tr
from scenariokit.quantities import checked_floats, with_unit
from scenariokit.units import Floats

NODES, WEIGHTS = np.polynomial.legendre.leggauss(32)
TINY = 1e-12
"""cm; stands for a height of 0 where a logarithm is taken."""
_KINDS = {
    "theta_residual": "theta_residual",
    "theta_saturated": "theta_saturated",
    "vg_alpha": "vg_alpha",
    "vg_n": "vg_n",
    "conductivity": "hydraulic_conductivity",
    "connectivity": "pore_connectivity",
}
"""Each number of a medium, and the parameter of the glossary that it is."""


def effective_saturation(suction: Floats, alpha: Floats, n: Floats) -> Floats:
    """Return [1 + (alpha h)^n]^-m, m = 1 - 1/n, of plain floats; 1 below the water level."""
    return (1 + (alpha * np.maximum(suction, 0.0)) ** n) ** (1 / n - 1)


def mean_saturation(bottom: Floats, top: Floats, alpha: Floats, n: Floats) -> Floats:
    """Return the mean of `effective_saturation` from `bottom` to `top`, in plain floats.

    Gauss-Legendre with 32 points below the height 2 / alpha, where the curve
    bends, and 32 spaced by logarithm above it.
    """
    low, high = np.maximum(bottom, 0.0), np.maximum(top, 0.0)
    bend = np.clip(2 / alpha, low, high)
    first = _panel(low, bend, alpha, n)
    span = np.log(np.maximum(high, TINY) / np.maximum(bend, TINY)) / 2
    heights = _wide(bend) * np.exp(_wide(span) * (NODES + 1))
    held = effective_saturation(heights, _wide(alpha), _wide(n)) * heights
    second = (held * WEIGHTS).sum(axis=-1) * span
    drowned = np.minimum(top, 0.0) - np.minimum(bottom, 0.0)
    return (first + second + drowned) / (top - bottom)


def _panel(low: Floats, high: Floats, alpha: Floats, n: Floats) -> Floats:
    """Return the integral of `effective_saturation` between two heights."""
    half = (high - low) / 2
    heights = _wide(low) + _wide(half) * (NODES + 1)
    held = effective_saturation(heights, _wide(alpha), _wide(n))
    return (held * WEIGHTS).sum(axis=-1) * half


def _wide(value: Floats) -> Floats:
    """Return `value` with one more axis, for the heights."""
    return np.asarray(value)[..., None]


def check_curve(subject: str, theta_residual: Floats, theta_saturated: Floats) -> None:
    """Refuse a curve that holds more water when dry than when full."""
    if np.any(theta_residual >= theta_saturated):
        raise InfeasibleError(
            tr(
                "{subject}: theta_residual ({theta_residual:g}) must be below theta_saturated ({theta_saturated:g})",
                subject=subject,
                theta_residual=np.max(theta_residual),
                theta_saturated=np.min(theta_saturated),
            )
        )


@dataclass(frozen=True)
class Hydraulics:
    """How a medium holds water and, if known, how it carries it.

    Parameters
    ----------
    theta_residual, theta_saturated : float
        theta_r and theta_s of the van Genuchten curve, 0 to 1.
    vg_alpha : quantity
        alpha [1/cm].
    vg_n : float
        n, above 1.
    conductivity : quantity, optional
        Ks of the full medium [cm/day]; without it nothing is said about flow.
    connectivity : float
        l of the Mualem model.
    illustrative : bool
        The numbers are typical ones from memory, not measured on this medium.

    Raises
    ------
    UnitError, RangeError
        If a value has the wrong unit or lies outside its range.
    InfeasibleError
        If theta_residual is not below theta_saturated.

    Examples
    --------
    >>> sand = Hydraulics(0.045, 0.43, "0.145 1/cm", 2.68, "712.8 cm/day")
    >>> f"{sand.vg_alpha:.3f~P}"
    '0.145 1/cm'
    """

    theta_residual: Any
    theta_saturated: Any
    vg_alpha: Any
    vg_n: Any
    conductivity: Any = None
    connectivity: Any = 0.5
    illustrative: bool = False

    def __post_init__(self) -> None:
        """Check every value and bring it to its own unit."""
        given = {name: (getattr(self, name), kind) for name, kind in _KINDS.items()}
        if self.conductivity is None:
            del given["conductivity"]
        found = checked_floats("Hydraulics", given)
        check_curve("Hydraulics", found["theta_residual"], found["theta_saturated"])
        for name, value in found.items():
            object.__setattr__(self, name, with_unit(value, parameter(_KINDS[name]).unit))

    @classmethod
    def of_row(cls, row: Mapping[str, Any], conductivity: Any = None) -> Hydraulics:
        """Return the curve of a row of the table of media; one from memory is illustrative.

        Parameters
        ----------
        row : mapping
            With ``theta_residual``, ``theta_saturated``, ``vg_alpha`` in 1/cm,
            ``vg_n`` and ``status``.
        conductivity : quantity, optional
            Ks of the full medium [cm/day].

        Raises
        ------
        KeyError
            If a column is missing.

        Examples
        --------
        >>> from scenariokit import catalog
        >>> Hydraulics.of_row(catalog.media()["white_peat"]).illustrative
        True
        """
        return cls(
            row["theta_residual"],
            row["theta_saturated"],
            with_unit(row["vg_alpha"], "1/cm"),
            row["vg_n"],
            conductivity,
            illustrative=row["status"] == "memory",
        )

    @property
    def curve(self) -> tuple[Floats, Floats, Floats, Floats]:
        """theta_r, theta_s, alpha [1/cm] and n as plain floats."""
        return (
            self.theta_residual.magnitude,
            self.theta_saturated.magnitude,
            self.vg_alpha.magnitude,
            self.vg_n.magnitude,
        )
