"""A control that takes a file from the person at the page."""

from __future__ import annotations

import logging
from collections.abc import Callable
from functools import partial
from typing import Any, ClassVar

import traitlets

from scenariokit.errors import ScenarioKitError
from scenariokit.language import mark, tr
from scenariokit.widgets.page_code import FILE_PICKER
from scenariokit.widgets.page_widget import PageWidget
from scenariokit.widgets.worded import Worded

log = logging.getLogger(__name__)

Reader = Callable[[str, bytes], str | None]
ManyReader = Callable[[list[tuple[str, bytes]]], str | None]


class FilePicker(Worded, PageWidget):
    """A labelled file input; the file goes to a function, never to a disk.

    Parameters
    ----------
    label : str
        What the file is for; shown above the control.
    help : str
        One line below it.
    accept : str
        Endings that the browser offers, such as ``".csv,.xlsx"``.
    max_bytes : int
        Greatest size, of all files together; more is refused on the page and
        never sent.
    multiple : bool
        Whether several files may be chosen at once; they then go to the readers
        of `on_files`, a single one too.
    message : str
        What became of the last file, in words.
    refused : bool
        Whether the last file was refused.
    """

    WORDS: ClassVar[dict[str, str]] = {
        "files": mark("{count} files"),
        "large": mark("{name} is too large: {size}; at most {most} are read."),
        "large_together": mark("{name} are too large together: {size}; at most {most} are read."),
        "reading": mark("Reading {name} …"),
        "unread": mark("{name} could not be read. Choose again; it may have been moved."),
        "bytes": mark("{count} bytes"),
    }

    CODE = FILE_PICKER
    label = traitlets.Unicode().tag(sync=True)
    help = traitlets.Unicode("").tag(sync=True)
    accept = traitlets.Unicode("").tag(sync=True)
    max_bytes = traitlets.Int(5_000_000, min=1).tag(sync=True)
    multiple = traitlets.Bool(False).tag(sync=True)
    message = traitlets.Unicode("", read_only=True).tag(sync=True)
    refused = traitlets.Bool(False, read_only=True).tag(sync=True)

    @traitlets.default("label")
    def _default_label(self) -> str:
        return tr("Choose a file")

    def __init__(self, **traits: Any) -> None:
        super().__init__(**traits)
        self._readers: list[Reader] = []
        self._many_readers: list[ManyReader] = []
        self.on_msg(self._received)

    def on_file(self, reader: Reader) -> None:
        """Call ``reader(name, content)`` with each file that is chosen.

        Parameters
        ----------
        reader : callable
            Gets the file's name and its bytes. Text that it returns is shown;
            the message of a `ScenarioKitError` that it raises is shown as a refusal.
        """
        self._readers.append(reader)

    def on_files(self, reader: ManyReader) -> None:
        """Call ``reader([(name, content), ...])`` with the files that are chosen together.

        Parameters
        ----------
        reader : callable
            Gets names and bytes; else as in `on_file`. Only where `multiple` is set.
        """
        self._many_readers.append(reader)

    def _received(self, _widget: Any, content: dict[str, Any], buffers: list[Any]) -> None:
        """Hand what arrived to the readers and say what became of it."""
        if content.get("kind") == "file":
            name, sent = str(content["name"]), bytes(buffers[0])
            tasks = [partial(one, name, sent) for one in self._readers]
        elif content.get("kind") == "files":
            names = [str(name) for name in content["names"]]
            files = [(name, bytes(part)) for name, part in zip(names, buffers, strict=True)]
            name = names[0] if len(names) == 1 else tr("{count} files", count=len(names))
            sent = b"".join(part for _, part in files)
            tasks = [partial(one, files) for one in self._many_readers]
        else:
            return
        if len(sent) > self.max_bytes:
            self._say(self._too_large(name, len(content.get("names", ()))), True)
            return
        try:
            words = [task() for task in tasks]
        except ScenarioKitError as error:
            self._say(str(error), True)
        except Exception:  # the one guard around callbacks; the traceback goes to the log
            log.exception("reading %s", name)
            fault = tr("{name} could not be used, because of a fault in this program.", name=name)
            self._say(fault, True)
        else:
            told = " ".join(word for word in words if word)
            arrived = tr("{name} has arrived ({size} bytes).", name=name, size=len(sent))
            self._say(told or arrived, False)

    def _too_large(self, name: str, files: int) -> str:
        if files > 1:
            return tr("{name} are too large together; at most {most} bytes are read.",
                      name=name, most=self.max_bytes)  # fmt: skip
        return tr("{name} is too large; at most {most} bytes are read.",
                  name=name, most=self.max_bytes)  # fmt: skip

    def _say(self, text: str, refused: bool) -> None:
        """Show a message, again even if it is the same as the last one."""
        with self.hold_sync():
            self.set_trait("refused", refused)
            self.set_trait("message", text)
        self.send({"kind": "message", "text": text, "refused": refused})
