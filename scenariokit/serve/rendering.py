"""From a notebook to a page: its head once, the rest once for each kernel."""

from __future__ import annotations

import json
from html import escape
from typing import Any

import nbformat
from voila.notebook_renderer import NotebookRenderer
from voila.utils import get_page_config

from scenariokit.language import language_as
from scenariokit.serve.early_files import early_links
from scenariokit.serve.offers import Offer
from scenariokit.serve.page_words import page_words

CUT = "<!--scenariokit:cut-->"
EARLY = "<!--scenariokit:early-->"
LANGUAGE = "scenariokit:language"
WORDS = "scenariokit:words"


class OfferRenderer(NotebookRenderer):  # type: ignore[misc]
    """Voila's renderer, reading its notebook from where it is and not through an API."""

    async def load_notebook(self, path: str) -> Any:
        """Return the notebook of a file."""
        notebook: Any = nbformat.read(path, as_version=4)  # type: ignore[no-untyped-call]
        return await self.fix_notebook(notebook)


class PageMaker:
    """Makes the pages of one offer.

    Parameters
    ----------
    app : voila.app.Voila
        The server; its settings are used.
    offer : Offer
        What is shown.
    """

    def __init__(self, app: Any, offer: Offer) -> None:
        self._app = app
        self._offer = offer
        self._first: Any = None
        self._head = ""

    def _renderer(self) -> Any:
        """Return a new renderer."""
        app = self._app
        configuration = app.voila_configuration
        return OfferRenderer(
            voila_configuration=configuration,
            traitlet_config=app.config,
            notebook_path=str(self._offer.notebook),
            template_paths=app.template_paths,
            config_manager=app.config_manager,
            contents_manager=app.contents_manager,
            base_url=app.base_url,
            kernel_spec_manager=app.kernel_spec_manager,
            page_config=get_page_config(
                base_url=app.base_url, settings=app.app.settings, log=app.log,
                voila_configuration=configuration,
            ),
        )  # fmt: skip

    async def prepare(self) -> None:
        """Read the notebook and the templates, and make the head."""
        first = self._renderer()
        await first.initialize()
        self._first = first
        head = []
        async for piece, _ in first.generate_content_generator(None, None):
            head.append(piece)
            if CUT in piece:
                break
        self._head = "".join(head).partition(CUT)[0].replace(EARLY, early_links())

    @property
    def kernel_name(self) -> str:
        """Which kind of kernel the notebook asks for."""
        return str(self._first.notebook.metadata.kernelspec.name)

    def head(self, language: str) -> str:
        """Return the page up to where its kernel comes in, in a language."""
        with language_as(language):
            words = json.dumps(page_words()).replace("<", "\\u003c")
        return self._head.replace(LANGUAGE, escape(language.replace("_", "-"))).replace(
            WORDS, words
        )

    async def rest(self, kernel_id: str, kernel: Any) -> str:
        """Run the notebook in a kernel and return the rest of the page."""
        renderer = self._renderer()
        first = self._first
        for name in ("notebook", "cwd", "template_name", "theme", "resources", "exporter"):
            setattr(renderer, name, getattr(first, name))
        pieces = [
            piece async for piece, _ in renderer.generate_content_generator(kernel_id, kernel)
        ]
        return "".join(pieces).partition(CUT)[2]
