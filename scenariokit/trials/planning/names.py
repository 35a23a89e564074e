"""The names and numbers of a planned trial, checked."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import product

from scenariokit.errors import Problem, argument_error
from scenariokit.language import tr

Pair = tuple[str, str]
"""Treatment and variety."""


def is_name(text: object) -> bool:
    """Return whether `text` can name a thing: on one line, without blanks around it."""
    return isinstance(text, str) and text.isprintable() and text == text.strip() != ""


def treatment_pairs(
    subject: str, treatments: Sequence[str], varieties: Sequence[str], **counts: int
) -> list[Pair]:
    """Return every treatment with every variety, or refuse what cannot be.

    Raises
    ------
    ArgumentError
        With every fault.
    """
    problems = name_faults("treatments", treatments, 1)
    problems += name_faults("varieties", varieties, 0) + count_faults(**counts)
    if not problems and len(treatments) * max(len(varieties), 1) < 2:
        reason = tr("there is nothing to compare it with")
        problems.append(Problem("treatments", treatments[0], reason, tr("2 or more"), kind="range"))
    if problems:
        raise argument_error(problems, subject)
    return list(product(treatments, varieties or ("",)))


def name_faults(field: str, names: Sequence[str], least: int) -> list[Problem]:
    """Return what is wrong with a list of names."""
    if isinstance(names, str):
        reason = tr("is one text, not a list of names")
        return [Problem(field, names, reason, example=f"['{names}']", kind="range")]
    found = []
    for name in {repr(name): name for name in names}.values():
        if not is_name(name):
            reason = tr("is not a name")
            found.append(
                Problem(
                    field, repr(name), reason, tr("text without blanks around it"), kind="range"
                )
            )
        elif list(names).count(name) > 1:
            found.append(
                Problem(field, name, tr("stands twice"), tr("each name once"), kind="range")
            )
    if len(names) < least:
        reason = tr("holds {count} names", count=len(names))
        found.append(Problem(field, "", reason, tr("{least} or more", least=least), kind="range"))
    return found


def count_faults(*, least: int = 1, **counts: int) -> list[Problem]:
    """Return which numbers are no counts."""
    return [
        Problem(
            field,
            repr(count),
            tr("is not a possible number"),
            tr("{least} or more", least=least),
            kind="range",
        )
        for field, count in counts.items()
        if isinstance(count, bool) or not isinstance(count, int) or count < least
    ]
