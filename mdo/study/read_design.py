"""Read the design variables: start, bounds or frozen value, one or two sets."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from mdo.study.design import Design, PerSet, Variable
from mdo.study.fields import Field, declared
from mdo.study.reader import Reader, shown
from mdo.study.units import UnitError

_KEYS = ("start", "lower", "upper", "value")
_SETS = ("up", "down")
_SPRING = ("spring_moment", "spring_rate")


def read_design(reader: Reader, given: object, actuator: Mapping[str, Any]) -> dict[str, Any]:
    """Return the design variables, as far as they are sound."""
    table = reader.table(given, "design") or {}
    fields = declared(Design)
    reader.unknown(table, "design", fields)
    configuration = actuator.get("configuration")
    if configuration not in {"spring_return", None}:
        reader.not_allowed(
            table, "design", _SPRING, f"beside configuration = {shown(configuration)} (no spring)"
        )
    topology = actuator.get("topology")
    if topology not in {"geared", None}:
        reader.not_allowed(
            table, "design", ["gear_ratio"], f"beside topology = {shown(topology)} (no gears)"
        )
    return {
        name: _read_variable(reader, table.get(name, {}), field, f"design.{name}", actuator)
        for name, field in fields.items()
    }


def _read_variable(
    reader: Reader, given: object, field: Field, path: str, actuator: Mapping[str, Any]
) -> Variable | PerSet:
    """Read one design variable, for one set or for both alike unless told apart."""
    apart = isinstance(given, Mapping) and any(name in given for name in _SETS)
    if not field.per_set or not apart or not isinstance(given, Mapping):
        if apart and isinstance(given, Mapping):
            reader.not_allowed(given, path, _SETS, "for a variable that both sets share")
            return _default(field)
        both = _read_one(reader, given, field, path)
        return PerSet(up=both, down=both) if field.per_set else both
    reader.unknown(given, path, _SETS)
    side = actuator.get("drive_side")
    for name in _SETS:
        if side in _SETS and name != side and name in given:
            reader.contradiction(
                f"{path}.{name}", given[name], f'beside drive_side = "{side}"', "none (remove it)"
            )
    sets = {name: _read_one(reader, given.get(name, {}), field, f"{path}.{name}") for name in _SETS}
    return PerSet(**sets)


def _read_one(reader: Reader, given: object, field: Field, path: str) -> Variable:
    """Read bounds and start, or the frozen value (also written without a table)."""
    table = given if isinstance(given, Mapping) else {"value": given}
    reader.unknown(table, path, _KEYS)
    numbers: dict[str, float] = {}
    for key in _KEYS:
        if key not in table:
            continue
        try:
            number = reader.value(field, table[key])
        except UnitError as problem:
            reader.problem(f"{path}.{key}" if isinstance(given, Mapping) else path, str(problem))
        else:
            numbers[key] = float(number or 0.0)
            reader.note(f"{path}.{key}", number, field, "file")
    default = _default(field)
    if "value" in table:
        reader.not_allowed(table, path, _KEYS[:3], "beside a frozen value")
        return Variable(lower=default.lower, upper=default.upper, value=numbers.get("value"))
    for key, bound in (("lower", default.lower), ("upper", default.upper)):
        if key not in table:
            reader.note(f"{path}.{key}", bound, field, "judgement")
    found = Variable(
        lower=numbers.get("lower", default.lower),
        upper=numbers.get("upper", default.upper),
        start=numbers.get("start"),
    )
    _check_order(reader, found, table, path)
    return found


def _default(field: Field) -> Variable:
    """Return the default bounds of a variable."""
    return Variable(lower=field.si(field.lower), upper=field.si(field.upper))


def _check_order(reader: Reader, found: Variable, table: Mapping[str, Any], path: str) -> None:
    """Note bounds that are crossed and a start outside of them."""
    if found.lower >= found.upper:
        key = "lower" if "lower" in table else "upper"
        reader.contradiction(
            f"{path}.{key}",
            table.get(key),
            f"with lower {found.lower:.6g} not below upper {found.upper:.6g} (SI)",
            "lower below upper",
        )
    elif found.start is not None and not found.lower <= found.start <= found.upper:
        reader.problem(
            f"{path}.start",
            f"outside the bounds, got {shown(table['start'])}, "
            f"expected {found.lower:.6g} to {found.upper:.6g} (SI)",
        )
