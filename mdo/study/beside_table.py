"""What a table of hinge moments makes of the fields of the cases: a warning that names them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from mdo.study.reader import Reader

# These fields act by the air alone, and a table brings the moments of the air itself. A load factor
# is none of them: it acts on the weight of the panel too.
_AIR_LOAD = ("wind_speed", "gust_speed", "sideslip")


def warn_beside_table(
    reader: Reader, tables: Iterable[object], values: Iterable[Mapping[str, Any]]
) -> None:
    """Name the fields that the study gives and whose air load the table replaces.

    Parameters
    ----------
    reader
        Takes the warning.
    tables, values
        The cases as the file gives them and as they were read, in the same order.
    """
    found: dict[str, list[str]] = {}
    for table, case in zip(tables, values, strict=True):
        if not isinstance(table, Mapping) or case.get("kind") == "soak":
            continue
        back = table.get("return")
        given = {*table, *(back if isinstance(back, Mapping) else ())}
        for name in _AIR_LOAD:
            if name in given:
                found.setdefault(name, []).append(str(case.get("id", "?")))
    if found:
        named = "; ".join(f"{name} in {', '.join(cases)}" for name, cases in found.items())
        reader.warn(
            "actuator.table",
            "its moments stand for all loads of the air, so these fields have no effect but on the "
            f"friction of the bearings: {named}; see to it that the table holds for them",
        )
