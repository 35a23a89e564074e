"""Refusals that concern two quantities at once."""

from __future__ import annotations

from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.units import Floats


def refuse_where(
    broken: Any, field: str, value: Floats, unit: str, reason: str, allowed: str, subject: str
) -> None:
    """Raise if a condition that must not hold does, anywhere.

    Parameters
    ----------
    broken : bool or array of bool
        Where the values cannot be used.
    field, unit, reason, allowed, subject : str
        For the message.
    value : float or array
        Values of `field`; the first broken one is shown.

    Raises
    ------
    RangeError
        If `broken` is true anywhere.
    """
    if not np.any(broken):
        return
    shown = np.broadcast_to(value, np.shape(broken))[np.asarray(broken)].flat[0]
    text = f"{shown:g} {unit}".strip()
    raise argument_error([Problem(field, text, reason, allowed, kind="range")], subject)


def refuse_crossed(
    lowest: Floats, highest: Floats, names: tuple[str, str], unit: str, subject: str
) -> None:
    """Raise if a minimum lies above its maximum, anywhere.

    Parameters
    ----------
    lowest, highest : float or array
        Values that must not cross.
    names : tuple of two str
        Their names for the message, the lower one first.
    unit, subject : str
        For the message.

    Raises
    ------
    RangeError
        If they cross.
    """
    broken = np.asarray(lowest) > np.asarray(highest)
    refuse_where(
        broken,
        names[0],
        lowest,
        unit,
        tr("lies above {names}", names=names[1]),
        tr("{names} or less", names=names[1]),
        subject,
    )
