"""Assumptions of the disciplines: defaults as data files, each value with origin and provenance."""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType
from typing import Any

from mdo.study.fields import Field
from mdo.study.reader import Reader
from mdo.study.units import si_unit_of

_DEFAULTS = Path(__file__).parent / "defaults"
_DIFFERENCE_MAX = 150.0  # a default in kelvin below this is a difference, not a temperature


@lru_cache(maxsize=1)
def assumption_fields() -> Mapping[str, Mapping[str, Field]]:
    """Return the fields of every group of assumptions (aero, thermal, ...), by name."""
    groups = {}
    for path in sorted(_DEFAULTS.glob("*.toml")):
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
        groups[path.stem] = {name: _field(entry) for name, entry in tables.items()}
    return MappingProxyType(groups)


def read_assumptions(reader: Reader, given: object) -> Mapping[str, Mapping[str, float]]:
    """Resolve all assumptions: defaults, with those of ``[assumptions]`` over them.

    Returns
    -------
    SI values by group and name.
    """
    groups = assumption_fields()
    tables = reader.table(given, "assumptions") or {}
    reader.unknown(tables, "assumptions", groups)
    resolved = {}
    for group, fields in groups.items():
        path = f"assumptions.{group}"
        table = reader.table(tables.get(group, {}), path) or {}
        reader.unknown(table, path, fields)
        values: dict[str, float] = {}
        for name, field in fields.items():
            where = f"{path}.{name}"
            if name in table:
                reader.take(values, name, field, table[name], where)
            elif field.default is not None:
                values[name] = reader.number(field, field.default)
                reader.note(where, values[name], field, field.origin)
        resolved[group] = MappingProxyType(values)
    return MappingProxyType(resolved)


def _field(entry: Mapping[str, Any]) -> Field:
    """Turn one table of a defaults file into a field."""
    value = entry["value"]
    unit = si_unit_of(value) if isinstance(value, str) else "1"
    field = Field(
        kind="quantity",
        unit=unit,
        text=entry["text"],
        low=entry.get("low"),
        high=entry.get("high"),
        default=value,
        origin="judgement" if entry["origin"] == "judgement" else "default",
        provenance=entry["provenance"],
    )
    if unit == "K" and field.si(value) < _DIFFERENCE_MAX:
        return Field(**{**vars(field), "kind": "difference"})
    return field
