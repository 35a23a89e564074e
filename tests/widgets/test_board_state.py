"""Every change that a person can make to a board happens whole, or says why and changes nothing."""

from __future__ import annotations

import pytest
from own_files import HARVEST, methods_file, prices_file

from scenariokit import catalog
from scenariokit.errors import ArgumentError, InfeasibleError, RecordError
from scenariokit.scenario import leaves, value_at
from scenariokit.units import quantity
from scenariokit.widgets.board_file import MOST_METHODS
from scenariokit.widgets.board_paths import COMMON_PATHS, paths_of
from scenariokit.widgets.board_state import DEFAULT_METHODS, BoardState


def unchanged(state, before):
    """Whether a state would be saved as it would have been before."""
    return state.save() == before


@pytest.fixture
def state():
    return BoardState()


# -- beginning and choosing ----------------------------------------------------------------


def test_board_state_begins_with_its_defaults(state):
    assert state.chosen == list(DEFAULT_METHODS)
    assert state.focus == DEFAULT_METHODS[0]
    assert (state.currency, state.rate) == ("EUR", 1.0)
    assert len(state.compute()) == len(DEFAULT_METHODS)


@pytest.mark.parametrize("crop", sorted(catalog.crops()))
def test_board_state_may_begin_with_any_crop(crop):
    started = BoardState(crop=crop)
    assert started.chosen
    assert started.focus in started.chosen
    assert {one.crop.id for one in started.scenarios.values()} == {crop}


def test_choose_keeps_the_catalogues_order_and_moves_the_focus(state):
    state.choose(["paper_wrap", "wedge_pots"])
    assert state.chosen == ["wedge_pots", "paper_wrap"]
    assert state.focus == "wedge_pots"
    assert [one.scenario.method.id for one in state.compute()] == state.chosen


@pytest.mark.parametrize("methods", [[], ["no_such_method"]])
def test_choose_none_is_refused(state, methods):
    before = state.save()
    with pytest.raises(InfeasibleError, match="at least one"):
        state.choose(methods)
    assert unchanged(state, before)


def test_choose_too_many_is_refused(state):
    names = [{"id": f"bag_{number}", "label": f"Bag {number}"} for number in range(9)]
    state.load_methods(methods_file(*names), "mine.csv")
    before = state.save()
    with pytest.raises(InfeasibleError, match="at most 8"):
        state.choose([one["id"] for one in names])
    assert unchanged(state, before)


# -- sliders -------------------------------------------------------------------------------


@pytest.mark.parametrize("path", [row[0] for row in COMMON_PATHS])
def test_set_values_common_path_reaches_every_method(state, path):
    low = value_at(state.focused, path) * 0.9
    state.set_values({path: low})
    assert {value_at(one, path) for one in state.scenarios.values()} == {low}


@pytest.mark.parametrize("key", sorted(catalog.methods()))
def test_set_values_own_paths_reach_only_that_method(key):
    state = BoardState(crop=next(iter(catalog.methods()[key]["yields"])))
    others = {name: one for name, one in state.scenarios.items() if name != key}
    for path, _, _ in paths_of(state.scenarios[key]):
        state.set_values({path: value_at(state.scenarios[key], path)}, method=key)
    assert {name: one for name, one in state.scenarios.items() if name != key} == others


def test_set_values_typical_yield_carries_its_range(state):
    before = state.scenarios["wedge_pots"].harvest
    state.set_values({"harvest.typical": before.typical * 1.5}, method="wedge_pots")
    after = state.scenarios["wedge_pots"].harvest
    assert after.low.magnitude == pytest.approx(1.5 * before.low.magnitude)
    assert after.high.magnitude == pytest.approx(1.5 * before.high.magnitude)


def test_set_values_yield_of_zero_keeps_the_way_back(state):
    before = state.scenarios["wedge_pots"].harvest
    state.set_values({"harvest.typical": "0 kg/m^2"}, method="wedge_pots")
    assert (
        "cost_per_kilogram"
        in {row.scenario.method.id: row for row in state.compute()}["wedge_pots"].undefined
    )
    state.set_values({"harvest.typical": before.typical}, method="wedge_pots")
    after = state.scenarios["wedge_pots"].harvest
    assert after.low.magnitude == pytest.approx(before.low.magnitude)
    assert after.high.magnitude == pytest.approx(before.high.magnitude)


@pytest.mark.parametrize(
    ("changes", "error", "words"),
    [
        ({"method.plants_per_area": "400 plant/m^2"}, InfeasibleError, "footprint"),
        ({"method.level.high": "90 cm"}, InfeasibleError, "above the rim"),
        ({"harvest.typical": "80 kg/m^2"}, ArgumentError, "80 kg"),
        ({"method.level.high": "3 kg"}, ArgumentError, "dimension"),
    ],
)
def test_set_values_impossible_changes_nothing(state, changes, error, words):
    before = state.save()
    with pytest.raises(error, match=words):
        state.set_values(changes, method="wedge_pots")
    assert unchanged(state, before)


# -- crop, site, prices, currency ----------------------------------------------------------


@pytest.mark.parametrize("crop", sorted(catalog.crops()))
def test_pick_crop_shows_methods_that_grow_it(state, crop):
    grow = {key for key, row in catalog.methods().items() if crop in row["yields"]}
    assert crop in state.crops()
    state.pick_crop(crop)
    assert set(state.scenarios) == grow
    assert set(state.chosen) == grow
    assert state.focus in state.chosen
    for found in state.compute():
        assert found["cost_per_kilogram"].magnitude > 0
        price = catalog.price_list("tern_hollow").unit_price(f"produce_{crop}")
        assert found.scenario.prices.produce_price.magnitude == pytest.approx(price)


def test_pick_crop_unknown_changes_nothing(state):
    before = state.save()
    with pytest.raises(InfeasibleError, match="'rice'"):
        state.pick_crop("rice")
    assert unchanged(state, before)


def test_pick_site_changes_water_and_keeps_the_rest(state):
    state.set_values({"feed.ec": quantity(2.0, "dS/m"), "tank.area": quantity(7, "m^2")})
    before = {
        path: value for path, _, value in leaves(state.focused) if not path.startswith("site")
    }
    water = next(iter(state.compute()))["season_water"].magnitude
    state.pick_site("dunmarrow")
    after = {path: value for path, _, value in leaves(state.focused) if not path.startswith("site")}
    assert after == before
    assert next(iter(state.compute()))["season_water"].magnitude > water
    assert state.focused.site.id == state.site == "dunmarrow"


def test_pick_site_unknown_changes_nothing(state):
    before = state.save()
    with pytest.raises(InfeasibleError, match="known: dunmarrow, tern_hollow"):
        state.pick_site("atlantis")
    assert unchanged(state, before)


def test_pick_prices_takes_list_and_currency_but_not_interest(state):
    state.set_values(
        {"prices.interest_rate": 0.11, "prices.crops_per_year": quantity(3, "crop/year")}
    )
    state.show_currency("USD", 1.1)
    state.pick_prices("dunmarrow")
    assert (state.currency, state.rate, state.price_list) == ("USD", 1.0, "dunmarrow")
    for one in state.scenarios.values():
        assert one.prices.id == "dunmarrow"
        assert one.prices.interest_rate.magnitude == pytest.approx(0.11)
        assert one.prices.crops_per_year.magnitude == pytest.approx(3)


def test_show_currency_multiplies_money_shown(state):
    state.show_currency("USD", 1.25)
    found = next(iter(state.compute()))
    euros = found["cost_per_kilogram"].magnitude
    assert state.showing.number(found, "cost_per_kilogram") == pytest.approx(1.25 * euros)
    assert state.showing.unit("cost_per_kilogram") == "USD/kg"


def test_show_currency_of_the_list_itself_has_rate_one(state):
    state.show_currency("EUR", 3.0)
    assert state.rate == 1.0


@pytest.mark.parametrize("rate", [0.0, -1.0, float("inf"), float("nan")])
def test_show_currency_impossible_rate_changes_nothing(state, rate):
    before = state.save()
    with pytest.raises(InfeasibleError, match="more than zero"):
        state.show_currency("USD", rate)
    assert unchanged(state, before)


def test_reset_brings_back_the_catalogues_values(state):
    state.set_values({"feed.ec": quantity(3.0, "dS/m")})
    state.set_values({"harvest.typical": "2 kg/m^2"}, method="wedge_pots")
    state.choose(["wedge_pots"])
    state.reset()
    assert state.save() == BoardState(chosen=["wedge_pots"]).save()


# -- own harvest ---------------------------------------------------------------------------


def test_load_harvest_replaces_yield_and_so_the_cost(state):
    content = (
        f"{HARVEST}a,wedge_pots,potato,2,8\nb,wedge_pots,potato,2,10\nc,wedge_pots,potato,1,6\n"
    )
    problems, found = state.load_harvest(content.encode(), "mine.csv")
    assert problems == ()
    assert found["wedge_pots", "potato"].plots == 3
    one = next(row for row in state.compute() if row.scenario.method.id == "wedge_pots")
    assert one.scenario.harvest.typical.magnitude == pytest.approx(5)  # (4 + 5 + 6) / 3
    # computed by hand: s = 1, t(0.975, 2) = 4.3027 (Student's table): 5 ± 2.484
    assert one.scenario.harvest.high.magnitude == pytest.approx(7.484, abs=1e-3)
    area = one["cost_per_area"].magnitude
    assert one["cost_per_kilogram"].magnitude == pytest.approx(area / 5)
    assert one.scenario.harvest.status == "trial"


def test_load_harvest_one_plot_has_no_interval(state):
    state.load_harvest(f"{HARVEST}a,wedge_pots,potato,2,8\n".encode(), "mine.csv")
    harvest = state.scenarios["wedge_pots"].harvest
    assert not harvest.interval
    assert harvest.low == harvest.typical == harvest.high


def test_load_harvest_lists_bad_rows_and_uses_good_ones(state):
    text = f"{HARVEST}a,wedge_pots,potato,2,8\nb,raft,potato,2,8\nc,wedge_pots,potato,2,heavy\n"
    problems, found = state.load_harvest(text.encode(), "mine.csv")
    assert sorted(problem.row for problem in problems) == [3, 4]
    assert set(found) == {("wedge_pots", "potato")}


@pytest.mark.parametrize(
    "rows",
    ["", "a,raft,potato,2,8\n", "a,wedge_pots,potato,2,\n", "a,wedge_pots,potato,1,900\n",
     "a,wedge_pots,tomato,1,900\n"],
    ids=["no rows", "unknown method", "not harvested", "beyond any yield", "of another crop"],
)  # fmt: skip
def test_load_harvest_useless_file_changes_nothing(state, rows):
    before = state.save()
    with pytest.raises((RecordError, ArgumentError)):
        state.load_harvest(f"{HARVEST}{rows}".encode(), "mine.csv")
    assert unchanged(state, before)


def test_load_harvest_of_another_crop_waits_for_it(state):
    before = dict(state.scenarios)
    crop = (
        next(c for c in catalog.methods()["wedge_pots"]["yields"] if c != "potato")
        if len(catalog.methods()["wedge_pots"]["yields"]) > 1
        else "kale"
    )
    state.load_harvest(f"{HARVEST}a,wedge_pots,{crop},1,3\n".encode(), "mine.csv")
    assert state.scenarios == before
    state.pick_crop(crop)
    assert state.scenarios["wedge_pots"].harvest.typical.magnitude == pytest.approx(3)


def test_load_harvest_adds_a_method_that_the_catalogue_has_no_yield_for(state):
    assert "strawberry" not in catalog.methods()["paper_wrap"]["yields"]
    state.load_harvest(f"{HARVEST}a,paper_wrap,strawberry,1,1\n".encode(), "mine.csv")
    state.pick_crop("strawberry")
    assert "paper_wrap" in state.scenarios
    state.reset()
    assert state.scenarios["paper_wrap"].harvest.status == "trial"
    state.choose(["paper_wrap"])
    assert len(state.compute()) == 1


# -- own methods ---------------------------------------------------------------------------


def test_load_methods_adds_shows_and_evaluates(state):
    problems, added = state.load_methods(methods_file({}), "mine.csv")
    assert (problems, added) == ((), ("my_bag",))
    assert state.chosen == [*DEFAULT_METHODS, "my_bag"]
    found = list(state.compute())[-1]
    assert found["yield_per_area"].magnitude == pytest.approx(3)
    assert found["medium_volume_per_area"].magnitude == pytest.approx(10)


def test_load_methods_never_shows_more_than_fit(state):
    names = [{"id": f"bag_{number}", "label": f"Bag {number}"} for number in range(5)]
    state.load_methods(methods_file(*names), "mine.csv")
    assert len(state.chosen) == MOST_METHODS
    assert {one["id"] for one in names} <= {key for key, _ in state.available()}


def test_load_methods_survive_reset_and_another_crop(state):
    state.load_methods(methods_file({}, {"crop": "kale"}), "mine.csv")
    state.reset()
    state.pick_crop("kale")
    assert "my_bag" in state.scenarios
    state.pick_crop("tomato")
    assert "my_bag" not in state.scenarios


@pytest.mark.parametrize(
    "change",
    [{"id": "medium_bag"}, {"mix": "mud"}, {"plants_per_area": 900}, {"level_low": 9},
     {"plants_per_area": 900, "crop": "kale"}],
    ids=["taken", "unknown mix", "no room", "levels", "no room, for another crop"],
)  # fmt: skip
def test_load_methods_impossible_method_changes_nothing(state, change):
    before = state.save()
    with pytest.raises((RecordError, InfeasibleError)):
        state.load_methods(methods_file(change), "mine.csv")
    assert unchanged(state, before)


def test_load_methods_twice_says_that_the_name_is_taken(state):
    state.load_methods(methods_file({}), "mine.csv")
    before = state.save()
    with pytest.raises(RecordError, match="is taken"):
        state.load_methods(methods_file({}), "mine.csv")
    assert unchanged(state, before)


# -- two boards ----------------------------------------------------------------------------


def test_two_states_do_not_touch():
    one, other = BoardState(), BoardState()
    before = other.save()
    one.load_methods(methods_file({}), "mine.csv")
    one.set_values({"feed.ec": quantity(3.0, "dS/m")})
    one.load_harvest(f"{HARVEST}a,wedge_pots,potato,2,8\n".encode(), "mine.csv")
    one.load_prices(prices_file(factor=2), "p.csv")
    one.pick_crop("kale")
    one.chosen.append("nothing")
    assert unchanged(other, before)
    assert "my_bag" not in catalog.methods()
