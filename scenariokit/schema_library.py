"""The library that checks JSON documents, loaded without a part that takes a second and is not used."""

from __future__ import annotations

import sys
from typing import Any

GRAMMARS = "rfc3987_syntax"


def schema_library() -> Any:
    """Return ``jsonschema``.

    Notes
    -----
    Where Jupyter's server is installed, ``jsonschema`` compiles dozens of grammars of web
    addresses when it is loaded: more than a second, in every kernel, before the first chart.
    Neither our schemas nor Altair's have that format checked, so the grammars are hidden from
    this one import. Other code can load them as ever.
    """
    if "jsonschema" in sys.modules or GRAMMARS in sys.modules:
        import jsonschema

        return jsonschema
    sys.modules[GRAMMARS] = None  # type: ignore[assignment]
    try:
        import jsonschema
    finally:
        del sys.modules[GRAMMARS]
    return jsonschema
