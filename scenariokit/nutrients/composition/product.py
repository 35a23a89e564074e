"""One fertiliser: what a gram of it holds, which stock it may go into, and its cautions."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np

from scenariokit.catalog.entries import Entry
from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr
from scenariokit.nutrients.composition.contents import CONTENT, FORMS, with_total_nitrogen

StockKind = Literal["calcium", "sulfate_phosphate", "either"]
Kind = Literal["salt", "labelled", "acid"]

ELEMENTS = tuple(key for key in CONTENT if key not in FORMS and key != "HCO3")
_SLACK = 1e-9


@dataclass(frozen=True)
class Fertiliser:
    """What a gram of one product brings, and how it may be stored and mixed.

    Parameters
    ----------
    id : str
        Its name in recipes and tables.
    label : str
        What a person reads.
    shares : mapping of str to float
        Grams of each content key in a gram of product, 0 to 1. ``N`` is total
        nitrogen, ``N_nitrate``, ``N_ammonium`` and ``N_urea`` its known forms;
        where only forms are given, their sum becomes ``N``. Nitrogen beyond the
        forms is of unknown form. Zeros are left out.
    stock : {'calcium', 'sulfate_phosphate', 'either'}
        Which concentrate it may go into: never calcium with sulfate or phosphate.
    hazard : str, optional
        Short plain words of caution.
    formula : str, optional
        Chemical formula of a pure salt.
    kind : {'salt', 'labelled', 'acid'}, optional
        A pure salt, a product known by its label, or a strong acid.
    source, status : str, optional
        Where the shares come from, and how far that was followed.

    Raises
    ------
    ArgumentError
        If a key is unknown, a share is no number or outside 0 to 1, the forms
        of nitrogen exceed the total, the elements add to more than 1, or
        `stock` or `kind` is not one of its words.

    Warnings
    --------
    `hazard` is a pointer, not a safety data sheet: the maker's sheet and the
    label on the bag decide. Keep fertilisers dry, locked, in their own bags and
    out of reach of children.

    Examples
    --------
    >>> saltpetre = Fertiliser("own", "Own", {"N_nitrate": 0.1385, "K": 0.3867}, "either")
    >>> saltpetre.shares["N"]
    0.1385
    """

    id: str
    label: str
    shares: Mapping[str, float]
    stock: StockKind
    hazard: str = ""
    formula: str = ""
    kind: Kind = "salt"
    source: str = ""
    status: str = ""

    def __post_init__(self) -> None:
        problems = [*_word_problems(self.stock, self.kind), *_share_problems(self.shares)]
        if problems:
            raise argument_error(problems, f"fertiliser {self.id}".rstrip())
        kept = {
            key: float(share)
            for key, share in with_total_nitrogen(self.shares).items()
            if float(share) != 0
        }
        object.__setattr__(
            self, "shares", Entry({key: kept[key] for key in CONTENT if key in kept})
        )

    @property
    def unknown_nitrogen(self) -> float:
        """Grams of nitrogen of unknown form in a gram of product."""
        known = sum(self.shares.get(form, 0.0) for form in FORMS)
        rest = self.shares.get("N", 0.0) - known
        return rest if rest > _SLACK else 0.0


def _word_problems(stock: Any, kind: Any) -> list[Problem]:
    return [
        Problem(name, str(value), tr("is not one of the allowed words"), ", ".join(words))
        for name, value, words in (
            ("stock", stock, get_args(StockKind)), ("kind", kind, get_args(Kind)),
        )
        if value not in words
    ]  # fmt: skip


def _share_problems(shares: Any) -> list[Problem]:
    """Return what cannot be true of the shares of a gram."""
    example = 'shares={"N_nitrate": 0.1385, "K": 0.3867}'
    if not isinstance(shares, Mapping) or not shares:
        reason = tr("must map content keys to grams per gram, at least one")
        return [Problem("shares", str(shares), reason, ", ".join(CONTENT), example)]
    found = []
    for key, share in shares.items():
        if key not in CONTENT or key == "HCO3":
            allowed = ", ".join(name for name in CONTENT if name != "HCO3")
            found.append(Problem(f"shares[{key}]", str(share), tr("is not a known key"), allowed))
        elif isinstance(share, bool) or not isinstance(share, int | float | np.number):
            found.append(
                Problem(f"shares[{key}]", str(share), tr("is not a plain number"), tr("0 to 1"))
            )
        elif not (math.isfinite(share) and 0 <= share <= 1):
            reason = tr("is not a share of a gram")
            problem = Problem(f"shares[{key}]", f"{share:g}", reason, tr("0 to 1"), kind="range")
            found.append(problem)
    return found or _sum_problems(shares)


def _sum_problems(shares: Mapping[str, float]) -> list[Problem]:
    found = []
    forms = sum(shares.get(form, 0.0) for form in FORMS)
    if "N" in shares and forms > shares["N"] + _SLACK:
        reason = tr("is less than its forms together, {forms:g}", forms=forms)
        found.append(Problem("shares[N]", f"{shares['N']:g}", reason, kind="range"))
    whole = with_total_nitrogen(shares)
    total = sum(whole.get(element, 0.0) for element in ELEMENTS)
    if total > 1 + _SLACK:
        reason = tr("the elements add to more than the product")
        found.append(Problem("shares", f"{total:g}", reason, tr("up to 1"), kind="range"))
    if total == 0:
        found.append(Problem("shares", "0", tr("names no nutrient at all")))
    return found
