"""A growing medium of a person's own: added, priced, used in a method, saved and opened again."""

from __future__ import annotations

import dataclasses

import pytest

from scenariokit import catalog
from scenariokit.errors import InfeasibleError, RecordError
from scenariokit.widgets import open_board
from scenariokit.widgets.board_state import BoardState

MEDIA = b"id,label\nrice_hulls,Rice hulls\n"
PRICES = b"item,package_size,price,currency,expansion,fill_factor\nrice_hulls,100 L,4,EUR,1,0.8\n"


def methods_with(mix):
    row = dict(catalog.methods()["wedge_pots"])
    row |= {"id": "hull_pots", "label": "Pots with hulls", "mix": mix, "crop": "potato"}
    row |= {"yield_low": 3, "yield_typical": 4, "yield_high": 5, "supplies_like": "wedge_pots"}
    return catalog.write_csv([row], "own_methods").encode()


@pytest.fixture
def state():
    return BoardState()


def cost_of_medium(state):
    found = next(one for one in state.compute() if one.scenario.method.id == "hull_pots")
    return found["cost_medium"].m_as("money/kg")


def test_load_media_then_price_then_method_gives_the_cost_worked_by_hand(state):
    assert state.load_media(MEDIA, "media.csv") == ((), ("rice_hulls",))
    state.load_prices(PRICES, "prices.csv")
    state.load_methods(methods_with("rice_hulls"), "methods.csv")
    row = state.methods["hull_pots"]
    # 4 money for 100 L that settle to 80 L: 0.05 per litre; used for one crop, 4 kg/m²
    by_hand = 0.05 * row["volume_per_plant"] * row["plants_per_area"] / 4
    assert cost_of_medium(state) == pytest.approx(by_hand)


def test_load_methods_with_unpriced_medium_says_what_lacks_and_changes_nothing(state):
    state.load_media(MEDIA, "media.csv")
    before = dict(state.scenarios)
    with pytest.raises(InfeasibleError, match=r"rice_hulls, which .* does not price"):
        state.load_methods(methods_with("rice_hulls"), "methods.csv")
    assert state.scenarios == before
    assert "hull_pots" not in state.methods


def test_load_methods_with_unknown_medium_lists_those_there_are(state):
    with pytest.raises(RecordError, match=r"moon_dust.*white_peat"):
        state.load_methods(methods_with("moon_dust"), "methods.csv")


def test_pick_prices_that_lack_a_used_medium_is_refused_and_changes_nothing(state):
    state.load_media(MEDIA, "media.csv")
    state.load_prices(PRICES, "prices.csv")
    state.load_methods(methods_with("rice_hulls"), "methods.csv")
    before = dict(state.scenarios)
    with pytest.raises(InfeasibleError, match="rice_hulls"):
        state.pick_prices("dunmarrow")
    assert state.scenarios == before
    assert state.own_prices is not None


def test_own_medium_survives_save_and_load(state):
    state.load_media(MEDIA, "media.csv")
    state.load_prices(PRICES, "prices.csv")
    state.load_methods(methods_with("rice_hulls"), "methods.csv")
    fresh = BoardState()
    fresh.load(state.save().encode(), "board.json")
    assert cost_of_medium(fresh) == cost_of_medium(state)
    assert fresh.media["rice_hulls"]["label"] == "Rice hulls"
    fresh.reset()
    assert cost_of_medium(fresh) == cost_of_medium(state)


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "empty"),
        (b"id\nx\n", "label: the column is missing"),
        (b"id,label\nwhite_peat,Mine\n", "no row can be used.*is taken"),
    ],
)
def test_load_media_unusable_file_says_why(state, content, words):
    before = state.media
    with pytest.raises(RecordError, match=words):
        state.load_media(content, "media.csv")
    assert state.media == before


def test_two_boards_do_not_share_media(state):
    state.load_media(MEDIA, "media.csv")
    assert "rice_hulls" not in BoardState().media
    assert dataclasses.replace(state).media == state.media


def test_own_medium_with_a_curve_is_judged_on_the_board():
    board = open_board()
    media = (
        "id,label,theta_residual,theta_saturated,vg_alpha [1/cm],vg_n\n"
        "rice_hulls,Rice hulls,0.05,0.85,0.8,1.6\n"
    )
    board.state.load_media(media.encode(), "media.csv")
    board.state.load_prices(PRICES, "prices.csv")
    board.state.load_methods(methods_with("rice_hulls"), "methods.csv")
    board.state.choose(["hull_pots"])
    board.rebuild()
    assert board.profile.chart.datasets["profile"]
    assert "its curve is not known" not in board.water.says.value
