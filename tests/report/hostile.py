"""Labels that would do harm if they were taken for anything but text."""

from __future__ import annotations

import dataclasses

from scenariokit.scenario import scenario_for

HOSTILE = {
    "formula": "=cmd|' /C calc'!A0",
    "picture": "<img src=x onerror=alert(1)>",
    "script": "</script><script>window.harmed=1</script>",
    "style": "</style><script>window.harmed=1</script>",
    "attribute": '" onmouseover="window.harmed=1',
    "newline": "one\nname\r\nof lines",
    "turned": "pots \u202egnp.exe",
    "long": "Very long name of a method " * 11 + "end",
    "unbroken": "X" * 300,
    "bell": "ring\x07\x00\x1b[31m",
    "braces": "{label} {0} %s",
}


def labelled(label, key="wedge_pots"):
    """A scenario in which every text that a person may give is `label`."""
    one = scenario_for(key)
    method = dataclasses.replace(one.method, label=label, summary=label)
    harvest = dataclasses.replace(one.harvest, basis=label)
    prices = dataclasses.replace(one.prices, label=label)
    site = dataclasses.replace(one.site, label=label)
    return dataclasses.replace(
        one, name=label, method=method, harvest=harvest, prices=prices, site=site
    )
