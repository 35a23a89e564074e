"""A guide for those who do not see a page whole: by keyboard, by ear, or a piece at a time."""

from __future__ import annotations

from typing import ClassVar

from scenariokit.language import mark
from scenariokit.widgets.page_code import PAGE_GUIDE
from scenariokit.widgets.page_widget import PageWidget
from scenariokit.widgets.worded import Worded


class PageGuide(Worded, PageWidget):
    """A link past the controls, names of the page's regions, and the one live region of an app.

    Notes
    -----
    It stands first in the app's box. Whatever in there carries the attribute
    ``data-spoken`` and is in sight is read out after it changed, once nothing has
    changed for a second: a slider that is being moved does not flood anybody.
    Several that changed together are a list that a person then reads; the first
    of them is said.
    """

    WORDS: ClassVar[dict[str, str]] = {
        "skip": mark("Skip to the results"),
        "controls": mark("Controls"),
        "results": mark("Results"),
    }

    CODE = PAGE_GUIDE
