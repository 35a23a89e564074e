"""A board in a link: short, exact, kept readable for good, and never more than one kind of error."""

from __future__ import annotations

import base64
import hashlib
import json
import zlib
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from own_files import HARVEST, prices_file

from scenariokit import catalog
from scenariokit.errors import ScenarioFileError
from scenariokit.units import quantity
from scenariokit.widgets import board_link
from scenariokit.widgets.board_file import read_board
from scenariokit.widgets.board_link import (
    MOST_IN_LINK,
    MOST_PACKED,
    dictionary,
    link_payload,
    read_link_payload,
)
from scenariokit.widgets.board_packing import MOST_UNPACKED, packed, unpacked
from scenariokit.widgets.board_state import BoardState

BOARDS = Path(__file__).parent / "boards"
SHA256 = {"1": "5f8710c0ec1bb218d5a593214f7f31a75af66a0957d7998c561509184b2a965b"}
"""Of the dictionary of each version of links. A link that is out in the world needs just this one."""


def squeezed(content, version="1"):
    """Return any bytes as a payload that is whole."""
    squeezer = zlib.compressobj(9, zlib.DEFLATED, -15, zdict=dictionary(version))
    raw = squeezer.compress(content) + squeezer.flush()
    letters = base64.urlsafe_b64encode(zlib.crc32(raw).to_bytes(4, "big") + raw)
    return f"{version}.{letters.decode().rstrip('=')}"


def tried(read, *given):
    """Return what `read` gives and what it refuses; of these one is nothing."""
    try:
        return read(*given), ""
    except ScenarioFileError as error:
        return None, str(error)


def opened(payload):
    return read_board(read_link_payload(payload, "The link").encode(), "The link")


def changed():
    """A board as somebody leaves it who asked what labour, price and EC do."""
    state = BoardState()
    state.set_values(
        {
            "tank.area": quantity(6, "m^2"),
            "feed.ec": quantity(1.9, "dS/m"),
            "prices.labour_price": quantity(7.5, "money/hour"),
            "prices.produce_price": quantity(3.1, "money/kg"),
        }
    )
    state.set_values({"harvest.typical": quantity(5, "kg/m^2")}, method="paper_wrap")
    return state


def with_own_prices():
    state = BoardState()
    state.load_prices(prices_file("dunmarrow", factor=1 / 3), "prices.csv")
    return state


def with_own_weights():
    state = with_own_prices()
    state.load_harvest(f"{HARVEST}a,wedge_pots,potato,3,10\n".encode(), "harvest.csv")
    return state


@pytest.fixture(scope="module")
def text():
    return changed().save()


@pytest.fixture(scope="module")
def payload(text):
    return link_payload(text)


# -- there and back ------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("make", "most"),
    [(BoardState, 400), (changed, 600), (with_own_prices, 3_000), (with_own_weights, 3_300)],
)
def test_link_payload_is_exact_and_short(make, most):
    state = make()
    payload = link_payload(state.save())
    assert len(payload) < most
    again = BoardState()
    again.load(read_link_payload(payload).encode(), "link")
    assert again.save() == state.save()


@pytest.mark.parametrize("crop", sorted(catalog.crops()))
def test_link_payload_is_short_for_every_crop_and_place(crop):
    for place in catalog.sites():
        state = BoardState(crop=crop, site=place)
        state.pick_prices(place)
        payload = link_payload(state.save())
        assert len(payload) < 2_000
        assert json.loads(read_link_payload(payload)) == json.loads(state.save())


def test_link_payload_needs_no_escape_in_an_address(payload):
    from urllib.parse import quote

    assert quote(payload, safe="") == payload
    assert payload.startswith("1.")


def test_link_payload_too_long_points_to_the_file(text):
    with pytest.raises(ScenarioFileError, match=r"at most 200; save the board as a file"):
        link_payload(text, 200)


def test_link_payload_of_much_that_is_random_is_refused():
    state = BoardState()
    document = json.loads(state.save())
    noise = base64.b85encode(hashlib.shake_256(b"seed").digest(60_000)).decode()
    document["own"]["methods"] = noise
    with pytest.raises(ScenarioFileError, match="save the board as a file"):
        link_payload(json.dumps(document))


def test_read_link_payload_forgives_blanks_of_a_mail_program(payload):
    broken = "\r\n ".join(payload[start : start + 70] for start in range(0, len(payload), 70))
    assert read_link_payload(f" {broken}\n") == read_link_payload(payload)


# -- versions ------------------------------------------------------------------------------


@pytest.mark.parametrize("version", board_link.VERSIONS)
def test_dictionary_never_changes(version):
    assert hashlib.sha256(dictionary(version)).hexdigest() == SHA256[version]
    assert len(dictionary(version)) <= 32_768


@pytest.mark.parametrize("version", board_link.VERSIONS)
def test_read_link_payload_of_each_version_ever_made_opens(version):
    state = BoardState()
    example = (BOARDS / f"link_version_{version}.txt").read_text("ascii").strip()
    state.load(read_link_payload(example).encode(), "link")
    assert state.focus == "wedge_pots"
    assert state.focused.tank.area.m_as("m^2") == 6
    assert state.own_harvest["paper_wrap", "potato"].plots == 2
    assert state.compute()


def test_link_payload_is_of_the_newest_version(payload):
    assert board_link.VERSIONS[-1] == board_link.VERSION
    assert payload.split(".")[0] == board_link.VERSION


# -- what is no link -----------------------------------------------------------------------


def refused(payload, words, **options):
    with pytest.raises(ScenarioFileError, match=words) as caught:
        read_link_payload(payload, **options)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 300


@pytest.mark.parametrize(
    ("made", "words"),
    [
        ("", "holds no board"),
        ("1", "holds no board"),
        (".", "holds no board"),
        ("../../etc/passwd", "holds no board"),
        ("one.AAAA", "holds no board"),
        ("2.AAAA", "version 2, and this scenariokit reads 1"),
        ("99999.AAAA", "holds no board"),
        ("1.", "incomplete"),
        ("1.A", "incomplete"),
        ("1.AAAAAA", "incomplete"),
        ("1.<script>alert(1)</script>", "damaged"),
        ("1.AA%20AA", "damaged"),
        ("1.AAAA++//", "damaged"),
        ("1." + "é" * 8, "damaged"),
        ("1." + "_" * 40, "damaged"),
    ],
)
def test_read_link_payload_what_is_none_is_refused_in_one_sentence(made, words):
    refused(made, words)


def test_read_link_payload_cut_off_anywhere_is_called_incomplete(payload):
    for length in range(2, len(payload)):
        refused(payload[:length], "incomplete")


def test_read_link_payload_with_one_letter_changed_is_refused(payload):
    for place in range(2, len(payload)):
        other = "A" if payload[place] != "A" else "B"
        with pytest.raises(ScenarioFileError):
            read_link_payload(payload[:place] + other + payload[place + 1 :])


def test_read_link_payload_with_more_behind_it_is_damaged(payload):
    refused(f"{payload}AAAA", "damaged")


def test_read_link_payload_too_long_is_refused_unread():
    refused("1." + "A" * MOST_IN_LINK, "at most 30,000")
    refused("1.AAAA", "at most 5", most=5)


def test_read_link_payload_is_called_what_it_is_told(payload):
    refused(payload[:-9], "The kept board is incomplete", name="The kept board")


@pytest.mark.parametrize("filler", [b" ", b"[", b'{"a":'])
def test_read_link_payload_bomb_is_not_inflated(filler):
    """A payload of a few kilobytes that would take gigabytes stops at the bound."""
    bomb = squeezed(filler * (20_000_000 // len(filler)))
    assert len(bomb) < MOST_IN_LINK * 1.5
    refused(bomb, "more than 1,000,000 bytes", most=MOST_IN_LINK * 2)


def test_read_link_payload_inflates_no_more_than_the_bound(monkeypatch):
    asked = []

    class Watched:
        def __init__(self, *given, **named):
            self.inner = original(*given, **named)

        def __getattr__(self, name):
            return getattr(self.inner, name)

        def decompress(self, content, most=0):
            asked.append(most)
            return self.inner.decompress(content, most)

    original = zlib.decompressobj
    monkeypatch.setattr(board_link.zlib, "decompressobj", Watched)
    read_link_payload(link_payload(BoardState().save()))
    assert asked == [MOST_PACKED]


@pytest.mark.parametrize(
    "content",
    [
        b"", b"null", b"[]", b"{}", b'"1"', b"[" * 90_000, b"\xff\xfe", b"1" * 9_000,
        b'{"kind":{},"shared":{},"scenarios":{},"board":{}}',
        b'{"kind":{},"shared":{},"scenarios":[1],"board":{}}',
        b'{"kind":{},"shared":{},"scenarios":[],"board":{"scenarios":[]}}',
        b'{"kind":[],"shared":{},"scenarios":[],"board":{}}',
        b'{"kind":{},"shared":{},"scenarios":[],"board":{},"__proto__":{}}',
    ],
)  # fmt: skip
def test_read_link_payload_sound_but_no_board_is_refused(content):
    refused(squeezed(content), "holds no board|damaged")


def test_read_link_payload_shared_part_repeated_without_end_is_refused():
    """Unpacking must not multiply: a long shared part times many scenarios."""
    packs = {"kind": {}, "shared": {"a": "x" * 100_000}, "scenarios": [{}] * 1_000, "board": {}}
    refused(squeezed(json.dumps(packs).encode()), "more than 4,000,000 characters")


# -- packing -------------------------------------------------------------------------------


def test_unpacked_gives_back_what_packed_took(text):
    assert json.loads(unpacked(packed(text), "board")) == json.loads(text)
    assert len(packed(text)) < len(text) / 3


def test_unpacked_keeps_the_order_of_names(text):
    def names(part):
        if isinstance(part, dict):
            return [(key, names(value)) for key, value in part.items()]
        return [names(one) for one in part] if isinstance(part, list) else None

    before = json.loads(text)["scenarios"][0]["scenario"]
    after = json.loads(unpacked(packed(text), "board"))["scenarios"][0]["scenario"]
    for part in before:
        assert names(after[part]) == names(before[part])


def test_packed_without_anything_shared_is_exact(text):
    document = json.loads(text)
    for number, one in enumerate(document["scenarios"]):
        for part in one["scenario"].values():
            if isinstance(part, dict):
                part["number"] = number
    assert json.loads(unpacked(packed(json.dumps(document)), "board")) == document


def test_most_unpacked_is_well_above_a_usual_board(text):
    assert len(text) * 20 < MOST_UNPACKED


# -- anything at all -----------------------------------------------------------------------


@settings(max_examples=300, deadline=None)
@given(st.text(max_size=300))
def test_read_link_payload_any_text_gives_one_kind_of_error(made):
    with pytest.raises(ScenarioFileError):
        read_link_payload(made)


@settings(max_examples=300, deadline=None)
@given(st.binary(max_size=300))
def test_read_link_payload_any_bytes_give_one_kind_of_error(content):
    letters = base64.urlsafe_b64encode(content).decode().rstrip("=")
    with pytest.raises(ScenarioFileError):
        read_link_payload(f"1.{letters}")


@settings(max_examples=200, deadline=None)
@given(st.binary(max_size=400))
def test_read_link_payload_any_content_gives_one_kind_of_error(content):
    with pytest.raises(ScenarioFileError):
        read_link_payload(squeezed(content))


TEXT = changed().save()
_ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=9),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=5), inner),
    max_leaves=5,
)


@settings(max_examples=100, deadline=None)
@given(st.data())
def test_read_board_of_a_link_with_any_field_changed_is_a_board_or_one_kind_of_error(data):
    """A sound link around a board that somebody wrote by hand."""
    packs = json.loads(packed(TEXT))
    here, way = packs, []
    while isinstance(here, dict | list) and here and (len(way) < 2 or data.draw(st.booleans())):
        keys = list(here) if isinstance(here, dict) else range(len(here))
        way.append((here, data.draw(st.sampled_from(keys))))
        here = here[way[-1][1]]
    owner, key = way[-1]
    owner[key] = data.draw(_ANYTHING)
    board, refused = tried(opened, squeezed(json.dumps(packs).encode()))
    if refused:
        assert refused.startswith("The link")
    else:
        assert board.view["chosen"]
