"""Volume, price in place and mixing of growing medium, and its cost per kilogram of yield."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from scenariokit.errors import Problem, argument_error
from scenariokit.language import mark, tr
from scenariokit.quantities import Expect, checked, checked_floats, with_unit
from scenariokit.units import Floats, Quantity, QuantityLike

NO_HARVEST = mark("there is no cost per kilogram without a harvest")
SHARE_TOLERANCE = 1e-6
"""How far shares may be from adding to 1: the rounding of a sum, not of thirds."""


@checked("L/m^2", volume_per_plant="volume_per_plant", plants_per_area="plants_per_area")
def volume_per_area(volume_per_plant: Floats, plants_per_area: Floats) -> Floats:
    """Return the growing medium per tank area, v p.

    Parameters
    ----------
    volume_per_plant : quantity
        v, volume in place for each plant [L/plant], scalar or array, 0 or more.
    plants_per_area : quantity
        p [plant/m²], scalar or array.

    Returns
    -------
    quantity
        Volume in place [L/m²].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> f"{volume_per_area('3 L', '9 plant/m^2').m_as('L/m^2'):.1f} L/m²"
    '27.0 L/m²'
    """
    return volume_per_plant * plants_per_area


@checked(
    "money/L",
    package_price="package_price",
    package_volume="package_volume",
    expansion="expansion",
    fill_factor="fill_factor",
    freight=Expect("freight", optional=True),
)
def price_in_place(
    package_price: Floats,
    package_volume: Floats,
    expansion: Floats = 1,
    fill_factor: Floats = 1,
    freight: Floats | None = None,
) -> Floats:
    """Return the price of a litre lying in the container, (P + F) / (Vp x ff).

    Parameters
    ----------
    package_price : quantity
        P [money], scalar or array, 0 or more.
    package_volume : quantity
        Vp, volume on the label [L].
    expansion : float
        x, loose volume per labelled volume; about 2 for a compressed bale.
    fill_factor : float
        ff, volume in place per loose volume; filling and watering settle it.
    freight : quantity
        F, what it costs to bring one package here [money], 0 or more; none if left out.

    Returns
    -------
    quantity
        Price in place [money/L].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Notes
    -----
    The factors default to 1, which says that the label volume is what ends in
    the container. That is seldom so: 0.645 to 0.952 of it was found in pots.

    References
    ----------
    Verhagen, Acta Horticulturae 1168:14 (label volume against filled volume).

    Examples
    --------
    >>> price = price_in_place("22 money", "3.8 ft^3", expansion=2, fill_factor=0.8)
    >>> round(price.m_as("money/L"), 4)
    0.1278
    """
    here = package_price if freight is None else package_price + freight
    return here / (package_volume * expansion * fill_factor)


@checked("", crops_per_filling="crops_per_filling", top_up_fraction="top_up_fraction")
def medium_use_factor(crops_per_filling: Floats, top_up_fraction: Floats = 0) -> Floats:
    """Return the fillings of fresh medium that one crop uses, (1 + u (k - 1)) / k.

    Parameters
    ----------
    crops_per_filling : float
        k, crops grown before the medium is thrown out, 1 or more.
    top_up_fraction : float
        u, share renewed before each crop after the first, 0 to 1.

    Returns
    -------
    quantity
        Fillings per crop, 0 to 1.

    Raises
    ------
    UnitError
        If a value has a dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> round(medium_use_factor(3, 0.15).m_as(""), 4)
    0.4333
    """
    return (1 + top_up_fraction * (crops_per_filling - 1)) / crops_per_filling


@checked(
    "money/kg",
    price="medium_price",
    volume_per_plant="volume_per_plant",
    plants_per_area="plants_per_area",
    yield_per_area=Expect("yield_per_area", above_zero=True, why=NO_HARVEST),
    crops_per_filling="crops_per_filling",
    top_up_fraction="top_up_fraction",
)
def cost_per_yield(
    price: Floats,
    volume_per_plant: Floats,
    plants_per_area: Floats,
    yield_per_area: Floats,
    crops_per_filling: Floats = 1,
    top_up_fraction: Floats = 0,
) -> Floats:
    """Return the cost of growing medium for each kilogram harvested.

    c v p (1 + u (k - 1)) / k / Y.

    Parameters
    ----------
    price : quantity
        c, price in place [money/L], scalar or array, 0 or more.
    volume_per_plant : quantity
        v, volume in place for each plant [L/plant].
    plants_per_area : quantity
        p [plant/m²].
    yield_per_area : quantity
        Y, harvest of one crop [kg/m²], above 0.
    crops_per_filling : float
        k, crops grown before the medium is thrown out, 1 or more.
    top_up_fraction : float
        u, share renewed before each crop after the first, 0 to 1.

    Returns
    -------
    quantity
        Cost of medium [money/kg].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the yield is zero: there is no
        cost per kilogram without a harvest.

    Notes
    -----
    Labour and containers are not in it, freight only as far as the price holds
    it. Each crop of a filling is taken to yield the same.

    Examples
    --------
    >>> cost = cost_per_yield("0.12 money/L", "3 L", "9 plant/m^2", "5 kg/m^2")
    >>> round(cost.m_as("money/kg"), 3)
    0.648
    """
    filling = price * volume_per_plant * plants_per_area
    fillings = (1 + top_up_fraction * (crops_per_filling - 1)) / crops_per_filling
    return filling * fillings / yield_per_area


def mixed_volume(parts: Sequence[QuantityLike], loss: Any = 0) -> Quantity:
    """Return the volume that is left when loose components are mixed, (1 - l) sum(Vi).

    Parameters
    ----------
    parts : sequence of quantity
        Vi, loose volume of each component [L], scalars or arrays, 0 or more.
    loss : float
        l, share of the summed volume lost, 0 to 0.9.

    Returns
    -------
    quantity
        Volume of the mix [L].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.
    ArgumentError
        If `parts` is empty.

    Notes
    -----
    Fine particles fill the gaps between coarse ones, so a mix is smaller than
    its parts. Peat with perlite loses 10 to 20 % (from memory); measure yours
    with a bucket.

    References
    ----------
    Acta Horticulturae 819:215 (the principle).

    Examples
    --------
    >>> f"{mixed_volume(['60 L', '40 L'], loss=0.15):.0f~P}"
    '85 l'
    """
    items = _sequence(parts, "parts", "mixed_volume", 'parts=["60 L", "40 L"]')
    found = checked_floats(
        "mixed_volume",
        {f"parts[{n}]": (part, "medium_volume") for n, part in enumerate(items)}
        | {"loss": (loss, "mixing_loss")},
    )
    kept = 1 - found.pop("loss")
    return with_unit(sum(found.values()) * kept, "L")


def component_volumes(volume: QuantityLike, shares: Sequence[Any], loss: Any = 0) -> list[Quantity]:
    """Return how much of each component a mix needs, si V / (1 - l).

    Parameters
    ----------
    volume : quantity
        V, volume of mix wanted [L], scalar or array, 0 or more.
    shares : sequence of float
        si, share of each component before mixing; they must add to 1.
    loss : float
        l, share of the summed volume lost by mixing, 0 to 0.9.

    Returns
    -------
    list of quantity
        Loose volume of each component [L], in the order of `shares`.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the shares do not add to 1.

    Examples
    --------
    >>> [f"{part:.2f~P}" for part in component_volumes("27 L", [0.6, 0.4], loss=0.15)]
    ['19.06 l', '12.71 l']
    """
    subject = "component_volumes"
    given = share_arguments(shares, subject)
    found = checked_floats(
        subject, given | {"volume": (volume, "medium_volume"), "loss": (loss, "mixing_loss")}
    )
    weights = [found[key] for key in given]
    check_shares(weights, subject)
    loose = found["volume"] / (1 - found["loss"])
    return [with_unit(weight * loose, "L") for weight in weights]


def mixed_price(prices: Sequence[QuantityLike], shares: Sequence[Any], loss: Any = 0) -> Quantity:
    """Return the price of a litre of mix, sum(si ci) / (1 - l).

    Parameters
    ----------
    prices : sequence of quantity
        ci, price of a loose litre of each component [money/L], 0 or more.
    shares : sequence of float
        si, share of each component before mixing; they must add to 1.
    loss : float
        l, share of the summed volume lost by mixing, 0 to 0.9.

    Returns
    -------
    quantity
        Price of the mix [money/L].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, the shares do not add to 1, or there
        are not as many shares as prices.

    Examples
    --------
    >>> mix = mixed_price(["0.10 money/L", "0.20 money/L"], [0.6, 0.4], loss=0.15)
    >>> round(mix.m_as("money/L"), 4)
    0.1647
    """
    subject = "mixed_price"
    items = _sequence(prices, "prices", subject, 'prices=["0.1 money/L", "0.2 money/L"]')
    given = share_arguments(shares, subject)
    if len(items) != len(given):
        raise argument_error(
            [
                Problem(
                    "shares",
                    str(len(given)),
                    tr(
                        "there are {count} shares for {count2} prices",
                        count=len(given),
                        count2=len(items),
                    ),
                    tr("one share for each price"),
                    kind="range",
                )
            ],
            subject,
        )
    costs = {f"prices[{n}]": (price, "medium_price") for n, price in enumerate(items)}
    found = checked_floats(subject, given | costs | {"loss": (loss, "mixing_loss")})
    weights = [found[key] for key in given]
    check_shares(weights, subject)
    total = sum(weight * found[key] for weight, key in zip(weights, costs, strict=True))
    return with_unit(total / (1 - found["loss"]), "money/L")


def _sequence(values: Any, key: str, subject: str, example: str) -> list[Any]:
    """Return `values` as a list that holds something, or say what was meant."""
    if isinstance(values, str) or not hasattr(values, "__len__") or len(values) == 0:
        reason = tr("must list one value for each component")
        raise argument_error([Problem(key, str(values), reason, example=example)], subject)
    return list(values)


def share_arguments(shares: Sequence[Any], subject: str) -> dict[str, tuple[Any, str]]:
    """Return shares as arguments for `checked_floats`, each with its place."""
    items = _sequence(shares, "shares", subject, "shares=[0.6, 0.4]")
    return {f"shares[{n}]": (share, "component_share") for n, share in enumerate(items)}


def check_shares(weights: list[Any], subject: str) -> None:
    """Refuse shares that do not add to 1: which of them is wrong cannot be guessed."""
    total = np.asarray(sum(weights))
    wrong = np.abs(total - 1) > SHARE_TOLERANCE
    if np.any(wrong):
        first = float(total[wrong].flat[0]) if total.ndim else float(total)
        listed = " + ".join(f"{np.asarray(weight).flat[0]:g}" for weight in weights)
        reason = tr("they add to {first:g}, not to 1", first=first)
        raise argument_error(
            [Problem("shares", listed, reason, example="shares=[0.6, 0.4]", kind="range")], subject
        )
