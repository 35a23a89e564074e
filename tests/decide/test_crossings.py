"""Changes of sign of plain functions: roots, jumps, touches, gaps and flat stretches."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit.decide.crossings import ABOVE, BELOW, EQUAL, UNDEFINED, narrowed, sections
from scenariokit.errors import InfeasibleError, RangeError


def signs(found):
    return [piece.sign for piece in found.pieces]


def kinds(found):
    return [border.kind for border in found.borders]


def test_sections_square_minus_two_gives_root_to_last_digit():
    found = sections(lambda x: x**2 - 2, 0.0, 3.0)
    assert signs(found) == [BELOW, ABOVE]
    assert kinds(found) == ["crosses"]
    assert found.borders[0].at == pytest.approx(math.sqrt(2), rel=1e-15)
    assert (found.pieces[0].low, found.pieces[-1].high) == (0.0, 3.0)


@pytest.mark.parametrize("place", [1.5, 0.015])
def test_sections_root_on_a_place_looked_at_is_one_crossing(place):
    found = sections(lambda x: x - place, 0.0, 3.0)
    assert kinds(found) == ["crosses"]
    assert found.borders[0].at == pytest.approx(place, rel=1e-15)


def test_sections_many_roots_are_all_found():
    found = sections(lambda x: np.sin(20 * x), 0.01, 3.0)
    roots = np.arange(1, 20) * np.pi / 20  # the last one below 3 is 19 pi / 20
    assert [border.at for border in found.borders] == pytest.approx(roots.tolist(), rel=1e-14)
    assert signs(found) == [ABOVE, BELOW] * 10


@pytest.mark.parametrize("place", [1.0, 1.0034, 2.9])
def test_sections_touch_keeps_sign_and_is_told(place):
    found = sections(lambda x: (x - place) ** 2, 0.0, 3.0)
    assert kinds(found) == ["touches"]
    assert signs(found) == [ABOVE, ABOVE]
    assert found.borders[0].at == pytest.approx(place, abs=1e-6)


def test_sections_two_roots_within_a_step_are_found_by_looking_closely():
    # the step is 0.015; the roots are 0.00002 apart
    found = sections(lambda x: (x - 1.003) ** 2 - 1e-10, 0.0, 3.0)
    assert kinds(found) == ["crosses", "crosses"]
    assert [border.at for border in found.borders] == pytest.approx([1.00299, 1.00301], abs=1e-12)


def test_sections_near_miss_has_no_border_and_tells_the_nearest():
    found = sections(lambda x: (x - 1.003) ** 2 + 1e-6, 0.0, 3.0)
    assert found.borders == ()
    assert signs(found) == [ABOVE]
    assert found.nearest == pytest.approx((1.003, 1e-6), abs=1e-6)


@pytest.mark.parametrize(("low", "high"), [(0.0, 3.0), (-3.0, 0.0)])
def test_sections_zero_at_an_end_touches(low, high):
    found = sections(lambda x: np.abs(x), low, high)
    assert kinds(found) == ["touches"]
    assert found.borders[0].at == 0.0
    assert sorted(signs(found)) == [EQUAL, ABOVE]
    empty = next(piece for piece in found.pieces if piece.sign == EQUAL)
    assert empty.low == empty.high == 0.0


def test_sections_zero_throughout_is_equal():
    found = sections(lambda x: 0 * x, 0.0, 3.0)
    assert signs(found) == [EQUAL]
    assert found.nearest == (0.0, 0.0)


def test_sections_rounding_beside_large_numbers_is_equal():
    rounding = sections(lambda x: 1e-9 * np.sin(50 * x), 0.0, 3.0, size=1e6)
    real = sections(lambda x: 1e-3 * np.sin(50 * x), 0.0, 3.0, size=1e6)
    assert signs(rounding) == [EQUAL]
    assert len(signs(real)) > 40


def test_sections_flat_stretch_begins_at_an_edge():
    found = sections(lambda x: np.maximum(x - 1.234, 0.0), 0.0, 3.0)
    assert signs(found) == [EQUAL, ABOVE]
    assert kinds(found) == ["edge"]
    assert found.borders[0].at == pytest.approx(1.234, abs=1e-11)


def test_sections_step_jumps_and_is_no_crossing():
    found = sections(lambda x: np.ceil(x) - 1.5, 0.0, 3.0)
    assert signs(found) == [BELOW, ABOVE]
    (border,) = found.borders
    assert border.kind == "jumps"
    assert border.at == pytest.approx(1.0, abs=1e-14)
    assert (border.before, border.after) == (-0.5, 0.5)


def test_sections_pole_is_a_jump():
    with np.errstate(divide="ignore"):
        found = sections(lambda x: 1 / (x - np.pi), 0.0, 5.0)
    assert kinds(found) == ["jumps"]
    assert found.borders[0].at == pytest.approx(np.pi, rel=1e-14)


def test_sections_undefined_part_is_named_with_its_edge():
    found = sections(lambda x: np.where(x < 1.1, np.nan, x - 2), 0.0, 3.0)
    assert signs(found) == [UNDEFINED, BELOW, ABOVE]
    assert kinds(found) == ["edge", "crosses"]
    assert [border.at for border in found.borders] == pytest.approx([1.1, 2.0], rel=1e-14)
    assert found.meetings == found.borders[1:]


def test_sections_gap_within_a_step_is_no_crossing():
    # the root at 1.002 lies where there is no value, so nothing is equal
    found = sections(lambda x: np.where((x > 1.0001) & (x < 1.003), np.nan, x - 1.002), 0.0, 3.0)
    assert signs(found) == [BELOW, UNDEFINED, ABOVE]
    assert found.meetings == ()


def test_sections_undefined_at_one_place_only_has_no_width():
    found = sections(lambda x: np.where(x == 0, np.nan, x + 1), 0.0, 3.0)
    assert signs(found) == [UNDEFINED, ABOVE]
    assert (found.pieces[0].low, found.pieces[0].high) == (0.0, 0.0)
    other = sections(lambda x: np.where(x == 3, np.nan, x + 1), 0.0, 3.0)
    assert signs(other) == [ABOVE, UNDEFINED]
    assert (other.pieces[1].low, other.pieces[1].high) == (3.0, 3.0)


def test_sections_undefined_throughout_has_no_nearest():
    found = sections(lambda x: np.full_like(x, np.nan), 0.0, 3.0)
    assert signs(found) == [UNDEFINED]
    assert found.nearest is None


def test_sections_zero_beside_a_gap_takes_the_sign_of_its_side():
    # zero at 1.5, where there are values only above it
    found = sections(lambda x: np.where(x < 1.5, np.nan, x - 1.5), 0.0, 3.0)
    assert signs(found) == [UNDEFINED, ABOVE]
    alone = sections(lambda x: np.where(x == 1.5, 0.0, np.nan), 0.0, 3.0)
    assert set(signs(alone)) == {UNDEFINED}


def test_sections_looks_through_places_given():
    # a sliver that the 201 places miss, and a place within it
    def sliver(x):
        return np.where((x > 1.0012) & (x < 1.0018), 1.0, -1.0)

    assert signs(sections(sliver, 0.0, 3.0)) == [BELOW]
    assert signs(sections(sliver, 0.0, 3.0, through=[1.0015])) == [BELOW, ABOVE, BELOW]


def test_sections_endless_changes_are_refused():
    def wild(x):
        spiky = np.where(np.floor(x * 3000).astype(int) % 2 == 0, 1.0, np.nan)
        return np.where(x < 1.5, 1.0, np.where(x < 1.515, spiky, -1.0))

    with pytest.raises(InfeasibleError, match="more than 12 times"):
        sections(wild, 0.0, 3.0)


@pytest.mark.parametrize(("low", "high"), [(3.0, 1.0), (1.0, 1.0), (0.0, np.inf), (np.nan, 1.0)])
def test_sections_bad_range_is_refused(low, high):
    with pytest.raises(RangeError, match="are no ends of a range"):
        sections(lambda x: x, low, high)


@given(
    roots=st.lists(st.integers(1, 29), min_size=1, max_size=5, unique=True),
    scale=st.sampled_from([1e-6, 1.0, 1e7]),
)
@settings(max_examples=40, deadline=None)
def test_sections_polynomial_signs_alternate_and_roots_agree(roots, scale):
    places = sorted(root / 10 for root in roots)

    def polynomial(x):
        return scale * np.prod([x - place for place in places], axis=0)

    found = sections(polynomial, 0.0, 3.0)
    assert [border.at for border in found.borders] == pytest.approx(places, abs=1e-12)
    assert all(a == -b for a, b in itertools.pairwise(signs(found)))
    for piece in found.pieces:
        assert np.sign(polynomial((piece.low + piece.high) / 2)) == piece.sign


@given(shift=st.floats(-0.99, 0.99), factor=st.floats(0.1, 10))
@settings(max_examples=40, deadline=None)
def test_sections_pieces_cover_the_range_and_mirror(shift, factor):
    def wave(x):
        return factor * (np.cos(3 * x) + shift)

    found, other = sections(wave, 0.0, 3.0), sections(lambda x: -wave(x), 0.0, 3.0)
    assert len(found.pieces) == len(found.borders) + 1
    cuts = [0.0, *(border.at for border in found.borders), 3.0]
    assert [(p.low, p.high) for p in found.pieces] == list(itertools.pairwise(cuts))
    assert [-sign for sign in signs(found)] == signs(other)
    assert [b.at for b in other.borders] == pytest.approx([b.at for b in found.borders], rel=1e-12)


def test_narrowed_rows_end_at_neighbouring_floats():
    def three(places):
        return np.stack([places[0] ** 2 - 2, np.ceil(places[1]) - 1.5, 1.5 - places[2]])

    low, high, low_value, high_value = narrowed(
        three, np.zeros(3), np.full(3, 3.0), np.array([-2.0, -1.5, 1.5]), np.array([7.0, 1.5, -1.5])
    )
    assert low[0] <= math.sqrt(2) <= high[0]
    assert np.all(high - low <= np.spacing(3.0))
    assert (low_value[1], high_value[1]) == (-0.5, 0.5)
    assert low[2] <= 1.5 <= high[2]
    assert low_value[2] >= 0 >= high_value[2]


def test_narrowed_edge_to_no_value_is_found():
    low, high, _, high_value = narrowed(
        lambda places: np.where(places < 1.1, 1.0, np.nan),
        np.zeros(1), np.full(1, 3.0), np.ones(1), np.full(1, np.nan),
    )  # fmt: skip
    assert (low[0], high[0]) == pytest.approx((1.1, 1.1), rel=1e-15)
    assert np.isnan(high_value[0])


@given(root=st.floats(0.001, 2.999), power=st.sampled_from([1, 3, 5]))
@settings(max_examples=60, deadline=None)
def test_narrowed_monotonic_function_takes_few_rounds(root, power):
    calls = []

    def function(places):
        calls.append(1)
        return places**power - root**power

    low, high, *_ = narrowed(
        function, np.zeros(1), np.full(1, 3.0),
        np.array([-(root**power)]), np.array([3.0**power - root**power]),
    )  # fmt: skip
    assert low[0] == pytest.approx(root, rel=1e-13)
    assert high[0] >= low[0]
    assert len(calls) <= 20
