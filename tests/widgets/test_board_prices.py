"""A person's own price list: read as it comes, filled up from a list in the same currency."""

from __future__ import annotations

import pytest
from own_files import prices_file

from scenariokit import catalog
from scenariokit.errors import RecordError
from scenariokit.widgets.board_state import BoardState

HEAD = "item,package_size,price,currency,expansion,fill_factor\n"


@pytest.fixture
def state():
    return BoardState()


def cost(state, key="medium_bag"):
    found = {one.scenario.method.id: one for one in state.compute()}[key]
    return found["cost_medium"].magnitude


def test_load_prices_whole_list_replaces_every_price(state):
    before = cost(state)
    problems, missing = state.load_prices(prices_file(factor=2), "mine.csv")
    assert (problems, missing) == ((), ())
    assert cost(state) == pytest.approx(2 * before)
    assert state.prices is state.own_prices
    assert {one.prices.id for one in state.scenarios.values()} == {"own"}


def test_load_prices_missing_items_are_named_and_keep_the_picked_list(state):
    text = f"{HEAD}coarse_perlite,100 L,30,EUR,1,0.8\n"
    problems, missing = state.load_prices(text.encode(), "mine.csv")
    assert problems == ()
    assert set(missing) == set(catalog.items()) - {"coarse_perlite"}
    shipped = catalog.price_list("tern_hollow")
    assert state.prices.unit_price("coarse_perlite") == pytest.approx(30 / 80)
    assert state.prices.unit_price("labour") == shipped.unit_price("labour")
    assert state.focused.prices.assumed == missing


def test_load_prices_with_byte_order_mark_and_windows_lines(state):
    text = f"{HEAD}water,1 m^3,5,EUR,,\n".replace("\n", "\r\n")
    state.load_prices(b"\xef\xbb\xbf" + text.encode(), "mine.csv")
    assert state.focused.prices.water_price.m_as("money/m^3") == pytest.approx(5)


def test_load_prices_semicolon_and_decimal_comma(state):
    text = "item;package_size;price;currency\nwater;1 m^3;5,25;EUR\nlabour;1 hour;12,5;EUR\n"
    problems, _ = state.load_prices(text.encode(), "mine.csv", ",")
    assert problems == ()
    assert state.focused.prices.water_price.m_as("money/m^3") == pytest.approx(5.25)
    assert state.focused.prices.labour_price.m_as("money/hour") == pytest.approx(12.5)


def test_load_prices_decimal_comma_undeclared_is_a_bad_row(state):
    before = state.save()
    text = "item;package_size;price;currency\nwater;1 m^3;5,25;EUR\n"
    with pytest.raises(RecordError, match="5,25"):
        state.load_prices(text.encode(), "mine.csv", ".")
    assert state.save() == before


def test_load_prices_other_currency_takes_the_list_in_it(state):
    """Euros are picked and the file is in dollars: what it lacks comes from the dollar list."""
    _, missing = state.load_prices(f"{HEAD}water,1 m^3,9,USD,,\n".encode(), "mine.csv")
    assert (state.currency, state.rate) == ("USD", 1.0)
    assert "labour" in missing
    usd = catalog.price_list("dunmarrow")
    assert state.prices.unit_price("labour") == usd.unit_price("labour")
    assert {one.prices.currency for one in state.scenarios.values()} == {"USD"}


def test_load_prices_third_currency_incomplete_is_refused(state):
    before = state.save()
    content = prices_file(currency="NOK", leave_out=("labour", "water"))
    with pytest.raises(RecordError, match="lacks: water, labour") as caught:
        state.load_prices(content, "mine.csv")
    assert "NOK" in str(caught.value)
    assert "EUR or USD" in str(caught.value)
    assert state.save() == before


def test_load_prices_third_currency_complete_works_for_every_crop(state):
    before = cost(state)
    _, missing = state.load_prices(prices_file(factor=11, currency="NOK"), "mine.csv")
    assert missing == ()
    assert state.currency == "NOK"
    assert cost(state) == pytest.approx(11 * before)
    for crop in state.crops():
        state.pick_crop(crop)
        assert state.compute().currency == "NOK"


@pytest.mark.parametrize(
    "text",
    ["", "not a table", HEAD, f"{HEAD}water,1 m^3,free,EUR,,\n", f"{HEAD}gold,1 kg,9,EUR,,\n",
     "item,price\nwater,2\n"],
    ids=["empty", "no table", "no rows", "no number", "unknown item", "columns missing"],
)  # fmt: skip
def test_load_prices_useless_file_changes_nothing(state, text):
    before = state.save()
    with pytest.raises(RecordError):
        state.load_prices(text.encode(), "mine.csv")
    assert state.save() == before


def test_load_prices_bad_rows_are_listed_and_the_rest_is_used(state):
    text = f"{HEAD}water,1 m^3,5,EUR,,\nlabour,1 hour,-3,EUR,,\ngold,1 kg,9,EUR,,\n"
    problems, missing = state.load_prices(text.encode(), "mine.csv")
    assert [problem.row for problem in sorted(problems, key=lambda one: one.row)] == [3, 4]
    assert "labour" in missing
    assert "water" not in missing


def test_load_prices_then_a_shipped_list_is_shipped_again(state):
    before = cost(state)
    state.load_prices(prices_file(factor=2), "mine.csv")
    state.pick_prices("tern_hollow")
    assert state.own_prices is None
    assert cost(state) == pytest.approx(before)


def test_load_prices_survive_reset_and_another_crop(state):
    state.load_prices(prices_file(factor=2), "mine.csv")
    state.reset()
    assert state.focused.prices.id == "own"
    state.pick_crop("kale")
    shipped = catalog.price_list("tern_hollow").unit_price("produce_kale")
    assert state.focused.prices.produce_price.magnitude == pytest.approx(2 * shipped)


def test_load_prices_template_of_own_list_reads_back_to_it(state):
    state.load_prices(prices_file(factor=3), "mine.csv")
    again = BoardState()
    again.load_prices(catalog.template(state.prices).encode(), "again.csv")
    for item in catalog.items():
        assert again.prices.unit_price(item) == state.prices.unit_price(item)
