"""Whether an alloy that a study names has a card that can be read."""

from __future__ import annotations

from pathlib import Path

from mdo.alloys import list_cards
from mdo.study.reader import Reader
from mdo.study.text import file_name, not_utf8, too_deep
from mdo.study.values import nearest, shown

SIZE_MAX = 1_000_000


def check_alloy(reader: Reader, alloy: str, folder: Path, path: str) -> None:
    """Note an alloy that has no card, or one whose file is no text of a card's size."""
    known = list(list_cards())
    if alloy in known:
        return
    if alloy.endswith(".toml") or "/" in alloy or "\\" in alloy:
        fault = _fault_of_file(folder / file_name(alloy))
        if fault:
            reader.problem(path, f"{fault}, got {shown(alloy)}, expected a card")
        return
    reader.problem(path, f"unknown alloy, {nearest(alloy, known)}; or the path of your own card")


def _fault_of_file(path: Path) -> str:
    """Say why a file cannot be a card; empty if it may be one."""
    try:
        if not path.is_file():
            return "no such file"
        with path.open("rb") as file:
            data = file.read(SIZE_MAX + 1)
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        return not_utf8(data, error)
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        return f"cannot be read ({getattr(error, 'strerror', None) or 'not a usable path'})"
    if len(data) > SIZE_MAX:
        return "too large for a card (over 1 MB)"
    return "nested too deeply" if too_deep(text) else ""
