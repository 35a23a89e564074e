"""One nutrient solution for a whole board: worked out, priced, and made of a person's own tables."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from own_files import (
    FERTILISERS,
    HARVEST,
    TARGETS,
    WATER,
    as_xlsx,
    methods_file,
    prices_file,
    with_comma,
)

from scenariokit import catalog
from scenariokit.errors import InfeasibleError, RecordError
from scenariokit.scenario import DEFAULT_SHELF, FeedPlan, evaluate, feed_strength, full_strength_ec
from scenariokit.units import quantity
from scenariokit.widgets import board_feed
from scenariokit.widgets.board_feed import FeedState, table_text
from scenariokit.widgets.board_state import BoardState

TEXTS = {
    board_feed.FERTILISERS: FERTILISERS,
    board_feed.WATER: WATER,
    board_feed.TARGETS: TARGETS,
}
NAMES = {
    board_feed.FERTILISERS: ("our_calcium", "our_potash"),
    board_feed.WATER: ("well",),
    board_feed.TARGETS: ("ours",),
}
tables = pytest.mark.parametrize("table", TEXTS)
WEATHER = "date,reference_evapotranspiration [mm/day],rain [mm]\n" + "".join(
    f"2024-06-{day:02d},5,0\n" for day in range(1, 31)
)


@pytest.fixture
def state():
    return BoardState()


def solved(**changes):
    return FeedPlan(**{"aim": "potato_window", "solved": True, **changes})


def fed(state, **plan):
    """Feed a board with another plan."""
    changed = FeedState(plan=solved(**plan), room=state.feed.room, own=state.feed.own)
    state.take_feed(changed)
    return state


def cost_of_salts(state):
    """Money for the salts of a litre as made."""
    strength = float(feed_strength(state.focused.feed))
    prices = state.focused.prices.unit_prices
    return strength * sum(gram / 1000 * prices[key] for key, gram in state.planned.rates.items())


# -- one solution for all methods ----------------------------------------------------------


def test_board_state_begins_with_the_published_recipe(state):
    published = catalog.recipes()["hoagland_1"]["salts"]
    assert state.planned.rates == pytest.approx(dict(published))
    assert {one.feed.label for one in state.scenarios.values()} == {"Hoagland solution 1"}
    # From the EC of ions: less than 1.6 / 2.166 = 0.739, for EC rises less than strength does.
    assert float(feed_strength(state.focused.feed)) == pytest.approx(0.7156, abs=1e-4)


def test_take_feed_reaches_every_method(state):
    fed(state, water="hard_tap")
    feeds = [one.feed for one in state.scenarios.values()]
    assert len(feeds) == len(state.scenarios) > len(state.chosen)
    assert all(one == feeds[0] for one in feeds)
    assert feeds[0].water_content["Ca"] == 105
    assert feeds[0].salts == state.planned.rates


@settings(max_examples=15, deadline=None)
@given(st.floats(1.0, 2.6), st.sampled_from(["pure_water", "soft_tap", "hard_tap"]))
def test_set_values_ec_works_the_recipe_out_anew_so_that_it_has_that_ec(ec, water):
    state = fed(BoardState(), water=water)
    state.set_values({"feed.ec": quantity(ec, "dS/m")})
    assert full_strength_ec(state.focused.feed).m_as("dS/m") == pytest.approx(ec, rel=2e-4)
    for one in state.scenarios.values():
        assert one.feed == state.focused.feed


def test_set_values_ec_leaves_a_published_recipe_as_it_is(state):
    before = state.planned.rates
    state.set_values({"feed.ec": quantity(2.0, "dS/m")})
    assert state.planned.rates == before
    assert state.focused.feed.salts == before


def test_set_values_ec_below_that_of_the_water_changes_nothing(state):
    fed(state, solved=False, aim="hoagland_1", water="hard_tap")
    before = state.save()
    with pytest.raises(InfeasibleError, match=r"0\.5 dS/m is below that of the water itself, 0\.7"):
        state.set_values({"feed.ec": quantity(0.5, "dS/m")})
    assert state.save() == before


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"shelf": ()}, "nothing is on the shelf"),
        ({"shelf": ("moon_dust",)}, "moon_dust"),
        ({"shelf": ("boric_acid",)}, "EC"),
        ({"water": "brackish_well"}, "EC"),
        ({"water": "no_such"}, "source water"),
        ({"aim": "no_such"}, "target set"),
        ({"aim": "potato_window", "solved": False}, "published recipe"),
        ({"shelf": ("calcium_nitrate", "magnesium_sulfate"), "cheapest": True}, "keeps every element"),
    ],
)  # fmt: skip
def test_take_feed_impossible_solution_changes_nothing(state, changes, words):
    before, planned = state.save(), state.planned
    with pytest.raises(InfeasibleError, match=words):
        fed(state, **changes)
    assert state.save() == before
    assert state.planned is planned


def test_take_feed_cheapest_is_never_dearer_than_the_closest_fit(state):
    shelf = (*DEFAULT_SHELF, "magnesium_nitrate", "ammonium_nitrate", "calcium_chloride")
    closest = cost_of_salts(fed(state, shelf=shelf))
    cheapest = cost_of_salts(fed(state, shelf=shelf, cheapest=True))
    assert 0 < cheapest < closest


def test_pick_prices_works_the_cheapest_out_at_the_new_prices(state):
    fed(state, cheapest=True)
    state.pick_prices("dunmarrow")
    listed = catalog.price_list("dunmarrow")
    assert state.focused.prices.unit_prices["calcium_nitrate"] == listed.unit_price(
        "calcium_nitrate"
    )
    assert state.focused.feed.salts == state.planned.rates
    assert state.planned.plan.cheapest


@pytest.mark.parametrize("crop", ["kale", "lettuce"])
def test_pick_crop_keeps_the_solution(state, crop):
    fed(state, water="soft_tap")
    state.pick_crop(crop)
    assert state.planned.plan == state.feed.plan == solved(water="soft_tap")
    assert {one.feed.label for one in state.scenarios.values()} == {state.planned.label}


def test_pick_crop_whose_usual_ec_is_below_that_of_the_water_changes_nothing(state):
    state.set_values({"feed.ec": quantity(4.0, "dS/m")})
    fed(state, solved=False, aim="hoagland_1", water="brackish_well")
    before = state.save()
    with pytest.raises(InfeasibleError, match="below that of the water"):
        state.pick_crop("kale")
    assert state.save() == before
    assert state.crop == "potato"


def test_reset_goes_back_to_the_published_recipe_and_keeps_own_tables(state):
    for table, text in TEXTS.items():
        state.load_feed_table(table, text.encode(), "mine.csv")
    fed(state, aim="ours", water="well")
    state.reset()
    assert state.feed.plan == FeedPlan()
    assert state.planned.label == "Hoagland solution 1"
    assert "well" in state.feed.store.waters
    assert "ours" in state.feed.store.targets


# -- own tables ----------------------------------------------------------------------------


@tables
@pytest.mark.parametrize("form", ["point", "comma", "workbook"])
def test_load_feed_table_any_form_of_file_gives_the_same(state, table, form):
    content = {
        "point": lambda text: text.encode(),
        "comma": lambda text: with_comma(text).encode(),
        "workbook": as_xlsx,
    }[form](TEXTS[table])
    name = "mine.xlsx" if form == "workbook" else "mine.csv"
    sign = "," if form == "comma" else "."
    problems, added = state.load_feed_table(table, content, name, sign)
    assert (problems, added) == ((), NAMES[table])
    plain = BoardState()
    plain.load_feed_table(table, TEXTS[table].encode(), "mine.csv")
    assert state.feed.own == plain.feed.own
    assert table_text(state.feed.own[table], table) == table_text(plain.feed.own[table], table)


def test_load_feed_table_water_is_read_in_any_unit(state):
    state.load_feed_table(board_feed.WATER, WATER.encode(), "mine.csv")
    well = state.feed.store.waters["well"]
    assert well.label == "Our well"
    # by hand: 0.5 mmol/L x 24.305, 1 meq/L x 22.99, 1 meq/L / 2 x 32.06; 4 meq/L x 50.04 as CaCO3
    for key, wanted in {"Ca": 80, "Mg": 12.15, "Na": 22.99, "S": 16.03, "Cl": 35.45}.items():
        assert well.content[key] == pytest.approx(wanted, rel=1e-3)
    assert well.alkalinity == pytest.approx(200.2, abs=0.1)
    assert well.ph == 7.4


def test_load_feed_table_fertilisers_go_onto_the_shelf_with_their_price(state):
    state.load_feed_table(board_feed.FERTILISERS, FERTILISERS.encode(), "mine.csv")
    store = state.feed.store.fertilisers
    assert state.feed.plan.shelf == (*DEFAULT_SHELF, "our_calcium", "our_potash")
    assert store["our_calcium"].shares["N"] == pytest.approx(0.155)
    assert store["our_calcium"].shares["Ca"] == pytest.approx(0.19)
    assert store["our_potash"].shares["K"] == pytest.approx(39.0983 / 101.1032, rel=1e-4)
    for one in state.scenarios.values():
        assert one.prices.unit_prices["our_potash"] == 1.2
    assert state.feed.unpriced == ()


def test_load_feed_table_targets_are_taken_in_any_unit(state):
    state.load_feed_table(board_feed.TARGETS, TARGETS.encode(), "mine.csv")
    bands = state.feed.store.targets["ours"].bands
    assert bands["K"].target.m_as("mg/L") == pytest.approx(5 * 39.098, rel=1e-5)
    assert bands["N"].low.m_as("mg/L") == 130
    assert set(bands) == {"N", "P", "K", "Ca", "Mg"}


def test_own_products_alone_make_a_solution_whose_cost_is_that_of_the_table(state):
    for table, text in TEXTS.items():
        state.load_feed_table(table, text.encode(), "mine.csv")
    fed(state, aim="ours", water="pure_water",
        shelf=("our_calcium", "our_potash", "monopotassium_phosphate", "magnesium_sulfate"))  # fmt: skip
    rates, strength = state.planned.rates, float(feed_strength(state.focused.feed))
    assert set(rates) >= {"our_calcium", "our_potash"}
    content = state.planned.content
    assert content["Ca"] == pytest.approx(190 * rates["our_calcium"])  # 19 % of g/L, in mg/L
    found = evaluate(state.focused)
    own = cost_of_salts(state)
    doubled = FERTILISERS.replace(",0.8,", ",1.6,").replace(",1.2,", ",2.4,")
    state.load_feed_table(board_feed.FERTILISERS, doubled.encode(), "mine.csv")
    more = cost_of_salts(state)
    by_hand = strength * (rates["our_calcium"] * 0.8 + rates["our_potash"] * 1.2) / 1000
    assert more - own == pytest.approx(by_hand, rel=1e-6)
    ratio = evaluate(state.focused)["cost_nutrients"] / found["cost_nutrients"]
    assert float(ratio.m) == pytest.approx(more / own, rel=1e-6)


@tables
def test_load_feed_table_again_replaces_what_had_its_name(state, table):
    state.load_feed_table(table, TEXTS[table].encode(), "mine.csv")
    changed = TEXTS[table].replace("Our ", "My ")
    state.load_feed_table(table, changed.encode(), "again.csv")
    rows = state.feed.own[table]
    assert len(rows) == TEXTS[table].count("\n") - 1
    assert all(row["label"].startswith("My ") for row in rows)
    assert state.feed.plan.shelf == tuple(dict.fromkeys(state.feed.plan.shelf))


def test_load_feed_table_water_in_use_is_worked_with_anew(state):
    state.load_feed_table(board_feed.WATER, WATER.encode(), "mine.csv")
    fed(state, water="well")
    before = state.planned.rates["calcium_nitrate"]
    softer = WATER.replace("Ca,80,", "Ca,40,").replace("HCO3,4,", "HCO3,2,")
    state.load_feed_table(board_feed.WATER, softer.encode(), "again.csv")
    assert state.focused.feed.water_content["Ca"] == 40
    assert state.planned.rates["calcium_nitrate"] > before


BAD_ROWS = {
    board_feed.FERTILISERS: "bad,Bad,,13-0,,,,,1,\nnitrate,x,KNO3,13-0-46,,,,,1,\n"
    "boric_acid,x,KNO3,,,,,,1,\n",
    board_feed.WATER: "well,Our well,K,3,ppm\nodd,Odd,Ca,80,mg/L\n",
    board_feed.TARGETS: "odd,Odd,N,100,90,80,mg/L\nodd,Odd,Xx,1,1,1,mg/L\n",
}
REFUSED = {
    board_feed.FERTILISERS: ("row 4: grade", "row 5: formula, grade", "row 6: id"),
    board_feed.WATER: ("row 9: unit", "odd, charge balance"),
    board_feed.TARGETS: ("row 7:", "row 8:"),
}


@tables
def test_load_feed_table_lists_bad_rows_and_keeps_good_ones(state, table):
    problems, added = state.load_feed_table(
        table, (TEXTS[table] + BAD_ROWS[table]).encode(), "mine.csv"
    )
    assert added == NAMES[table]
    said = [str(problem) for problem in problems]
    assert len(said) == len(REFUSED[table])
    for words in REFUSED[table]:
        assert any(line.startswith("mine.csv") and words in line for line in said)
    plain = BoardState()
    plain.load_feed_table(table, TEXTS[table].encode(), "mine.csv")
    assert state.feed.own == plain.feed.own


@tables
@pytest.mark.parametrize("content", ["", "a,b\n1,2\n", "head", "bad"])
def test_load_feed_table_with_nothing_usable_changes_nothing(state, table, content):
    head = TEXTS[table].splitlines()[0] + "\n"
    rows = BAD_ROWS[table].replace("well,Our well,", "odd,Odd,")
    text = {"head": head, "bad": head + rows}.get(content, content)
    before, feed = state.save(), state.feed
    with pytest.raises(RecordError, match=r"mine\.csv|empty"):
        state.load_feed_table(table, text.encode(), "mine.csv")
    assert state.save() == before
    assert state.feed is feed


def test_load_feed_table_decimal_comma_undeclared_is_refused(state):
    before = state.save()
    with pytest.raises(RecordError, match="0,5"):
        state.load_feed_table(
            board_feed.WATER, b"water;parameter;value;unit\nwell;Ca;0,5;mg/L\n", "mine.csv", "."
        )
    assert state.save() == before


def test_load_feed_table_that_makes_the_solution_impossible_changes_nothing(state):
    state.load_feed_table(board_feed.WATER, WATER.encode(), "mine.csv")
    fed(state, water="well")
    before = state.save()
    salty = WATER.replace("Na,1,", "Na,40,").replace("Cl,1,", "Cl,40,")
    with pytest.raises(InfeasibleError, match="EC"):
        state.load_feed_table(board_feed.WATER, salty.encode(), "again.csv")
    assert state.save() == before


def test_own_product_without_a_price_stays_off_the_shelf_and_says_why(state):
    text = FERTILISERS.replace(",1.2,", ",,")
    state.load_feed_table(board_feed.FERTILISERS, text.encode(), "mine.csv")
    assert state.feed.unpriced == ("our_potash",)
    assert state.feed.plan.shelf == (*DEFAULT_SHELF, "our_calcium")
    fed(state, shelf=state.feed.plan.shelf)
    before = state.save()
    with pytest.raises(InfeasibleError, match="our_potash has no price; give one in your table"):
        fed(state, shelf=(*state.feed.plan.shelf, "our_potash"))
    assert state.save() == before
    state.load_feed_table(board_feed.FERTILISERS, FERTILISERS.encode(), "mine.csv")
    assert state.feed.plan.shelf[-1] == "our_potash"
    state.load_feed_table(board_feed.FERTILISERS, text.encode(), "mine.csv")
    assert "our_potash" not in state.feed.plan.shelf
    with pytest.raises(InfeasibleError, match="our_potash has no price"):
        fed(state, shelf=(*state.feed.plan.shelf, "our_potash"))


def test_own_product_price_outlives_another_price_list(state):
    state.load_feed_table(board_feed.FERTILISERS, FERTILISERS.encode(), "mine.csv")
    fed(state, shelf=state.feed.plan.shelf)
    state.pick_prices("dunmarrow")
    assert state.focused.prices.unit_prices["our_calcium"] == 0.8
    state.load_prices(prices_file(factor=2), "prices.csv")
    assert state.focused.prices.unit_prices["our_calcium"] == 0.8
    assert state.compute()


# -- methods and yields that come later ----------------------------------------------------


def test_load_methods_later_take_common_sliders_feed_prices_and_weather(state):
    state.load_feed_table(board_feed.FERTILISERS, FERTILISERS.encode(), "mine.csv")
    fed(state, shelf=("our_calcium", "our_potash", *DEFAULT_SHELF[2:]))
    state.set_values({"feed.ec": quantity(2.0, "dS/m"), "tank.area": quantity(7, "m^2")})
    state.load_weather(WEATHER.encode(), "weather.csv")
    state.load_methods(methods_file({}), "methods.csv")
    mine, other = state.scenarios["my_bag"], state.focused
    assert mine.feed == other.feed
    assert mine.site == other.site
    assert mine.tank == other.tank
    assert mine.prices == other.prices
    assert len(state.compute()) == len(state.chosen)


def test_load_harvest_of_a_method_without_a_shipped_yield_takes_the_feed_of_the_others(state):
    state.pick_crop("strawberry")
    state.set_values({"feed.ec": quantity(1.3, "dS/m")})
    fed(state, water="soft_tap")
    assert "paper_wrap" not in state.scenarios
    state.load_harvest(f"{HARVEST}a,paper_wrap,strawberry,1,1\n".encode(), "mine.csv")
    assert state.scenarios["paper_wrap"].feed == state.focused.feed
    assert state.scenarios["paper_wrap"].harvest.typical.m == 1
    assert state.scenarios["paper_wrap"].feed.ec.m_as("dS/m") == 1.3


def test_load_harvest_of_a_shown_method_keeps_its_own_sliders(state):
    state.set_values({"method.level.high": quantity(3, "cm")}, method="wedge_pots")
    fed(state)
    state.load_harvest(f"{HARVEST}a,wedge_pots,potato,2,8\n".encode(), "mine.csv")
    one = state.scenarios["wedge_pots"]
    assert one.method.level.high.m_as("cm") == 3
    assert one.feed == state.focused.feed
    assert one.harvest.typical.m == 4


# -- two boards ----------------------------------------------------------------------------


def test_two_states_feeds_do_not_touch():
    one, other = BoardState(), BoardState()
    before = other.save()
    for table, text in TEXTS.items():
        one.load_feed_table(table, text.encode(), "mine.csv")
    fed(one, aim="ours", water="well")
    assert other.save() == before
    assert "well" not in other.feed.store.waters
    assert "well" not in FeedState().store.waters
    assert one.save() != before
