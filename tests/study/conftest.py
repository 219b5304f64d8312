from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

STUDIES = Path(__file__).parents[2] / "studies"


@pytest.fixture
def content() -> dict[str, Any]:
    """The medium study as nested tables, fresh for each test."""
    return tomllib.loads((STUDIES / "deck_medium.toml").read_text(encoding="utf-8"))


@pytest.fixture
def problems(content: dict[str, Any]) -> Callable[[dict[str, object]], list[str]]:
    """What the check says about the medium study with fields changed (None removes one)."""
    from mdo.study import StudyError, study_from_dict

    def check(changes: dict[str, object]) -> list[str]:
        for path, value in changes.items():
            *steps, last = path.split("/")
            here: Any = content
            for step in steps:
                here = here[int(step)] if step.isdigit() else here.setdefault(step, {})
            key: Any = int(last) if last.isdigit() else last
            if value is None:
                del here[key]
            else:
                here[key] = value
        try:
            study_from_dict(content, folder=STUDIES)
        except StudyError as error:
            return error.problems
        return []

    return check
