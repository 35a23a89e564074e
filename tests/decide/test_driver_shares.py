"""Sobol indices of functions with closed forms, and of outcomes that are linear in their drivers."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_methods import plain
from scipy import stats

from scenariokit.decide import sobol
from scenariokit.decide.driver_shares import (
    Sampling,
    driver_shares,
    groups_by_cause,
    sobol_shares,
    variance_shares,
)
from scenariokit.decide.sobol import MOST_EVALUATIONS, sobol_estimate
from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.scenario import scenario_for
from scenariokit.uncertainty import (
    Cause,
    Stopped,
    Uncertain,
    Uncertainty,
    fixed,
    normal,
    uniform,
    usual_uncertainty,
)

with (Path(__file__).parents[1] / "published" / "sensitivity_functions.csv").open(
    newline="", encoding="utf-8"
) as file:
    ROWS = list(csv.DictReader(file))
# First order and total, each computed from the closed form of its function.
PUBLISHED = {
    name: [
        np.array([float(row[kind]) for row in ROWS if row["function"] == name])
        for kind in ("first", "total")
    ]
    for name in ("ishigami", "g")
}
COEFFICIENTS = np.array([float(row["coefficient"]) for row in ROWS if row["function"] == "g"])

AREA = "cost_per_area"
# Cost of 2 f + w money/m²: standard deviations of 0.2 and 0.3
FACTOR = Uncertain("prices.medium_factor", normal(1, 0.1), label="Medium")
WAGE = Uncertain("prices.labour_price", normal("4 money/hour", "0.3 money/hour"), label="Wage")


def ishigami(x):
    return np.sin(x[0]) + 7 * np.sin(x[1]) ** 2 + 0.1 * x[2] ** 4 * np.sin(x[0])


def g_function(x):
    a = COEFFICIENTS[:, np.newaxis]
    return np.prod((np.abs(4 * x - 2) + a) / (1 + a), axis=0)


@pytest.fixture(scope="module")
def bag():
    return plain("medium_bag", medium=0.1, litres=2.0, hours=0.1, harvest=5.0)


@pytest.fixture(scope="module")
def wedges():
    """Cost of 1.5 w money/m²."""
    return plain("wedge_pots", litres=1.0, hours=0.15, harvest=4.0)


# Seeds differ by 0.004 in the root mean square at 4096 draws, and one in ten by more than 0.01.
@pytest.mark.parametrize(("count", "seed"), [(4096, 0), (4096, 3), (32768, 1), (32768, 2)])
def test_sobol_shares_ishigami(count, seed):
    spreads = [uniform(-np.pi, np.pi)] * 3
    first, total = sobol_shares(ishigami, spreads, count, seed)
    assert first == pytest.approx(PUBLISHED["ishigami"][0], abs=0.01)
    assert total == pytest.approx(PUBLISHED["ishigami"][1], abs=0.01)


@pytest.mark.parametrize("seed", [0, 1])
def test_sobol_shares_g_function(seed):
    first, total = sobol_shares(g_function, [uniform(0, 1)] * 8, 4096, seed)
    assert first == pytest.approx(PUBLISHED["g"][0], abs=0.01)
    assert total == pytest.approx(PUBLISHED["g"][1], abs=0.01)


def test_sobol_shares_of_distributions_with_ppf():
    spreads = [stats.uniform(-np.pi, 2 * np.pi)] * 3
    found = sobol_shares(ishigami, spreads, 1024, 0)
    same = sobol_shares(ishigami, [uniform(-np.pi, np.pi)] * 3, 1024, 0)
    np.testing.assert_allclose(found, same, rtol=1e-9)


def test_sobol_shares_seed_zero_is_a_seed():
    spreads = [uniform(-np.pi, np.pi)] * 3
    first, again, other = (sobol_shares(ishigami, spreads, 256, seed) for seed in (0, 0, 1))
    np.testing.assert_array_equal(first, again)
    assert not np.array_equal(first, other)


def test_sobol_shares_one_input_has_all():
    first, total = sobol_shares(lambda x: np.exp(x[0]), [uniform(0, 1)], 1024)
    assert first == pytest.approx([1.0], abs=0.01)
    assert total == pytest.approx([1.0], abs=0.01)


def test_sobol_shares_constant_is_refused():
    with pytest.raises(InfeasibleError, match="does not vary at all"):
        sobol_shares(lambda x: np.full(x.shape[1], 1e6 / 3), [uniform(0, 1)] * 2, 64)


def test_sobol_shares_without_value_is_refused():
    with pytest.raises(InfeasibleError, match=r"no value in 25\.00% of the draws"):
        sobol_shares(lambda x: np.where(x[0] < 0.25, np.nan, x[1]), [uniform(0, 1)] * 2, 64)


@pytest.mark.parametrize("count", [0, 1, 3, 1000])
def test_sobol_shares_count_must_be_a_power_of_two(count):
    with pytest.raises(RangeError, match="is no power of 2"):
        sobol_shares(ishigami, [uniform(0, 1)] * 3, count)


def test_sobol_shares_too_many_evaluations_are_refused():
    count = 2 ** MOST_EVALUATIONS.bit_length()
    with pytest.raises(RangeError, match="is too many"):
        sobol_shares(ishigami, [uniform(0, 1)] * 3, count)
    with pytest.raises(RangeError, match="has no input that varies"):
        sobol_shares(ishigami, [], 64)


def test_sampling_all_bad_numbers_in_one_message():
    with pytest.raises(RangeError, match="4 problems") as error:
        Sampling(count=5, seed=-1, resamples=-2, level=1.0)
    assert [one.field for one in error.value.problems] == ["count", "seed", "resamples", "level"]


def test_sobol_estimate_groups_add_what_they_do_together():
    # inputs 1 and 3 of Ishigami's function together: S1 + S13 = 0.557589, and the same in total
    groups = [[0, 2], [1]]
    quantiles = [uniform(-np.pi, np.pi).quantile_floats] * 3
    found = sobol_estimate(ishigami, quantiles, groups, Sampling(4096, 0, 0))
    expected = [PUBLISHED["ishigami"][1][0], PUBLISHED["ishigami"][1][1]]
    assert found.first == pytest.approx(expected, abs=0.01)
    assert found.total == pytest.approx(expected, abs=0.01)
    assert (found.mean, found.deviation**2) == pytest.approx((3.5, 13.844588), rel=0.01)


def test_sobol_estimate_intervals_hold_the_estimate_and_narrow():
    quantiles = [uniform(-np.pi, np.pi).quantile_floats] * 3
    few, many = (
        sobol_estimate(ishigami, quantiles, [[0], [1], [2]], Sampling(count, 0, 200))
        for count in (256, 4096)
    )
    for found in (few, many):
        for values, ends in ((found.first, found.first_range), (found.total, found.total_range)):
            assert (ends[0] < values).all()
            assert (values < ends[1]).all()
    assert (np.diff(many.total_range, axis=0) < 0.5 * np.diff(few.total_range, axis=0)).all()
    assert (many.total_range[0] < PUBLISHED["ishigami"][1]).all()
    assert (many.total_range[1] > PUBLISHED["ishigami"][1]).all()


def test_sobol_estimate_intervals_are_those_of_resampled_draws():
    # the same resamples, drawn one by one, with the estimator written out as in the reference
    sampling, rng = Sampling(64, 5, 20, 0.8), np.random.default_rng(9)
    a, b, mixed = rng.normal(size=64), rng.normal(size=64), rng.normal(size=(2, 64))
    found = sobol._ranges(a, b, mixed, sampling)
    again = np.random.default_rng([5, 1])
    rows = []
    for _ in range(20):
        chosen = again.integers(64, size=64)
        fa, fb, fab = a[chosen], b[chosen], mixed[:, chosen]
        variance = np.var([fa, fb])
        first = np.mean(fb * (fab - fa), axis=1) / variance
        total = 0.5 * np.mean((fa - fab) ** 2, axis=1) / variance
        rows.append([first, total])
    expected = np.quantile(rows, [0.1, 0.9], axis=0)
    np.testing.assert_allclose(found[0], expected[:, 0], rtol=1e-9)
    np.testing.assert_allclose(found[1], expected[:, 1], rtol=1e-9)


def test_driver_shares_of_a_linear_cost(bag):
    # variances 0.04 and 0.09 of 0.13; nothing together
    found = variance_shares([bag], Uncertainty((FACTOR, WAGE)), AREA, sampling=Sampling(2048))
    wage, factor = found.rows
    assert (wage.driver, factor.driver) == ("Wage", "Medium")
    assert (wage.first, wage.total) == pytest.approx((9 / 13, 9 / 13), abs=0.01)
    assert (factor.first, factor.total) == pytest.approx((4 / 13, 4 / 13), abs=0.01)
    assert found.together == pytest.approx(0, abs=0.01)
    assert found.mean.m_as("money/m^2") == pytest.approx(6, abs=1e-3)
    assert found.deviation.m_as("money/m^2") == pytest.approx(np.sqrt(0.13), rel=1e-3)
    low, high = wage.total_range
    assert low < wage.total < high


def test_driver_shares_of_a_cause_by_its_strength(bag):
    # the wage moves by 0.6 with the market, the medium by 0.8: market (0.2 x 0.8 + 0.3 x 0.6)²,
    # own parts 0.04 x 0.36 and 0.09 x 0.64
    told = Uncertainty(
        (
            Uncertain(FACTOR.path, FACTOR.spread, cause="m", strength=0.8, label="Medium"),
            Uncertain(WAGE.path, WAGE.spread, cause="m", strength=0.6, label="Wage"),
        ),
        (Cause("m", "Market"), Cause("s", "Season")),
    )
    parts = {"Market": 0.34**2, "Wage": 0.0576, "Medium": 0.0144}
    found = driver_shares([bag], told, AREA, 2048)
    assert [row.driver for row in found] == ["Market", "Wage", "Medium"]
    for row in found:
        assert row.total == pytest.approx(parts[row.driver] / sum(parts.values()), abs=0.01)
    assert variance_shares([bag], told, AREA).without_part == ("Season",)
    groups = groups_by_cause(told)
    assert groups == {"Market": (0, 2, 3), "Season": (1,)}
    grouped = variance_shares([bag], told, AREA, groups, Sampling(256))
    assert [row.driver for row in grouped.rows] == ["Market"]
    assert grouped.rows[0].total == pytest.approx(1, abs=0.02)
    assert grouped.without_part == ("Season",)


def test_driver_shares_of_a_difference_leave_out_what_is_common(bag, wedges):
    # 2 f + w - 1.5 w: variances 0.04 and 0.25 x 0.09
    rows = {
        row.driver: row for row in driver_shares([bag, wedges], Uncertainty((FACTOR, WAGE)), AREA)
    }
    assert rows["Wage"].total == pytest.approx(0.0225 / 0.0625, abs=0.01)
    same = variance_shares(
        [bag, wedges], Uncertainty((FACTOR, Uncertain("prices.produce_price", uniform(0.9, 1.1), relative=True,
                                          label="Price"))), AREA
    )  # fmt: skip
    rest = next(row for row in same.rows if row.driver == "Price")
    assert rest.total == pytest.approx(0, abs=1e-12)


def test_driver_shares_nothing_uncertain_is_refused(bag):
    still = Uncertain("prices.labour_price", fixed("4 money/hour"))
    elsewhere = Uncertain("harvest.typical", uniform("1 kg/m^2", "2 kg/m^2"), method="paper_wrap")
    with pytest.raises(InfeasibleError, match="nothing of these scenarios is uncertain"):
        driver_shares([bag], Uncertainty((still, elsewhere)), AREA)
    useless = Uncertain("prices.produce_price", uniform("1 money/kg", "2 money/kg"))
    with pytest.raises(InfeasibleError, match="does not vary at all"):
        driver_shares([bag], Uncertainty((useless,)), AREA)


def test_driver_shares_fully_driven_input_has_no_own_part(bag):
    told = Uncertainty(
        (Uncertain(WAGE.path, WAGE.spread, cause="m", strength=1.0, label="Wage"), FACTOR),
        (Cause("m", "Market"),),
    )
    found = variance_shares([bag], told, AREA)
    assert {row.driver for row in found.rows} == {"Market", "Medium"}
    assert found.without_part == ("Wage",)


def test_driver_shares_progress_is_told_and_may_stop(bag):
    told = Uncertainty((FACTOR, WAGE))
    seen = []
    driver_shares([bag], told, AREA, 256, 0, lambda done, total: seen.append((done, total)))
    assert seen == [(256, 1024), (512, 1024), (768, 1024), (1024, 1024)]

    def stop(done, total):
        if done >= 512:
            raise Stopped("enough")

    with pytest.raises(Stopped):
        driver_shares([bag], told, AREA, 256, 0, stop)


def test_driver_shares_blocks_change_nothing(bag, monkeypatch):
    told = Uncertainty((FACTOR, WAGE))
    whole = driver_shares([bag], told, "cost_per_kilogram", 512)
    monkeypatch.setattr(sobol, "BLOCK", 100)
    assert driver_shares([bag], told, "cost_per_kilogram", 512) == whole


def test_variance_shares_bad_arguments_in_one_message(bag):
    with pytest.raises(RangeError, match="3 problems") as error:
        variance_shares([], Uncertainty((FACTOR, WAGE)), "profit", {"all": (0, 0)})
    assert [one.field for one in error.value.problems] == ["scenarios", "name", "groups"]
    with pytest.raises(RangeError, match="is no number of a scenario"):
        driver_shares([bag], Uncertainty((Uncertain("prices.labor", uniform(0, 1)),)), AREA)
    with pytest.raises(InfeasibleError, match="stands twice"):
        driver_shares([bag, bag], Uncertainty((WAGE,)), AREA)


def test_groups_by_cause_tell_alike_labels_apart():
    yields = [
        Uncertain("harvest.typical", uniform("1 kg/m^2", "2 kg/m^2"), method=name, label="Yield")
        for name in ("medium_bag", "wedge_pots")
    ]
    told = Uncertainty(tuple(yields), (Cause("season", ""),))
    assert groups_by_cause(told) == {
        "season": (0,), told.drivers[1]: (1,), told.drivers[2]: (2,),
    }  # fmt: skip
    assert len(set(told.drivers)) == 3


def test_variance_shares_frame(bag):
    found = variance_shares([bag], Uncertainty((FACTOR, WAGE)), AREA, sampling=Sampling(256, 0, 0))
    table = found.frame()
    assert table["driver"].tolist() == ["Wage", "Medium"]
    assert table["total_low"].isna().all()
    assert table["total"].tolist() == [row.total for row in found.rows]


@given(seed=st.integers(0, 1000), method=st.sampled_from(["medium_bag", "suspended_pot"]))
@settings(max_examples=8, deadline=None)
def test_driver_shares_total_is_not_below_first(seed, method):
    one = scenario_for(method)
    found = variance_shares(
        [one], usual_uncertainty([one]), "margin_per_area", sampling=Sampling(1024, seed, 0)
    )
    noise = 0.06
    for row in found.rows:
        assert row.total >= row.first - noise
        assert -noise <= row.first <= 1 + noise
    assert sum(row.first for row in found.rows) <= 1 + 2 * noise
    assert sum(row.total for row in found.rows) >= 1 - 2 * noise
