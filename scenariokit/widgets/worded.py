"""Widgets whose page code has no text of its own: its words come from here."""

from __future__ import annotations

from typing import ClassVar

import ipywidgets as widgets
import traitlets

from scenariokit.language import language, tr


class Worded(traitlets.HasTraits):
    """A widget whose page shows texts that are no trait of their own.

    Parameters
    ----------
    words : dict
        What the page says, by names that its code knows, placeholders in braces;
        ``lang`` is the code of the language.
    """

    WORDS: ClassVar[dict[str, str]] = {}
    """The English texts, by the same names."""

    words = traitlets.Dict().tag(sync=True)

    @traitlets.default("words")
    def _default_words(self) -> dict[str, str]:
        return {"lang": page_language(), **{key: tr(text) for key, text in self.WORDS.items()}}

    def say_words(self) -> None:
        """Say the words in the language now in use."""
        self.words = self._default_words()


def say_words(root: widgets.Widget) -> None:
    """Have every widget below `root` say its words in the language now in use."""
    if isinstance(root, Worded):
        root.say_words()
    for child in getattr(root, "children", ()):
        say_words(child)


def page_language() -> str:
    """Return the language in use as a page's ``lang`` attribute has it."""
    return language().replace("_", "-")
