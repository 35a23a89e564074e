"""A whole board in an address: packed, deflated with a dictionary, checked, in letters and digits."""

from __future__ import annotations

import base64
import binascii
import functools
import re
import zlib
from importlib import resources
from typing import NoReturn

from scenariokit.errors import ScenarioFileError
from scenariokit.language import mark, tr
from scenariokit.widgets.board_packing import packed, unpacked

VERSION = "1"
"""The version of links that are made; each has a dictionary of its own, never changed afterwards."""
VERSIONS = ("1",)
MOST_IN_LINK = 30_000
"""Characters of a payload; browsers take more, mail and chat programs break much less."""
MOST_PACKED = 1_000_000
"""Bytes that a payload may grow to."""
_CHECK_BYTES = 4
_WINDOW = -15  # raw deflate, the largest window
_LETTERS = re.compile(r"[A-Za-z0-9_-]+")

_INCOMPLETE = mark("{place} is incomplete: its end is missing. Copy the whole of it again.")
_DAMAGED = mark(
    "{place} is damaged: some of its characters were changed on the way. Ask for it again."
)


@functools.cache
def dictionary(version: str) -> bytes:
    """Return the text that links of a version take phrases from."""
    name = f"board_link_{version}.txt"
    return resources.files(__package__).joinpath("static", name).read_bytes()


def link_payload(text: str, most: int = MOST_IN_LINK) -> str:
    """Return a board as a short text of letters, digits, ``-``, ``_`` and one dot.

    Parameters
    ----------
    text : str
        What `board_file.board_text` wrote.
    most : int
        How many characters it may have.

    Raises
    ------
    ScenarioFileError
        If it would be longer.
    """
    squeezer = zlib.compressobj(9, zlib.DEFLATED, _WINDOW, 9, zdict=dictionary(VERSION))
    squeezed = squeezer.compress(packed(text).encode("utf-8")) + squeezer.flush()
    check = zlib.crc32(squeezed).to_bytes(_CHECK_BYTES, "big")
    letters = base64.urlsafe_b64encode(check + squeezed).decode("ascii").rstrip("=")
    payload = f"{VERSION}.{letters}"
    if len(payload) > most:
        raise ScenarioFileError(
            tr(
                "This board would make a link of {length:,} characters, and a link has at most "
                "{most:,}; save the board as a file and send that instead.",
                length=len(payload),
                most=most,
            )
        )
    return payload


def read_link_payload(payload: str, name: str = "", most: int = MOST_IN_LINK) -> str:
    """Return the board's JSON text in a payload; `board_file.read_board` checks what it holds.

    Parameters
    ----------
    payload : str
        What `link_payload` made, by this version or an older one.
    name : str
        What to call it in messages; "the link" if left out.
    most : int
        How many characters it may have.

    Raises
    ------
    ScenarioFileError
        If it is of an unknown version, cut off, damaged or too large.
    """
    name = name or tr("The link")
    if len(payload) > most:
        raise ScenarioFileError(
            tr(
                "{place} has {length:,} characters; at most {most:,} are read.",
                place=name,
                length=len(payload),
                most=most,
            )
        )
    version, dot, letters = "".join(payload.split()).partition(".")
    if not dot or not re.fullmatch(r"[0-9]{1,4}", version):
        _fail(mark("{place} holds no board that this program could have written."), name)
    if version not in VERSIONS:
        raise ScenarioFileError(
            tr(
                "{place} is of version {version}, and this scenariokit reads {known}; install a "
                "newer scenariokit to open it.",
                place=name,
                version=version,
                known=", ".join(VERSIONS),
            )
        )
    return unpacked(_inflated(_bytes_of(letters, name), version, name), name)


def _fail(message: str, name: str) -> NoReturn:
    raise ScenarioFileError(tr(message, place=name))


def _bytes_of(letters: str, name: str) -> bytes:
    """Return what the letters stand for."""
    if letters and not _LETTERS.fullmatch(letters):
        _fail(_DAMAGED, name)
    if len(letters) % 4 == 1:  # no whole number of bytes: a letter was lost
        _fail(_INCOMPLETE, name)
    try:
        return base64.urlsafe_b64decode(letters + "=" * (-len(letters) % 4))
    except (binascii.Error, ValueError) as error:
        raise ScenarioFileError(tr(_DAMAGED, place=name)) from error


def _inflated(content: bytes, version: str, name: str) -> str:
    """Return the packed board, inflated no further than a board can be long."""
    check, squeezed = content[:_CHECK_BYTES], content[_CHECK_BYTES:]
    stretcher = zlib.decompressobj(_WINDOW, zdict=dictionary(version))
    try:
        found = stretcher.decompress(squeezed, MOST_PACKED)
    except zlib.error as error:
        raise ScenarioFileError(tr(_DAMAGED, place=name)) from error
    if not stretcher.eof and len(found) >= MOST_PACKED:
        raise ScenarioFileError(
            tr(
                "{place} holds more than {most:,} bytes, which no board has.",
                place=name,
                most=MOST_PACKED,
            )
        )
    if not stretcher.eof:
        _fail(_INCOMPLETE, name)
    if stretcher.unused_data or zlib.crc32(squeezed).to_bytes(_CHECK_BYTES, "big") != check:
        _fail(_DAMAGED, name)
    try:
        return found.decode("utf-8")
    except UnicodeDecodeError as error:
        raise ScenarioFileError(tr(_DAMAGED, place=name)) from error
