"""Letters share what is not shown to differ, and only that."""

from __future__ import annotations

import itertools

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.trials.analysis.letters import compact_letters


def test_compact_letters_nothing_differs_is_one_letter():
    assert compact_letters({"A": 1, "B": 2}, []) == {"B": "a", "A": "a"}


def test_compact_letters_chain_is_shared_in_the_middle():
    found = compact_letters({"a": 4, "b": 3, "c": 2, "d": 1}, [("d", "a"), ("a", "c"), ("b", "d")])
    assert found == {"a": "a", "b": "ab", "c": "bc", "d": "c"}


def test_compact_letters_all_differ_goes_beyond_the_alphabet():
    names = [str(i) for i in range(55)]
    found = compact_letters(
        {name: -i for i, name in enumerate(names)}, list(itertools.combinations(names, 2))
    )
    assert found["0"] == "a"
    assert found["26"] == "A"
    assert found["52"] == "a'"
    assert len(set(found.values())) == 55


@pytest.mark.parametrize("pair", [("A", "A"), ("A", "C"), ("C", "A")])
def test_compact_letters_pair_without_mean_raises(pair):
    with pytest.raises(ValueError, match="no pair"):
        compact_letters({"A": 1, "B": 2}, [pair])


@settings(max_examples=200, deadline=None)
@given(st.data(), st.integers(2, 7))
def test_compact_letters_say_exactly_what_differs(data, count):
    names = [f"t{i}" for i in range(count)]
    means = dict(
        zip(
            names, data.draw(st.lists(st.floats(0, 9), min_size=count, max_size=count)), strict=True
        )
    )
    pairs = list(itertools.combinations(names, 2))
    different = data.draw(st.sets(st.sampled_from(pairs)))
    found = compact_letters(means, different)
    for first, second in pairs:
        shared = set(found[first]) & set(found[second])
        assert bool(shared) != ((first, second) in different)
