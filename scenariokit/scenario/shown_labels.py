"""Names that a scenario keeps in English, as they are shown in the language in use.

A scenario is saved in files, so that its names are English there; those that
are made of a name and an addition are taken apart here to be translated.
"""

from __future__ import annotations

import re

from scenariokit.language import mark, tr, tr_n

OWN_WEATHER = " with your weather"
WORKED_OUT = ", worked out"
INVENTED = mark("invented example")
_CATALOGUE = re.compile(r"^catalogue \((.+)\)$")
_WEIGHED = re.compile(r"^(\d+) plots? weighed$")
_STATUSES = (
    mark("memory"),
    mark("trade"),
    mark("seen"),
    mark("seen-2nd"),
    mark("computed"),
    mark("own"),
    mark("invented"),
    mark("trial"),
    mark("set"),
    mark("default"),
)


def catalogue_basis(status: str) -> str:
    """Return, in English, what a yield of the catalogue rests on."""
    return INVENTED if status == "invented" else f"catalogue ({status})"


def weighed_basis(plots: int) -> str:
    """Return, in English, what a yield of weighed plots rests on."""
    return f"{plots} plot{'s' if plots != 1 else ''} weighed"


def basis_text(basis: str) -> str:
    """Return what a yield rests on, in the language in use.

    Parameters
    ----------
    basis : str
        As in `Harvest.basis`.

    Examples
    --------
    >>> basis_text("3 plots weighed")
    '3 plots weighed'
    """
    weighed, listed = _WEIGHED.match(basis), _CATALOGUE.match(basis)
    if weighed:
        return tr_n("{count} plot weighed", "{count} plots weighed", int(weighed[1]))
    if listed:
        return tr("catalogue ({status})", status=tr(listed[1]))
    return tr(basis)


def site_text(label: str) -> str:
    """Return the name of a place, as in `Site.label`, in the language in use.

    Examples
    --------
    >>> site_text("Tern Hollow with your weather")
    'Tern Hollow with your weather'
    """
    if label.endswith(OWN_WEATHER):
        return tr("{place} with your weather", place=tr(label.removesuffix(OWN_WEATHER)))
    return tr(label)


def feed_text(label: str) -> str:
    """Return the name of a nutrient solution, as in `Feed.label`, in the language in use.

    Examples
    --------
    >>> feed_text("Own targets, worked out")
    'Own targets, worked out'
    """
    if label.endswith(WORKED_OUT):
        return tr("{targets}, worked out", targets=tr(label.removesuffix(WORKED_OUT)))
    return tr(label)
