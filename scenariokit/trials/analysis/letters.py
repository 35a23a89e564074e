"""Compact letters: means that share a letter are not shown to differ."""

from __future__ import annotations

import string
from collections.abc import Collection, Mapping

ALPHABET = string.ascii_lowercase + string.ascii_uppercase


def compact_letters(
    means: Mapping[str, float], different: Collection[tuple[str, str]]
) -> dict[str, str]:
    """Return letters for means: two share one if, and only if, they are not shown to differ.

    Parameters
    ----------
    means : mapping
        Name to mean.
    different : collection of pairs of names
        The pairs that differ, each in any order.

    Returns
    -------
    dict
        Name to letters, the highest mean first; it has an ``a``. Beyond 52 letters they go
        on as ``a'``.

    Raises
    ------
    ValueError
        If a pair names something that has no mean, or one name twice.

    Notes
    -----
    A shared letter does not say that two means are alike, only that this trial does not
    tell them apart.

    References
    ----------
    Piepho 2004, J. Computational and Graphical Statistics 13:456 (insert and absorb).

    Examples
    --------
    >>> compact_letters({"A": 4.0, "B": 5.0, "C": 6.0}, [("A", "C")])
    {'C': 'a', 'B': 'ab', 'A': 'b'}
    """
    for first, second in different:
        if first == second or first not in means or second not in means:
            raise ValueError(f"({first!r}, {second!r}) is no pair of {', '.join(means)}")
    ranked = sorted(means, key=lambda name: -means[name])
    place = {name: i for i, name in enumerate(ranked)}
    columns = [frozenset(place.values())]
    pairs = {tuple(sorted((place[first], place[second]))) for first, second in different}
    for pair in sorted(pairs):
        columns = _insert(columns, frozenset(pair))
    columns.sort(key=lambda column: sorted(column))
    marks = [_letter(i) for i in range(len(columns))]
    return {
        name: "".join(
            mark for mark, column in zip(marks, columns, strict=True) if place[name] in column
        )
        for name in ranked
    }


def _insert(columns: list[frozenset[int]], pair: frozenset[int]) -> list[frozenset[int]]:
    """Return columns of which none holds both of `pair`, and none lies within another."""
    split = []
    for column in columns:
        split += [column - {one} for one in sorted(pair)] if pair <= column else [column]
    unique = list(dict.fromkeys(split))
    return [column for column in unique if not any(column < other for other in unique)]


def _letter(number: int) -> str:
    turn, place = divmod(number, len(ALPHABET))
    return ALPHABET[place] + "'" * turn
