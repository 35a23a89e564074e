"""The first page of a room: what there is, how full it is, and how others come in."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape
from urllib.parse import urlencode

from scenariokit.language import language, language_as, languages, tr
from scenariokit.serve.offers import Offer
from scenariokit.serve.pages import PersonalPage
from scenariokit.serve.plain_pages import page


def code_svg(address: str) -> str:
    """Return a QR code as a drawing for a page."""
    import segno

    drawn: str = segno.make(address, error="m", micro=False).svg_inline(
        scale=6, border=4, dark="#000", light="#fff", omitsize=True
    )
    return drawn.replace("<svg ", '<svg aria-hidden="true" ', 1)  # its frame has the words


def language_form(chosen: str) -> str:
    """Return the choice of a language; nothing where there is but one."""
    known = languages()
    if len(known) < 2:
        return ""
    options = "".join(
        f'<option value="{escape(code)}" lang="{escape(code)}"'
        f"{' selected' if code == chosen.split('_')[0] else ''}>{escape(name)}</option>"
        for code, name in known.items()
    )
    label, change = escape(tr("Language")), escape(tr("Use this language"))
    return (
        f'<form method="get" action="./"><p><label for="language">{label}</label> '
        f'<select id="language" name="language">{options}</select> '
        f"<button>{change}</button></p></form>"
    )


def offer_items(offers: Sequence[Offer], open_now: bool) -> str:
    """Return the list of what can be opened."""
    items = []
    for offer in offers:
        title = escape(tr(offer.title))
        where = f"{offer.name}?{urlencode({'language': language()})}"
        start = escape(tr("Start"))
        button = (
            f'<p><a class="button" href="{escape(where)}" '
            f'aria-label="{escape(tr("Start: {title}", title=tr(offer.title)))}">{start}</a></p>'
            if open_now
            else ""
        )
        items.append(
            f"<li><div><h3>{title}</h3><p>{escape(tr(offer.about))}</p></div>{button}</li>"
        )
    return f'<ul class="offers">{"".join(items)}</ul>'


def fullness(given: int, people: int, why_full: str) -> str:
    """Return how full the room is, in a sentence."""
    if why_full == "stopping":
        return tr("The server is stopping. Nobody more is let in.")
    if why_full == "memory":
        return tr("The room is full: this computer has no memory left for one more board.")
    if why_full:
        return tr("The room is full: all {people} boards are in use.", people=people)
    return tr("{given} of {people} boards are in use.", given=given, people=people)


def lobby_html(
    offers: Sequence[Offer], given: int, people: int, why_full: str, address: str
) -> str:
    """Return the lobby in the language in use.

    Parameters
    ----------
    offers : sequence of Offer
        What can be opened.
    given, people : int
        Boards in use, and how many may be.
    why_full : str
        Why nobody more is let in, if so.
    address : str
        Where others come in.
    """
    title = tr("Compare growing methods together")
    state = escape(fullness(given, people, why_full))
    role = ' class="full"' if why_full else ""
    body = (
        f"<header><h1>{escape(title)}</h1>"
        f"<p>{escape(tr('Everybody here gets a board of their own. Nobody sees what another one does, and nothing that you load is kept on this computer.'))}</p>"
        f"{language_form(language())}</header>"
        f'<main><p id="state" role="status"{role}>{state}</p>'
        f"<h2>{escape(tr('What you can open'))}</h2>{offer_items(offers, not why_full)}</main>"
        f'<footer><section aria-labelledby="invite"><h2 id="invite">{escape(tr("How others come in"))}</h2>'
        f"<p>{escape(tr('Scan this code, or type the address; the device must be in the same network as this computer.'))}</p>"
        f'<div class="code" role="img" aria-label="{escape(tr("Code for the address below"))}">{code_svg(address)}</div>'
        f'<p class="address">{escape(address)}</p>'
        f"<p>{escape(tr('Whoever has this address can come in. All numbers begin as invented examples.'))}</p>"
        "</section></footer>"
    )
    return page(title, body, refresh_seconds=20 if why_full else 0)


class Lobby(PersonalPage):
    """The first page of a room."""

    def initialize(self, offers: Sequence[Offer], address: str) -> None:
        """Take over what there is, and where others come in."""
        self.offers = offers
        self.address = address

    def get(self) -> None:
        """Show it."""
        boards = self.boards
        why = boards.why_full(self.offers[0])
        with language_as(self.language):
            self.finish(
                lobby_html(self.offers, len(boards.given), boards.limits.people, why, self.address)
            )
