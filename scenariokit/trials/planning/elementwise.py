"""One number in, one number out; an array in, an array out."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from scenariokit.units import Floats


def each(function: Callable[..., Any], kind: type, *values: Floats) -> Any:
    """Return `function` of each set of numbers, a plain number for a single set."""
    found = np.vectorize(function, otypes=[kind])(*values)
    return found.item() if found.ndim == 0 else found


def plain(value: Any) -> Any:
    """Return a float of Python for a single number and an array otherwise."""
    found = np.asarray(value, dtype=np.float64)
    return found.item() if found.ndim == 0 else found
