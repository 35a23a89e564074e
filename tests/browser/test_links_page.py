"""Links to a board and boards kept in the browser, in a real one that is cut off from every network."""

from __future__ import annotations

import base64
import json
import zlib

import pytest

from scenariokit.units import quantity
from scenariokit.widgets.board_link import dictionary, link_payload
from scenariokit.widgets.board_packing import packed
from scenariokit.widgets.board_state import BoardState

pytestmark = pytest.mark.browser

NUMBERS = "[aria-label='Numbers of all methods']"
AREA = "[id='sk-common-tank-area']"
LINK = ".sk-link"
STORE = ".sk-store"
OFFER = ".sk-store-offer"
SLOW = 120_000


def own_errors(opened):
    """Return what went wrong, but for the page server's goodbye, which a reload shows as refused."""
    return [one for one in opened.console_errors if "403" not in one]


def ready(page):
    page.set_default_timeout(SLOW)
    page.wait_for_selector(f"{LINK} button", timeout=SLOW)
    page.wait_for_selector(f"{NUMBERS} tbody td", timeout=SLOW)


def until(page, holds):
    """Wait until `holds()` is true; a slow machine is given time, a wrong page is not."""
    for _ in range(600):
        if holds():
            return
        page.wait_for_timeout(100)
    assert holds()


def told(page):
    return page.locator(".sk-status").inner_text().strip()


def set_area(page, value):
    box = page.locator(AREA)
    box.fill(str(value))
    box.press("Enter")


def area(page):
    return page.locator(AREA).input_value()


def numbers(page):
    return page.locator(NUMBERS).inner_text()


def copy_link(page):
    """Press the button from the keyboard; return the link."""
    page.get_by_role("button", name="Copy a link to this board").focus()
    page.keyboard.press("Enter")
    until(
        page,
        lambda: (
            page.locator(f"{LINK} [role=status]").inner_text().startswith(("The link", "This page"))
        ),
    )
    return page.get_by_label("The link", exact=True).input_value()


def settled(page):
    """Wait until the kernel has done all it was sent: it answers in turn, and this comes last."""
    copy_link(page)


def board_of(area_wanted):
    state = BoardState()
    state.set_values({"tank.area": quantity(area_wanted, "m^2")})
    return link_payload(state.save())


def squeezed(content):
    """Return any bytes as a payload that is whole."""
    squeezer = zlib.compressobj(9, zlib.DEFLATED, -15, zdict=dictionary("1"))
    raw = squeezer.compress(content) + squeezer.flush()
    letters = base64.urlsafe_b64encode(zlib.crc32(raw).to_bytes(4, "big") + raw)
    return f"1.{letters.decode().rstrip('=')}"


def go_to(page, payload):
    """Do what a person does who pastes another link into the same tab."""
    page.evaluate("payload => { location.hash = payload ? `board=${payload}` : ''; }", payload)


@pytest.fixture(scope="module")
def opened(voila_page):
    board = voila_page(permissions=["clipboard-read", "clipboard-write"])
    ready(board.page)
    return board


# -- links ---------------------------------------------------------------------------------


def test_link_copied_on_one_page_opens_on_another_with_the_same_numbers(opened, voila_page):
    page = opened.page
    set_area(page, 9)
    settled(page)
    address = copy_link(page)
    assert page.evaluate("navigator.clipboard.readText()") == address
    assert "copied" in page.locator(f"{LINK} [role=status]").inner_text()
    assert address.startswith(f"{opened.url}#board=1.")
    assert len(address) < 2_000
    assert page.url == opened.url
    page.locator(LINK).scroll_into_view_if_needed()
    opened.screenshot("link-1280")
    opened.screenshot("link-part-1280", LINK)
    other = voila_page(
        query=address.removeprefix(opened.url), viewport={"width": 390, "height": 844}
    )
    ready(other.page)
    until(other.page, lambda: "The board in the link is open" in told(other.page))
    assert area(other.page) == "9"
    settled(other.page)
    assert numbers(other.page) == numbers(page)
    other.screenshot("link-open-390")
    other.page.locator(LINK).scroll_into_view_if_needed()
    other.page.screenshot()
    copy_link(other.page)
    other.screenshot("link-part-390", LINK)
    wide = other.page.evaluate("document.documentElement.scrollWidth - window.innerWidth")
    assert wide <= 0
    for one in (opened, other):
        assert one.outside_requests == []
        assert one.console_errors == []


def test_link_on_a_page_that_may_not_copy_is_selected_for_the_person(opened):
    page = opened.page
    page.evaluate("() => { window.before = document.execCommand; document.execCommand = () => false;"
                  " Object.defineProperty(window, 'isSecureContext', {value: false, configurable: true}); }")  # fmt: skip
    address = copy_link(page)
    assert "copy it yourself" in page.locator(f"{LINK} [role=status]").inner_text()
    assert page.evaluate("document.activeElement.value.slice(document.activeElement.selectionStart,"
                         " document.activeElement.selectionEnd)") == address  # fmt: skip
    page.evaluate("() => { document.execCommand = window.before; delete window.isSecureContext; }")


def test_link_to_another_address_is_remembered_in_the_browser_only(opened):
    page = opened.page
    page.get_by_role("radio", name="another address").check()
    target = page.get_by_label("That address")
    target.fill("https://start.example/v2/gh/a/b/main?token=secret")
    target.press("Tab")
    address = copy_link(page)
    assert address.startswith("https://start.example/v2/gh/a/b/main?urlpath=voila/render/")
    assert "secret" not in address
    remembered = page.evaluate("localStorage.getItem('scenariokit.link.target.1')")
    assert remembered == "https://start.example/v2/gh/a/b/main"
    opened.screenshot("link-target-1280", LINK)
    target.fill("javascript:alert(1)")
    page.get_by_role("button", name="Copy a link to this board").click()
    until(page, lambda: "is no web address" in page.locator(f"{LINK} [role=status]").inner_text())
    target.fill("")
    target.press("Tab")
    page.get_by_role("radio", name="this page").check()
    assert opened.outside_requests == []


def test_link_back_button_returns_to_each_board_as_it_was_left(opened):
    page = opened.page
    set_area(page, 3)
    page.wait_for_timeout(500)
    depth = page.evaluate("history.length")
    go_to(page, board_of(7))
    until(page, lambda: area(page) == "7")
    go_to(page, board_of(8))
    until(page, lambda: area(page) == "8")
    assert page.evaluate("history.length") == depth + 2
    page.go_back()
    until(page, lambda: area(page) == "7")
    until(page, lambda: "had here before" in told(page))
    page.go_back()
    until(page, lambda: area(page) == "3")
    page.go_forward()
    until(page, lambda: area(page) == "7")
    page.go_back()
    until(page, lambda: area(page) == "3")


def test_link_that_is_bad_is_said_in_plain_words_and_runs_nothing(opened):
    page = opened.page
    dialogs = []
    page.on("dialog", lambda one: (dialogs.append(one.message), one.dismiss()))
    settled(page)
    before = numbers(page)
    good = board_of(7)
    for payload, words in (
        (good[:-7], "incomplete"),
        (good[:9] + ("A" if good[9] != "A" else "B") + good[10:], "The link"),
        ("2.AAAA", "version 2"),
        ("<script>alert(1)</script>", "no board"),
        ("1.<img src=x onerror=alert(1)>", "damaged"),
        ("../../etc/passwd", "no board"),
        ("__proto__", "no board"),
        ("1." + "A" * 60_000, "at most 30,000"),
        (squeezed(b" " * 20_000_000), "more than 1,000,000 bytes"),
        (squeezed(b'{"__proto__": {"hit": 1}}'), "no board"),
        (squeezed(packed(BoardState().save()).replace('"view":', '"__proto__":{"hit":1},"view":', 1)
                  .encode()), "unknown field __proto__"),
    ):  # fmt: skip
        go_to(page, payload)
        until(page, lambda words=words: words in told(page))
        assert numbers(page) == before
        page.evaluate("history.replaceState(null, '', location.pathname)")
    assert dialogs == []
    assert page.evaluate("({}).hit") is None
    assert page.locator("img[src=x]").count() == 0
    assert opened.console_errors == []
    opened.screenshot("link-bad-1280")


def test_link_with_names_that_are_code_shows_them_as_text(voila_page):
    evil = "<img src=x onerror='window.hit=1'><script>window.hit=2</script>"
    document = json.loads(BoardState().save())
    for one in document["scenarios"]:
        one["scenario"]["method"]["label"] = f"{evil} {one['scenario']['method']['id']}"
        one["scenario"]["method"]["summary"] = evil
        one["scenario"]["crop"]["label"] = evil
        one["scenario"]["site"]["label"] = evil
        one["scenario"]["name"] = evil
        one["scenario"]["notes"] = evil
    payload = link_payload(json.dumps(document))
    dialogs = []
    opened = voila_page(query=f"?board={payload}&token=secret")
    page = opened.page
    page.on("dialog", lambda one: (dialogs.append(one.message), one.dismiss()))
    ready(page)
    until(page, lambda: "The board in the link is open" in told(page))
    for view in ("Which to choose", "Water through the season", "Methods side by side"):
        page.get_by_role("radio", name=view).check()
        page.wait_for_timeout(3_000)
    assert "<img src=x" in page.locator(NUMBERS).inner_text()
    address = copy_link(page)
    assert "secret" not in address
    assert "?board" not in address
    assert page.evaluate("window.hit") is None
    assert page.locator("img[src=x]").count() == 0
    assert page.locator("script", has_text="window.hit").count() == 0
    assert dialogs == []
    assert opened.outside_requests == []


# -- storage -------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def kept(voila_page):
    board = voila_page()
    ready(board.page)
    return board


def keep_box(page):
    return page.get_by_role("checkbox", name="Keep this board in this browser")


def said(page):
    return page.locator(f"{STORE} > [role=status]").inner_text()


def test_store_is_off_at_first_and_keeps_nothing(kept):
    page = kept.page
    assert not keep_box(page).is_checked()
    set_area(page, 5)
    page.wait_for_timeout(3_000)
    assert page.evaluate("Object.keys(localStorage).filter(key => key.includes('board'))") == []
    assert not page.locator(OFFER).is_visible()
    assert "shared computer" in page.locator(STORE).inner_text()


def test_store_offers_the_board_after_a_reload_and_overwrites_nothing_unasked(kept):
    page = kept.page
    keep_box(page).focus()
    page.keyboard.press("Space")
    set_area(page, 9)
    until(page, lambda: page.evaluate("localStorage.getItem('scenariokit.board.1')") is not None)
    page.wait_for_timeout(4_000)
    before = page.evaluate("localStorage.getItem('scenariokit.board.1')")
    page.reload(timeout=SLOW, wait_until="domcontentloaded")
    ready(page)
    page.locator(OFFER).wait_for(state="visible", timeout=SLOW)
    assert "Go on with your board from" in page.locator(OFFER).inner_text()
    kept.screenshot("store-offer-1280")
    set_area(page, 2)
    page.wait_for_timeout(4_000)
    assert page.evaluate("localStorage.getItem('scenariokit.board.1')") == before
    page.set_viewport_size({"width": 390, "height": 844})
    page.locator(NUMBERS).scroll_into_view_if_needed()
    box = page.locator(OFFER).bounding_box()
    assert 700 < box["y"] + box["height"] <= 844  # in sight, wherever the page is scrolled to
    assert box["x"] >= 0
    assert box["x"] + box["width"] <= 390
    kept.screenshot("store-offer-390")
    page.set_viewport_size({"width": 1280, "height": 900})
    page.get_by_role("button", name="Go on").focus()
    page.keyboard.press("Enter")
    until(page, lambda: area(page) == "9")
    until(page, lambda: not page.locator(OFFER).is_visible())
    assert "is open" in said(page)
    assert keep_box(page).is_checked()


def test_store_two_tabs_newer_write_wins_and_is_said(kept):
    page = kept.page
    other = page.context.new_page()
    other.goto(kept.url, timeout=SLOW, wait_until="domcontentloaded")
    ready(other)
    other.get_by_role("button", name="Start afresh").click()
    assert "takes the place" in said(other)
    before = page.evaluate("localStorage.getItem('scenariokit.board.1')")
    set_area(other, 11)
    until(page, lambda: "Another tab kept its board" in said(page))
    assert page.evaluate("localStorage.getItem('scenariokit.board.1')") != before
    page.locator(STORE).scroll_into_view_if_needed()
    kept.screenshot("store-tabs-1280", STORE)
    other.get_by_role("button", name="Clear the kept board").click()
    until(page, lambda: "in another tab" in said(page))
    assert not keep_box(page).is_checked()
    left = page.evaluate("Object.keys(localStorage).filter(key => key.includes('board'))")
    assert left == []
    set_area(page, 4)
    page.wait_for_timeout(3_000)
    assert page.evaluate("localStorage.getItem('scenariokit.board.1')") is None
    other.close()


def test_store_that_is_full_or_closed_is_said(kept):
    page = kept.page
    page.evaluate("() => { window.put = Storage.prototype.setItem; }")
    try:
        for name, words in (("QuotaExceededError", "no room"), ("SecurityError", "store nothing")):
            page.evaluate(
                "name => { Storage.prototype.setItem ="
                " () => { throw new DOMException('no', name); }; }",
                name,
            )
            keep_box(page).click()
            until(page, lambda words=words: words in said(page))
            assert not keep_box(page).is_checked()
    finally:
        page.evaluate("() => { Storage.prototype.setItem = window.put; }")
    assert own_errors(kept) == []
    assert kept.outside_requests == []


def test_store_rubbish_under_our_name_is_as_good_as_nothing(kept):
    page = kept.page
    for rubbish in ("{", "null", '{"text": 1}', '{"text": "1.AAAA", "saved": "soon"}'):
        page.evaluate("text => localStorage.setItem('scenariokit.board.1', text)", rubbish)
    page.reload(timeout=SLOW, wait_until="domcontentloaded")
    ready(page)
    assert not page.locator(OFFER).is_visible()
    page.evaluate("""() => localStorage.setItem('scenariokit.board.1',
      JSON.stringify({text: '1.AAAA', saved: Date.now()}))""")
    page.reload(timeout=SLOW, wait_until="domcontentloaded")
    ready(page)
    page.get_by_role("button", name="Go on").click()
    until(page, lambda: "The kept board is incomplete" in told(page))
    page.get_by_role("button", name="Clear the kept board").click()
    assert page.evaluate("localStorage.getItem('scenariokit.board.1')") is None
