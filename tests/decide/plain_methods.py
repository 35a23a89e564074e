"""Methods of which only growing medium and labour cost anything, so that equations stay short.

Cost of a crop in money/m²: p f V n / (1 - m) + h n w, with price of the loose medium p in
money/L, its factor f, volume V in L/plant, plants n per m², mixing loss m, hours h per plant
and wage w. EC 1.6 dS/m is below potato's threshold of 1.7 dS/m, so no yield is lost to it.
"""

from __future__ import annotations

import dataclasses

from scenariokit.scenario import Scenario, scenario_for, with_values


def plain(
    method: str = "medium_bag",
    *,
    medium: float = 0.0,
    plants: float = 10.0,
    litres: float = 2.0,
    hours: float = 0.0,
    harvest: float = 5.0,
    wage: float = 4.0,
) -> Scenario:
    """Return a method with medium at `medium` money/L, bought loose and mixed without loss."""
    one = scenario_for(method)
    items = [item for item, _ in one.method.medium.components]
    prices = dataclasses.replace(
        one.prices,
        unit_prices={
            **one.prices.unit_prices,
            **dict.fromkeys(one.feed.salts, 0.0),
            **dict.fromkeys(items, medium),
        },
        water_price="0 money/m^3",
        labour_price=f"{wage!r} money/hour",
    )
    bare = dataclasses.replace(
        one,
        method=dataclasses.replace(one.method, supplies=(), sheet=None),
        crop=dataclasses.replace(one.crop, planting_per_plant=0),
        prices=prices,
    )
    tasks = ("planting", "tending", "lifting", "cleaning")
    return with_values(
        bare,
        {
            **{f"method.labour.{task}": "0 hour/plant" for task in tasks},
            "method.labour.filling": f"{hours!r} hour/plant",
            "method.container.length": "15 cm",
            "method.container.width": "15 cm",
            "method.container.height": "30 cm",
            "method.container.plants": 1,
            "method.plants_per_area": f"{plants!r} plant/m^2",
            "method.medium.volume_per_plant": f"{litres!r} L/plant",
            "method.medium.mixing_loss": 0,
            "method.medium.crops_per_filling": 1,
            "method.medium.top_up_fraction": 0,
            "harvest.low": f"{0.8 * harvest!r} kg/m^2",
            "harvest.typical": f"{harvest!r} kg/m^2",
            "harvest.high": f"{1.2 * harvest!r} kg/m^2",
        },
    )
