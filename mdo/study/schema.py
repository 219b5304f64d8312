"""JSON Schema of the study file, for editors and for readers, from the declared fields."""

from __future__ import annotations

from typing import Any

from mdo.study.assumptions import assumption_fields
from mdo.study.cases import RETURN_KEYS, Case
from mdo.study.design import Design
from mdo.study.exploring import PLANS, TABLES
from mdo.study.fidelity import level_fields
from mdo.study.fields import Field, declared
from mdo.study.read_defence import SHEETS, SLEEVES, TUBES
from mdo.study.read_exploring import WORDS
from mdo.study.reader import expectation
from mdo.study.sections import (
    ANALYSES,
    CHOICE_FIELDS,
    DEFAULT_ANALYSES,
    Actuator,
    Breakpoint,
    DefenceOptions,
    EvaluateOptions,
    Head,
    OptimumOptions,
    Requirements,
    Supply,
    Vehicle,
)
from mdo.study.units import NUMBER

DIALECT = "https://json-schema.org/draft/2020-12/schema"
_WITH_UNIT = rf"^\s*−?{NUMBER}\s*[^\d\s].*$"
_DIMENSIONLESS = rf"^\s*−?{NUMBER}\s*[^\d\s]*\s*$"
_SETS = ("up", "down")
Schema = dict[str, Any]


def json_schema() -> Schema:
    """Return the JSON Schema (2020-12) of a study file read as nested tables.

    It knows keys, types, units in words, choices and what is required; that units fit, ranges hold
    and fields do not contradict each other is checked by :func:`mdo.study.load_study` alone.
    """
    sections = {
        "study": _section(Head, {"analyses": _analyses()}),
        "vehicle": _vehicle(),
        "supply": _section(Supply),
        "requirements": _section(Requirements),
        "case": {"type": "array", "minItems": 1, "items": _case()},
        "actuator": _section(Actuator),
        "fidelity": _table(
            {"optimise": _table({name: _field(one) for name, one in level_fields().items()})}
        ),
        "design": _table({name: _variable(one) for name, one in declared(Design).items()}),
        "assumptions": _table(
            {
                group: _table({name: _field(one) for name, one in fields.items()})
                for group, fields in assumption_fields().items()
            }
        ),
        "analysis": _table(
            {
                "evaluate": _section(EvaluateOptions),
                "optimum": _section(OptimumOptions),
                "defence": _defence(),
                **{name: _exploration(name) for name in PLANS},
            }
        ),
    }
    required = ["study", "vehicle", "supply", "requirements", "case", "actuator"]
    head = {"$schema": DIALECT, "title": "Study of a wing-fold actuator"}
    return head | _table(sections, required)


def _table(properties: Schema, required: list[str] | None = None) -> Schema:
    """Return the schema of a table that allows these keys only."""
    table: Schema = {"type": "object", "properties": properties, "additionalProperties": False}
    return table | ({"required": required} if required else {})


def _section(section: type, more: Schema | None = None) -> Schema:
    """Return the schema of a section from its declared fields."""
    fields = declared(section)
    required = [name for name, field in fields.items() if field.required]
    return _table({name: _field(field) for name, field in fields.items()} | (more or {}), required)


def _vehicle() -> Schema:
    """Return the schema of the vehicle: two breakpoints or more, one way to the fold."""
    wing = {"type": "array", "minItems": 2, "items": _section(Breakpoint)}
    schema = _section(Vehicle, {"wing": wing})
    schema["required"] = [*schema["required"], "wing"]
    schema["oneOf"] = [{"required": ["fold_station"]}, {"required": ["fold_fraction"]}]
    return schema


def _case() -> Schema:
    """Return the schema of a case with its return leg."""
    back = _table({name: _field(declared(Case)[name]) for name in RETURN_KEYS})
    return _section(Case, {"return": back})


def _analyses() -> Schema:
    """Return the schema of the list of analyses."""
    default = list(DEFAULT_ANALYSES)
    return {"type": "array", "items": {"enum": list(ANALYSES)}, "default": default}


def _defence() -> Schema:
    """Return the schema of the defended optimum: options, stock, lists of choices."""
    length = {"type": "string", "pattern": _WITH_UNIT}
    pair = {"type": "array", "items": length, "minItems": 2, "maxItems": 2}
    stock = {
        "tubes": {"type": "array", "items": pair, "description": TUBES},
        "sleeves": {"type": "array", "items": length, "description": SLEEVES},
        "sheets": {"type": "array", "items": length, "description": SHEETS},
    }
    return _section(DefenceOptions, {"stock": _table(stock), "choices": _choices()})


def _choices() -> Schema:
    """Return the schema of lists of choices."""
    fields = declared(Actuator)
    return _table(
        {
            name: {"type": "array", "minItems": 1, "items": _kind(fields[name])}
            for name in CHOICE_FIELDS
        }
    )


def _exploration(name: str) -> Schema:
    """Return the schema of an exploration: options, ranges of axes, lists."""
    end = {"type": ["string", "number"]}
    ends = {"type": "array", "items": end, "minItems": 2, "maxItems": 2}
    kinds: dict[str, Schema] = {
        "levels": {"type": "object", "additionalProperties": {"type": "integer", "minimum": 2}},
        "choices": _choices(),
        "sizes": {"type": "array", "items": {"type": "number"}, "minItems": 3},
        **{field: {"type": "array", "items": {"enum": list(known)}, "minItems": 1}
           for field, (known, _) in WORDS.items()},
    }  # fmt: skip
    ranges: Schema = {"type": "object", "additionalProperties": ends}
    more = {
        field: kinds.get(field, ranges) | {"description": text}
        for field, text in TABLES[name].items()
    }
    return _section(PLANS[name], more)


def _field(field: Field) -> Schema:
    """Return the schema of one field."""
    schema = _kind(field) | {"description": _description(field)}
    return schema if field.default is None else schema | {"default": field.default}


def _kind(field: Field) -> Schema:
    """Return type and pattern of one field."""
    if field.kind == "choice":
        return {"enum": list(field.choices)}
    if field.kind == "name":
        return {"type": "string", "pattern": "^[A-Za-z0-9][A-Za-z0-9_-]{0,63}$"}
    if field.kind == "boolean":
        return {"type": "boolean"}
    if field.kind == "integer":
        return {"type": "integer", "minimum": field.low, "maximum": field.high}
    if field.kind == "text":
        return {"type": "string"}
    return _number(field)


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
    bounds = f"bounds {field.lower} to {field.upper} unless given"
    return {"anyOf": forms, "description": f"{_description(field)}; {bounds}"}


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
    return "; ".join(parts)
