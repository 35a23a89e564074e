"""The environment variables that a process of ours reads."""

from __future__ import annotations

LANGUAGE_VARIABLE = "SCENARIOKIT_LANGUAGE"
"""Which language a process begins with."""
WALL_VARIABLE = "SCENARIOKIT_WALL"
"""The folder of the results wall."""
CODE_VARIABLE = "SCENARIOKIT_PAGE_CODE"
"""The addresses at which a page's server has page code: a JSON object of addresses by name.
What has none comes with the widgets."""
