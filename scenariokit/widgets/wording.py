"""Texts of widgets that are made once and said anew when the language changes."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import ipywidgets as widgets

from scenariokit.language import language, languages, tr
from scenariokit.widgets.field_panel import choice_field
from scenariokit.widgets.page_code import STATIC

Made = TypeVar("Made", bound=widgets.Widget)


class Wording:
    """The texts of widgets that are never made anew."""

    def __init__(self) -> None:
        self._said: list[tuple[widgets.Widget, str, Callable[[], Any]]] = []

    def made(self, widget: Made, trait: str, make: Callable[[], Any]) -> Made:
        """Give a widget's trait the text that `make` gives, now and at `say`; return the widget."""
        self._said.append((widget, trait, make))
        setattr(widget, trait, make())
        return widget

    def on(self, widget: Made, trait: str, message: str, pattern: str = "{}") -> Made:
        """Give a widget's trait a marked text; else as `made`.

        Parameters
        ----------
        widget : ipywidgets.Widget
            Whose text it is.
        trait : str
            Where it stands.
        message : str
            The English text, marked.
        pattern : str
            What stands around it, such as a heading's tags.
        """
        return self.made(widget, trait, lambda: pattern.format(tr(message)))

    def heading(self, message: str, tag: str = "h2") -> widgets.HTML:
        """Return a heading."""
        return self.on(widgets.HTML(), "value", message, f"<{tag}>{{}}</{tag}>")

    def say(self) -> None:
        """Say all texts in the language now in use."""
        for widget, trait, make in self._said:
            setattr(widget, trait, make())


def page_head(title: str, lead: str) -> str:
    """Return title and lead of an app with its style sheet, as HTML."""
    style = (STATIC / "board.css").read_text("utf-8")
    return f"<style>{style}</style><h1>{tr(title)}</h1><p class='sk-lead'>{tr(lead)}</p>"


def language_field() -> dict[str, Any]:
    """Return the description of a picker of the language; each is called as it calls itself."""
    field = choice_field("language", tr("Language"), list(languages().items()))
    # Each option is marked as being in its language, so that it is read out as such.
    field["options"] = [[code, name, code] for code, name in field["options"]]
    return field


def language_value() -> str:
    """Return the value of `language_field`."""
    return language().split("_")[0]
