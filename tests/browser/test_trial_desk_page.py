"""The trial desk as a person meets it: in a browser, by keyboard, on a phone, without network."""

from __future__ import annotations

import pytest

from scenariokit.trials.demo import demo_files

pytestmark = pytest.mark.browser

CELL = "from scenariokit.widgets.trial_desk import open_trial\nopen_trial()"
MEANS = ".sk-results .sk-charts > :nth-child(1)"


@pytest.fixture(scope="module")
def notebook(notebook_of):
    return notebook_of("trial_desk", CELL)


@pytest.fixture(scope="module")
def opened(voila_page, notebook):
    desk = voila_page(notebook)
    desk.page.wait_for_selector(f"{MEANS} figure svg", timeout=60_000)
    return desk


def said(page):
    return page.locator(".sk-results .sk-says").inner_text()


def wait_for(page, words):
    page.wait_for_function(
        "words => document.querySelector('.sk-results .sk-says').innerText.includes(words)",
        arg=words,
        timeout=60_000,
    )


def pick(page, key, value):
    page.locator(f"[data-key='{key}'] select").select_option(value)


def test_trial_desk_opens_with_means_and_asks_nothing_outside(opened):
    page = opened.page
    assert "makes a difference is shown" in said(page)
    assert "Invented for demonstration" in page.locator(".sk-results").inner_text()
    assert page.locator(f"{MEANS} svg .mark-rule line").count() >= 4
    assert opened.outside_requests == []
    assert opened.console_errors == []
    opened.screenshot("trial-desk-1280")


def test_trial_desk_choice_by_keyboard_changes_what_is_said(opened):
    page = opened.page
    select = page.locator("[data-key='compare'] select")
    select.focus()
    page.keyboard.press("ArrowDown")
    wait_for(page, "the variety makes a difference")
    select.focus()
    page.keyboard.press("ArrowUp")
    wait_for(page, "the method makes a difference")


def test_trial_desk_impossible_design_is_explained_beside_its_control(opened):
    page = opened.page
    pick(page, "design", "latin")
    message = page.locator("[data-key='design'] .sk-field-error")
    message.wait_for(state="visible")
    assert "column" in message.inner_text()
    assert page.locator("[data-key='design'] select").input_value() == "auto"


def test_trial_desk_single_plots_hide_the_pictures_of_residuals(opened):
    page = opened.page
    pick(page, "source", "single")
    wait_for(page, "One plot proves little")
    page.wait_for_function(
        "() => [...document.querySelectorAll('.sk-results figure')]"
        ".filter(one => one.offsetParent !== null).length === 1"
    )


def test_trial_desk_several_files_at_once_are_pooled(opened):
    page = opened.page
    page.locator(".sk-file input[type=file]").set_input_files(
        [{"name": name, "mimeType": "text/csv", "buffer": part} for name, part in demo_files()]
    )
    wait_for(page, "4 studies, 51 of 52 plots harvested")
    status = page.locator(".sk-file-status").first
    status.filter(has_text="4 files: 52 plots taken over").wait_for()
    page.locator(".sk-results figure:visible svg").first.wait_for()
    opened.screenshot("trial-desk-pool")


def test_trial_desk_report_of_problems_can_be_had(opened):
    page = opened.page
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Report of problems").click()
    text = waiting.value.path().read_text(encoding="utf-8")
    assert "harvest_date,2026-02-20" in text


def test_trial_desk_on_a_phone_needs_no_sideways_scrolling(voila_page, notebook):
    phone = voila_page(notebook, viewport={"width": 390, "height": 844})
    phone.page.wait_for_selector(f"{MEANS} figure svg", timeout=60_000)
    assert phone.page.evaluate("document.documentElement.scrollWidth") <= 390
    assert phone.console_errors == []
    phone.screenshot("trial-desk-390")
