"""A button that makes a file when it is pressed."""

from __future__ import annotations

import logging
from collections.abc import Callable
from typing import Any, ClassVar

import traitlets

from scenariokit.errors import ScenarioKitError
from scenariokit.language import mark, tr
from scenariokit.widgets.page_code import FILE_SAVER
from scenariokit.widgets.page_widget import PageWidget
from scenariokit.widgets.worded import Worded

log = logging.getLogger(__name__)


class FileSaver(Worded, PageWidget):
    """A button; the content is made afresh at each press and downloaded.

    Parameters
    ----------
    make : callable
        Returns the content: text (sent as UTF-8) or bytes.
    label : str
        Text on the button.
    help : str
        One line below it.
    filename : str
        Name of the file.
    mime : str
        Media type, such as ``"text/csv"``.
    """

    WORDS: ClassVar[dict[str, str]] = {
        "preparing": mark("Preparing …"),
        "lost": mark(
            "No answer came. The page may have lost its connection; reload it and try again."
        ),
        "handed": mark("{name} was handed to your browser."),
    }

    CODE = FILE_SAVER
    label = traitlets.Unicode().tag(sync=True)
    help = traitlets.Unicode("").tag(sync=True)
    filename = traitlets.Unicode("file.txt").tag(sync=True)
    mime = traitlets.Unicode("text/plain").tag(sync=True)

    @traitlets.default("label")
    def _default_label(self) -> str:
        return tr("Save")

    def __init__(self, make: Callable[[], str | bytes], **traits: Any) -> None:
        super().__init__(**traits)
        self._make = make
        self.on_msg(self._received)

    def _received(self, _widget: Any, content: dict[str, Any], _buffers: list[Any]) -> None:
        """Answer the view that asked with the content or with what is wrong."""
        if content.get("kind") != "want":
            return
        view = content["view"]
        try:
            made = self._make()
        except ScenarioKitError as error:
            self.send({"kind": "refused", "view": view, "text": str(error)})
        except Exception:  # the one guard around callbacks; the traceback goes to the log
            log.exception("making %s", self.filename)
            text = tr("{name} could not be made, because of a fault in this program.",
                      name=self.filename)  # fmt: skip
            self.send({"kind": "refused", "view": view, "text": text})
        else:
            packed = made.encode("utf-8") if isinstance(made, str) else made
            answer = {"kind": "content", "view": view, "filename": self.filename, "mime": self.mime}
            self.send(answer, buffers=[packed])
