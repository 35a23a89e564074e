"""Division where the bottom may be zero, for single values and ensembles alike."""

from __future__ import annotations

from typing import Any

import numpy as np


def divided(top: Any, bottom: Any, otherwise: float = np.nan) -> Any:
    """Return top ÷ bottom, and `otherwise` where the bottom is not above zero."""
    divisor = np.asarray(bottom, float)
    if np.all(divisor > 0):  # as nearly always
        return np.asarray(top, float) / divisor
    upper, lower = np.broadcast_arrays(np.asarray(top, float), divisor)
    out = np.full(upper.shape, otherwise)
    np.divide(upper, lower, out=out, where=lower > 0)
    return out[()]
