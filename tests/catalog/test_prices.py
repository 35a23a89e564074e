import pickle

import pytest

from scenariokit import catalog, quantity, substrate
from scenariokit.catalog import checks
from scenariokit.catalog.fields import schema
from scenariokit.catalog.prices import (
    PriceRow,
    exchange_rates,
    price_list,
    price_lists,
    read_prices,
    template,
)
from scenariokit.errors import RecordError

HEAD = "item,package_size,price,currency,expansion,fill_factor\n"


def problem_of(row, **options):
    _, problems = read_prices(f"{HEAD}water,1 m^3,2,EUR,,\n{row}\n", currency="EUR", **options)
    (problem,) = problems
    assert problem.row == 3
    return problem


def test_unit_price_of_a_compressed_bale_in_place():
    # Computed by hand: 22.00 / (3.8 ft3 * 28.316847 L/ft3 * 2 * 0.8) = 0.127783 per litre.
    text = f"{HEAD}white_peat,3.8 ft^3,22.00,USD,2,0.8\n"
    prices, problems = read_prices(text)
    assert problems == []
    assert prices.unit_price("white_peat") == pytest.approx(0.127783, abs=5e-7)
    assert PriceRow("x", 22.0, 107.604018, "L", 2, 0.8).unit_price == pytest.approx(0.127783, 1e-5)


def test_unit_price_of_an_unpriced_item_names_close_ones():
    prices, _ = read_prices(f"{HEAD}water,1 m^3,2,EUR,,\nlabour,1 hour,5,EUR,,\n")
    with pytest.raises(RecordError, match=r"item = watre.*allowed: water"):
        prices.unit_price("watre")


@pytest.mark.parametrize("id", ["tern_hollow", "dunmarrow"])
def test_template_reads_back_to_identical_prices(id):
    base = price_list(id)
    text = template(base)
    alone, problems = read_prices(text)
    assert problems == []
    assert alone.missing == ()
    assert alone.currency == base.currency
    assert {k: v.figures for k, v in alone.prices.items()} == {
        k: v.figures for k, v in base.prices.items()
    }
    over, _ = read_prices(text, base=base)
    assert over.prices == base.prices


def test_read_prices_edited_row_is_the_persons_own():
    base = price_list("tern_hollow")
    merged, _ = read_prices(f"{HEAD}water,1 m^3,9,EUR,,\n", base=base, name="mine.csv")
    assert merged.unit_price("water") == 9
    assert (merged.prices["water"].source, merged.prices["water"].status) == ("mine.csv", "own")
    assert merged.prices["labour"] == base.prices["labour"]
    assert "labour" in merged.missing
    assert "water" not in merged.missing
    assert base.unit_price("water") == 2.4


def test_read_prices_without_base_lists_what_has_no_price():
    merged, _ = read_prices(f"{HEAD}water,1 m^3,9,EUR,,\n")
    assert set(merged.missing) == set(catalog.items()) - {"water"}
    assert set(merged.prices) == {"water"}


def test_read_prices_stated_source_is_kept():
    text = "item,package_size,price,currency,source,status\nwater,1 m^3,9,EUR,my bill,seen\n"
    row = read_prices(text, base=price_list("tern_hollow"))[0].prices["water"]
    assert (row.source, row.status) == ("my bill", "seen")


def test_read_prices_base_in_another_currency_wants_the_rate():
    base = price_list("tern_hollow")
    text = f"{HEAD}water,1 m^3,9,USD,,\n"
    with pytest.raises(RecordError, match="how many USD one EUR buys"):
        read_prices(text, base=base)
    with pytest.raises(RecordError, match="rate = -1"):
        read_prices(text, base=base, rate=-1)
    merged, _ = read_prices(text, base=base, rate=1.25)
    assert merged.currency == "USD"
    assert merged.unit_price("labour") == pytest.approx(1.25 * base.unit_price("labour"))
    assert "converted at 1.25" in merged.prices["labour"].source


def test_read_prices_mixed_currencies_are_bad_rows():
    text = f"{HEAD}water,1 m^3,9,EUR,,\nlabour,1 hour,9,EUR,,\nseed_potato,1 kg,1,USD,,\n"
    merged, (problem,) = read_prices(text)
    assert merged.currency == "EUR"
    assert problem.row == 4
    assert "one list has one currency" in problem.reason
    assert problem.allowed == "EUR"


def test_read_prices_blank_currency_needs_a_stated_one():
    text = "item,package_size,price\nwater,1 m^3,9\n"
    with pytest.raises(RecordError, match="no row states one"):
        read_prices(text)
    assert read_prices(text, currency="NZD")[0].currency == "NZD"


@pytest.mark.parametrize(
    ("row", "field", "words"),
    [
        ("whte_peat,100 L,9,EUR,1,0.8", "item", "white_peat"),
        ("labour,1 hour,-9,EUR,,", "price", "below"),
        ("white_peat,10 kg,9,EUR,1,0.8", "package_size", "priced by L"),
        ("white_peat,100,9,EUR,1,0.8", "package_size", "bare number"),
        ("white_peat,0 L,9,EUR,1,0.8", "package_size", "more than zero"),
        ("white_peat,100 L,9,EUR,1,", "fill_factor", "settle"),
        ("float_valve,2 kg,9,EUR,,", "package_size", "priced by piece"),
        ("float_valve,2 piece,9,EUR,2,", "expansion", "only a growing medium"),
        ("labour,1 hour,9,eur,,", "currency", "form"),
        ("water,1 m^3,9,EUR,,", "item", "repeats row 2"),
    ],
)
def test_read_prices_bad_row_says_what_is_wrong(row, field, words):
    problem = problem_of(row)
    assert problem.field == field
    assert words in str(problem)


def test_read_prices_decimal_comma_reaches_the_package():
    text = "item;package_size;price;currency\nwater;1,5 m^3;3,0;EUR\n"
    prices, problems = read_prices(text, decimal=",")
    assert problems == []
    assert prices.unit_price("water") == pytest.approx(2)


def test_price_list_unknown_name_lists_the_known():
    with pytest.raises(KeyError, match="dunmarrow"):
        price_list("moon")


def test_price_list_damaged_file_is_refused(monkeypatch):
    monkeypatch.setattr("scenariokit.catalog.prices.load", lambda kind: (
        catalog.sites() if kind == "sites" else {}
    ))  # fmt: skip
    with pytest.raises(RecordError, match="is not an item"):
        price_list.__wrapped__("tern_hollow")


def test_price_lists_pickle_equal():
    for prices in price_lists().values():
        assert pickle.loads(pickle.dumps(prices)) == prices  # noqa: S301


def test_exchange_rates_there_and_back_is_one():
    rates = exchange_rates()
    for (start, end), row in rates.items():
        assert row.rate * rates[end, start].rate == pytest.approx(1, rel=1e-6)
        assert row.status == "invented"


def test_read_prices_freight_is_part_of_the_price_in_place():
    text = (
        "item,package_size,price,freight,currency,expansion,fill_factor\n"
        "white_peat,100 L,18,2,EUR,2,0.8\nlabour,1 hour,5,,EUR,,\n"
    )
    found, problems = catalog.read_prices(text)
    assert problems == []
    assert found.unit_price("white_peat") == pytest.approx((18 + 2) / (100 * 2 * 0.8))
    assert found.prices["labour"].freight == 0
    again, _ = catalog.read_prices(catalog.template(found))
    assert again.prices["white_peat"].freight == 2


def test_read_prices_without_a_column_for_freight_has_none():
    found, _ = catalog.read_prices("item,package_size,price,currency\nlabour,1 hour,5,EUR\n")
    assert found.prices["labour"].freight == 0


def test_read_prices_negative_freight_is_named():
    text = "item,package_size,price,freight,currency\nlabour,1 hour,5,-1,EUR\nwater,1 m^3,2,,EUR\n"
    _, problems = catalog.read_prices(text)
    assert [(one.field, one.row) for one in problems] == [("freight", 2)]


def test_read_prices_freight_of_the_base_is_converted_with_its_price():
    base = catalog.price_list("tern_hollow")
    found, _ = catalog.read_prices(
        "item,package_size,price,currency\nlabour,1 hour,50,NOK\n", base=base, rate=11.5
    )
    peat = found.prices["white_peat"]
    assert peat.freight == pytest.approx(base.prices["white_peat"].freight * 11.5)
    assert peat.unit_price == pytest.approx(base.unit_price("white_peat") * 11.5)


def test_labour_shares_of_every_method_add_to_one():
    shares = catalog.labour_shares()
    assert set(catalog.methods()) | {catalog.ANY_METHOD} == set(shares)
    for row in shares.values():
        assert sum(row.values()) == pytest.approx(1, abs=1e-12)


def test_read_prices_freight_of_pieces_and_kilograms_is_shared_among_them():
    text = (
        "item,package_size,price,freight,currency\n"
        "net_pot,50 piece,14,6,EUR\nseed_potato,25 kg,34,1000,EUR\n"
    )
    found, problems = catalog.read_prices(text)
    assert problems == []
    assert found.unit_price("net_pot") == pytest.approx(20 / 50)
    assert found.unit_price("seed_potato") == pytest.approx(1034 / 25)


def test_unit_price_is_the_price_in_place_of_its_package():
    for listed in catalog.price_lists().values():
        for row in (listed.prices[name] for name in ("white_peat", "coir_pith", "pine_bark")):
            found = substrate.price_in_place(
                quantity(row.package_price, "money"), quantity(row.package_size, "L"),
                row.expansion, row.fill_factor, quantity(row.freight, "money"),
            )  # fmt: skip
            assert row.freight > 0
            assert row.unit_price == pytest.approx(found.m_as("money/L"), rel=1e-12)


def test_labour_shares_that_do_not_add_to_one_are_a_problem():
    row = dict.fromkeys(checks.TASKS, 0.2)
    assert checks.labour_problems(row) == []
    (problem,) = checks.labour_problems({**row, "cleaning": 0.3})
    assert "do not add to 1" in problem.reason
    assert "1.1" in problem.value


def test_own_methods_text_states_the_usual_shares_of_labour():
    words = schema("own_methods").field("labour_per_plant").description
    for share in catalog.labour_shares()[catalog.ANY_METHOD].values():
        assert f" {100 * share:g} %" in words
