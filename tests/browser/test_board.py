"""The comparison board as a person meets it: in a browser, without any other network."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.browser

TRADEOFF = ".sk-view-methods > .sk-charts > :nth-child(1)"
COSTS = ".sk-view-methods > .sk-charts > :nth-child(2)"
SECTION = ".sk-view-methods > .sk-charts > :nth-child(4)"
TANK = ".sk-water .sk-charts > :nth-child(1)"
PROFILE = ".sk-water .sk-charts > :nth-child(2)"
DEPTH = ".sk-water .sk-charts > :nth-child(3)"
NUMBERS = "[aria-label='Numbers of all methods']"
ELEMENTS = ".sk-nutrients .sk-charts > :nth-child(1)"
BALANCE = ".sk-nutrients .sk-charts > :nth-child(2)"


@pytest.fixture(scope="module")
def opened(voila_page):
    board = voila_page()
    ready(board.page)
    return board


def ready(page):
    page.wait_for_selector(f"{TRADEOFF} figure[data-updates]", timeout=60_000)
    page.wait_for_function(
        "() => [...document.querySelectorAll('.sk-view-methods > .sk-charts figure')].length === 7 &&"
        " [...document.querySelectorAll('.sk-view-methods .sk-charts figure')].every(one => +one.dataset.updates > 0)",
        timeout=60_000,
    )


def look_at(page, view, drawn):
    """Press the button of a view and wait until its charts are drawn."""
    page.get_by_role("radio", name=view).check()
    page.wait_for_function(
        "where => { const all = [...document.querySelectorAll(where + ' figure')];"
        " return all.length > 0 && all.every(one => +one.dataset.updates > 0); }",
        arg=drawn,
        timeout=60_000,
    )


def until(page, holds):
    """Wait until `holds()` is true; a slow machine is given time, a wrong page is not."""
    for _ in range(100):
        if holds():
            return
        page.wait_for_timeout(100)
    assert holds()


def cell(page, outcome, method):
    """Return what the table says for an outcome and a method."""
    heads = [head.strip() for head in page.locator(f"{NUMBERS} thead th").all_inner_texts()]
    row = page.locator(f"{NUMBERS} tbody tr", has_text=outcome).first
    return row.locator("td").all_inner_texts()[heads.index(method) - 1]


def points(page):
    """Return where the marks of the first chart stand."""
    return page.eval_on_selector_all(
        f"{TRADEOFF} svg .mark-symbol path", "all => all.map(one => one.getAttribute('transform'))"
    )


def test_board_opens_with_six_methods_and_asks_nothing_outside(opened):
    page = opened.page
    assert page.locator(".sk-many-item input:checked").count() == 6
    assert page.locator(".sk-view-methods > .sk-charts figure svg").count() == 7
    assert page.locator(".sk-nutrients .sk-charts figure svg").count() == 0
    assert page.locator(".sk-results").get_by_role("radio", checked=True).count() == 1
    assert page.locator(f"{NUMBERS} thead th").count() == 7
    assert "All yields are invented examples" in page.locator(".sk-says").first.inner_text()
    assert opened.outside_requests == []
    assert opened.console_errors == []
    opened.screenshot("board-1280")


def test_board_every_id_stands_once_and_every_label_has_its_own_control(opened):
    ids = opened.page.eval_on_selector_all("[id^='sk-']", "all => all.map(one => one.id)")
    assert len(ids) > 50
    assert len(set(ids)) == len(ids)
    for label in ("Load my prices", "Load my water analysis", "Open a saved board"):
        assert opened.page.get_by_label(label).count() == 1
        box = opened.page.locator(".sk-file", has_text=label).locator("input")
        assert box.get_attribute("id") == opened.page.get_by_label(label).get_attribute("id")


def test_board_slider_by_keyboard_changes_number_and_chart(opened):
    page = opened.page
    before = cell(page, "Cost of the produce", "Sub-irrigated medium bag")
    marks = points(page)
    slider = page.locator("[id='sk-common-prices-labour_price-slider']")
    slider.focus()
    opened.after_update(TRADEOFF, lambda: page.keyboard.press("ArrowRight"))
    assert slider.input_value() == "4.5"
    assert page.locator("[id='sk-common-prices-labour_price']").input_value() == "4.5"
    cost = ("Cost of the produce", "Sub-irrigated medium bag")
    until(page, lambda: float(cell(page, *cost)) > float(before))
    until(page, lambda: points(page) != marks)
    opened.after_update(TRADEOFF, lambda: page.keyboard.press("ArrowLeft"))
    until(page, lambda: cell(page, *cost) == before)


def test_board_two_ticks_at_once_are_both_carried_out(voila_page):
    page = voila_page().page
    ready(page)
    ticks = page.locator(".sk-many-item")
    gone = ticks.filter(has=page.locator("input:checked")).first.inner_text()
    come = ticks.filter(has_not=page.locator("input:checked")).first.inner_text()
    assert page.get_by_label("Method to adjust").locator("option:checked").inner_text() == gone
    page.evaluate(
        """() => {
          const boxes = [...document.querySelectorAll(".sk-many-item input")];
          const [gone, come] = [boxes.find((one) => one.checked), boxes.find((one) => !one.checked)];
          gone.click();
          come.click();
        }"""
    )
    heads = page.locator("[aria-label='Numbers of all methods'] thead")
    heads.filter(has_text=come).filter(has_not_text=gone).wait_for()
    ticked = ticks.filter(has=page.locator("input:checked"))
    assert come in ticked.all_inner_texts()
    assert gone not in ticked.all_inner_texts()
    assert page.locator(".sk-field-error:visible").count() == 0


def test_board_number_is_written_undisturbed_while_answers_arrive(opened):
    page = opened.page
    first = page.locator("[id='sk-common-prices-labour_price-slider']")
    box = page.locator("[id='sk-common-prices-water_price']")
    box.fill("")
    box.press_sequentially("3.")
    opened.after_update(
        TRADEOFF,
        lambda: first.evaluate("one => { one.value = 7; one.dispatchEvent(new Event('input')); }"),
    )
    page.wait_for_timeout(300)
    box.press_sequentially("75")
    assert box.input_value() == "3.75"
    opened.after_update(TRADEOFF, lambda: box.press("Tab"))
    assert box.input_value() == "3.75"


def test_board_number_beyond_the_slider_is_taken_and_impossible_one_is_explained(opened):
    page = opened.page
    box = page.locator("[id='sk-common-tank-area']")
    box.fill("50")
    box.press("Enter")
    page.locator(NUMBERS, has_text="1,518").wait_for()
    box.fill("-3")
    box.press("Enter")
    message = page.locator("[id='sk-common-tank-area-error']")
    message.wait_for(state="visible")
    assert "below the allowed range" in message.inner_text()
    box.fill("4")
    box.press("Enter")
    message.wait_for(state="hidden")


def test_board_click_on_a_method_marks_it_in_all_charts_and_opens_it(opened):
    page = opened.page
    target = page.locator(f"{COSTS} svg [aria-label*='Shallow perforated tray']").first
    opened.after_update(TRADEOFF, lambda: target.click(force=True))
    page.wait_for_function(
        "() => document.querySelector('#sk-tool-focus').value === 'perforated_tray'"
    )
    page.locator(f"{SECTION} figcaption", has_text="Shallow perforated tray").wait_for()
    for chart in range(1, 8):
        if chart in (4, 5):  # cross-section and moisture profile show one method only
            continue
        faint = f".sk-view-methods > .sk-charts > :nth-child({chart}) svg [opacity='0.22']"
        until(page, lambda faint=faint: page.locator(faint).count() > 0)
    opened.screenshot("board-marked")


def test_board_price_file_changes_the_cost_and_lists_bad_rows(opened):
    page = opened.page
    before = float(cell(page, "Cost of the produce", "Sub-irrigated medium bag"))
    text = (
        "item,package_size,price,currency,expansion,fill_factor\n"
        "white_peat,100 L,90,EUR,1,0.8\n"
        "moon_dust,1 kg,1,EUR,,\n"
    )
    page.get_by_label("Load my prices").set_input_files(
        {"name": "ours.csv", "mimeType": "text/csv", "buffer": text.encode()}
    )
    page.wait_for_selector(".sk-status [role=alert]")
    said = page.locator(".sk-status").inner_text()
    assert "ours.csv: 1 price taken over" in said
    assert "row 3" in said
    assert "moon_dust" in said
    assert float(cell(page, "Cost of the produce", "Sub-irrigated medium bag")) > before + 0.5
    assert page.locator("#sk-tool-price_list").input_value() == "own"


def test_board_harvest_file_changes_the_yield(opened):
    page = opened.page
    text = (
        "plot,method,tank_area [m^2],harvest_mass [kg]\n"
        "A,paper_wrap,2,10\nB,paper_wrap,2,11\nC,medium_bag,2,13\n"
    )
    page.get_by_label("Load my harvest weights").set_input_files(
        {"name": "weights.csv", "mimeType": "text/csv", "buffer": text.encode()}
    )
    page.wait_for_function(
        "() => document.querySelector('.sk-status').innerText.includes('weights')"
    )
    assert cell(page, "Yield (kg/m²)", "Paper-wrapped seed piece on a tray") == "5.25"
    said = page.locator(".sk-status").inner_text()
    assert "one plot, so no interval exists" in said
    assert "2 plots, 95 % interval" in said


def test_board_saves_and_opens_again(opened, tmp_path):
    page = opened.page
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save this board").click()
    saved = tmp_path / "board.json"
    waiting.value.save_as(saved)
    assert json.loads(saved.read_text())["format"] == "scenariokit/comparison"
    cost = cell(page, "Cost of the produce", "Sub-irrigated medium bag")
    page.get_by_role("button", name="Back to the catalogue's values").click()
    page.wait_for_function(
        "() => document.querySelector('.sk-status').innerText.includes('All sliders')"
    )
    page.get_by_label("Open a saved board").set_input_files(str(saved))
    page.wait_for_function(
        "() => document.querySelector('.sk-status').innerText.includes('is open')"
    )
    assert cell(page, "Cost of the produce", "Sub-irrigated medium bag") == cost


def test_board_csv_download_holds_the_numbers(opened, tmp_path):
    page = opened.page
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Download the numbers (CSV)").click()
    path = tmp_path / "numbers.csv"
    waiting.value.save_as(path)
    head, *rows = path.read_text().splitlines()
    assert "cost_per_kilogram_money_per_kg" in head
    assert len(rows) == 6


def test_board_units_currency_and_crop(opened):
    page = opened.page
    page.locator("#sk-tool-price_list").select_option("dunmarrow")
    page.locator(NUMBERS, has_text="USD/kg").wait_for()
    page.locator("#sk-tool-system").select_option("us")
    page.locator(NUMBERS, has_text="lb/ft²").wait_for()
    assert "USD/lb" in page.locator(NUMBERS).inner_text()
    assert page.locator(f"{TRADEOFF} svg").text_content().count("lb/ft²") == 1
    page.locator("#sk-tool-crop").select_option("lettuce")
    page.locator(NUMBERS, has_text="Deep-litre").wait_for()
    assert opened.console_errors == []
    assert opened.outside_requests == []


def test_board_water_panel_follows_the_level_slider_and_shows_a_mishap(voila_page):
    opened = voila_page()
    page = opened.page
    ready(page)
    look_at(page, "Water through the season", ".sk-water")
    panel = page.locator(".sk-water")
    assert "Water through the season: Sub-irrigated medium bag" in panel.inner_text()
    before = page.locator(f"{TANK} svg").text_content()
    slider = page.locator("[id='sk-method-method-level-high-slider']")
    slider.focus()
    drawn = opened.updates(PROFILE)
    opened.after_update(DEPTH, lambda: page.keyboard.press("ArrowRight"))
    page.wait_for_function(
        "([where, drawn]) => +document.querySelector(`${where} figure`).dataset.updates > drawn",
        arg=[PROFILE, drawn],
    )
    assert "water 4.0 cm" in before
    until(page, lambda: "water 4.5 cm" in page.locator(f"{TANK} svg").text_content())
    page.locator("#sk-what-if-kind").select_option("valve")
    page.wait_for_function(
        "() => document.querySelector('.sk-water').innerText.includes('With the mishap')"
    )
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Refill calendar to print").click()
    assert "Refill calendar" in Path(waiting.value.path()).read_text()
    assert opened.console_errors == []
    assert opened.outside_requests == []
    opened.screenshot("board-water")


def potato_in_hard_water(opened):
    """Have the recipe worked out for potato, in hard tap water."""
    page = opened.page
    for field, value in (("recipe", "worked out:potato_window"), ("water", "hard_tap")):
        opened.after_update(
            ELEMENTS,
            lambda field=field, value=value: page.locator(f"#sk-feed-{field}").select_option(value),
        )
    page.locator(".sk-nutrients .sk-says", has_text="Nitrogen is short of its band").wait_for()


def too_wide(page):
    """Return what stands out of the window to the right, tables that scroll aside."""
    return page.evaluate(
        "() => [...document.querySelectorAll('.sk-board *')].filter(one => one instanceof HTMLElement).filter(one => {"
        "  const box = one.getBoundingClientRect();"
        "  return box.width > 0 && box.right > window.innerWidth + 1 && !one.closest('.sk-scroll');"
        "}).map(one => one.tagName + '.' + one.className).slice(0, 5)"
    )


def test_board_nutrient_panel_works_a_recipe_out_and_says_what_lacks(voila_page):
    opened = voila_page()
    page = opened.page
    ready(page)
    look_at(page, "Nutrient solution", ".sk-nutrients")
    panel = page.locator(".sk-nutrients")
    assert "Nutrient solution: Hoagland solution 1" in panel.inner_text()
    potato_in_hard_water(opened)
    assert "86.7 mg/L where 111 to 222 is allowed" in panel.inner_text()
    assert "More nitrogen would come from: Ammonium nitrate" in panel.inner_text()
    assert "too little" in page.locator(f"{ELEMENTS} svg").text_content()
    shelf = panel.locator(".sk-many-item input")
    assert panel.locator(".sk-many-item input:checked").count() == 11 < shelf.count()

    advice = panel.locator(".sk-helper .sk-says")
    before = advice.inner_text()
    assert "EC from 1.28 to 1.60 dS/m" in before
    slider = page.locator("[id='sk-meter-ec_now-slider']")
    slider.focus()
    page.keyboard.press("ArrowLeft")
    until(page, lambda: "EC from 1.25 to 1.60 dS/m" in advice.inner_text())
    assert advice.inner_text() != before

    drawn = opened.updates(BALANCE)
    salt = panel.get_by_label("Ammonium nitrate", exact=True)
    opened.after_update(ELEMENTS, salt.click)
    until(page, lambda: "Nitrogen is short of its band: 101 mg/L" in panel.inner_text())
    until(page, lambda: opened.updates(BALANCE) > drawn)
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Mixing sheet to print").click()
    sheet = Path(waiting.value.path()).read_text()
    assert "water: Hard tap water" in sheet
    assert "Ammonium nitrate" in sheet
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Labels for the stocks").click()
    assert "NEVER MIX THE STOCKS UNDILUTED" in Path(waiting.value.path()).read_text()

    page.locator("#sk-feed-water").select_option("brackish_well")
    message = page.locator("#sk-feed-water-error")
    message.wait_for(state="visible")
    assert page.locator("#sk-feed-water").input_value() == "hard_tap"
    assert too_wide(page) == []
    assert opened.console_errors == []
    assert opened.outside_requests == []
    opened.screenshot("board-nutrients-1280", ".sk-nutrients")


def test_board_own_water_is_picked_and_a_bad_row_is_listed(voila_page):
    opened = voila_page()
    page = opened.page
    ready(page)
    look_at(page, "Nutrient solution", ".sk-nutrients")
    text = (
        "water,label,parameter,value,unit\nwell,Our well,Ca,80,mg/L\n"
        "well,Our well,HCO3,4,meq/L\nwell,Our well,Na,5,ppm\n"
    )
    page.get_by_label("Load my water analysis").set_input_files(
        {"name": "well.csv", "mimeType": "text/csv", "buffer": text.encode()}
    )
    page.locator(".sk-status", has_text="added well").wait_for()
    said = page.locator(".sk-status").inner_text()
    assert "row 4: unit = ppm" in said
    opened.after_update(
        ELEMENTS, lambda: page.locator("#sk-feed-water").select_option(label="Our well")
    )
    until(page, lambda: "Its alkalinity of 200 mg/L" in page.locator(".sk-nutrients").inner_text())
    assert opened.console_errors == []
    assert opened.outside_requests == []


def test_board_on_a_phone_stays_within_its_width(voila_page):
    phone = voila_page(viewport={"width": 390, "height": 844}, has_touch=True, is_mobile=True)
    ready(phone.page)
    assert too_wide(phone.page) == []
    phone.screenshot("board-390")
    look_at(phone.page, "Nutrient solution", ".sk-nutrients")
    potato_in_hard_water(phone)
    assert too_wide(phone.page) == []
    assert phone.page.evaluate("() => document.documentElement.scrollWidth") <= 391
    assert phone.console_errors == []
    phone.screenshot("board-nutrients-390", ".sk-nutrients")


def test_board_controls_and_bar_of_views_stand_fast_while_results_scroll_by(voila_page):
    page = voila_page().page
    ready(page)
    slider = page.locator("[id='sk-common-prices-labour_price-slider']")
    views = page.get_by_role("radio", name="Which to choose")
    page.locator(NUMBERS).scroll_into_view_if_needed()
    for part in (slider, views):
        box = part.bounding_box()
        assert 0 <= box["y"] <= 900 - box["height"]
    controls = page.locator(".sk-controls").bounding_box()
    assert controls["y"] + controls["height"] <= 900
    page.set_viewport_size({"width": 800, "height": 900})
    page.locator(NUMBERS).scroll_into_view_if_needed()
    assert views.bounding_box()["y"] < 0


def test_board_shipped_notebook_is_the_one_of_the_lessons():
    """What `serve` opens and what a hub opens must show the same board."""
    root = Path(__file__).parents[2]
    served = json.loads((root / "scenariokit" / "serve" / "board.ipynb").read_text())
    lesson = json.loads((root / "notebooks" / "00_board.ipynb").read_text())
    calls = [
        re.findall(r"open_board\(\)", "".join("".join(one["source"]) for one in book["cells"]))
        for book in (served, lesson)
    ]
    assert all(calls)
