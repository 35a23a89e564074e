"""The glossary: every parameter of scenariokit, described once."""

from __future__ import annotations

from scenariokit.glossary import feed, growing, medium, trials, water
from scenariokit.glossary.sources import DEFINITION, INVENTED, TRADE
from scenariokit.parameters import Parameter

__all__ = ["DEFINITION", "INVENTED", "PARAMETERS", "TRADE", "parameter"]

_ROWS: tuple[Parameter, ...] = (
    *growing.ROWS,
    *medium.ROWS,
    *water.ROWS,
    *feed.ROWS,
    *trials.ROWS,
)

PARAMETERS: dict[str, Parameter] = {row.name: row for row in _ROWS}


def parameter(name: str) -> Parameter:
    """Return the description of the parameter called `name`.

    Raises
    ------
    KeyError
        If there is none; the message lists the names.
    """
    try:
        return PARAMETERS[name]
    except KeyError:
        known = ", ".join(sorted(PARAMETERS))
        raise KeyError(f"no parameter is called {name!r}; known: {known}") from None
