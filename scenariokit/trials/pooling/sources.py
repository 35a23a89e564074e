"""Where pooled records come from: a folder, or files one by one."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import NoReturn, TypeAlias

from scenariokit.catalog.sources import MAX_BYTES
from scenariokit.errors import Problem, RecordError
from scenariokit.language import tr

FileLike: TypeAlias = str | Path | tuple[str, bytes]
"""The path of a file, or the name and the content of one."""

_ENDINGS = (".csv", ".xlsx")

CHUNK_FILES = 64
CHUNK_BYTES = 2_000_000


@dataclass(frozen=True)
class PoolFile:
    """One file of a pool.

    Parameters
    ----------
    name : str
        Its name in tables and messages: the path below the folder, or as given.
    content : Path or bytes
        Where it is, or what it holds.
    """

    name: str
    content: Path | bytes

    @property
    def size(self) -> int:
        """The number of bytes; zero for a file that cannot be looked at."""
        if isinstance(self.content, bytes):
            return len(self.content)
        try:
            return self.content.stat().st_size
        except (OSError, ValueError):
            return 0

    @property
    def is_study(self) -> bool:
        """Whether the name says that this is the sheet of a study, not plot records."""
        stem = Path(self.name).stem.casefold()
        return stem == "study" or stem.endswith(("_study", "-study"))

    def read(self) -> bytes:
        """Return the content.

        Raises
        ------
        RecordError
            If the file cannot be opened or is larger than the reader of tables takes.
        """
        if self.size > MAX_BYTES:
            self._refuse(
                tr("has {size:.1f} MB", size=self.size / 1e6),
                tr("{most:g} MB or less", most=MAX_BYTES / 1e6),
            )
        if isinstance(self.content, bytes):
            return self.content
        try:
            return self.content.read_bytes()
        except (OSError, ValueError) as error:
            reason = getattr(error, "strerror", None) or str(error)
            self._refuse(tr("cannot be opened: {reason}", reason=reason))

    def hash(self) -> str:
        """Return the hash of the content; empty if it cannot be read."""
        try:
            return content_hash(self.read())
        except RecordError:
            return ""

    def _refuse(self, reason: str, allowed: str = "") -> NoReturn:
        raise RecordError([Problem("file", "", reason, allowed, file=self.name)]) from None


def content_hash(content: bytes) -> str:
    """Return the first 16 hexadecimal digits of the SHA-256 hash of `content`.

    Examples
    --------
    >>> from scenariokit.trials.pooling.sources import content_hash
    >>> content_hash(b"")
    'e3b0c44298fc1c14'
    """
    return hashlib.sha256(content).hexdigest()[:16]


def files_of(source: str | Path | Iterable[FileLike], apart: Path | None = None) -> list[PoolFile]:
    """Return the files of a folder in the order of their names, or those given.

    Parameters
    ----------
    source : path or iterable
        A folder, looked through with all below it; or paths, or pairs of a name
        and the bytes of a file, in their own order.
    apart : Path, optional
        A folder whose files are left out: that of the pool itself.

    Returns
    -------
    list of PoolFile
        CSV and XLSX files only, where a folder is looked through; hidden files
        and the lock files of spreadsheet programs are left out.

    Raises
    ------
    RecordError
        If the folder does not exist, there is no file, or two have one name.
    """
    if isinstance(source, str | Path):
        folder = Path(source)
        if not folder.is_dir():
            problem = Problem(
                "folder", str(source), tr("is no folder"), tr("a folder with CSV or XLSX")
            )
            raise RecordError([problem], "pool")
        files = list(_below(folder, apart))
    else:
        files = [_given(one) for one in source]
    if not files:
        raise RecordError(
            [Problem("files", "", tr("there are none"), tr("CSV or XLSX files"))], "pool"
        )
    problems = []
    seen: set[str] = set()
    for file in files:
        if file.name in seen:
            problems.append(
                Problem("files", file.name, tr("names two files"), tr("each name once"))
            )
        seen.add(file.name)
    if problems:
        raise RecordError(problems, "pool")
    return files


def _below(folder: Path, apart: Path | None) -> Iterator[PoolFile]:
    """Yield the tables below `folder`."""
    own = apart.resolve() if apart is not None else None
    for path in sorted(folder.rglob("*")):
        inside = path.relative_to(folder)
        if path.suffix.casefold() not in _ENDINGS or not path.is_file():
            continue
        if any(part.startswith((".", "~$")) for part in inside.parts):
            continue
        if own is not None and own in path.resolve().parents:
            continue
        yield PoolFile(_plain(inside.as_posix()), path)


def _given(one: FileLike) -> PoolFile:
    if isinstance(one, tuple):
        return PoolFile(_plain(one[0]), bytes(one[1]))
    return PoolFile(_plain(Path(one).as_posix()), Path(one))


def _plain(name: str) -> str:
    """Return a name that can be written: file systems allow bytes that are no text."""
    return name.encode("utf-8", "replace").decode("utf-8")


def chunks(files: Sequence[PoolFile]) -> Iterator[list[PoolFile]]:
    """Yield the files in groups that are read and checked at once, of bounded size."""
    group: list[PoolFile] = []
    size = 0
    for file in files:
        if group and (len(group) == CHUNK_FILES or size + file.size > CHUNK_BYTES):
            yield group
            group, size = [], 0
        group.append(file)
        size += file.size
    if group:
        yield group
