"""Read the design variables: start, bounds or frozen value, one or two sets."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mdo.study.fields import Field, declared
from mdo.study.part import Part, Rule
from mdo.study.reader import Reader
from mdo.study.sections import Design, PerSet, Variable
from mdo.study.values import shown

_KEYS = ("start", "lower", "upper", "value")
_SETS = ("up", "down")
_RULES = (
    Rule(("spring_moment", "spring_rate"), "configuration", ("load_return", "opposed"),
         "beside configuration = {} (no spring)"),
    Rule(("gear_ratio",), "topology", ("knuckle", "nested", "plated"),
         "beside topology = {} (no gears)"),
)  # fmt: skip


def read_design(reader: Reader, given: object, actuator: Mapping[str, Any]) -> dict[str, Any]:
    """Return the design variables, as far as they are sound."""
    design = Part(reader, "design", reader.table(given, "design") or {})
    fields = declared(Design)
    reader.unknown(design.given, "design", fields)
    design.follow(_RULES, actuator)
    return {
        name: _read_variable(reader, design.given.get(name, {}), field, f"design.{name}", actuator)
        for name, field in fields.items()
    }


def _read_variable(
    reader: Reader, given: object, field: Field, path: str, actuator: Mapping[str, Any]
) -> Variable | PerSet:
    """Read one design variable, for one set or for both alike unless told apart."""
    if not isinstance(given, Mapping) or not any(name in given for name in _SETS):
        both = _read_one(reader, given, field, path)
        return PerSet(up=both, down=both) if field.per_set else both
    variable = Part(reader, path, given)
    if not field.per_set:
        variable.not_allowed(_SETS, "for a variable that both sets share")
        return _default(field)
    reader.unknown(given, path, _SETS)
    side = actuator.get("drive_side")
    other = [name for name in _SETS if side in _SETS and name != side]
    variable.not_allowed(other, f"beside drive_side = {shown(side)} (no such set)")
    sets = {name: _read_one(reader, given.get(name, {}), field, f"{path}.{name}") for name in _SETS}
    return PerSet(**sets)


def _read_one(reader: Reader, given: object, field: Field, path: str) -> Variable:
    """Read bounds and start, or the frozen value (also written without a table)."""
    table = given if isinstance(given, Mapping) else {"value": given}
    reader.unknown(table, path, _KEYS)
    default = _default(field)
    numbers: dict[str, float] = {}
    for key in (key for key in _KEYS if key in table):
        where = f"{path}.{key}" if isinstance(given, Mapping) else path
        number = reader.read(field, table[key], where)
        if number is not None:
            numbers[key] = number
            reader.note(f"{path}.{key}", number, field, "file")
    part = Part(reader, path, table)
    if "value" in table:
        part.not_allowed(_KEYS[:3], "beside a frozen value")
        return Variable(lower=default.lower, upper=default.upper, value=numbers.get("value"))
    for key, bound in (("lower", default.lower), ("upper", default.upper)):
        if key not in table:
            reader.note(f"{path}.{key}", bound, field, "judgement")
    variable = Variable(**{"lower": default.lower, "upper": default.upper, **numbers})
    _check_order(part, variable)
    return variable


def _default(field: Field) -> Variable:
    """Return the default bounds of a variable."""
    return Variable(lower=field.si(field.lower), upper=field.si(field.upper))


def _check_order(part: Part, variable: Variable) -> None:
    """Note bounds that are crossed and a start outside of them."""
    lower, upper, start = variable.lower, variable.upper, variable.start
    if lower >= upper:
        crossed = f"with lower {lower:.6g} not below upper {upper:.6g} (SI)"
        part.contradiction(
            "lower" if "lower" in part.given else "upper", crossed, "lower below upper"
        )
    elif start is not None and not lower <= start <= upper:
        part.problem(
            "start",
            f"outside the bounds, got {shown(part.given['start'])}, expected {lower:.6g} to "
            f"{upper:.6g} (SI)",
        )
