"""What a crop brings beside what it costs: share sold, margin, break-even."""

from __future__ import annotations

from scenariokit.language import mark
from scenariokit.quantities import Expect, checked
from scenariokit.substrate import NO_HARVEST
from scenariokit.units import Floats

_COST_UNIT = "money/m^2"
_HARVEST = Expect("yield_per_area", above_zero=True, why=NO_HARVEST)
_SOLD = Expect("marketable_share", above_zero=True, why=mark("nothing of it can be sold"))


@checked("", marketable_share="marketable_share", loss_share="loss_share")
def sold_share(marketable_share: Floats, loss_share: Floats = 0) -> Floats:
    """Return the share of the harvest that is sold or eaten, mk (1 - ls).

    Parameters
    ----------
    marketable_share : float
        mk, share of the harvest that is fit for it, 0 to 1, scalar or array.
    loss_share : float
        ls, share of that lost in storage and handling, 0 to 0.95.

    Returns
    -------
    quantity
        A share, 0 to 1.

    Raises
    ------
    UnitError
        If a value has a dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> round(sold_share(0.9, 0.05).m, 3)
    0.855
    """
    return marketable_share * (1 - loss_share)


@checked(
    _COST_UNIT,
    produce_price="produce_price",
    yield_per_area="yield_per_area",
    cost_per_area="cost_per_area",
    marketable_share="marketable_share",
    loss_share="loss_share",
)
def margin(
    produce_price: Floats,
    yield_per_area: Floats,
    cost_per_area: Floats,
    marketable_share: Floats = 1,
    loss_share: Floats = 0,
) -> Floats:
    """Return what is left of the takings of one crop, P Y mk (1 - ls) - C.

    Parameters
    ----------
    produce_price : quantity
        P [money/kg], scalar or array, 0 or more.
    yield_per_area : quantity
        Y, harvest of one crop [kg/m²].
    cost_per_area : quantity
        C, its cost [money/m²].
    marketable_share : float
        mk, share of the harvest fit to be sold or eaten, 0 to 1.
    loss_share : float
        ls, share of that lost in storage and handling, 0 to 0.95.

    Returns
    -------
    quantity
        Margin [money/m²]; below zero is a loss.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range.

    Examples
    --------
    >>> round(margin("2.5 money/kg", "5 kg/m^2", "8 money/m^2", 0.9).m_as("money/m^2"), 2)
    3.25
    """
    sold = sold_share.floats(marketable_share, loss_share)
    return produce_price * yield_per_area * sold - cost_per_area


@checked(
    "money/kg",
    cost_per_area="cost_per_area",
    yield_per_area=_HARVEST,
    marketable_share=Expect("marketable_share", above_zero=True, why=NO_HARVEST),
    loss_share="loss_share",
)
def break_even_price(
    cost_per_area: Floats,
    yield_per_area: Floats,
    marketable_share: Floats = 1,
    loss_share: Floats = 0,
) -> Floats:
    """Return the price at which a crop just pays for itself, C / (Y mk (1 - ls)).

    Parameters
    ----------
    cost_per_area : quantity
        C, cost of one crop [money/m²], scalar or array, 0 or more.
    yield_per_area : quantity
        Y, harvest of one crop [kg/m²], above 0.
    marketable_share : float
        mk, share of the harvest fit to be sold or eaten, above 0, at most 1.
    loss_share : float
        ls, share of that lost in storage and handling, 0 to 0.95.

    Returns
    -------
    quantity
        Price [money/kg].

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or nothing is harvested.

    Examples
    --------
    >>> round(break_even_price("12 money/m^2", "5 kg/m^2").m_as("money/kg"), 2)
    2.4
    """
    return cost_per_area / (yield_per_area * sold_share.floats(marketable_share, loss_share))


@checked(
    "kg/m^2",
    cost_per_area="cost_per_area",
    produce_price=Expect("produce_price", True, "no yield pays for a crop that fetches nothing"),
    marketable_share=_SOLD,
    loss_share="loss_share",
)
def break_even_yield(
    cost_per_area: Floats,
    produce_price: Floats,
    marketable_share: Floats = 1,
    loss_share: Floats = 0,
) -> Floats:
    """Return the yield at which a crop just pays for itself, C / (P mk (1 - ls)).

    Parameters
    ----------
    cost_per_area : quantity
        C, cost of one crop [money/m²], scalar or array, 0 or more.
    produce_price : quantity
        P [money/kg], above 0.
    marketable_share : float
        mk, share of the harvest fit to be sold or eaten, above 0, at most 1.
    loss_share : float
        ls, share of that lost in storage and handling, 0 to 0.95.

    Returns
    -------
    quantity
        Yield of one crop [kg/m²]. Compare it with `scenariokit.yields.plausibility`.

    Raises
    ------
    UnitError
        If a value has no unit or one of another dimension.
    RangeError
        If a value lies outside its range, or the produce fetches nothing.

    Examples
    --------
    >>> f"{break_even_yield('12 money/m^2', '2.5 money/kg'):.1f~P}"
    '4.8 kg/m²'
    """
    return cost_per_area / (produce_price * sold_share.floats(marketable_share, loss_share))
