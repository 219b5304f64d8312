"""The cheap chunks can be imported here and in worker processes."""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

HERE = str(Path(__file__).parent)
sys.path.insert(0, HERE)  # multiprocessing hands the path down to worker processes


@pytest.fixture
def note(tmp_path: Path) -> Path:
    """File in which every chunk that is done writes its number, process and cores."""
    return tmp_path / "note.txt"
