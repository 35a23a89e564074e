"""Trials of every size, at the CV as set and at others."""

from __future__ import annotations

from dataclasses import replace

import pytest

from scenariokit.trials.planning.aim import TrialAim, chance_of_finding, smallest_difference
from scenariokit.trials.planning.size_curve import size_curve

FOUR, TWO = ["bag", "pots", "wick", "tray"], ["early", "late"]


def test_size_curve_has_every_size_at_every_cv():
    aim = TrialAim(FOUR, TWO, cv=0.12)
    points = size_curve(aim, 5, (0.05, 0.12))
    assert [(one.cv, one.replicates) for one in points] == [
        (cv, count) for cv in (0.12, 0.05) for count in (2, 3, 4, 5)
    ]
    for one in points:
        at = replace(aim, cv=one.cv)
        assert one.plots == 8 * one.replicates
        assert one.power == pytest.approx(chance_of_finding(at, one.replicates))
        assert one.smallest == pytest.approx(smallest_difference(at, one.replicates))


def test_size_curve_latin_squares_grow_by_whole_squares():
    points = size_curve(TrialAim(FOUR, design="latin_square"), 13)
    assert [one.replicates for one in points] == [4, 8, 12]
    assert size_curve(TrialAim(FOUR, design="latin_square"), 3) == []
