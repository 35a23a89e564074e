"""Pairs of treatments against a full published output, and contrasts."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import stats

from scenariokit.errors import InfeasibleError, RangeError
from scenariokit.trials.analysis import (
    analyse,
    completely_randomised,
    contrast,
    pairwise,
    randomised_blocks,
    split_plot,
)
from scenariokit.trials.analysis.comparisons import adjust
from scenariokit.trials.plots import PlotTable

PAIRS = list(itertools.combinations(("cc", "fc", "ff", "oo"), 2))
# International Potato Center, Tacna: sweet potato and viruses; in de Mendiburu, multiple
# comparisons. Seen; printed to 4 or 3 decimals.
PRINTED = {
    "lsd": ([0.0176, 0.0151, 0.0121, 0.0003, 0.0003, 0.8873], 4),
    "bonferroni": ([0.1058, 0.0904, 0.0725, 0.0018, 0.0015, 1], 4),
    "holm": ([0.0484, 0.0484, 0.0484, 0.0015, 0.0015, 0.8873], 4),
    "tukey": ([0.069, 0.059, 0.048, 0.001, 0.001, 0.999], 3),
}


def plain(quantity):
    return quantity.m_as("kg/m^2")


def by_pair(found, name="p"):
    return {(pair.first, pair.second): getattr(pair, name) for pair in found.pairs}


@pytest.mark.parametrize("method", PRINTED)
def test_pairwise_published_chances(analysed, method):
    values, digits = PRINTED[method]
    found = by_pair(pairwise(analysed("sweetpotato"), "virus", method))
    expected = dict(zip(PAIRS, values, strict=True))
    assert found == pytest.approx(expected, abs=0.51 * 10**-digits)


@pytest.mark.parametrize(
    ("method", "critical", "letters"),
    [
        ("lsd", 8.928965, {"oo": "a", "ff": "a", "cc": "b", "fc": "c"}),
        ("tukey", 12.399670, {"oo": "a", "ff": "ab", "cc": "bc", "fc": "c"}),
    ],
)
def test_pairwise_published_difference_and_letters(analysed, method, critical, letters):
    found = pairwise(analysed("sweetpotato"), "virus", method)
    assert plain(found.critical) == pytest.approx(critical, rel=2e-6)
    assert found.letters == letters
    assert list(found.letters) == list(letters)


def test_pairwise_published_tukey_kramer_with_a_single_plot(trial):
    """Unequal numbers 3, 1, 2, 3: seen in the same source."""
    plots = trial("sweetpotato")
    keep = np.ones(12, dtype=bool)
    keep[[3, 4, 6]] = False
    found = pairwise(analyse(plots.where(keep), completely_randomised("virus")), "virus")
    printed = [0.3165, 0.2974, 0.0961, 0.0714, 0.0334, 0.8849]
    assert by_pair(found) == pytest.approx(dict(zip(PAIRS, printed, strict=True)), abs=6e-5)
    assert found.critical is None
    assert "fc: one plot only" in found.notes[-1]


def test_pairwise_strawberry_gives_least_and_honest_difference(analysed):
    found = analysed("strawberry")
    lsd, hsd = (plain(pairwise(found, "variety", way).critical) for way in ("lsd", "tukey"))
    assert (lsd, hsd) == pytest.approx((1.563461, 2.521658), rel=2e-6)


@pytest.mark.parametrize(
    ("first", "second", "low", "high"),
    [
        ("L3", "L1", 1.133, 5.307), ("L2", "L1", 0.293, 4.467), ("L3", "L2", -1.247, 2.927),
        ("L2", "L4", 0.133, 4.307), ("L3", "L4", 0.973, 5.147), ("L1", "L4", -2.247, 1.927),
    ],
)  # fmt: skip
def test_pairwise_handbook_intervals(analysed, first, second, low, high):
    """NIST/SEMATECH e-Handbook, 7.4.7.1, from memory."""
    ends = {}
    for pair in pairwise(analysed("handbook"), "group").pairs:
        a, b = plain(pair.low), plain(pair.high)
        ends |= {(pair.first, pair.second): (a, b), (pair.second, pair.first): (-b, -a)}
    assert ends[first, second] == pytest.approx((low, high), abs=2e-3)


def test_pairwise_plant_growth_gives_documented_chances(analysed):
    found = by_pair(pairwise(analysed("plants"), "group"))
    expected = {("ctrl", "trt1"): 0.391, ("ctrl", "trt2"): 0.198, ("trt1", "trt2"): 0.012}
    assert found == pytest.approx(expected, abs=5e-4)


@pytest.mark.parametrize(
    ("method", "digits"), [("lsd", 1e-10), ("bonferroni", 1e-10), ("holm", 1e-10), ("tukey", 1e-6)]
)
def test_pairwise_chances_equal_independent_package(analysed, method, digits):
    multiple = pytest.importorskip("statsmodels.stats.multitest")
    found = analysed("warp")
    raw = np.array([pair.p for pair in pairwise(found, "wool:tension", "lsd").pairs])
    ours = np.array([pair.p for pair in pairwise(found, "wool:tension", method).pairs])
    if method == "tukey":
        plots = found.model.plots
        codes = [
            f"{w}:{t}" for w, t in zip(plots.column("wool"), plots.column("tension"), strict=True)
        ]
        groups = [plots.yields[np.array(codes) == name] for name in dict.fromkeys(codes)]
        labels = list(dict.fromkeys(codes))
        table = stats.tukey_hsd(*groups).pvalue
        expected = [
            table[labels.index(pair.first), labels.index(pair.second)]
            for pair in pairwise(found, "wool:tension").pairs
        ]
    elif method == "lsd":
        expected = raw
    else:
        expected = multiple.multipletests(raw, method=method)[1]
    np.testing.assert_allclose(ours, expected, atol=digits)


def test_pairwise_split_plot_errors_equal_textbook_formulas(analysed):
    """Cochran and Cox, chapter 7, from memory: pairs within a variety, and across varieties."""
    found = pairwise(analysed("oats"), "variety:nitrogen", "lsd")
    main, sub, blocks, parts = 601.33056, 177.08333, 6, 4
    within = np.sqrt(2 * sub / blocks)
    across = np.sqrt(2 * ((parts - 1) * sub + main) / (blocks * parts))
    df = ((parts - 1) * sub + main) ** 2 / (((parts - 1) * sub) ** 2 / 45 + main**2 / 10)
    for pair in found.pairs:
        same = pair.first.split(":")[0] == pair.second.split(":")[0]
        expected = (within, 45) if same else (across, df)
        assert (plain(pair.standard_error), pair.df) == pytest.approx(expected, rel=1e-6)
    assert found.critical is None
    varieties = pairwise(analysed("oats"), "variety", "lsd")
    assert plain(varieties.pairs[0].standard_error) == pytest.approx(
        np.sqrt(2 * main / 24), rel=1e-7
    )
    assert plain(varieties.critical) == pytest.approx(2.228139 * np.sqrt(2 * main / 24), rel=1e-6)


def test_pairwise_tukey_across_errors_uses_each_pairs_degrees(analysed):
    found = pairwise(analysed("oats"), "variety:nitrogen")
    pair = next(p for p in found.pairs if p.first[0] != p.second[0])
    half = plain(pair.high - pair.difference) / plain(pair.standard_error)
    assert half == pytest.approx(stats.studentized_range.ppf(0.95, 12, pair.df) / 2**0.5, rel=1e-6)


def test_pairwise_holm_has_no_intervals(analysed):
    found = pairwise(analysed("sweetpotato"), "virus", "holm")
    assert found.critical is None
    assert all(pair.low is None and pair.high is None for pair in found.pairs)


def test_pairwise_less_confidence_finds_more(analysed):
    found = pairwise(analysed("sweetpotato"), "virus", "tukey", confidence=0.9)
    assert found.letters == {"oo": "a", "ff": "a", "cc": "b", "fc": "c"}


def test_pairwise_unknown_method_raises(analysed):
    with pytest.raises(RangeError, match=r"method = duncan.*lsd, tukey"):
        pairwise(analysed("plants"), "group", "duncan")


def test_pairwise_no_error_raises():
    plots = PlotTable([4.0, 4.0, 5.0, 5.0], {"method": tuple("AABB")})
    with pytest.raises(InfeasibleError, match="do not differ at all"):
        pairwise(analyse(plots, completely_randomised("method")), "method")


def test_pairwise_too_few_means_raises():
    """B:y was not harvested, so that method B has no mean over both varieties."""
    plots = PlotTable(
        [4.0, 4.2, 6.0, 6.1, 8.0, 8.3, float("nan")],
        {"method": tuple("AAAABBB"), "variety": tuple("xxyyxxy")},
    )
    found = analyse(plots, completely_randomised("method", "variety"))
    with pytest.raises(InfeasibleError, match=r"two means of method \(not B\)"):
        pairwise(found, "method")
    cells = pairwise(found, "method:variety")
    assert "no mean of B:y" in cells.notes[-1]


@settings(max_examples=100, deadline=None)
@given(st.lists(st.floats(0, 1), min_size=1, max_size=12))
def test_adjust_holm_lies_between_plain_and_bonferroni(chances):
    p = np.array(chances)
    holm, bonferroni = adjust(p, "holm"), adjust(p, "bonferroni")
    assert (adjust(p, "none") == p).all()
    assert (p <= holm + 1e-15).all()
    assert (holm <= bonferroni + 1e-15).all()
    assert (np.diff(holm[np.argsort(p, kind="stable")]) >= 0).all()


def test_contrast_scab_gives_control_against_sulphur(analysed):
    """Computed: sums of squares 518.01042 and 228.16667, F 11.5331 and 5.0800."""
    found = analysed("scab")
    sulphur = contrast(
        found, "treatment", {"O": 6, "F3": -1, "S3": -1, "F6": -1, "S6": -1, "F12": -1, "S12": -1}
    )
    season = contrast(
        found, "treatment", {"F3": 1, "F6": 1, "F12": 1, "S3": -1, "S6": -1, "S12": -1}
    )
    assert sulphur.sum_of_squares == pytest.approx(518.01042, abs=5e-6)
    assert sulphur.f == pytest.approx(11.5331, abs=5e-5)
    assert season.sum_of_squares == pytest.approx(228.16667, abs=5e-6)
    assert season.f == pytest.approx(5.0800, abs=5e-5)
    assert season.p == pytest.approx(stats.f.sf(season.f, 1, 25))


def test_contrast_of_two_equals_their_pair(analysed):
    found = analysed("oats")
    one = contrast(found, "variety", {"Victory": 1, "Marvellous": -1})
    pair = next(
        pair
        for pair in pairwise(found, "variety", "lsd").pairs
        if {pair.first, pair.second} == {"Victory", "Marvellous"}
    )
    assert one.p == pytest.approx(pair.p)
    ends = sorted(abs(plain(end)) for end in (one.low, one.high))
    assert ends == pytest.approx(sorted(abs(plain(end)) for end in (pair.low, pair.high)))
    assert one.sum_of_squares is None
    assert one.df == pytest.approx(10)


@pytest.mark.parametrize(
    ("weights", "words"),
    [
        ({"ctrl": 1, "trt9": -1}, "trt9"),
        ({"ctrl": 1}, "do not add to zero"),
        ({}, "all zero"),
        ({"ctrl": float("nan"), "trt1": 1}, "not finite"),
    ],
)
def test_contrast_impossible_weights_raise(analysed, weights, words):
    with pytest.raises(RangeError, match=words):
        contrast(analysed("plants"), "group", weights)


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6), st.floats(0.01, 100))
def test_pairwise_scales_with_the_yields(seed, factor):
    rng = np.random.default_rng(seed)
    factors = {"method": tuple("AABBCC"), "block": ("1", "2") * 3}
    yields = rng.uniform(1, 9, 6)
    design = randomised_blocks("method")
    small = pairwise(analyse(PlotTable(yields, factors), design), "method", "lsd")
    large = pairwise(analyse(PlotTable(yields * factor, factors), design), "method", "lsd")
    assert plain(large.critical) == pytest.approx(plain(small.critical) * factor)
    assert by_pair(large) == pytest.approx(by_pair(small))
    assert large.letters == small.letters


def test_pairwise_split_plot_with_holes_keeps_positive_errors(trial):
    plots = trial("alfalfa")
    yields = plots.yields.copy()
    yields[[0, 7, 30]] = np.nan
    found = analyse(PlotTable(yields, plots.factors), split_plot("variety", "date"))
    for source in ("variety", "date", "variety:date"):
        pairs = pairwise(found, source, "lsd").pairs
        assert all(plain(pair.standard_error) > 0 and pair.df > 1 for pair in pairs)
