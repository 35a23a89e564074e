"""The pooled difference of other studies as a named prior for single plots."""

from __future__ import annotations

import math

import numpy as np
import pytest

from scenariokit.errors import InfeasibleError
from scenariokit.trials import (
    PlotTable,
    demo_files,
    demo_records,
    meta_analysis,
    pool,
    pooled_prior,
    summarise,
    tempered_differences,
)
from scenariokit.trials.effect_pool import Pooling


def studies(gaps, noise=0.1):
    """Studies with three plots of A and B each, B lower by each gap."""
    yields, method, study = [], [], []
    for number, gap in enumerate(gaps):
        for level, base in (("A", 5.0), ("B", 5.0 - gap)):
            yields += [base - noise, base, base + noise]
            method += [level] * 3
            study += [f"study {number}"] * 3
    return PlotTable(np.array(yields), {"method": tuple(method), "study": tuple(study)})


def test_pooled_prior_mean_and_width_are_those_of_the_random_effects_pool():
    plots = studies([0.8, 1.2, 1.6])
    pooling = Pooling(interval="normal")
    over = meta_analysis(plots, "B", scale="difference", pooling=pooling)[0]
    prior = pooled_prior(plots, "A", "B")
    assert prior.mean.m_as("kg/m^2") == pytest.approx(over.random.estimate.m)
    assert prior.sd.m_as("kg/m^2") == pytest.approx(
        math.hypot(over.pool.random.standard_error, math.sqrt(over.pool.tau2))
    )
    assert prior.name == "3 studies: study 0, study 1, study 2"


def test_pooled_prior_studies_alike_by_hand():
    """Each gap 1 with s = 0.1: SE of a difference 0.1 √(2/3); over three studies ÷ √3; τ² is 0."""
    prior = pooled_prior(studies([1.0, 1.0, 1.0]), "A", "B", name="mine")
    assert prior.name == "mine"
    assert prior.mean.m_as("kg/m^2") == pytest.approx(1.0)
    assert prior.sd.m_as("kg/m^2") == pytest.approx(0.1 * math.sqrt(2 / 3) / math.sqrt(3), rel=1e-3)


def test_pooled_prior_turned_round_changes_only_its_sign():
    plots = studies([0.8, 1.2, 1.6])
    one, other = pooled_prior(plots, "A", "B"), pooled_prior(plots, "B", "A")
    assert one.mean.m == pytest.approx(-other.mean.m)
    assert one.sd.m == pytest.approx(other.sd.m)


@pytest.mark.parametrize("second", ["B", "C"])
def test_pooled_prior_fewer_than_two_studies_is_refused(second):
    with pytest.raises(InfeasibleError, match="fewer than two other studies repeated both A and"):
        pooled_prior(studies([1.0]), "A", second)


def test_tempered_differences_lie_between_what_was_seen_and_the_prior():
    single = summarise(demo_records("single").plots)
    others = pool(demo_files()).plots()
    found = tempered_differences(single.differences, others)
    assert len(found) == len(single.differences)
    told = [(seen, one) for seen, one in found if one is not None]
    assert told
    for seen, one in told:
        prior = pooled_prior(others, seen.first, seen.second)
        low, high = sorted([seen.observed.m, prior.mean.m])
        assert low <= one.difference.m <= high
        assert one.prior == prior.name


def test_tempered_differences_without_a_pooled_one_is_none():
    single = summarise(demo_records("single").plots)
    assert all(one is None for _, one in tempered_differences(single.differences, studies([1, 1])))
