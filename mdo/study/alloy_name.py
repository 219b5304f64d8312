"""Whether an alloy that a study names has a card."""

from __future__ import annotations

from pathlib import Path

from mdo.alloys import list_cards
from mdo.study.reader import Reader, nearest, shown


def check_alloy(reader: Reader, alloy: str, folder: Path, path: str) -> None:
    """Note an alloy that has no card."""
    known = list(list_cards())
    if alloy in known:
        return
    if alloy.endswith(".toml") or "/" in alloy or "\\" in alloy:
        if not (folder / alloy).is_file():
            reader.problem(path, f"no such file, got {shown(alloy)}, expected a card")
        return
    reader.problem(path, f"unknown alloy, {nearest(alloy, known)}; or the path of your own card")
