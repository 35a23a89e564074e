"""Published trials as plots and as analyses, and small tables of plots."""

from __future__ import annotations

import numpy as np
import pytest
from published_trials import DESIGNS, read_trial

from scenariokit.trials.analysis import analyse
from scenariokit.trials.plots import PlotTable


@pytest.fixture
def trial():
    return read_trial


@pytest.fixture
def analysed():
    return lambda name: analyse(read_trial(name), DESIGNS[name])


@pytest.fixture
def plots_of():
    """Return plots from a mapping of levels to yields of one factor."""

    def build(groups, factor="method"):
        values = [value for group in groups.values() for value in group]
        levels = [name for name, group in groups.items() for _ in group]
        return PlotTable(values, {factor: tuple(levels)})

    return build


@pytest.fixture
def grid():
    """Return a full factorial: levels of each factor, replicates, yields drawn from a seed."""

    def build(sizes, replicates=1, seed=0):
        names = list(sizes)
        index = np.indices((*sizes.values(), replicates)).reshape(len(names) + 1, -1)
        rng = np.random.default_rng(seed)
        factors = {name: tuple(f"{name}{i}" for i in index[k]) for k, name in enumerate(names)}
        factors["block"] = tuple(f"block{i}" for i in index[-1])
        return PlotTable(rng.normal(5, 1, index.shape[1]).clip(0.1), factors)

    return build
