"""Read the options of explorations: plain fields, ranges of axes, lists."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from mdo.study.exploring import (
    LAWS,
    OBJECTIVES,
    PLANS,
    SENSITIVITIES,
    TABLES,
    Ends,
)
from mdo.study.read_defence import read_choices
from mdo.study.reader import Reader, nearest, shown
from mdo.study.units import UnitError, split_quantity

SIZES = (0.25, 0.35, 0.5, 0.71, 1.0, 1.41, 2.0, 2.83, 4.0)
SIZE_RANGE = (0.05, 20.0)
LEVELS_MOST = 10_000
WORDS: Mapping[str, tuple[Sequence[str], Sequence[str]]] = {
    "objectives": (OBJECTIVES, ("system_mass", "fold_time")),
    "of": (SENSITIVITIES, ("design",)),
    "laws": (LAWS, LAWS),
}


def read_exploring(reader: Reader, given: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Return the plan of every exploration, by its name, as values of its fields."""
    plans = {}
    for name, plan in PLANS.items():
        path = f"analysis.{name}"
        table = reader.table(given.get(name, {}), path) or {}
        values = reader.section(plan, table, path, also=TABLES[name])
        for field in TABLES[name]:
            values[field] = _field(reader, table, path, field, folder)
        if values.get("sample") == "list" and not values.get("file"):
            reader.problem(f"{path}.file", 'missing, expected a CSV file (for sample = "list")')
        if name in given and name == "map" and not values["axes"]:
            reader.problem(
                f"{path}.axes",
                'empty, expected one axis or more, such as fold_time = ["200 s", "600 s"]',
            )
        plans[name] = values
    _check_objectives(reader, plans["front"]["objectives"])
    return plans


def _field(reader: Reader, table: Mapping[str, Any], path: str, field: str, folder: Path) -> Any:
    """Return one field that is a list or a table."""
    if field in WORDS:
        return _words(reader, table, path, field)
    if field == "choices":
        return read_choices(reader, table.get(field, {}), folder, f"{path}.{field}")
    if field == "sizes":
        return _sizes(reader, table, path)
    found = reader.table(table.get(field, {}), f"{path}.{field}") or {}
    read = _level if field == "levels" else _ends
    pairs = {name: read(reader, value, f"{path}.{field}.{name}") for name, value in found.items()}
    return {name: value for name, value in pairs.items() if value is not None}


def _ends(reader: Reader, given: object, where: str) -> Ends | None:
    """Return lowest and highest value as they are written."""
    if not isinstance(given, list | tuple) or len(given) != 2:
        reader.problem(where, f"wrong type, got {shown(given)}, expected lowest and highest value")
        return None
    for end in given:
        if isinstance(end, bool) or not isinstance(end, str | int | float):
            reader.problem(where, f"wrong type, got {shown(end)}, expected a quantity")
            return None
        try:
            number = split_quantity(end)[0] if isinstance(end, str) else float(end)
        except (UnitError, OverflowError) as error:
            reader.problem(where, str(error))
            return None
        if not math.isfinite(number):
            reader.problem(where, f"not a finite number, got {shown(end)}, expected a quantity")
            return None
    return given[0], given[1]


def _level(reader: Reader, given: object, where: str) -> int | None:
    """Return a number of levels."""
    if isinstance(given, bool) or not isinstance(given, int) or not 2 <= given <= LEVELS_MOST:
        reader.problem(
            where, f"no number of levels, got {shown(given)}, expected 2 to {LEVELS_MOST}"
        )
        return None
    return given


def _words(reader: Reader, table: Mapping[str, Any], path: str, field: str) -> tuple[str, ...]:
    """Return a list of known words."""
    known, default = WORDS[field]
    given = table.get(field, list(default))
    if not isinstance(given, list | tuple) or not all(isinstance(one, str) for one in given):
        reader.problem(
            f"{path}.{field}",
            f"wrong type, got {shown(given)}, expected a list of {', '.join(known)}",
        )
        return tuple(default)
    for one in given:
        if one not in known:
            reader.problem(f"{path}.{field}", f"unknown word, {nearest(one, known)}")
    if not given:
        reader.problem(f"{path}.{field}", f"empty, expected one or more of {', '.join(known)}")
    return tuple(dict.fromkeys(given))


def _sizes(reader: Reader, table: Mapping[str, Any], path: str) -> tuple[float, ...]:
    """Return the sizes of a family, in order."""
    given = table.get("sizes", list(SIZES))
    low, high = SIZE_RANGE
    numbers = isinstance(given, list | tuple) and all(
        isinstance(one, int | float) and not isinstance(one, bool) and low <= one <= high
        for one in given
    )
    if not numbers or len(set(given)) < 3 or len(given) > 1000:
        reader.problem(
            f"{path}.sizes",
            f"no list of sizes, got {shown(given)}, expected three or more different numbers from "
            f"{low:g} to {high:g}",
        )
        return SIZES
    return tuple(sorted({float(one) for one in given}))


def _check_objectives(reader: Reader, objectives: tuple[str, ...]) -> None:
    """Note a number of objectives that makes no front."""
    if len(objectives) not in {2, 3}:
        reader.problem(
            "analysis.front.objectives",
            f"got {len(objectives)}, expected two or three different ones of "
            f"{', '.join(OBJECTIVES)}",
        )
