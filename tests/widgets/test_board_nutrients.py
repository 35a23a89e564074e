"""The nutrient panel at the level of its traits: recipe, stocks, meter, files, words."""

from __future__ import annotations

import json
import re
import warnings
from html import unescape

import pytest
from hypothesis import Phase, given, settings
from hypothesis import strategies as st
from own_files import FERTILISERS, TARGETS, WATER, as_xlsx, with_comma

from scenariokit import catalog
from scenariokit.scenario import DEFAULT_SHELF, correction_for, feed_strength, mixing_for
from scenariokit.units import quantity
from scenariokit.widgets import board_feed
from scenariokit.widgets.board import Board
from scenariokit.widgets.board_state import BoardState
from scenariokit.widgets.chart_view import parameter_names, source_names
from scenariokit.widgets.file_picker import FilePicker
from scenariokit.widgets.file_saver import FileSaver

FAULT = "Something went wrong inside scenariokit"
WORKED_OUT = "worked out:potato_window"
METRIC = re.compile(r"\d m?L\b|\d °C|m² of soil")
PICKERS = {
    board_feed.WATER: ("water analysis", WATER),
    board_feed.FERTILISERS: ("fertilisers", FERTILISERS),
    board_feed.TARGETS: ("nutrient targets", TARGETS),
}


def board_of(method="medium_bag", crop="potato", **state):
    board = Board(BoardState(crop=crop, chosen=[method], focus=method, **state))
    board.views.open_view("feed")
    return board


@pytest.fixture
def board():
    return board_of()


def move(panel, **values):
    """Move controls, as the page does it: the whole mapping is sent anew."""
    panel.values = {**panel.values, **values}


def at(panel, path, value):
    move(panel, **{path: value})


def words(widget):
    """Return what a person reads in an HTML widget."""
    return " ".join(unescape(re.sub("<[^>]+>", " ", widget.value)).split())


def sent(board):
    """Everything that the panel shows, as text."""
    panel = board.nutrients
    texts = (panel.title, panel.says, panel.recipe, panel.dose, panel.advice, panel.left)
    charts = (panel.elements, panel.balance)
    return {
        "texts": [one.value for one in texts],
        "charts": [json.dumps(view.datasets, sort_keys=True) for view in charts],
        "choices": dict(panel.choices.values),
    }


def field(panel, key):
    return next(one for one in panel.fields if one["key"] == key)


def keys(panel):
    return [one["key"] for one in panel.fields]


def options(panel, key):
    return [value for value, _ in field(panel, key)["options"]]


def bring(board, word, content, name="mine.csv"):
    """Hand a file to a picker as the page does; return the picker."""
    (found,) = [
        one for one in board.files.widgets if isinstance(one, FilePicker) and word in one.label
    ]
    found._received(found, {"kind": "file", "name": name}, [memoryview(content)])
    return found


def press(saver):
    """Press a button as the page does; return what it sends back."""
    answers = []
    saver.send = lambda content, buffers=None: answers.append((content, buffers))
    saver._received(saver, {"kind": "want", "view": "v1"}, [])
    ((content, buffers),) = answers
    return content, None if buffers is None else bytes(buffers[0]).decode("utf-8")


def bands(board):
    return {row["element"]: row["text"] for row in board.nutrients.elements.datasets["bands"]}


# -- what is shown -------------------------------------------------------------------------


def test_board_nutrients_begins_with_the_published_recipe(board):
    panel = board.nutrients
    assert words(panel.title) == "Nutrient solution: Hoagland solution 1"
    said = words(panel.says)
    assert "EC 1.60 dS/m at 25 °C , inside the usual 1 to 2.2 for potato" in said
    assert "72 % of Hoagland solution 1" in said  # 0.7156, from the EC of ions
    assert "Every element lies in its band." in said
    assert keys(panel.choices) == [
        "recipe", "water", "acid", "stocks", "stock_volume", "coldest",
    ]  # fmt: skip
    assert panel.choices.values["recipe"] == "published:hoagland_1"
    assert panel.choices.errors == {}


@pytest.mark.parametrize("system", ["metric", "us"])
@pytest.mark.parametrize("recipe", ["published:steiner", WORKED_OUT])
def test_board_nutrients_charts_get_what_they_name(recipe, system):
    board = board_of(system=system)
    move(board.nutrients.choices, recipe=recipe, water="hard_tap")
    for view in (board.nutrients.elements, board.nutrients.balance):
        assert set(view.datasets) == set(source_names(view.spec)), view.heading
        assert set(view.signals) == set(parameter_names(view.spec)), view.heading
        assert 0 < sum(len(rows) for rows in view.datasets.values()) < 5_000
        assert view.table_rows
        assert all(len(row) == len(view.table_columns) for row in view.table_rows)


def test_board_nutrients_bars_are_water_and_salts_of_the_state(board):
    move(board.nutrients.choices, water="hard_tap")
    state = board.state
    strength = float(feed_strength(state.focused.feed))
    amounts = {
        (row["element"], row["source"]): row["amount"]
        for row in board.nutrients.elements.datasets["elements"]
    }
    assert amounts["Calcium", "from the water"] == 105
    assert amounts["Calcium", "from fertilisers"] == pytest.approx(
        strength * state.planned.content["Ca"]
    )


@pytest.mark.parametrize(
    "recipe",
    [f"published:{key}" for key in catalog.recipes()]
    + [f"worked out:{key}" for key in catalog.targets()],
)
def test_board_nutrients_every_recipe_can_be_picked(board, recipe):
    assert recipe in options(board.nutrients.choices, "recipe")
    move(board.nutrients.choices, recipe=recipe)
    assert board.nutrients.choices.errors == {}
    assert board.status.value == ""
    assert board.nutrients.choices.values["recipe"] == recipe
    assert words(board.nutrients.title).endswith(board.state.planned.label)


def test_board_nutrients_worked_out_opens_the_shelf_and_published_closes_it(board):
    panel = board.nutrients.choices
    move(panel, recipe=WORKED_OUT)
    assert keys(panel)[:3] == ["recipe", "cheapest", "shelf"]
    assert options(panel, "shelf") == list(board.state.feed.store.fertilisers)
    assert set(panel.values["shelf"]) == set(DEFAULT_SHELF)
    move(panel, recipe="published:hoagland_2")
    assert "shelf" not in keys(panel)
    move(panel, recipe=WORKED_OUT)
    assert set(panel.values["shelf"]) == set(DEFAULT_SHELF)


def test_board_nutrients_hard_water_is_short_of_nitrogen_and_acid_brings_some(board):
    panel = board.nutrients
    move(panel.choices, recipe=WORKED_OUT, water="hard_tap")
    said = words(panel.says)
    assert "Nitrogen is short of its band: 86.7 mg/L where 111 to 222 is allowed." in said
    assert "More nitrogen would come from: Ammonium nitrate" in said
    assert "too little" in bands(board)["Nitrogen"]
    assert "alkalinity of 238 mg/L as CaCO3 lifts the pH" in said
    before = board.state.focused.feed.water_content
    move(panel.choices, acid="nitric_60")
    after, said = board.state.focused.feed.water_content, words(panel.says)
    gained = after["N_nitrate"] - before["N_nitrate"]
    # by hand: each mmol of bicarbonate that is taken away costs one mmol of acid, 14.007 mg of N
    assert gained == pytest.approx((before["HCO3"] - after["HCO3"]) / 61.017 * 14.007, rel=2e-3)
    assert f"it brings {gained:.0f} mg/L of nitrogen, which is counted" in said
    assert "Nitrogen is short" not in said
    assert "lifts the pH" not in said
    assert "Pour acid INTO water" in said
    assert after["HCO3"] < 0.3 * before["HCO3"]


def test_board_nutrients_water_saltier_than_the_ec_is_refused_beside_it(board):
    before, state = sent(board), board.state.save()
    move(board.nutrients.choices, water="brackish_well")
    assert "below that of the water itself" in board.nutrients.choices.errors["water"]
    assert sent(board) == before
    assert board.state.save() == state
    at(board.common, "feed.ec", 4.0)
    move(board.nutrients.choices, water="brackish_well")
    assert board.nutrients.choices.errors == {}
    assert board.state.focused.feed.water == "Brackish well"
    at(board.common, "feed.ec", 2.0)
    assert "below that of the water itself" in board.common.errors["feed.ec"]


def test_board_nutrients_unticked_salt_is_missed_by_name(board):
    panel = board.nutrients
    move(panel.choices, recipe=WORKED_OUT)
    kept = [key for key in panel.choices.values["shelf"] if key != "magnesium_sulfate"]
    move(panel.choices, shelf=kept)
    said = words(panel.says)
    assert "Magnesium is short of its band: 0 mg/L" in said
    (helps,) = re.findall(r"More magnesium would come from: ([^.]*)\.", said)
    assert "Magnesium sulfate heptahydrate" in helps
    assert "Magnesium sulfate" not in words(panel.recipe)
    assert "too little" in bands(board)["Magnesium"]


def test_board_nutrients_empty_shelf_is_refused_beside_it(board):
    panel = board.nutrients.choices
    move(panel, recipe=WORKED_OUT)
    before = sent(board)
    move(panel, shelf=[])
    assert "nothing is on the shelf" in panel.errors["shelf"]
    assert sent(board) == before
    assert set(panel.values["shelf"]) == set(DEFAULT_SHELF)


def test_board_nutrients_cheapest_costs_no_more_and_refuses_impossible_bands(board):
    panel = board.nutrients

    def total():
        return float(re.findall(r"Together ([\d.]+)$", words(panel.recipe))[0])

    move(panel.choices, recipe=WORKED_OUT)
    more = ["magnesium_nitrate", "ammonium_nitrate", "calcium_chloride"]
    move(panel.choices, shelf=[*panel.choices.values["shelf"], *more])
    closest = total()
    move(panel.choices, cheapest="yes")
    assert panel.choices.errors == {}
    assert total() < closest
    kept = [key for key in panel.choices.values["shelf"] if key != "iron_edta"]
    before = sent(board)
    move(panel.choices, shelf=kept)
    assert "Fe" in panel.choices.errors["shelf"]
    assert "iron_edta" in panel.choices.errors["shelf"]
    assert sent(board) == before
    move(panel.choices, cheapest="no", shelf=kept)
    assert panel.choices.errors == {}
    assert "Iron is short of its band" in words(panel.says)


def test_board_nutrients_ec_slider_works_the_recipe_out_anew(board):
    panel = board.nutrients
    move(panel.choices, recipe=WORKED_OUT)
    before = sent(board)
    at(board.common, "feed.ec", 2.0)
    assert "EC 2.00 dS/m" in words(panel.says)
    assert all(
        one != other
        for one, other in zip(before["charts"], sent(board)["charts"], strict=True)
        if "balance" not in one
    )
    assert float(feed_strength(board.state.focused.feed)) == pytest.approx(1, abs=5e-4)


@pytest.mark.parametrize(("ec", "place"), [(0.8, "below"), (1.6, "inside"), (3.0, "above")])
def test_board_nutrients_gauge_says_where_the_ec_lies(board, ec, place):
    at(board.common, "feed.ec", ec)
    assert f"EC {ec:.2f} dS/m at 25 °C , {place} the usual 1 to 2.2" in words(board.nutrients.says)


# -- stocks --------------------------------------------------------------------------------


def test_board_nutrients_third_stock_holds_the_micronutrients(board):
    panel = board.nutrients
    assert "each stock (A and B)" in words(panel.dose)
    move(panel.choices, stocks="3")
    assert panel.choices.errors == {}
    assert "A, B and C" in words(panel.dose)
    assert "In 10 L of stock C" in words(panel.recipe)
    _, labels = press(panel.savers[1])
    assert [letter for letter in "ABCD" if f"STOCK {letter}:" in labels] == ["A", "B", "C"]
    sheet = panel.sheet()
    assert sheet.index("Stock C") < sheet.index("Boric acid")


def test_board_nutrients_mixing_sheet_is_downloaded_with_its_grams(board):
    content, text = press(board.nutrients.savers[0])
    assert content == {
        "kind": "content", "view": "v1", "filename": "mixing_sheet.txt", "mime": "text/plain",
    }  # fmt: skip
    # by hand: 1.18073 g/L x 100 x 10 L
    assert re.search(r"Calcium nitrate tetrahydrate\s+1181 g", text)
    assert "water: pure water" in text
    assert "EC 1.60 dS/m at 25 °C; dilution 1 : 100" in text
    assert "acid INTO water" in text
    assert max(len(line) for line in text.splitlines()) <= 80


def test_board_nutrients_labels_have_hazards_and_no_recipe_is_lost(board):
    content, text = press(board.nutrients.savers[1])
    assert content["filename"] == "stock_labels.txt"
    assert text.count("NEVER MIX THE STOCKS UNDILUTED") == 2
    assert "oxidiser" in text
    for fertiliser in board.state.planned.fertilisers.values():
        assert fertiliser.label in " ".join(text.split())


def test_board_nutrients_acid_stands_on_the_mixing_sheet(board):
    move(board.nutrients.choices, water="hard_tap", acid="nitric_60")
    sheet = " ".join(board.nutrients.sheet().split())
    assert "Acid for the water" in sheet
    assert "Nitric acid 60 %: 29.2 mL for the full tank" in sheet
    assert "never with a class" in sheet


def test_board_nutrients_room_fields_change_the_stocks_only(board):
    panel = board.nutrients
    before, says = words(panel.recipe), panel.says.value
    move(panel.choices, stock_volume=5.0)
    assert panel.choices.errors == {}
    assert "In 5 L of stock A" in words(panel.recipe)
    assert words(panel.recipe) != before
    assert panel.says.value == says
    assert "590.4 g" in words(panel.recipe)  # 1.18073 g/L x 100 x 5 L


def test_board_nutrients_dilution_that_would_not_dissolve_is_said_in_words(board):
    panel = board.nutrients
    at(board.common, "feed.dilution", 1000.0)
    assert board.common.errors == {}
    said = words(panel.dose)
    assert "sk-danger" in panel.dose.value
    assert "would not stay dissolved" in said
    (most,) = re.findall(r"The greatest dilution that works is (\d+)", said)
    assert "In a litre as made" in words(panel.recipe)
    assert "of stock A" not in words(panel.recipe)
    for saver in panel.savers:
        content, made = press(saver)
        assert content["kind"] == "refused"
        assert "would not stay dissolved" in content["text"]
        assert made is None
    at(board.common, "feed.dilution", float(most))
    assert "of each stock" in words(panel.dose)


def test_board_nutrients_warmer_store_lets_more_dissolve(board):
    panel = board.nutrients
    at(board.common, "feed.dilution", 250.0)
    move(panel.choices, coldest=0.0)
    assert "would drop potassium nitrate at 0 °C" in words(panel.dose)
    assert "The greatest dilution that works" in words(panel.dose)
    move(panel.choices, coldest=20.0)
    assert "of each stock" in words(panel.dose)


@pytest.mark.parametrize(
    ("changes", "said"),
    [({"stock_volume": 0.0}, "more than zero"), ({"coldest": 60.0}, "above the allowed range")],
)
def test_board_nutrients_impossible_room_is_said_where_the_dose_stands(board, changes, said):
    move(board.nutrients.choices, **changes)
    assert said in words(board.nutrients.dose)
    assert board.status.value == ""
    move(board.nutrients.choices, stock_volume=10.0, coldest=10.0)
    assert "of each stock" in words(board.nutrients.dose)


# -- next week -----------------------------------------------------------------------------


def test_board_nutrients_meter_begins_where_something_is_to_do(board):
    panel = board.nutrients
    assert panel.meter.values == pytest.approx({"ec_now": 1.28, "depth_now": 4.0})
    assert "EC from 1.28 to 1.60 dS/m: drain" in words(panel.advice)
    assert "never mix stocks undiluted" in words(panel.advice)


def test_board_nutrients_meter_gives_the_advice_of_the_model_and_changes_nothing_else(board):
    panel, before, state = board.nutrients, sent(board), board.state.save()
    move(panel.meter, ec_now=2.4, depth_now=2.0)
    wanted = correction_for(board.state.focused, quantity(2.4, "dS/m"), quantity(2.0, "cm"))
    assert wanted.action == "lower"
    assert words(panel.advice).startswith(wanted.says)
    assert board.state.save() == state
    after = sent(board)
    assert after["charts"] == before["charts"]
    assert after["texts"][:4] == before["texts"][:4]
    move(panel.meter, ec_now=1.55)
    assert "near enough" in words(panel.advice)


def test_board_nutrients_meter_advice_follows_the_ec_slider(board):
    at(board.common, "feed.ec", 1.3)
    assert "near enough to 1.30" in words(board.nutrients.advice)


def test_board_nutrients_meter_number_of_stocks_is_that_of_the_room(board):
    assert "each of the 2 stocks" in words(board.nutrients.advice)
    move(board.nutrients.choices, stocks="3")
    assert "each of the 3 stocks" in words(board.nutrients.advice)


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ({"depth_now": 60.0}, "60 cm of water is above the rim"),
        ({"depth_now": -1.0}, "below the allowed range"),
        ({"ec_now": 99.0}, "above the allowed range"),
    ],
)
def test_board_nutrients_meter_impossible_reading_is_said_in_words(board, values, said):
    move(board.nutrients.meter, **values)
    assert said in words(board.nutrients.advice)
    assert board.status.value == ""


def test_board_nutrients_meter_below_the_water_is_said_in_words(board):
    move(board.nutrients.choices, water="hard_tap")
    move(board.nutrients.meter, ec_now=0.3)
    assert "water" in words(board.nutrients.advice)
    assert "add" not in words(board.nutrients.advice)
    assert board.status.value == ""


# -- units, crops, methods -----------------------------------------------------------------


def test_board_nutrients_us_units_reach_controls_and_words(board):
    move(board.nutrients.choices, water="hard_tap", acid="nitric_60")
    move(board.toolbar, system="us")
    panel = board.nutrients
    assert field(panel.choices, "stock_volume")["unit"] == "gal"
    assert field(panel.choices, "coldest")["unit"] == "°F"
    assert field(panel.meter, "depth_now")["unit"] == "in"
    assert panel.choices.values["stock_volume"] == pytest.approx(10 / 3.785411784)
    assert panel.choices.values["coldest"] == pytest.approx(50)
    for part in (panel.dose, panel.left, panel.recipe):
        assert not METRIC.search(words(part)), words(part)
    assert "at 59 °F" in words(panel.says)
    assert "27.1 gal" in words(panel.dose)  # 102.4 L / 3.785
    assert "EUR for 1000 gal" in words(panel.recipe)
    assert re.search(
        r"That is [\d.]+ fl oz to drain, [\d.]+ fl oz of each stock\.", words(panel.advice)
    )
    move(panel.choices, stock_volume=5.0)
    assert board.state.feed.room.stock_volume.m_as("L") == pytest.approx(5 * 3.785411784)
    move(panel.choices, coldest=41.0)
    assert board.state.feed.room.coldest.m_as("degC") == pytest.approx(5)
    move(panel.meter, ec_now=2.4)
    assert re.search(r"That is [\d.]+ gal to drain, [\d.]+ gal of water\.", words(panel.advice))


def test_board_nutrients_metric_advice_is_said_once(board):
    assert "That is" not in words(board.nutrients.advice)


def test_board_nutrients_units_there_and_back_change_nothing(board):
    move(board.nutrients.choices, recipe=WORKED_OUT, water="hard_tap", stocks="3")
    before, state = sent(board), board.state.save()
    move(board.toolbar, system="us")
    assert sent(board) != before
    move(board.toolbar, system="metric")
    assert sent(board) == before
    assert board.state.save() == state


def test_board_nutrients_currency_reaches_recipe_and_season(board):
    def total():
        return float(re.findall(r"Together ([\d.]+)$", words(board.nutrients.recipe))[0])

    before = total()
    move(board.toolbar, currency="USD")
    move(board.toolbar, rate=10.0)
    assert total() == pytest.approx(10 * before, rel=0.05)
    assert "USD for 1000 L" in words(board.nutrients.recipe)
    assert "USD/kg of produce" in words(board.nutrients.left)


def test_board_nutrients_without_a_tank_says_so_and_hides_the_rest(board):
    move(board.toolbar, chosen=["medium_bag", "field_soil"])
    move(board.toolbar, focus="field_soil")
    panel = board.nutrients
    assert words(panel.says) == "This method is fed by its soil; no solution is made."
    shown = [part for part in panel.widget.children if part.layout.display != "none"]
    assert shown == [panel.title, panel.says]
    assert board.status.value == ""
    at(board.common, "feed.ec", 2.0)
    assert board.common.errors == {}
    assert press(panel.savers[0])[0]["kind"] == "refused"
    move(board.toolbar, focus="medium_bag")
    assert all(part.layout.display != "none" for part in panel.widget.children)
    assert "EC 2.00 dS/m" in words(panel.says)


def test_board_nutrients_crop_keeps_the_plan_and_changes_demand(board):
    panel = board.nutrients
    move(panel.choices, recipe=WORKED_OUT, water="soft_tap")
    before = words(panel.left)
    move(board.toolbar, crop="kale")
    assert board.toolbar.errors == {}
    assert panel.choices.values["recipe"] == WORKED_OUT
    assert panel.choices.values["water"] == "soft_tap"
    assert words(panel.left) != before
    assert "for potato" not in words(panel.says)


@pytest.mark.parametrize("method", ["wedge_pots", "paper_wrap", "suspended_pot", "perforated_tray"])
def test_board_nutrients_dose_is_for_the_tank_in_focus(method):
    board = board_of(method)
    mixing = mixing_for(board.state.focused, board.state.feed.store.fertilisers)
    assert f"For the full tank, {mixing.tank_volume.m_as('L'):.3g} L" in words(board.nutrients.dose)
    total = mixing.dose.each.m_as("L") * 2 + mixing.dose.water.m_as("L")
    assert total == pytest.approx(mixing.tank_volume.m_as("L"))


def test_board_nutrients_balance_table_is_that_of_every_eighth_day_and_the_harvest(board):
    days = {int(row[1]) for row in board.nutrients.balance.table_rows}
    assert days == {*range(0, 131, 8), 130}


# -- own files -----------------------------------------------------------------------------


@pytest.mark.parametrize("form", ["point", "comma", "workbook"])
def test_board_own_files_can_be_picked(board, form):
    if form == "comma":
        move(board.files.decimal, decimal=",")
    for word, text in PICKERS.values():
        content = as_xlsx(text) if form == "workbook" else text.encode()
        if form == "comma":
            content = with_comma(text).encode()
        found = bring(board, word, content, "mine.xlsx" if form == "workbook" else "mine.csv")
        assert not found.refused, found.message
        assert "Pick it under Nutrient solution" in words(board.status)
        assert "sk-good" in board.status.value
    panel = board.nutrients.choices
    assert "well" in options(panel, "water")
    assert "worked out:ours" in options(panel, "recipe")
    move(panel, recipe="worked out:ours", water="well")
    assert panel.errors == {}
    assert {"our_calcium", "our_potash"} <= set(panel.values["shelf"])
    assert board.state.focused.feed.water_content["Ca"] == 80
    assert words(board.nutrients.title).endswith("Our aim, worked out")
    move(panel, shelf=["our_calcium", "our_potash", *DEFAULT_SHELF[2:]])
    assert "Our calcium nitrate" in words(board.nutrients.recipe)
    assert "Our calcium nitrate" in board.nutrients.sheet()


def test_board_own_files_say_bad_rows_and_what_is_not_on_the_shelf(board):
    text = FERTILISERS.replace(",1.2,", ",,") + "bad,Bad,,13-0,,,,,1,\n"
    assert not bring(board, "fertilisers", text.encode()).refused
    said = words(board.status)
    assert "added our_calcium, our_potash" in said
    assert "Not on your shelf, because no price is given: our_potash." in said
    assert "These rows were left out: mine.csv, row 4: grade" in said
    assert "sk-bad" in board.status.value
    move(board.nutrients.choices, recipe=WORKED_OUT)
    move(board.nutrients.choices, shelf=[*board.nutrients.choices.values["shelf"], "our_potash"])
    assert "our_potash has no price" in board.nutrients.choices.errors["shelf"]


def test_board_own_files_labels_are_escaped(board):
    bring(board, "water analysis", WATER.replace("Our well", "<b>well</b>").encode(), "<i>.csv")
    bring(board, "nutrient targets", TARGETS.replace("Our aim", "<b>aim</b>").encode())
    move(board.nutrients.choices, recipe="worked out:ours", water="well")
    everything = json.dumps(sent(board)) + board.status.value
    assert "<b>aim" not in everything
    assert "<b>well" not in everything
    assert "<i>.csv" not in everything


@pytest.mark.parametrize("table", PICKERS)
@pytest.mark.parametrize("content", [b"", b"\x00\x01\x02", b"<script>alert(1)</script>,b\n1,2\n"])
def test_board_own_file_that_cannot_be_used_changes_nothing(board, table, content):
    before, state = sent(board), board.state.save()
    found = bring(board, PICKERS[table][0], content)
    assert found.refused
    assert "mine.csv" in found.message
    assert "<script" not in board.status.value
    assert 'role="alert"' in board.status.value
    assert sent(board) == before
    assert board.state.save() == state


@pytest.mark.parametrize("table", PICKERS)
def test_board_sheets_to_fill_in_are_those_of_the_catalogue(board, table):
    name = table.replace("own_", "my_") + ".csv"
    (saver,) = [
        one for one in board.files.widgets
        if isinstance(one, FileSaver) and one.filename == name
    ]  # fmt: skip
    content, text = press(saver)
    assert content["filename"] == name
    assert text == catalog.write_template(table)
    head = text.strip()
    assert set(PICKERS[table][1].splitlines()[0].replace("[%]", "[percent]").split(",")) <= set(
        head.split(",")
    )


def test_board_saved_and_opened_again_shows_the_same_solution(board):
    for word, text in PICKERS.values():
        bring(board, word, text.encode())
    move(board.nutrients.choices, recipe="worked out:ours", water="well", acid="nitric_60")
    move(board.nutrients.choices, cheapest="yes", stocks="3", stock_volume=7.0, coldest=12.5)
    assert board.nutrients.choices.errors == {}
    other = Board()
    other.views.open_view("feed")
    found = bring(other, "saved board", board.state.save().encode(), "board.json")
    assert not found.refused, found.message
    assert sent(other) == sent(board)
    assert other.state.save() == board.state.save()
    assert other.nutrients.choices.values["acid"] == "nitric_60"


def test_board_reset_button_brings_the_published_recipe_back(board):
    before = sent(board)
    move(board.nutrients.choices, recipe=WORKED_OUT, water="hard_tap", stocks="3")
    board.files.widgets[-1].click()
    assert sent(board) == before


# -- guards, two boards --------------------------------------------------------------------


def test_board_nutrients_same_values_again_do_nothing(board, monkeypatch):
    monkeypatch.setattr(BoardState, "take_feed", lambda *_: pytest.fail("nothing was picked"))
    panel = board.nutrients.choices
    panel.values = {key: value for key, value in panel.values.items() if key != "shelf"}
    assert board.status.value == ""


@pytest.mark.parametrize("part", ["choices", "meter"])
def test_board_nutrients_unexpected_fault_is_said_plainly_and_logged(
    board, part, caplog, monkeypatch
):
    def broken(*_args, **_options):
        raise ZeroDivisionError("a fault of ours")

    monkeypatch.setattr(BoardState, "take_feed", broken)
    monkeypatch.setattr("scenariokit.widgets.board_nutrients.correction_for", broken)
    if part == "choices":
        move(board.nutrients.choices, water="hard_tap")
    else:
        move(board.nutrients.meter, ec_now=2.0)
    assert FAULT in board.status.value
    assert "a fault of ours" in caplog.text


@settings(max_examples=12, deadline=None, phases=[Phase.explicit, Phase.reuse, Phase.generate])
@given(data=st.data())
def test_board_nutrients_any_choice_is_taken_over_or_refused_in_words(data):
    """Whatever is picked, in whatever order, nothing warns and nothing breaks."""
    board = board_of(data.draw(st.sampled_from(["medium_bag", "paper_wrap"])))
    panel = board.nutrients
    with warnings.catch_warnings():
        warnings.simplefilter("error")
        for _ in range(4):
            one = data.draw(st.sampled_from(panel.choices.fields))
            value = drawn(data, one)
            before, shown = board.state.save(), panel.choices.values
            at(panel.choices, one["key"], value)
            if value == shown[one["key"]]:
                assert board.state.save() == before
            elif panel.choices.errors:
                assert set(panel.choices.errors) == {one["key"]}
                assert board.state.save() == before
            else:
                assert board.state.planned.plan == board.state.feed.plan
            ec = data.draw(st.floats(0.8, 3))
            at(board.common, "feed.ec", round(ec, 2))
            at(panel.meter, "ec_now", round(data.draw(st.floats(0.2, 6)), 2))
    assert FAULT not in board.status.value
    assert board.status.value == ""


def drawn(data, one):
    """Return a value that a control may be moved to."""
    if one["kind"] == "range":
        share = data.draw(st.floats(0, 1))
        return round(one["low"] + share * (one["high"] - one["low"]), one["digits"])
    values = [value for value, _ in one["options"]]
    if one["kind"] == "many":
        return data.draw(st.lists(st.sampled_from(values), unique=True))
    return data.draw(st.sampled_from(values))


def test_two_boards_nutrients_do_not_touch():
    one, other = board_of(), board_of()
    before, state = sent(other), other.state.save()
    for word, text in PICKERS.values():
        bring(one, word, text.encode())
    move(one.nutrients.choices, recipe="worked out:ours", water="well", stocks="3")
    move(one.nutrients.meter, ec_now=2.4)
    assert sent(other) == before
    assert other.state.save() == state
    assert sent(one) != before
    assert "well" not in options(other.nutrients.choices, "water")
