"""JSON Schema of the study file, for editors and for readers, from the declared fields."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any

from mdo.study.analyses import Analysis
from mdo.study.cases import RETURN_KEYS, Case
from mdo.study.fidelity import level_fields
from mdo.study.fields import Field, declared
from mdo.study.read_sections import assumption_fields
from mdo.study.sections import (
    Actuator,
    Bench,
    Design,
    Head,
    Requirements,
    Supply,
    Vehicle,
)
from mdo.study.units import NUMBER
from mdo.study.values import NAME, expectation

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_WITH_UNIT = rf"^\s*−?{NUMBER}\s*[^\d\s].*$"
_DIMENSIONLESS = rf"^\s*−?{NUMBER}\s*[^\d\s]*\s*$"
_SETS = ("up", "down")
_PLAIN: Mapping[str, dict[str, Any]] = {
    "name": {"type": "string", "pattern": f"^{NAME.pattern}$"},
    "text": {"type": "string"},
    "boolean": {"type": "boolean"},
    "end": {"type": ["string", "number"]},
}
Schema = dict[str, Any]


def json_schema() -> Schema:
    """Return the JSON Schema (2020-12) of a study file read as nested tables.

    It knows keys, types, units in words, choices and what is required; that units fit, ranges hold
    and fields do not contradict each other is checked by :func:`mdo.study.load_study` alone.
    """
    assumptions = {group: _section(fields) for group, fields in assumption_fields().items()}
    sections = {
        "study": _section(declared(Head)),
        "vehicle": _one_of(Vehicle, Vehicle.one_of),
        "bench": _one_of(Bench, Bench.one_of),
        "supply": _section(declared(Supply)),
        "requirements": _section(declared(Requirements)),
        "case": {"type": "array", "minItems": 1, "items": _case()},
        "actuator": _section(declared(Actuator)),
        "fidelity": _table({role: _section(fields) for role, fields in level_fields().items()}),
        "design": _section(declared(Design)),
        "assumptions": _table(assumptions),
        "analysis": _section(declared(Analysis)),
    }
    required = ["study", "supply", "requirements", "actuator"]
    head = {"$schema": DIALECT, "title": "Study of a wing-fold actuator"}
    of_vehicle = {"properties": {"case": {"items": {"required": ["location"]}}}}
    rules = [
        {"oneOf": [{"required": ["vehicle"]} | of_vehicle, {"required": ["bench"]}]},
        {"anyOf": [{"required": ["case"]}, {"properties": {"study": {"required": ["cases"]}}}]},
    ]
    return head | _table(sections, required) | {"allOf": rules}


def _table(properties: Schema, required: list[str] | None = None) -> Schema:
    """Return the schema of a table that allows these keys only."""
    table: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return table | ({"required": required} if required else {})


def _section(fields: Mapping[str, Field], more: Schema | None = None) -> Schema:
    """Return the schema of a section from its declared fields."""
    required = [name for name, field in fields.items() if field.required]
    return _table({name: _field(field) for name, field in fields.items()} | (more or {}), required)


def _one_of(section: type, names: Iterable[str]) -> Schema:
    """Return the schema of a section that takes one of some fields."""
    return _section(declared(section)) | {"oneOf": [{"required": [name]} for name in names]}


def _case() -> Schema:
    """Return the schema of a case with its return leg."""
    fields = declared(Case)
    back = _table({name: _field(fields[name]) for name in RETURN_KEYS})
    schema = _section(fields, {"return": back})
    schema["required"].remove("location")  # a bench has none
    return schema


def _field(field: Field) -> Schema:
    """Return the schema of one field."""
    schema = _kind(field)
    if field.kind not in {"section", "tables"}:
        schema |= {"description": _description(field)}
    if not field.default and field.default in {None, ()}:
        return schema
    default = list(field.default) if isinstance(field.default, tuple) else field.default
    return schema | {"default": default}


def _kind(field: Field) -> Schema:
    """Return type and pattern of one field."""
    plain = _PLAIN.get(field.kind)
    return _MADE.get(field.kind, _number)(field) if plain is None else dict(plain)


def _pair(field: Field) -> Schema:
    """Return the schema of two values."""
    ends = [_kind(end) for end in field.fields.values()]
    return {"type": "array", "items": ends[0], "minItems": len(ends), "maxItems": len(ends)}


def _item(field: Field) -> Schema:
    """Return the schema of what a list or a table holds."""
    return _kind(field.item) if field.item else {}


def _number(field: Field) -> Schema:
    """Return the schema of a number, with a unit or without."""
    if field.unit != "1":
        pattern = rf"({_WITH_UNIT})|(^none$)" if field.nullable else _WITH_UNIT
        return {"type": "string", "pattern": pattern}
    bare: Schema = {"type": "number"}
    low, high = field.range_si()
    bare |= {} if low is None else {"minimum": low}
    bare |= {} if high is None else {"maximum": high}
    return {"anyOf": [bare, {"type": "string", "pattern": _DIMENSIONLESS}]}


def _variable(field: Field) -> Schema:
    """Return the schema of a design variable: a frozen value, bounds and start, or two sets."""
    value = _number(field)
    free = _table(dict.fromkeys(("start", "lower", "upper"), value))
    frozen = _table({"value": value}, ["value"])
    forms = [value, free, frozen]
    if field.per_set:
        forms.append(_table({name: {"anyOf": [value, free, frozen]} for name in _SETS}))
    return {"anyOf": forms}


def _description(field: Field) -> str:
    """Describe a field in one line: meaning, what it expects, range and source of its default."""
    parts = [field.text, expectation(field)]
    if field.low is not None and field.high is not None:
        parts.append(f"{field.low} to {field.high}")
    if field.nullable:
        parts.append('or "none"')
    if field.provenance:
        judged = "judged default" if field.origin == "judgement" else "default"
        parts.append(f"{judged}: {field.provenance}")
    if field.kind == "variable":
        parts.append(f"bounds {field.lower} to {field.upper} unless given")
    return "; ".join(parts)


_MADE: Mapping[str, Callable[[Field], Schema]] = {
    "section": lambda field: _section(field.fields),
    "choice": lambda field: {"enum": list(field.choices)},
    "integer": lambda field: {"type": "integer", "minimum": field.low, "maximum": field.high},
    "table": lambda field: {"type": "object", "additionalProperties": _item(field)},
    "list": lambda field: (
        {"type": "array", "items": _item(field)}
        | ({"minItems": field.least} if field.least else {})
    ),
    "pair": _pair,
    "tables": lambda field: (
        {"type": "array", "minItems": field.least, "items": _section(field.fields)}
    ),
    "variable": _variable,
}
