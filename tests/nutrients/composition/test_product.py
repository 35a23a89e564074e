from __future__ import annotations

import copy
import pickle

import pytest

from scenariokit.errors import ArgumentError, RangeError
from scenariokit.nutrients.composition.product import Fertiliser


def made(shares, stock="either", **more):
    return Fertiliser("mine", "Mine", shares, stock, **more)


def test_fertiliser_total_nitrogen_is_the_sum_of_forms_where_it_is_missing():
    one = made({"N_nitrate": 0.14, "N_ammonium": 0.01})
    assert one.shares["N"] == pytest.approx(0.15)
    assert one.unknown_nitrogen == 0


def test_fertiliser_nitrogen_beyond_the_forms_is_of_unknown_form():
    assert made({"N": 0.15}).unknown_nitrogen == 0.15
    assert made({"N": 0.15, "N_nitrate": 0.1}).unknown_nitrogen == pytest.approx(0.05)
    assert made({"K": 0.4}).unknown_nitrogen == 0


def test_fertiliser_zeros_are_left_out_and_order_is_that_of_contents():
    assert list(made({"K": 0.4, "Ca": 0, "N": 0.1}).shares) == ["N", "K"]


def test_fertiliser_is_frozen_hashable_and_survives_a_copy():
    one = made({"K": 0.4})
    with pytest.raises(AttributeError):
        one.label = "Other"
    with pytest.raises(TypeError):
        one.shares["K"] = 0.5
    assert hash(one) == hash(made({"K": 0.4}))
    assert copy.deepcopy(one) == one
    assert pickle.loads(pickle.dumps(one)) == one  # noqa: S301


def test_fertiliser_later_change_of_the_given_mapping_has_no_effect():
    shares = {"K": 0.4}
    one = made(shares)
    shares["K"] = 0.9
    assert one.shares["K"] == 0.4


@pytest.mark.parametrize("share", [-0.1, 1.1, float("nan"), float("inf")])
def test_fertiliser_share_outside_a_gram_raises(share):
    with pytest.raises(RangeError, match=r"shares\[K\].*share of a gram; allowed: 0 to 1"):
        made({"K": share})


@pytest.mark.parametrize("share", ["0.4", True, None])
def test_fertiliser_share_that_is_no_number_raises(share):
    with pytest.raises(ArgumentError, match="not a plain number"):
        made({"K": share})


@pytest.mark.parametrize("key", ["K2O", "HCO3", "NO3"])
def test_fertiliser_unknown_key_raises(key):
    with pytest.raises(ArgumentError, match="not a known key"):
        made({key: 0.1})


@pytest.mark.parametrize("shares", [{}, None, [("K", 0.1)]])
def test_fertiliser_shares_that_are_no_mapping_raise(shares):
    with pytest.raises(ArgumentError, match="must map content keys"):
        made(shares)


def test_fertiliser_all_zero_raises():
    with pytest.raises(ArgumentError, match="no nutrient at all"):
        made({"K": 0.0})


def test_fertiliser_elements_over_the_whole_raise():
    with pytest.raises(RangeError, match="more than the product"):
        made({"K": 0.6, "N_nitrate": 0.5})


def test_fertiliser_forms_above_total_nitrogen_raise():
    with pytest.raises(RangeError, match=r"less than its forms together, 0\.2"):
        made({"N": 0.1, "N_nitrate": 0.2})


def test_fertiliser_wrong_words_and_shares_are_listed_together():
    with pytest.raises(ArgumentError) as caught:
        made({"K": 2, "X": 0.1}, stock="C", kind="powder")
    fields = [problem.field for problem in caught.value.problems]
    assert fields == ["stock", "kind", "shares[K]", "shares[X]"]
    assert "fertiliser mine" in str(caught.value)
