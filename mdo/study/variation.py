"""Change fields of a study by their path."""

from __future__ import annotations

import re
from collections.abc import Mapping
from copy import deepcopy
from typing import Any

from mdo.study.reader import StudyError

_ITEM = re.compile(r"(?P<name>\w+)\[(?P<number>\d+)\]")


def vary(content: Mapping[str, Any], changes: Mapping[str, object], source: str) -> dict[str, Any]:
    """Return a deep copy of a study's content with values set by path.

    Parameters
    ----------
    content
        Nested tables of a study.
    changes
        Values by path: ``requirements.fold_time``, ``case.stow_wind.load_factor`` (a case by its
        id), ``vehicle.wing[2].chord`` (counted from 1), ``design.gear_ratio.upper``.
    source
        Name of the study for the messages.

    Raises
    ------
    StudyError
        With every path that leads nowhere.
    """
    varied = deepcopy(dict(content))
    problems = []
    for path, value in changes.items():
        try:
            keys = str(path).split(".")
            _table(varied, keys[:-1])[keys[-1]] = deepcopy(value)  # unknown names: the check
        except LookupError as error:
            problems.append(f"{source}: {path}: no such field, expected {error.args[0]}")
    if problems:
        raise StudyError(problems)
    return varied


def given(content: Mapping[str, Any], path: str) -> object:
    """Return what a study's content has at a path, as :func:`vary` takes them; None for nothing.

    Raises
    ------
    LookupError
        If the path leads through something that is no table, or to an item that is not there.
    """
    keys = path.split(".")
    return _table(deepcopy(dict(content)), keys[:-1]).get(keys[-1])


def _table(content: dict[str, Any], keys: list[str]) -> dict[str, Any]:
    """Return the table at some keys, made where it is not there.

    Raises
    ------
    LookupError
        If the path leads through something that is no table, or to an item that is not there.
    """
    here: Any = content
    steps = iter(keys)
    for key in steps:
        if here is content and key == "case":
            here = _case(content, next(steps, ""))
            continue
        item = _ITEM.fullmatch(key)
        here = _numbered(here, item) if item else here.setdefault(key, {})
        if not isinstance(here, dict):
            raise LookupError(f"a table at {key}")  # noqa: TRY004 - one kind for the caller
    return here  # type: ignore[no-any-return]


def _case(content: Mapping[str, Any], name: str) -> Any:
    """Return the case with this id."""
    known = {case.get("id"): case for case in content.get("case", []) if isinstance(case, dict)}
    if name not in known:
        raise LookupError(f"one of the cases {', '.join(map(str, known))}")
    return known[name]


def _numbered(here: Mapping[str, Any], item: re.Match[str]) -> Any:
    """Return one of an array of tables, counted from 1."""
    tables = here.get(item["name"], [])
    number = int(item["number"])
    if not isinstance(tables, list) or not 1 <= number <= len(tables):
        raise LookupError(f"a number from 1 to {len(tables)} after {item['name']}")
    return tables[number - 1]
