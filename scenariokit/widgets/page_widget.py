"""A widget with page code of its own."""

from __future__ import annotations

from typing import ClassVar

import anywidget
import traitlets

from scenariokit.widgets.page_code import PageCode, carried, code_address


class PageWidget(anywidget.AnyWidget):
    """A widget whose page code a page fetches once for all of its kind, where its server has it.

    Notes
    -----
    Elsewhere, in JupyterLab for example, each widget brings its code along.
    """

    CODE: ClassVar[PageCode]
    _esm = traitlets.Unicode().tag(sync=True)
    _css = traitlets.Unicode().tag(sync=True)

    @traitlets.default("_esm")
    def _default_esm(self) -> str:
        return carried(self.CODE, code_address(self.CODE.name))[0]

    @traitlets.default("_css")
    def _default_css(self) -> str:
        return carried(self.CODE, code_address(self.CODE.name))[1]
