"""How far a long computation has come, and how a person stops it."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from typing import TextIO

from scenariokit.errors import ScenarioKitError
from scenariokit.language import mark, tr

Progress = Callable[[int, int], None]
"""Told how many draws are done, and of how many; it may raise `Stopped`."""

BAR_WIDTH = 40
PATIENCE = 1.0
"""Seconds that a person waits without asking what is going on."""


class Stopped(ScenarioKitError):  # noqa: N818 - nothing failed
    """A person stopped a long computation; nothing of it is kept."""


class ProgressLine:
    """A line of text that shows how far a computation has come, once it takes more than a second.

    Parameters
    ----------
    what : str
        What is counted, for example ``"draws"``.
    stream : text file, optional
        Where it is drawn, over its last line; standard error if left out.
    patience : float
        Seconds before it is first shown; a short computation shows nothing.
    clock : callable, optional
        Gives the time in seconds.

    Notes
    -----
    Use it as `progress` and as a context: leaving it ends the line, also when
    the computation was stopped by Ctrl-C.

    Examples
    --------
    >>> import io
    >>> shown = io.StringIO()
    >>> with ProgressLine("draws", stream=shown, patience=0.0) as line:
    ...     line(500, 1000)
    >>> "500 of 1000 draws" in shown.getvalue()
    True
    """

    def __init__(
        self,
        what: str = mark("draws"),
        *,
        stream: TextIO | None = None,
        patience: float = PATIENCE,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self._what, self._clock, self._patience = what, clock, patience
        self._stream = sys.stderr if stream is None else stream
        self._begun, self._shown = clock(), False

    def __call__(self, done: int, total: int) -> None:
        """Draw the line anew, if the computation has taken long enough for one."""
        if not self._shown and self._clock() - self._begun < self._patience:
            return
        self._shown = True
        filled = BAR_WIDTH * done // max(total, 1)
        bar = "#" * filled + "." * (BAR_WIDTH - filled)
        counted = tr("{done} of {total} {things}", done=done, total=total, things=tr(self._what))
        self._stream.write(f"\r[{bar}] {counted}")
        self._stream.flush()

    def __enter__(self) -> ProgressLine:
        """Start the clock."""
        self._begun = self._clock()
        return self

    def __exit__(self, *_: object) -> None:
        """End the line, if there is one."""
        if self._shown:
            self._stream.write("\n")
            self._stream.flush()
