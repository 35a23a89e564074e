"""One family of errors, each saying what, where, which value and what is allowed."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from scenariokit.language import mark, tr, tr_n

_PLAIN_WORDS = (
    mark("file"), mark("files"), mark("folder"), mark("group"), mark("records"), mark("row"),
    mark("wall"), mark("tanks"),
)  # fmt: skip
"""What a problem may be about that is no name of a column or of an argument."""


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong, said so that a person can mend it.

    Parameters
    ----------
    field : str
        The argument, column or field at fault.
    value : str
        The offending value as it was given.
    reason : str
        What is wrong with it.
    allowed : str
        The allowed range, unit or set of values.
    example : str
        A value that would be accepted.
    file, row : str, int
        Where it stands, when it came from a file. Rows count from 1 and the
        heading is row 1, as a spreadsheet shows them.
    kind : str
        ``"unit"``, ``"range"`` or ``"record"``.
    """

    field: str
    value: str
    reason: str
    allowed: str = ""
    example: str = ""
    file: str = ""
    row: int | None = None
    kind: str = "record"

    def __str__(self) -> str:
        """Return the problem as one line."""
        place = self.file
        if self.row is not None:
            row = tr("row {number}", number=self.row)
            place = f"{place}, {row}" if place else row
        head = f"{place}: " if place else ""
        given = f" = {shorten(self.value)}" if self.value else ""
        field = tr(self.field) if self.field in _PLAIN_WORDS else self.field
        parts = [f"{head}{field}{given}: {self.reason}"]
        if self.allowed:
            parts.append(tr("allowed: {allowed}", allowed=self.allowed))
        if self.example:
            parts.append(tr("for example {example}", example=self.example))
        return "; ".join(parts)


def shorten(text: str, width: int = 60) -> str:
    """Return `text` cut to `width` characters, so that a message stays readable."""
    flat = " ".join(text.split())
    return flat if len(flat) <= width else f"{flat[: width - 1]}…"


class ScenarioKitError(Exception):
    """Base of every error that scenariokit raises on purpose."""


class ProblemsError(ScenarioKitError, ValueError):
    """An error that lists one or more `Problem` rows."""

    def __init__(self, problems: Iterable[Problem], subject: str = "") -> None:
        self.problems = tuple(problems)
        self.subject = subject
        lines = [str(problem) for problem in self.problems]
        if len(lines) == 1:
            text = f"{subject}: {lines[0]}" if subject else lines[0]
        else:
            head = f"{subject}: " if subject else ""
            count = tr_n("{count} problem", "{count} problems", len(lines))
            text = f"{head}{count}\n" + "\n".join(f"  - {line}" for line in lines)
        super().__init__(text)

    def __reduce__(self) -> tuple[Any, ...]:
        """Carry the problems to another process, not the text made of them."""
        return (type(self), (self.problems, self.subject))


class ArgumentError(ProblemsError):
    """One or more arguments of a function are unusable."""


class UnitError(ArgumentError):
    """Every bad argument lacks its unit or has one of the wrong dimension."""


class RangeError(ArgumentError):
    """Every bad argument lies outside its allowed range."""


class RecordError(ProblemsError):
    """A file, or rows of it, cannot be used."""


class InfeasibleError(ScenarioKitError, ValueError):
    """The values are each valid but cannot hold together."""


class ScenarioFileError(ScenarioKitError, ValueError):
    """A scenario document cannot be read by this version."""


class ValidityWarning(UserWarning):
    """A value can be computed but lies outside what its source covers."""


def argument_error(problems: Iterable[Problem], subject: str) -> ArgumentError:
    """Return the narrowest error class that fits all `problems`."""
    rows = tuple(problems)
    kinds = {row.kind for row in rows}
    if kinds == {"unit"}:
        return UnitError(rows, subject)
    if kinds == {"range"}:
        return RangeError(rows, subject)
    return ArgumentError(rows, subject)
