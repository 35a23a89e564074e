"""A folder into which the rooms of a class hand their results: files in, files out."""

from __future__ import annotations

import os
import re
import secrets
import tempfile
import unicodedata
from dataclasses import dataclass
from pathlib import Path

from scenariokit.errors import Problem, RecordError
from scenariokit.language import mark, tr

MAX_FILES = 300
"""Files of a wall; a class hands in forty, and each may hand in several."""
MAX_SENT_BYTES = 300_000
"""Largest file that a page writes into the folder: some two thousand plots."""
LONGEST_GROUP = 40

ENDINGS = (".csv", ".xlsx", ".json")

_SENT = re.compile(r"^(?P<group>.+) wall-[0-9a-f]{12}\.csv$")
_KEPT = re.compile(r" (kept-[0-9a-f]{8}|wall-[0-9a-f]{12})$")
_NOT_IN_NAMES = re.compile(r"[^\w \-]+")

NO_GROUP = mark("group")


@dataclass(frozen=True)
class FoundFile:
    """A file that lies in the folder of a wall.

    Parameters
    ----------
    name : str
        Its name.
    path : Path
        Where it is.
    size : int
        Bytes.
    stamp : int
        When it was last changed [ns].
    """

    name: str
    path: Path
    size: int
    stamp: int


def files_in(folder: Path) -> tuple[FoundFile, ...]:
    """Return the files of a folder that may be results, by name.

    Parameters
    ----------
    folder : Path
        The folder; what lies in folders below it does not count.

    Returns
    -------
    tuple of FoundFile
        CSV, XLSX and JSON. Hidden files, lock files of spreadsheet programs and
        links are left out: a link could lead anywhere.

    Raises
    ------
    RecordError
        If the folder cannot be looked into.
    """
    try:
        entries = sorted(os.scandir(folder), key=lambda one: one.name)
    except OSError as error:
        reason = tr("cannot be looked into: {why}", why=error.strerror or str(error))
        raise RecordError([Problem("folder", str(folder), reason, tr("a folder"))]) from error
    found = []
    for entry in entries:
        if entry.name.startswith((".", "~$")) or not entry.is_file(follow_symlinks=False):
            continue
        if Path(entry.name).suffix.casefold() not in ENDINGS:
            continue
        try:
            known = entry.stat(follow_symlinks=False)
        except FileNotFoundError:
            continue  # taken away between the listing and the look
        name = entry.name.encode("utf-8", "replace").decode("utf-8")
        found.append(FoundFile(name, Path(entry.path), known.st_size, known.st_mtime_ns))
    return tuple(found)


def group_name(text: str) -> str:
    """Return what a group calls itself, as it can stand in the name of a file.

    Letters of any script, digits, spaces and hyphens are kept, 40 of them at most.

    Examples
    --------
    >>> group_name("../Les Pommes <b>n° 3</b>")
    'Les Pommes bn 3b'
    """
    plain = _NOT_IN_NAMES.sub("", unicodedata.normalize("NFC", text)).replace("_", " ")
    return " ".join(plain.split())[:LONGEST_GROUP].strip(" -")


def sent_group(name: str) -> str:
    """Return the group of a file that `write_sent` wrote, or an empty text for any other file.

    Examples
    --------
    >>> sent_group("Table 3 wall-0123456789ab.csv"), sent_group("my_trial.csv")
    ('Table 3', '')
    """
    found = _SENT.match(name)
    return found["group"] if found else ""


def plain_stem(name: str) -> str:
    """Return the name of a file without its ending and without the digits that a wall adds.

    Examples
    --------
    >>> plain_stem("Table 3 kept-01234567.json"), plain_stem("board.json")
    ('Table 3', 'board')
    """
    return _KEPT.sub("", Path(name).stem)


def write_sent(folder: Path, text: str, group: str, *, replaces: Path | None = None) -> Path:
    """Write a checked table into the folder of a wall, whole or not at all.

    Parameters
    ----------
    folder : Path
        Where the wall looks.
    text : str
        The table, numbers with a decimal point and units in the headings.
    group : str
        What the group calls itself.
    replaces : Path, optional
        A file that the same page wrote before; it is removed when the new one stands.

    Returns
    -------
    Path
        The file: the group's name and twelve random digits.

    Raises
    ------
    RecordError
        If the table is too large, the folder is full, or it cannot be written to.
    """
    content = text.encode("utf-8")
    if len(content) > MAX_SENT_BYTES:
        reason = tr("is too large to be sent: {size:.0f} kB", size=len(content) / 1000)
        allowed = tr("{size:.0f} kB or less", size=MAX_SENT_BYTES / 1000)
        raise RecordError([Problem("records", "", reason, allowed)])
    _refuse_if_full(folder)
    name = group_name(group) or tr(NO_GROUP)
    path = folder / f"{name} wall-{secrets.token_hex(6)}.csv"
    _write_whole(path, content)
    if replaces is not None and replaces != path:
        replaces.unlink(missing_ok=True)
    return path


def keep_file(folder: Path, name: str, content: bytes) -> Path:
    """Keep a file that was loaded at the wall's page in its folder, whole or not at all.

    Parameters
    ----------
    folder : Path
        Where the wall looks.
    name : str
        The file's own name; of it what is harmless is kept.
    content : bytes
        What it holds.

    Returns
    -------
    Path
        The file, with eight random digits in its name.

    Raises
    ------
    RecordError
        If the folder is full, or it cannot be written to.
    """
    _refuse_if_full(folder)
    stem = group_name(Path(name).stem) or tr(NO_GROUP)
    ending = Path(name).suffix.casefold()
    if ending not in ENDINGS:
        ending = ".xlsx" if content.startswith(b"PK") else ".csv"
    path = folder / f"{stem} kept-{secrets.token_hex(4)}{ending}"
    _write_whole(path, content)
    return path


def _refuse_if_full(folder: Path) -> None:
    if len(files_in(folder)) >= MAX_FILES:
        reason = tr("is full: {count} files lie in it", count=MAX_FILES)
        raise RecordError([Problem("wall", "", reason, tr("tell the facilitator"))])


def _write_whole(path: Path, content: bytes) -> None:
    """Write a file under a hidden name and give it its own when it is complete."""
    try:
        number, begun = tempfile.mkstemp(prefix=".wall-", dir=path.parent)
        try:
            with os.fdopen(number, "wb") as handle:
                handle.write(content)
            Path(begun).chmod(0o644)  # the facilitator may be another user of this computer
            Path(begun).replace(path)
        except BaseException:
            Path(begun).unlink(missing_ok=True)
            raise
    except OSError as error:
        reason = tr("cannot be written to: {why}", why=error.strerror or str(error))
        allowed = tr("tell the facilitator, or hand the file over")
        raise RecordError([Problem("wall", "", reason, allowed)]) from error
