"""What a comparison rests on: statuses of yields, methods, sites, crops and prices."""

from __future__ import annotations

import dataclasses

import numpy as np

from scenariokit.decide import LEANING_WORDS, UNKNOWN_WORDS, basis_of
from scenariokit.decide.basis import unknowns_of
from scenariokit.scenario import scenario_for
from scenariokit.uncertainty import Ensemble, Uncertainty

BAG = scenario_for("medium_bag")


def test_basis_without_anything_uncertain_says_so_first():
    found = Ensemble((BAG,), Uncertainty(()), 0, {"margin_per_area": np.zeros((1, 3))})
    assert basis_of(found).unknowns[0].kind == "nothing uncertain"


def test_unknowns_of_ones_own_numbers():
    one = BAG
    mine = dataclasses.replace(
        one,
        harvest=dataclasses.replace(one.harvest, status="trial", interval=False),
        method=dataclasses.replace(one.method, status="own"),
        site=dataclasses.replace(one.site, status="own"),
        crop=dataclasses.replace(one.crop, id="my_crop"),
        prices=dataclasses.replace(one.prices, id="mine", assumed=("sand", "coir_pith")),
    )
    found = unknowns_of([mine])
    assert [(row.kind, row.methods, row.details) for row in found] == [
        ("one plot", ("medium_bag",), ()), ("prices of another list", (), ("coir_pith", "sand")),
    ]  # fmt: skip
    recalled = dataclasses.replace(mine, harvest=dataclasses.replace(one.harvest, status="memory"))
    assert unknowns_of([recalled])[0].kind == "yield from memory"


def test_words_are_given_for_every_kind():
    assert all(UNKNOWN_WORDS.values())
    assert set(LEANING_WORDS) == {"average", "cautious", "regret", "weighted"}
