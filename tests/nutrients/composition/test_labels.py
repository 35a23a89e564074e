from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from scenariokit import nutrients, quantity
from scenariokit.errors import ArgumentError, RangeError, UnitError
from scenariokit.nutrients.composition.labels import label_shares


def added(*feeds):
    return {name: sum(feed[name].m_as("mg/L") for feed in feeds) for name in feeds[0]}


def test_from_label_calcium_nitrate_100_mg_per_litre_nitrogen():
    # Method and the 15.5 % N, 19 % Ca label: a trade article on calcium nitrate (read);
    # 645.2 mg/L and 122.6 mg/L Ca computed by hand.
    found = nutrients.from_label("15.5-0-0", "645.2 mg/L", calcium="19 %", stated_as="element")
    assert found["N"].m_as("mg/L") == pytest.approx(100.0, abs=0.05)
    assert found["Ca"].m_as("mg/L") == pytest.approx(122.6, abs=0.05)


@pytest.mark.parametrize(
    ("ounces", "percent", "expected"), [(1, 15, 11.23), (22.3, 15, 250.5), (8.09, 33, 199.9)]
)
def test_from_label_ounces_per_hundred_gallons_exact(ounces, percent, expected):
    # Texas A&M AgriLife Extension, fertiliser calculations (read): percent as a fraction x 75;
    # exact: 1 oz per 100 US gal = 74.89 mg/L. Expected values computed by hand from 74.89.
    rate = quantity(ounces / 100, "oz/gal")
    found = nutrients.from_label((percent, 0, 0), rate)
    assert found["N"].m_as("mg/L") == pytest.approx(expected, abs=0.06)


def test_from_label_one_ounce_rule_is_7489():
    assert quantity(0.01, "oz/gal").m_as("mg/L") == pytest.approx(74.89, abs=0.005)


def test_from_label_one_bag_programme_with_calcium_nitrate():
    # Recipe from memory (g per US gal: 3.68 of 5-11-26 and 2.54 of 15.5-0-0); concentrations
    # computed by hand. S stands on the bag as 4 %, from memory.
    base = nutrients.from_label(
        "5-11-26", "3.68 g/gal", magnesium="3.1 %", sulfur="4 %", stated_as="element"
    )
    calcium = nutrients.from_label("15.5-0-0", "2.54 g/gal", calcium="19 %", stated_as="element")
    found = added(base, calcium)
    expected = {"N": 152.6, "P": 46.7, "K": 209.8, "Ca": 127.5, "Mg": 30.1, "S": 38.9}
    for element, value in expected.items():
        assert found[element] == pytest.approx(value, abs=0.06), element


def test_from_label_second_one_bag_programme_with_epsom_salt():
    # Recipe from memory (g per US gal: 2.25 of 8-15-36, 2.25 of 15.5-0-0, 1.4 of
    # MgSO4.7H2O); concentrations computed by hand.
    base = nutrients.from_label("8-15-36", "2.25 g/gal")
    calcium = nutrients.from_label("15.5-0-0", "2.25 g/gal", calcium="19 %", stated_as="element")
    epsom = nutrients.concentrations({"MgSO4.7H2O": "1.4 g/gal"})
    found = added(base, calcium)
    expected = {"N": 139.7, "P": 38.9, "K": 177.6, "Ca": 112.9}
    for element, value in expected.items():
        assert found[element] == pytest.approx(value, abs=0.06), element
    assert epsom["Mg"].m_as("mg/L") == pytest.approx(36.5, abs=0.06)
    assert epsom["S"].m_as("mg/L") == pytest.approx(48.1, abs=0.06)


def test_from_label_pure_salts_grade_agrees_with_formula():
    # Computed from IUPAC abridged masses: MKP is 0-52.15-34.61.
    label = nutrients.from_label((0, 52.15, 34.61), "1 g/L")
    pure = nutrients.concentrations({"KH2PO4": "1 g/L"})
    for element in ("P", "K"):
        assert label[element].m_as("mg/L") == pytest.approx(pure[element].m_as("mg/L"), rel=5e-4)


def test_from_label_oxides_stated_are_turned_into_elements():
    found = nutrients.from_label(
        "0-0-0", "1 g/L", calcium="10 %", magnesium="16.35 %", sulfur="20 %", stated_as="oxide"
    )
    # Factors computed from IUPAC abridged masses: CaO 0.71470, MgO 0.60304, SO3 0.40046.
    assert found["Ca"].m_as("mg/L") == pytest.approx(71.470, abs=5e-4)
    assert found["Mg"].m_as("mg/L") == pytest.approx(163.5 * 0.60304, abs=5e-3)
    assert found["S"].m_as("mg/L") == pytest.approx(80.092, abs=5e-3)


def test_from_label_array_of_rates_gives_arrays():
    found = nutrients.from_label("20-0-0", quantity([1.0, 2.0], "g/L"))
    np.testing.assert_allclose(found["N"].m_as("mg/L"), [200, 400])


def test_from_label_array_of_declared_percent_gives_arrays():
    found = nutrients.from_label(
        "20-0-0", "1 g/L", calcium=quantity([1.0, 2.0], "percent"), stated_as="element"
    )
    np.testing.assert_allclose(found["Ca"].m_as("mg/L"), [10, 20])


@pytest.mark.parametrize(
    "grade", ["15-5-30", " 15-5-30 ", (15, 5, 30), [15.0, "5", "30 %"], (np.float64(15), 5, 30),
              (quantity(0.15, ""), "5 %", quantity(30, "percent"))],
)  # fmt: skip
def test_from_label_grade_any_way_of_writing_same_result(grade):
    found = nutrients.from_label(grade, "1 g/L")
    assert found["N"].m_as("mg/L") == pytest.approx(150)
    assert found["K"].m_as("mg/L") == pytest.approx(300 * 0.83015, abs=2e-3)


def test_from_label_grade_over_100_raises():
    with pytest.raises(RangeError, match="add to 101"):
        nutrients.from_label("40-31-30", "1 g/L")


def test_from_label_grade_with_extras_over_100_raises():
    with pytest.raises(RangeError, match="add to 105"):
        nutrients.from_label("40-30-30", "1 g/L", calcium="5 %", stated_as="element")


def test_from_label_grade_of_exactly_100_is_allowed():
    assert nutrients.from_label("40-30-30", "1 g/L")["N"].m_as("mg/L") == pytest.approx(400)


def test_from_label_fractions_hint_shows_percent():
    with pytest.raises(RangeError, match=r"looks like fractions; write percent, 15-5-30"):
        nutrients.from_label("0.15-0.05-0.3", "1 g/L")


def test_from_label_weak_feed_written_with_percent_is_allowed():
    found = nutrients.from_label(("0.5 %", "0.3 %", "0.6 %"), "10 g/L")
    assert found["N"].m_as("mg/L") == pytest.approx(50)


@pytest.mark.parametrize("grade", ["15.5-0", "15-5-30-2", "", ()])
def test_from_label_not_three_numbers_raises(grade):
    with pytest.raises(ArgumentError, match="three numbers"):
        nutrients.from_label(grade, "1 g/L")


@pytest.mark.parametrize(
    ("grade", "words"),
    [("a-5-30", r"grade\[N\]"), ("15-120-30", r"grade\[P\]"), ((True, 0, 0), r"grade\[N\]"),
     (("5 kg", 0, 0), r"grade\[N\]"), ((quantity([1, 2], "percent"), 0, 0), "one number")],
)  # fmt: skip
def test_from_label_bad_number_names_place(grade, words):
    with pytest.raises(ArgumentError, match=words):
        nutrients.from_label(grade, "1 g/L")


def test_from_label_nothing_declared_raises():
    with pytest.raises(ArgumentError, match="no nutrient"):
        nutrients.from_label("0-0-0", "1 g/L")


@pytest.mark.parametrize("stated", [None, "Ca", ""])
def test_from_label_extras_without_basis_raises(stated):
    with pytest.raises(ArgumentError, match="element or oxide"):
        nutrients.from_label("15.5-0-0", "1 g/L", calcium="19 %", stated_as=stated)


def test_from_label_bare_percent_of_extra_is_refused():
    with pytest.raises(UnitError, match="calcium"):
        nutrients.from_label("15.5-0-0", "1 g/L", calcium=19, stated_as="element")


def test_from_label_rate_without_unit_is_refused():
    with pytest.raises(UnitError, match="rate"):
        nutrients.from_label("15.5-0-0", 1)


@given(n=st.integers(1, 30), p=st.integers(0, 30), k=st.integers(0, 30), rate=st.floats(0, 10))
@settings(max_examples=50)
def test_from_label_any_grade_never_more_than_the_rate(n, p, k, rate):
    found = nutrients.from_label(f"{n}-{p}-{k}", quantity(rate, "g/L"))
    assert 0 <= sum(value.m_as("g/L") for value in found.values()) <= rate * (1 + 1e-12)


def percents(found):
    return {key: share.m_as("percent") for key, share in found.items()}


def test_label_shares_double_salt_label_split():
    # Label read in a grower's forum: 14.4 % nitrate N + 1.1 % ammonium N = 15.5 % N, 19 % Ca.
    found = label_shares(
        "15.5-0-0", calcium="19 %", stated_as="element", nitrate="14.4 %", ammonium="1.1 %"
    )
    expected = {"N": 15.5, "N_nitrate": 14.4, "N_ammonium": 1.1, "Ca": 19.0}
    assert percents(found) == pytest.approx(expected)


def test_label_shares_oxides_of_the_grade_become_elements():
    # Factors computed from IUPAC abridged masses: P2O5 0.43643, K2O 0.83015.
    found = percents(label_shares("8-15-36"))
    assert found == pytest.approx({"N": 8, "P": 15 * 0.43643, "K": 36 * 0.83015}, abs=1e-3)


def test_label_shares_extras_stated_as_oxide_become_elements():
    found = percents(
        label_shares("0-0-1", calcium="10 %", magnesium="10 %", sulfur="10 %", stated_as="oxide")
    )
    # Factors computed from IUPAC abridged masses: CaO 0.71470, MgO 0.60304, SO3 0.40046.
    assert (found["Ca"], found["Mg"], found["S"]) == pytest.approx(
        (7.1470, 6.0304, 4.0046), abs=1e-4
    )


def test_label_shares_agree_with_from_label():
    declared = {"calcium": "5 %", "magnesium": "3 %", "sulfur": "2 %", "stated_as": "oxide"}
    shares = label_shares("10-5-20", **declared)
    content = nutrients.from_label("10-5-20", "1 g/L", **declared)
    for key, share in shares.items():
        assert content[key].m_as("g/L") == pytest.approx(share.m_as(""), rel=1e-12)


def test_label_shares_without_split_has_only_total_nitrogen():
    assert list(label_shares("20-0-0")) == ["N"]


def test_label_shares_split_within_a_tenth_is_rounding_and_its_sum_is_total():
    found = percents(label_shares("15.5-0-0", nitrate="14.5 %", ammonium="1.1 %"))
    assert found["N"] == pytest.approx(15.6)


@pytest.mark.parametrize(
    ("split", "words"),
    [({"nitrate": "14.4 %"}, "nitrate 14.4: makes 14.4 % N, but the grade says 15.5"),
     ({"nitrate": "14.4 %", "ammonium": "1.3 %"}, "makes 15.7"),
     ({"urea": "0 %"}, "makes 0 % N")],
)  # fmt: skip
def test_label_shares_split_that_misses_the_total_raises(split, words):
    with pytest.raises(ArgumentError, match=words):
        label_shares("15.5-0-0", **split)


def test_label_shares_micronutrients_count_as_elements():
    found = percents(label_shares("1-0-0", micronutrients={"Fe": "6 %", "B": "0.5 %", "Mn": "0 %"}))
    assert found == pytest.approx({"N": 1, "Fe": 6, "B": 0.5})


def test_label_shares_unknown_micronutrient_and_bad_value_are_listed_together():
    with pytest.raises(ArgumentError) as caught:
        label_shares("1-0-0", micronutrients={"Xx": "1 %"}, nitrate="-1 %")
    assert [problem.field for problem in caught.value.problems] == ["micronutrients[Xx]", "nitrate"]


@pytest.mark.parametrize("given_", ["6 %", ["Fe"]])
def test_label_shares_micronutrients_that_are_no_mapping_raise(given_):
    with pytest.raises(ArgumentError, match="must map keys"):
        label_shares("1-0-0", micronutrients=given_)


def test_label_shares_over_100_with_micronutrients_raises():
    with pytest.raises(RangeError, match="add to 104"):
        label_shares("40-30-30", micronutrients={"Fe": "4 %"})


def test_label_shares_split_does_not_count_twice_in_the_sum():
    found = percents(label_shares("60-20-20", nitrate="30 %", urea="30 %"))
    assert found["N_urea"] == pytest.approx(30)


def test_label_shares_fractions_hint_shows_percent():
    with pytest.raises(RangeError, match=r"label_shares: .*write percent, 15-5-30"):
        label_shares("0.15-0.05-0.3")


@pytest.mark.parametrize("value", [0.19, 19, "0.19"])
def test_label_shares_bare_percent_is_refused(value):
    with pytest.raises(UnitError, match="calcium"):
        label_shares("15.5-0-0", calcium=value, stated_as="element")


def test_label_shares_percent_as_array_is_refused():
    with pytest.raises(ArgumentError, match=r"nitrate.*must be one number"):
        label_shares("15-0-0", nitrate=quantity([15, 15], "percent"))


def test_label_shares_extras_without_basis_raises():
    with pytest.raises(ArgumentError, match="must say whether calcium, sulfur count"):
        label_shares("15.5-0-0", calcium="19 %", sulfur="1 %")


def test_label_shares_negative_raises():
    with pytest.raises(RangeError, match="magnesium"):
        label_shares("15.5-0-0", magnesium="-1 %", stated_as="element")


share = st.one_of(st.just(0.0), st.floats(1e-6, 20))


@given(nitrate=share, ammonium=share, urea=share)
@settings(max_examples=50)
def test_label_shares_forms_always_make_the_total(nitrate, ammonium, urea):
    total = nitrate + ammonium + urea
    found = label_shares(
        (quantity(total, "percent"), "10 %", "0 %"),
        nitrate=quantity(nitrate, "percent"),
        ammonium=quantity(ammonium, "percent"),
        urea=quantity(urea, "percent"),
    )
    forms = ("N_nitrate", "N_ammonium", "N_urea")
    known = sum(found[form].m_as("percent") for form in forms if form in found)
    assert known == pytest.approx(total)
    assert ("N" in found) == (total > 0)
