"""Whatever a study holds, the check answers with a study or with words."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from copy import deepcopy
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from mdo.study import Study, StudyError, load_study, study_from_dict

STUDIES = Path(__file__).parents[2] / "studies"
TEXT = (STUDIES / "deck_medium.toml").read_text(encoding="utf-8")
CONTENT = tomllib.loads(TEXT)
UNITS = st.sampled_from(
    ["m", "kg", "deg", "degC", "K", "%", "", "N*m", "s", "kt", "m**", "^", "1/0"]
)
VALUES = st.recursive(
    st.one_of(
        st.none(), st.booleans(), st.integers(), st.floats(), st.text(max_size=8),
        st.builds(lambda number, unit: f"{number} {unit}", st.floats(-1e3, 1e3), UNITS),
    ),
    lambda inner: st.one_of(
        st.lists(inner, max_size=2), st.dictionaries(st.text(max_size=8), inner, max_size=2)
    ),
    max_leaves=4,
)  # fmt: skip


def places(table: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    keys = table.items() if isinstance(table, dict) else enumerate(table)
    found = [path]
    for key, value in keys:
        found += places(value, (*path, key)) if isinstance(value, dict | list) else [(*path, key)]
    return found


def problems_of(read: Callable[[], Study]) -> list[str]:
    try:
        read()
    except StudyError as error:
        return error.problems
    return []


@settings(max_examples=200, deadline=None)
@given(st.sampled_from(places(CONTENT)[1:]), VALUES)
def test_any_value_anywhere_is_a_study_or_words(path: tuple[Any, ...], value: object) -> None:
    content = deepcopy(CONTENT)
    here: Any = content
    for key in path[:-1]:
        here = here[key]
    here[path[-1]] = value
    found = problems_of(lambda: study_from_dict(content, folder=STUDIES))
    assert all("\n" not in line and "expected" in line for line in found)


@settings(max_examples=100, deadline=None)
@given(st.integers(0, len(TEXT)), st.integers(0, 40), st.binary(max_size=6))
def test_any_damage_to_the_file_is_a_study_or_words(
    tmp_path_factory: pytest.TempPathFactory, place: int, cut: int, insert: bytes
) -> None:
    path = tmp_path_factory.getbasetemp() / "damaged.toml"
    data = TEXT.encode()
    path.write_bytes(data[:place] + insert + data[place + cut :])
    assert all(line.startswith(f"{path}: ") for line in problems_of(lambda: load_study(path)))
