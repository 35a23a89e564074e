"""Keep the catalogues of texts in step with what the code and the data say."""

from __future__ import annotations

from scenariokit.wording.checking import problems_of
from scenariokit.wording.collecting import CatalogueText, collected
from scenariokit.wording.files import compiled, read_catalogue, renew, renewed

__all__ = [
    "CatalogueText",
    "collected",
    "compiled",
    "problems_of",
    "read_catalogue",
    "renew",
    "renewed",
]
