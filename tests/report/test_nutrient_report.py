"""What is said of a nutrient solution is true of its numbers, in the reader's units."""

from __future__ import annotations

import dataclasses
import datetime
import functools
import re
import sys
from pathlib import Path

import pytest

from scenariokit import nutrients, quantity
from scenariokit.charts.frames import Showing
from scenariokit.nutrients import SourceWater
from scenariokit.report import (
    balance_sentences,
    balance_table,
    dose_sentences,
    ec_gauge,
    mixing_sheet,
    recipe_sentences,
    recipe_table,
    stock_labels,
    strength_sentences,
    water_words,
)
from scenariokit.report.nutrients import litres
from scenariokit.scenario import (
    ElementSupply,
    FeedPlan,
    MixingRoom,
    acid_dose,
    element_supply,
    evaluate,
    feed_season,
    fullest_volume,
    holding_strength,
    mixing_for,
    plan_feed,
    scenario_for,
    shipped_store,
    solution_check,
    with_feed,
    with_values,
)

METRIC, US = Showing("metric", "EUR", 1.0), Showing("us", "USD", 1.08)
STORE = shipped_store()
MADE_ON = datetime.date(2026, 3, 1)
WINDOW = nutrients.ph_window("potato")
LABELS = {key: one.label for key, one in STORE.fertilisers.items()}
PUBLISHED = FeedPlan()
HARD = FeedPlan("potato_window", True, water="hard_tap")
ACID = FeedPlan("potato_window", True, water="hard_tap", acid="nitric_60")
GALLON, FLUID_OUNCE = 3.785411784, 0.0295735295625


@functools.cache
def planned(plan, ec=1.6):
    prices = scenario_for("medium_bag").prices.unit_prices
    return plan_feed(plan, quantity(ec, "dS/m"), STORE, prices)


def fed(plan=PUBLISHED, method="medium_bag", crop="potato", **leaves):
    """A scenario fed by a plan; `leaves` by path, two underscores for each dot."""
    one = with_feed(scenario_for(method, crop), planned(plan))
    return with_values(one, {path.replace("__", "."): value for path, value in leaves.items()})


def mixed(one, **room):
    return mixing_for(one, STORE.fertilisers, MixingRoom(**room))


def numbers(text):
    return [float(found.replace(",", "")) for found in re.findall(r"\d[\d,]*(?:\.\d+)?", text)]


def said(lines, word):
    (found,) = [line for line in lines if word in line]
    return found


def cells(table, heading):
    """Return the text of the cells of one row of a table."""
    row = next(row for row in table.split("<tr>") if f">{heading}" in row)
    return re.findall(r"<td>(.*?)</td>", row)


# -- numbers as people read them -----------------------------------------------------------


@pytest.mark.parametrize(
    ("volume", "metric", "us"),
    [
        ("102.4 L", "102 L", "27.1 gal"),
        ("1.5 L", "1.5 L", "50.7 fl oz"),
        ("0.7328 L", "733 mL", "24.8 fl oz"),
        ("0.2 mL", "0.2 mL", "0.00676 fl oz"),
        ("1500 L", "1,500 L", "396 gal"),
        ("0 L", "0 mL", "0 fl oz"),
    ],
)
def test_litres_three_digits_that_mean_something(volume, metric, us):
    assert litres(quantity(volume), METRIC) == metric
    assert litres(quantity(volume), US) == us


@pytest.mark.parametrize(
    ("ec", "place"), [(0.8, "below"), (1.0, "inside"), (1.6, "inside"), (2.2, "inside"),
                      (2.6, "above")],
)  # fmt: skip
def test_ec_gauge_says_where_the_ec_lies(ec, place):
    one = fed(feed__ec=quantity(ec, "dS/m"))
    text = ec_gauge(one, solution_check(one))
    assert f"<strong>{ec:.2f}</strong> dS/m" in text
    assert f", {place} the usual 1 to 2.2 for potato" in text


def test_ec_gauge_of_another_crop_knows_no_usual_band():
    one = fed(crop="tomato")
    text = ec_gauge(one, solution_check(one))
    assert "<strong>1.60</strong>" in text
    assert "usual" not in text


# -- strength ------------------------------------------------------------------------------


def test_strength_sentences_published_recipe_worked_by_hand():
    """0.7156 of the recipe; 14.35 meq/L of cations ÷ 10 are 10 % below 1.6; 1.28 at 15 °C."""
    one = fed()
    share, meter, charges = strength_sentences(one, solution_check(one), planned(PUBLISHED), METRIC)
    assert share.startswith("That is 72 % of Hoagland solution 1.")
    assert share.endswith("The water alone has 0.00 dS/m.")
    assert "shows 1.28 at 15 °C" in meter
    assert "1.43, which is 10 % too low" in meter
    assert charges == "Charges: cations 14.3, anions 14.3 meq/L."


@pytest.mark.parametrize("plan", [PUBLISHED, HARD, ACID])
def test_strength_sentences_are_the_numbers_of_the_check(plan):
    one = fed(plan)
    check, found = solution_check(one), planned(plan)
    share, meter, charges = strength_sentences(one, check, found, METRIC)
    assert numbers(share)[0] == round(100 * check.strength * found.share)
    assert f"{check.water_ec.m_as('dS/m'):.2f} dS/m" in share
    assert f"{check.rule.rule.m_as('dS/m'):.2f}, which" in meter
    assert numbers(charges)[:2] == [
        round(float(side.m_as("mmol/L")), 1)
        for side in (check.balance.cations, check.balance.anions)
    ]


def test_strength_sentences_us_degrees():
    one = fed()
    text = " ".join(strength_sentences(one, solution_check(one), planned(PUBLISHED), US))
    assert "at 59 °F" in text
    assert "°C" not in text


def test_strength_sentences_charges_apart_are_reported():
    one = fed()
    one.feed.water_content["Na"] = 46.0  # 2 meq/L without an anion
    text = strength_sentences(one, solution_check(one), planned(PUBLISHED), METRIC)[-1]
    cations, anions, apart = numbers(text)
    assert cations - anions == pytest.approx(2, abs=0.15)
    assert apart == round(100 * (cations - anions) / ((cations + anions) / 2), 0)
    assert "reported, not forced away" in text


def test_strength_sentences_rule_that_is_too_high_says_so():
    """Magnesium sulfate alone pairs so much that it conducts less than a tenth of its charge."""
    one = fed()
    feed = one.feed
    feed.content.clear()
    feed.content.update({"Mg": 243.05, "S": 320.6})
    strong = with_values(one, {"feed.ec": quantity(1.2, "dS/m")})
    text = strength_sentences(strong, solution_check(strong), planned(PUBLISHED), METRIC)[1]
    assert "too high" in text


# -- water and acid ------------------------------------------------------------------------


def test_water_words_pure_water_says_the_ph_to_keep():
    assert water_words(STORE.waters["pure_water"], None, WINDOW, METRIC) == [
        f"Keep pH between {WINDOW.low:g} and {WINDOW.high:g} ({WINDOW.source})."
    ]


def test_water_words_hard_water_without_acid_names_its_alkalinity():
    """290 mg/L of HCO3 are 238 mg/L as CaCO3: 290 x 50.04 / 61.016."""
    lines = water_words(STORE.waters["hard_tap"], None, WINDOW, METRIC)
    assert "alkalinity of 238 mg/L as CaCO3" in said(lines, "alkalinity")
    assert "pick an acid, or mix with rain water" in said(lines, "alkalinity")


def test_water_words_salty_water_passes_on_every_limit():
    lines = water_words(STORE.waters["brackish_well"], None, WINDOW, METRIC)
    found = nutrients.water_limits(STORE.waters["brackish_well"])
    assert len(found) > 3
    for one in found:
        assert said(lines, one.text.rstrip(".")).count(".") >= 1


def test_water_words_analysis_that_cannot_be_true_is_named():
    odd = SourceWater("odd", "Odd", {"Ca": 80.0, "HCO3": 190.0}, 156.0)
    line = said(water_words(odd, None, WINDOW, METRIC), "differ by")
    assert "cations 3.99 and anions 3.11 meq/L" in line


@pytest.mark.parametrize(
    ("acid", "brings"),
    [
        ("nitric_60", "52 mg/L of nitrogen"),
        ("phosphoric_85", "115 mg/L of phosphorus"),
        ("sulfuric_35", "59 mg/L of sulfur"),
    ],
)
def test_water_words_acid_says_what_it_brings_and_what_can_hurt(acid, brings):
    """3.708 meq/L are taken away: x 14.007, x 30.974, x 32.06 / 2."""
    water = STORE.waters["hard_tap"]
    dose = acid_dose(water, acid, "102.4 L")
    lines = water_words(water, dose, WINDOW, METRIC)
    line = said(lines, "for the full tank")
    assert f"it brings {brings}, which is counted" in line
    assert line.startswith(f"{dose.acid.label}: {litres(dose.volume, METRIC)} for")
    assert "to pH 5.8" in line
    assert tuple(lines[-len(dose.cautions) :]) == dose.cautions
    assert not any("lifts the pH" in one for one in lines)


def test_water_words_acid_for_water_without_alkalinity_says_that_none_is_needed():
    water = STORE.waters["pure_water"]
    lines = water_words(water, acid_dose(water, "nitric_60", "100 L"), WINDOW, METRIC)
    assert "none is needed" in said(lines, "Nitric acid 60 %")
    assert not any("0 mL" in line for line in lines)


def test_water_words_gentle_acid_brings_nothing():
    water = STORE.waters["hard_tap"]
    dose = acid_dose(water, "citric_50", "100 L")
    assert "brings" not in said(water_words(water, dose, WINDOW, METRIC), "for the full tank")


# -- recipe --------------------------------------------------------------------------------


def supply_of(plan):
    found = planned(plan)
    return element_supply(fed(plan), found.targets, found.share)


def test_recipe_sentences_good_recipe_says_so():
    assert recipe_sentences(None, supply_of(PUBLISHED), LABELS) == [
        "Every element lies in its band."
    ]


def test_recipe_sentences_hard_water_names_nitrogen_copper_and_what_would_help():
    lines = recipe_sentences(planned(HARD).recipe, supply_of(HARD), LABELS)
    assert said(lines, "Nitrogen is").startswith("Nitrogen is short of its band: 86.7 mg/L where ")
    assert "the water alone brings 0.03" in said(lines, "Copper is above its band")
    helps = said(lines, "More nitrogen would come from")
    assert "Magnesium nitrate hexahydrate" in helps
    assert said(lines, "Too much copper comes from") == "Too much copper comes from: water."
    assert "Every element" not in " ".join(lines)


def test_recipe_sentences_missed_elements_of_a_published_recipe_are_said_too():
    plan = FeedPlan(water="hard_tap")
    lines = recipe_sentences(None, supply_of(plan), LABELS)
    assert any(line.startswith("Calcium is above its band") for line in lines)
    assert len(lines) == sum(not one.inside for one in supply_of(plan))


def test_recipe_sentences_grams_that_could_be_otherwise_are_said():
    shelf = ("calcium_nitrate", "potassium_nitrate", "magnesium_nitrate", "magnesium_sulfate",
             "potassium_sulfate", "monopotassium_phosphate")  # fmt: skip
    aim = nutrients.targets_from({"N": "100 mg/L", "K": "150 mg/L", "Ca": "80 mg/L"})
    recipe = nutrients.solve(aim, list(shelf))
    assert not recipe.unique
    line = said(recipe_sentences(recipe, (), LABELS), "not the only ones")
    assert all(LABELS[key] in line for key in recipe.free)


def test_recipe_sentences_short_and_long_are_told_apart():
    short = ElementSupply("K", 0.0, 90.0, 95.0, 100.0, 105.0)
    much = ElementSupply("Ca", 10.0, 100.0, 95.0, 100.0, 105.0)
    first, second = recipe_sentences(None, (short, much), {})
    assert first == "Potassium is short of its band: 90 mg/L where 95 to 105 is allowed."
    assert second == "Calcium is above its band: 110 mg/L where 95 to 105 is allowed."


def test_recipe_table_grams_are_those_of_a_litre_and_of_the_stocks():
    """Potassium nitrate by hand: 0.50551 g/L x 0.7156; a hundredfold in 10 L: 505.5 g."""
    one = fed()
    table = recipe_table(one, planned(PUBLISHED), mixed(one), METRIC)
    litre, first, second, money = cells(table, "Potassium nitrate")
    assert (litre, first, second) == ("0.3617 g", "–", "505.5 g")
    price = one.prices.unit_prices["potassium_nitrate"]
    assert float(money) == pytest.approx(0.3617 * price, abs=0.005)
    assert cells(table, "Calcium nitrate")[1:3] == ["1181 g", "–"]
    assert "under 0.01" in cells(table, "Sodium molybdate")[-1]
    assert "In 10 L of stock A" in table
    assert "EUR for 1000 L" in table


def test_recipe_table_hazards_stand_beside_the_salt():
    table = recipe_table(fed(), planned(PUBLISHED), None, METRIC)
    assert "<small>oxidiser: keep from straw" in table
    assert table.count("<small>") == len(planned(PUBLISHED).rates)


@pytest.mark.parametrize(("showing", "parts"), [(METRIC, 1.0), (US, GALLON * 1.08)])
def test_recipe_table_sum_is_what_a_thousand_litres_or_gallons_cost(showing, parts):
    one = fed()
    table = recipe_table(one, planned(PUBLISHED), mixed(one), showing)
    (total,) = re.findall(r"<b>([\d.]+)</b>", table)
    strength = mixed(one).strength
    by_hand = sum(
        rate * strength * one.prices.unit_prices[key]
        for key, rate in planned(PUBLISHED).rates.items()
    )
    assert float(total) == pytest.approx(by_hand * parts, abs=0.006)


def test_recipe_table_cost_is_that_of_the_scenario():
    """What a litre costs, by the litres made for a kilogram of produce."""
    one = fed()
    outcomes = evaluate(one)
    (total,) = re.findall(
        r"<b>([\d.]+)</b>", recipe_table(one, planned(PUBLISHED), mixed(one), METRIC)
    )
    made = outcomes["solution_made"].m_as("L/m^2") / outcomes["yield_per_area"].m_as("kg/m^2")
    per_kilogram = outcomes["cost_nutrients"].m_as("money/kg")
    # The sum is printed to the hundredth, of about 2.40.
    assert float(total) / 1000 * made == pytest.approx(per_kilogram, rel=0.003)


def test_recipe_table_without_stocks_is_at_full_strength():
    table = recipe_table(fed(), planned(PUBLISHED), None, METRIC)
    assert cells(table, "Potassium nitrate")[0] == "0.5055 g"
    assert "stock" not in table.replace("Recipe and stocks", "")
    assert table.count('<th scope="col">') == 3


def test_recipe_table_labels_are_escaped():
    found = planned(PUBLISHED)
    odd = dict(found.fertilisers)
    key = "potassium_nitrate"
    odd[key] = nutrients.fertiliser_from_formula(
        "KNO3", id=key, label="<b>KNO3</b>", stock="either"
    )
    table = recipe_table(fed(), dataclasses.replace(found, fertilisers=odd), None, METRIC)
    assert "&lt;b&gt;KNO3" in table
    assert "<b>KNO3" not in table


# -- tank ----------------------------------------------------------------------------------


def test_dose_sentences_worked_by_hand():
    """102.4 L, 0.7156 of full strength, 1 in 100: 733 mL of each and 100.9 L of water."""
    tank, ratio = dose_sentences(mixed(fed()), METRIC)
    assert "102 L: 733 mL of each stock (A and B) and 101 L of water" in tank
    assert "Most of the water first, one stock, stir" in tank
    assert "10 L of each stock make 1,397 L of this solution" in ratio


@pytest.mark.parametrize(
    ("dilution", "less"), [(100, "0.99 %"), (20, "4.8 %"), (50, "2 %"), (200, "0.5 %")]
)
def test_dose_sentences_doser_that_counts_otherwise_gives_so_much_less(dilution, less):
    """1 part in 1 + F instead of in F: 1 - F / (F + 1)."""
    _, ratio = dose_sentences(mixed(fed(feed__dilution=dilution)), METRIC)
    assert f"counts 1 + {dilution} gives {less} less" in ratio


def test_dose_sentences_us_are_in_gallons_and_fluid_ounces():
    mixing = mixed(fed())
    tank, ratio = dose_sentences(mixing, US)
    whole, each, water = numbers(tank)
    assert whole == pytest.approx(mixing.tank_volume.m_as("L") / GALLON, rel=2e-3)
    assert each == pytest.approx(mixing.dose.each.m_as("L") / FLUID_OUNCE, rel=2e-3)
    assert water == pytest.approx(mixing.dose.water.m_as("L") / GALLON, rel=2e-3)
    assert "fl oz" in tank
    assert not re.search(r"\d L\b", tank + ratio)


def test_dose_sentences_three_stocks_are_all_named():
    assert "(A, B and C)" in dose_sentences(mixed(fed(), stocks=3), METRIC)[0]


# -- the season ----------------------------------------------------------------------------


def balanced(one, showing=METRIC):
    return balance_sentences(feed_season(one), evaluate(one), showing)


def test_balance_sentences_enough_of_all_names_the_nearest():
    one = fed()
    found = feed_season(one)
    assert found.first_short == "K"
    line = balanced(one)[0]
    assert line.startswith("Nothing runs out; potassium is nearest to it")
    assert numbers(line)[0] == round(float(found.elements["K"].supply_ratio.m), 1)


def test_balance_sentences_element_that_runs_out_is_named_with_its_day():
    one = fed(feed__ec="0.5 dS/m")
    found = feed_season(one).elements["K"]
    line = balanced(one)[0]
    assert line.startswith(f"Potassium runs out first, on day {found.runs_out_on}: ")
    assert f"{found.supply_ratio.m:.2f} times" in line


def test_balance_sentences_no_yield_says_nothing_of_what_is_short():
    lines = balanced(fed(harvest__typical="0 kg/m^2", harvest__low="0 kg/m^2"))
    assert not any("runs out" in line or "of produce" in line for line in lines)


def test_balance_sentences_solution_that_grows_strong_says_the_day():
    one = fed()
    ec = feed_season(one).ec.m_as("dS/m")
    line = said(balanced(one), "passes 2.2 dS/m")
    (day,) = [int(found) for found in re.findall(r"on day (\d+)", line)]
    assert ec[day] > 2.2 >= ec[day - 1]
    assert "0.85 of the strength around them" in line


def test_balance_sentences_top_up_that_holds_each_element_is_named():
    one = fed(feed__top_up_strength=0.6)
    line = said(balanced(one), "Strength of the top-up")
    holding = holding_strength(one)
    *each, total, slider = numbers(line)
    assert each == sorted(round(float(part.m), 2) for part in holding.elements.values())[::-1]
    assert total == pytest.approx(float(holding.total.m), abs=0.005)
    assert slider == 0.6
    assert "potassium runs short" in line
    assert "A recipe with more potassium" in line


def test_balance_sentences_element_that_the_recipe_lacks_is_left_out_of_the_top_up():
    one = fed()
    one.feed.content["S"] = 0.0
    assert "sulfur" not in said(balanced(one), "Strength of the top-up")


def test_balance_sentences_element_that_plain_water_lets_rise_needs_none():
    one = fed(method="suspended_pot", crop="lettuce")
    assert holding_strength(one).total.m < 0
    line = said(balanced(one), "Strength of the top-up")
    assert "all charges together 0.00" in line
    assert "-" not in line.replace("top-up", "")


def test_balance_sentences_tank_that_is_filled_once_gets_no_advice_on_top_up():
    one = fed(method="deep_litre", crop="lettuce")
    assert not any("top-up" in line for line in balanced(one))


@pytest.mark.parametrize(
    ("showing", "unit"), [(METRIC, "EUR/kg of produce"), (US, "USD/lb of produce")]
)
def test_balance_sentences_cost_is_the_outcome(showing, unit):
    one = fed()
    line = said(balanced(one, showing), "Fertilisers cost")
    assert line.endswith(f"{unit}.")
    cost = evaluate(one)["cost_nutrients"].m_as("money/kg")
    wanted = cost if showing is METRIC else cost * 1.08 / 2.20462
    assert numbers(line)[0] == pytest.approx(wanted, abs=5e-4)


@pytest.mark.parametrize(("showing", "area"), [(METRIC, "m²"), (US, "ft²")])
def test_balance_sentences_leftover_is_the_seasons(showing, area):
    one = fed()
    found = feed_season(one)
    line = balanced(one, showing)[-1]
    left, times, feeds = numbers(line)[:3]
    litre = 1.0 if showing is METRIC else GALLON
    assert left == pytest.approx(found.litres_left.m_as("L") / litre, rel=5e-3)
    assert times == round(float(found.nitrate.dilution.m))
    assert feeds == round(float(found.nitrate.soil_area.m), 1)
    assert f"{area} of soil crops for each {area} of tank" in line
    assert line.endswith(found.nitrate.caution)


def drying(ec, yield_per_area):
    """Lettuce in deep litre in steady weather: 5 mm a day and nothing topped up."""
    sys.path.insert(0, str(Path(__file__).parents[1] / "scenario"))
    try:
        from steady import steady
    finally:
        sys.path.pop(0)
    one = steady("deep_litre", "lettuce", days=60)
    values = {
        "feed.ec": quantity(ec, "dS/m"),
        "harvest.typical": quantity(yield_per_area, "kg/m^2"),
    }
    return with_values(one, values)


def test_balance_sentences_dry_tank_has_no_times_as_strong():
    line = balanced(drying(1.6, 3.0))[-1]
    assert line.startswith(
        "At harvest the tank is dry, and its salts lie in it. Its nitrogen feeds"
    )
    assert "nan" not in line


def test_balance_sentences_dry_tank_that_was_never_strong_is_not_called_so():
    """All is taken up before the water is: EC is not known at the end, but not for its height."""
    one = drying(0.4, 60.0)
    assert feed_season(one).ec.m_as("dS/m")[:36].max() < 0.5
    assert not any("passes" in line for line in balanced(one))


def test_balance_sentences_solution_beyond_the_model_of_ec_is_strong():
    assert any("passes 2.2 dS/m on day" in line for line in balanced(drying(1.6, 3.0)))


@pytest.mark.parametrize(
    ("showing", "per_area", "per_mass", "digits"),
    [(METRIC, ("g/m^2", "g/m²"), ("g/kg", "g/kg"), 1),
     (US, ("oz/ft^2", "oz/ft²"), ("oz/lb", "oz/lb"), 3)],
)  # fmt: skip
def test_balance_table_is_the_seasons_numbers(showing, per_area, per_mass, digits):
    found = feed_season(fed())
    table = balance_table(found, showing)
    assert f"First filling ({per_area[1]})" in table
    assert f"Given per produce ({per_mass[1]})" in table
    for symbol, name in (("N", "Nitrogen"), ("K", "Potassium"), ("S", "Sulfur")):
        one = found.elements[symbol]
        parts = (one.first_filling, one.topped_up, one.taken_up, one.in_produce, one.left)
        wanted = [f"{part.m_as(per_area[0]):.{digits}f}" for part in parts]
        wanted += [f"{one.supply_ratio.m:.2f}"]
        wanted += [f"{one.given_per_kilogram.m_as(per_mass[0]):.{digits}f}"]
        assert cells(table, name) == wanted


def test_balance_table_balance_closes():
    table = balance_table(feed_season(fed(site__rain_share=0)), METRIC)
    for name in ("Nitrogen", "Calcium", "Magnesium"):
        first, topped, taken, _, left, *_ = (float(cell) for cell in cells(table, name))
        assert first + topped == pytest.approx(taken + left, abs=0.21)


def test_balance_table_without_a_yield_has_no_amount_for_each_kilogram():
    found = feed_season(fed(harvest__typical="0 kg/m^2", harvest__low="0 kg/m^2"))
    assert cells(balance_table(found, METRIC), "Nitrogen")[-1] == "–"


# -- to print ------------------------------------------------------------------------------


def sheet(plan=PUBLISHED, showing=METRIC, **room):
    one = fed(plan)
    return mixing_sheet(one, planned(plan), mixed(one, **room), showing, MADE_ON)


def test_mixing_sheet_says_what_for_whom_and_when():
    text = sheet(HARD)
    assert text.startswith("Mixing sheet: Potato in solution culture, worked out\n")
    assert "Potato, Sub-irrigated medium bag; water: Hard tap water; made on 2026-03-01" in text
    assert "EC 1.60 dS/m at 25 °C; dilution 1 : 100" in text


@pytest.mark.parametrize("stocks", [2, 3])
def test_mixing_sheet_lists_every_salt_with_its_grams(stocks):
    one, found = fed(), planned(PUBLISHED)
    mixing = mixed(one, stocks=stocks)
    text = sheet(stocks=stocks)
    for stock in mixing.stocks.stocks:
        assert f"Stock {stock.letter}: {stock.name}, 10 L" in text
        for key in stock.grams:
            assert text.count(f"  {found.fertilisers[key].label} ") >= 1
    assert re.search(r"Potassium nitrate +505\.5 g\n", text)
    assert re.search(r"Copper sulfate pentahydrate +80 mg\n", text)


def test_mixing_sheet_says_what_is_too_little_to_weigh():
    assert "make 0.8 g up to 1 L with water" in sheet().replace("\n    ", " ")


def test_mixing_sheet_says_what_can_hurt():
    text = sheet().replace("\n    ", " ")
    for words in ("Never mix the stocks undiluted", "locked away from children",
                  "acid INTO water, never water into acid", "safety data sheet"):  # fmt: skip
        assert words in text


def test_mixing_sheet_acid_that_was_picked_is_on_it_with_its_cautions():
    one = fed(ACID)
    dose = acid_dose(STORE.waters["hard_tap"], "nitric_60", fullest_volume(one))
    text = sheet(ACID).replace("\n    ", " ")
    assert f"Nitric acid 60 %: {dose.volume.m_as('mL'):.1f} mL for the full tank" in text
    assert all(caution in text for caution in dose.cautions)
    assert text.index("Acid for the water") < text.index("Fill the tank")
    assert "Acid for the water" not in sheet(HARD)


def test_mixing_sheet_fits_a_page():
    for plan in (PUBLISHED, HARD, ACID):
        lines = sheet(plan).splitlines()
        assert max(len(line) for line in lines if not line.startswith("Potato, Sub")) <= 78


def test_mixing_sheet_nothing_to_note_has_no_notes():
    """Twenty litres twentyfold of main salts alone: all of it can be weighed."""
    plan = FeedPlan("potato_window", True, ("calcium_nitrate", "potassium_nitrate"))
    assert "\nNotes\n" in sheet()
    one = fed(plan, feed__dilution=20)
    text = mixing_sheet(one, planned(plan), mixed(one, stock_volume="20 L"), METRIC, MADE_ON)
    assert "\nNotes\n" not in text


def test_mixing_sheet_us_volumes_are_gallons():
    text = sheet(showing=US)
    assert "Stock A: calcium stock, 2.64 gal" in text
    assert "For the full tank, 27.1 gal" in text


@pytest.mark.parametrize(("showing", "words"), [(METRIC, "10 mL in each litre"),
                                                (US, "1.28 US fl oz in each US gallon")])  # fmt: skip
def test_stock_labels_one_for_each_stock_in_the_readers_units(showing, words):
    text = stock_labels(mixed(fed(), stocks=3), showing, MADE_ON)
    assert [f"STOCK {letter}:" in text for letter in "ABC"] == [True] * 3
    assert text.count("- - - -") >= 2
    assert text.count("2026-03-01") == 3
    assert text.replace("\n", " ").count(words) == 3
    assert "KEEP LOCKED AWAY FROM CHILDREN" in text
