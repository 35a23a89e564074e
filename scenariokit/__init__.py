"""Compare passive hydroponic growing methods by yield, medium, water, nutrients and cost.

Nothing heavy is imported here: SciPy, pandas, Altair and ipywidgets load when
they are first used.
"""

from __future__ import annotations

import importlib
from typing import Any

__version__ = "0.1.0"

_PUBLIC = {
    "quantity": "scenariokit.units",
    "registry": "scenariokit.units",
    "parameter": "scenariokit.glossary",
    "PARAMETERS": "scenariokit.glossary",
    "ScenarioKitError": "scenariokit.errors",
    "ArgumentError": "scenariokit.errors",
    "UnitError": "scenariokit.errors",
    "RangeError": "scenariokit.errors",
    "RecordError": "scenariokit.errors",
    "InfeasibleError": "scenariokit.errors",
    "ScenarioFileError": "scenariokit.errors",
    "ValidityWarning": "scenariokit.errors",
}
_ROOMS = (
    "yields", "substrate", "climate", "reservoir", "nutrients", "economics", "cautions",
    "catalog", "trials", "scenario", "uncertainty", "decide", "scale", "charts", "widgets",
)  # fmt: skip

__all__ = ["__version__", *_PUBLIC, *_ROOMS]


def __getattr__(name: str) -> Any:
    """Import a public name or a room when it is first asked for."""
    if name in _PUBLIC:
        value = getattr(importlib.import_module(_PUBLIC[name]), name)
        globals()[name] = value
        return value
    if name in _ROOMS:
        return importlib.import_module(f"scenariokit.{name}")
    raise AttributeError(f"scenariokit has no {name!r}; it has {', '.join(sorted(__all__))}")


def __dir__() -> list[str]:
    """List the public names, loaded or not."""
    return sorted(__all__)
