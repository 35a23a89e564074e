"""Tables of options by draws, given as plain numbers or as a quantity."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from scenariokit import units
from scenariokit.errors import Problem, argument_error
from scenariokit.parameters import Direction


@dataclass(frozen=True)
class OptionRows:
    """Options by draws, turned so that more is better. Make it by `option_rows`.

    Parameters
    ----------
    up : ndarray
        Options by draws; the numbers as given, or their negatives if less is better.
    sign : float
        1 if more is better, -1 if less is.
    unit : pint.Unit or None
        Of what was given; None for plain numbers.
    """

    up: Any
    sign: float
    unit: Any

    def given_back(self, values: Any) -> Any:
        """Return numbers of the table's unit as the caller gave them: quantity or plain."""
        return values if self.unit is None else units.registry().Quantity(values, self.unit)


def option_rows(
    values: Any, better: Direction, subject: str, *, missing: bool = False
) -> OptionRows:
    """Return a table of options by draws, checked and turned so that more is better.

    Parameters
    ----------
    values : array or quantity
        One row an option, one column a draw or a state.
    better : {'higher', 'lower'}
        Which direction is better.
    subject : str
        Name of the function, for messages.
    missing : bool
        Let NaN through; infinite numbers are always refused.

    Raises
    ------
    RangeError
        If it is no table, holds what is no finite number, or the direction is
        another word.

    Examples
    --------
    >>> option_rows([[1, 2], [3, 4]], "lower", "example").up.tolist()
    [[-1.0, -2.0], [-3.0, -4.0]]
    """
    floats, unit = plain_numbers(values)
    problems = direction_problems(better)
    if floats.ndim != 2 or 0 in floats.shape:
        problems.append(Problem("values", f"shape {floats.shape}", "is no table of options by draws",
                                "(options, draws), one or more of each", kind="range"))  # fmt: skip
    problems += number_problems("values", floats, missing=missing)
    if problems:
        raise argument_error(problems, subject)
    return OptionRows(floats if better == "higher" else -floats, sign_for(better), unit)


def plain_numbers(values: Any) -> tuple[Any, Any]:
    """Return an array and its unit; None as the unit of plain numbers."""
    if hasattr(values, "m_as"):
        own = units.adopt(values)
        return np.asarray(own.magnitude, dtype=float), own.units
    return np.asarray(values, dtype=float), None


def sign_for(better: Direction) -> float:
    """Return 1 if more is better and -1 if less is."""
    return 1.0 if better == "higher" else -1.0


def direction_problems(better: Direction, field: str = "better") -> list[Problem]:
    """Return what is wrong with a direction."""
    if better in ("higher", "lower"):
        return []
    return [Problem(field, f"{better}", "is no direction", "higher, lower", kind="range")]


def number_problems(field: str, floats: Any, *, missing: bool = False) -> list[Problem]:
    """Return what is wrong with numbers that must be finite, or NaN where they may be missing."""
    if np.isfinite(floats).all():
        return []
    unknown = int(np.isnan(floats).sum())
    infinite = int(np.isinf(floats).sum())
    found = []
    if infinite:
        found.append(Problem(field, f"{infinite} of {floats.size}", "are not finite",
                             "finite numbers", kind="range"))  # fmt: skip
    if unknown and not missing:
        found.append(Problem(field, f"{unknown} of {floats.size}", "are NaN (missing)",
                             "finite numbers", kind="range"))  # fmt: skip
    return found
