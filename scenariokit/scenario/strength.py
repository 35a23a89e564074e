"""How strong a feed is made: from the EC that is wanted to the share of the full recipe."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from typing import Any

from scenariokit import units
from scenariokit.nutrients.composition.contents import with_total_nitrogen
from scenariokit.nutrients.composition.species import ions_of_floats
from scenariokit.nutrients.conductivity.strength import StrengthCurve
from scenariokit.scenario.leaves import plain
from scenariokit.scenario.model import Feed

Items = tuple[tuple[str, float], ...]


def feed_curve(feed: Feed) -> StrengthCurve:
    """Return strength against EC for a feed's salts in its source water."""
    return curve_of(feed.content, feed.water_content)


def curve_of(content: Mapping[str, float], water: Mapping[str, float]) -> StrengthCurve:
    """Return strength against EC for contents in mg/L, of the salts and of the water."""
    return _curve(_items(content), _items(water))


def _items(content: Mapping[str, float]) -> Items:
    return tuple(sorted(content.items()))


@functools.lru_cache(maxsize=64)
def _curve(content: Items, water: Items) -> StrengthCurve:
    return StrengthCurve(ions_of_floats(dict(content)), ions_of_floats(dict(water)))


def feed_strength(feed: Feed) -> Any:
    """Return the share of the full recipe that gives the feed's EC in its source water.

    Returns
    -------
    float or ndarray
        1 is the recipe's full strength; of the shape of `feed.ec`.

    Raises
    ------
    InfeasibleError
        If the EC lies below that of the source water itself, or above what the
        model of EC covers.
    """
    ec = plain(feed.ec)
    if isinstance(ec, float):
        return _strength(_items(feed.content), _items(feed.water_content), ec)
    return feed_curve(feed).strength(ec)


@functools.lru_cache(maxsize=256)
def _strength(content: Items, water: Items, ec: float) -> Any:
    return _curve(content, water).strength(ec)


def solution_content(feed: Feed, share: Any = 1.0) -> dict[str, Any]:
    """Return what a litre of solution holds, in mg/L: salts, and what the water brings.

    Parameters
    ----------
    feed : Feed
        The feed.
    share : float or ndarray
        Strength relative to the first filling, as in `top_up_strength`; 0 is
        the source water.
    """
    strength = feed_strength(feed) * share
    salts, water = with_total_nitrogen(feed.content), with_total_nitrogen(feed.water_content)
    return {
        name: salts.get(name, 0.0) * strength + water.get(name, 0.0) for name in {**salts, **water}
    }


def full_strength_ec(feed: Feed) -> Any:
    """Return the EC of the full recipe in the feed's source water, as a quantity."""
    return units.quantity(float(feed_curve(feed).ec(1.0)), "dS/m")


def water_ec(feed: Feed) -> Any:
    """Return the EC of the feed's source water alone, as a quantity."""
    return units.quantity(float(feed_curve(feed).ec(0.0)), "dS/m")
