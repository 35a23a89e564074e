"""The views of the board: one at a time is open, and only that one is made and computed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import ipywidgets as widgets

from scenariokit.errors import InfeasibleError
from scenariokit.language import tr
from scenariokit.widgets.field_panel import FieldPanel, tabs_field
from scenariokit.widgets.worded import say_words

KEY = "view"


@dataclass(frozen=True)
class View:
    """One view of the board.

    Parameters
    ----------
    name, label : str
        How it is called, and what a person reads, in English.
    parts : callable
        Returns the widgets that it shows, from the top down; called when it is first filled.
    rebuild : callable
        Makes its controls and charts anew, for other methods, units or another crop.
    refresh : callable
        Computes and shows what depends on values.
    """

    name: str
    label: str
    parts: Callable[[], tuple[widgets.Widget, ...]]
    rebuild: Callable[[], None]
    refresh: Callable[[], None]


class BoardViews:
    """A row of buttons of which one is down, and the view that belongs to it.

    Parameters
    ----------
    views : tuple of View
        In the order of the buttons; the first one is open at the start.
    on_open : callable
        Called with the view's name after a person opened it.

    Attributes
    ----------
    bar, widget : ipywidgets.Widget
        The buttons, and everything below them.
    """

    def __init__(self, views: tuple[View, ...], on_open: Callable[[str], None]) -> None:
        self.views = {view.name: view for view in views}
        self.bar = FieldPanel(prefix="sk-view")
        self.bar.add_class("sk-view-bar")
        self.say()
        self.bar.values = {KEY: views[0].name}
        self._boxes = {view.name: _box(view.name) for view in views}
        self.widget = widgets.VBox(list(self._boxes.values()))
        self.widget.add_class("sk-views")
        self._stale = set(self.views)
        self._on_open = on_open
        self._show()

    def say(self) -> None:
        """Say what the views are called in the language now in use."""
        names = [(view.name, tr(view.label)) for view in self.views.values()]
        self.bar.fields = [tabs_field(KEY, tr("What to look at"), names)]

    @property
    def open(self) -> str:
        """The name of the view that is open."""
        return str(self.bar.values[KEY])

    def open_view(self, name: str) -> None:
        """Open the view called `name`, as a press on its button does.

        Raises
        ------
        InfeasibleError
            If there is no such view.
        """
        if name not in self.views:
            raise InfeasibleError(
                tr(
                    "no view is called {name!r}; there are {names}",
                    name=name,
                    names=", ".join(self.views),
                )
            )
        self.bar.values = {**self.bar.values, KEY: name}

    def put(self, name: str) -> None:
        """Open a view that is not computed yet; whoever calls this has it made anew."""
        self.bar.values = {**self.bar.values, KEY: name}
        self._show()

    def opened(self, change: dict[str, Any]) -> None:
        """Answer a press on one of the buttons."""
        if change["new"].get(KEY) != change["old"].get(KEY):
            self._show()
            self._on_open(self.open)

    def all_changed(self) -> None:
        """Note that each view must be made anew before it is seen again."""
        self._stale = set(self.views)

    def rebuild(self) -> None:
        """Make the open view anew, if something that it is made of changed since it was seen."""
        if self.open in self._stale:
            self._stale.discard(self.open)
            self.views[self.open].rebuild()

    def refresh(self) -> None:
        """Compute and show the open view."""
        try:
            self.views[self.open].refresh()
        finally:
            self._furnish()

    def _furnish(self) -> None:
        """Put the parts of the open view on the page, the first time that it is seen."""
        box = self._boxes[self.open]
        if not box.children:
            box.children = self.views[self.open].parts()
            say_words(box)

    def _show(self) -> None:
        for name, box in self._boxes.items():
            box.layout.display = None if name == self.open else "none"


def _box(name: str) -> widgets.Box:
    made = widgets.VBox()
    made.add_class("sk-view-of")
    made.add_class(f"sk-view-{name}")
    return made
