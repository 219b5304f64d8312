"""Assumptions of the disciplines: defaults as data files, each value with origin and provenance.

The range that stands beside a default is that of the judgement or the source: the uncertainty of
the result is computed over it, and a study stays within it.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from types import MappingProxyType

from mdo.study.fields import Field, number
from mdo.study.reader import Reader

_DEFAULTS = Path(__file__).parent / "defaults"


@lru_cache(maxsize=1)
def assumption_fields() -> Mapping[str, Mapping[str, Field]]:
    """Return the fields of every group of assumptions (aero, thermal, ...), by name."""
    groups = {}
    for path in sorted(_DEFAULTS.glob("*.toml")):
        tables = tomllib.loads(path.read_text(encoding="utf-8"))
        groups[path.stem] = {
            name: number(
                name,
                default=entry["value"],
                low=entry.get("low"),
                high=entry.get("high"),
                origin="judgement" if entry["origin"] == "judgement" else "default",
                provenance=entry["provenance"],
            )
            for name, entry in tables.items()
        }
    return MappingProxyType(groups)


def read_assumptions(reader: Reader, given: object) -> Mapping[str, Mapping[str, float]]:
    """Resolve all assumptions: defaults, with those of ``[assumptions]`` over them.

    Returns
    -------
    SI values by group and name.
    """
    groups = {
        name: Field(kind="section", fields=fields) for name, fields in assumption_fields().items()
    }
    tables = reader.table(given, "assumptions") or {}
    values = reader.section(groups, tables, "assumptions")
    return MappingProxyType({name: MappingProxyType(of) for name, of in values.items()})
