"""Text of a study file: what can be shown safely, what cannot be the name of a folder."""

from __future__ import annotations

import errno
import json
import os
import re
import tomllib
import unicodedata
from pathlib import Path
from typing import Any

SIZE_MAX = 1_000_000  # of a file that people write
_SHOWN_LENGTH = 60
_PARTS_MAX = 50
_QUOTED = r"""(?:"[^"\n]*"|'[^'\n]*')"""
_PART = re.compile(rf"(?:\w|-|{_QUOTED})[ \t]*\.[ \t]*(?=[\w\"'-])")
_KEY = re.compile(rf"\s*(?:(\[.*\])|((?:[\w.\- ]|{_QUOTED})+?)\s*=)")
_DIRECTIONS = frozenset({"LRE", "RLE", "LRO", "RLO", "PDF", "LRI", "RLI", "FSI", "PDI"})
_RESERVED = frozenset(
    {"con", "prn", "aux", "nul"}
    | {f"{port}{number}" for port in ("com", "lpt") for number in range(10)}
)


def one_line(text: object) -> str:
    """Return a text on one line, without hidden characters."""
    return "".join(c if c.isprintable() else "?" for c in str(text))


def clipped(text: object) -> str:
    """Return a text on one line, without hidden characters, cut to a readable length."""
    line = one_line(str(text)[: _SHOWN_LENGTH + 1])
    return line if len(line) <= _SHOWN_LENGTH else f"{line[:_SHOWN_LENGTH]}..."


def file_name(text: str) -> str:
    """Return a name of a file as the operating system has it, in whatever locale.

    Names in a study are UTF-8, and so are those on disk, also where the locale knows ASCII only.
    """
    try:
        os.fsencode(text)
    except UnicodeEncodeError:
        return os.fsdecode(text.encode("utf-8"))
    return text


def is_hidden(character: str) -> bool:
    """Tell whether a character steers a terminal or the direction of text instead of showing.

    Line breaks and tabs are no such characters; nor is what scripts need inside of words.
    """
    if character in "\n\t":
        return False
    return (
        unicodedata.category(character) in {"Cc", "Cs", "Zl", "Zp"}
        or unicodedata.bidirectional(character) in _DIRECTIONS
    )


def hidden_character(text: str) -> str:
    """Name the first character that must not be in a text (``U+001B``), empty if there is none."""
    if text.isascii() and text.isprintable():
        return ""
    return next((f"U+{ord(c):04X}" for c in text.replace("\r\n", "\n") if is_hidden(c)), "")


def printable(text: str) -> str:
    """Return a text with every character that steers a terminal shown as a question mark."""
    if text.isascii() and text.replace("\n", "").isprintable():
        return text
    return "".join("?" if is_hidden(c) else c for c in text)


class FileError(Exception):
    """A file that cannot be taken; the message says why and what was expected."""


def small_file(path: Path, noun: str, got: str = "", *, pipes: bool = False) -> bytes:
    """Return what is in a file of at most 1 MB.

    Parameters
    ----------
    path : of the file
    noun : what is expected, such as ``a card``
    got : what the user wrote, for the message
    pipes : whether it may be a pipe or a device

    Raises
    ------
    FileError
        If that cannot be read.
    """
    expected = (f", got {got}" if got else "") + f", expected {noun}"
    try:
        if path.is_dir():
            raise FileError(f"a folder{expected}")
        if not pipes and not path.is_file():
            raise FileNotFoundError(errno.ENOENT, os.strerror(errno.ENOENT))
        with path.open("rb") as file:
            data = file.read(SIZE_MAX + 1)
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise FileError(f"cannot be read ({reason}){expected}") from None
    if len(data) > SIZE_MAX:
        raise FileError(f"too large, got more than 1 MB, expected {noun} of at most 1 MB")
    return data


def small_text(path: Path, noun: str, got: str = "", *, pipes: bool = False) -> str:
    """Return the text of a file of at most 1 MB, as :func:`small_file` does.

    Raises
    ------
    FileError
        If there is no text to be had.
    """
    data = small_file(path, noun, got, pipes=pipes)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise FileError(not_utf8(data, error)) from None


def not_utf8(data: bytes, error: UnicodeDecodeError) -> str:
    """Say what a file is that is no UTF-8 text, and what to do."""
    wide = data[:2] in {b"\xff\xfe", b"\xfe\xff"}
    what = "got UTF-16" if wide else f"got byte 0x{data[error.start]:02x} at {error.start}"
    return f"not UTF-8 text, {what}, expected text in UTF-8 (save the file again as UTF-8)"


def toml_fault(text: str, error: ValueError) -> str:
    """Say what is not TOML in a text, and which key it is that stands twice."""
    place = re.search(r"at line (\d+)", str(error))
    twice = re.match(r"Cannot (overwrite|declare|mutate)", str(error))
    if not place or not twice:
        return str(error)
    upto = reversed(text.splitlines()[: int(place[1])])
    key = next((found[1] or found[2] for found in map(_KEY.match, upto) if found), "")
    return f"{key.strip()} is there twice: {error}" if key else str(error)


def too_deep(text: str) -> int:
    """Return the first line whose key has more parts than any study needs, or 0.

    Such a key takes the reader of TOML time and memory by the square of its parts.
    """
    if text.count(".") <= _PARTS_MAX:
        return 0
    for number, line in enumerate(text.splitlines(), 1):
        if line.count(".") > _PARTS_MAX and len(_PART.findall(line)) > _PARTS_MAX:
            return number
    return 0


def study_content(text: str) -> dict[str, Any]:
    """Content of the text of a study that was checked; one made in Python is kept as JSON."""
    return dict(json.loads(text) if text.lstrip().startswith("{") else tomllib.loads(text))


def is_reserved(name: str) -> bool:
    """Tell whether some operating system keeps a name for a device, whatever its extension."""
    return name.partition(".")[0].casefold() in _RESERVED
