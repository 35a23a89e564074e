"""What a person can open."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from scenariokit.language import mark

HERE = Path(__file__).parent


@dataclass(frozen=True)
class Offer:
    """One thing that a person can open.

    Parameters
    ----------
    name : str
        Its word in the address.
    title, about : str
        What it is called, and what it is for; English, translated where shown.
    notebook : pathlib.Path
        What is run for it.
    warmed_by : tuple of str
        ``module:function`` of what the notebook opens: run once in the process
        that kernels are forked from.
    """

    name: str
    title: str
    about: str
    notebook: Path
    warmed_by: tuple[str, ...] = ()


OFFERS: tuple[Offer, ...] = (
    Offer(
        "board",
        mark("Comparison board"),
        mark("Compare growing methods at your own prices, with your own harvest weights."),
        HERE / "board.ipynb",
        ("scenariokit.widgets:open_board",),
    ),
    Offer(
        "trial",
        mark("Trial desk"),
        mark("Load the records of a trial and see what it proves and what it does not."),
        HERE / "trial.ipynb",
        ("scenariokit.widgets:open_trial",),
    ),
    Offer(
        "planner",
        mark("Planning desk"),
        mark("Plan the next trial: how many plots, which tank gets what, and a field book."),
        HERE / "planner.ipynb",
        ("scenariokit.widgets:open_planner",),
    ),
)

WALL = Offer(
    "wall",
    mark("Results wall"),
    mark("Everybody's results in one picture; for the projector."),
    HERE / "wall.ipynb",
)
"""Offered where the server was given a folder for it."""


def offers_of_a_room(wall: str) -> tuple[Offer, ...]:
    """Return what a lobby offers.

    Parameters
    ----------
    wall : str
        Folder of the results wall; empty if there is none.
    """
    return (*OFFERS, WALL) if wall else OFFERS


def offer_of(notebook: Path) -> Offer:
    """Return the offer that is this notebook; one made for it if it is none of ours."""
    for offer in (*OFFERS, WALL):
        if offer.notebook == notebook:
            return offer
    return Offer(notebook.stem, notebook.stem, "", notebook)
