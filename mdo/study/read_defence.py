"""Read ``[analysis.defence]``: options, what can be bought, and the choices to go through."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from mdo.study.alloy_name import check_alloy
from mdo.study.fields import Field, declared
from mdo.study.reader import Reader, shown
from mdo.study.sections import CHOICE_FIELDS, Actuator, DefenceOptions, Stock
from mdo.study.units import UnitError

PATH = "analysis.defence"
COMBINATIONS_MAX = 10_000
TUBES = "Outer diameter and wall of each stock tube; an empty list leaves the size free"
SLEEVES = "Stock thicknesses of the insulating sleeve"
SHEETS = "Stock thicknesses of sheet for housing and plates"
_DIAMETER = Field(kind="quantity", unit="m", text=TUBES, low="1 mm", high="0.4 m")
_WALL = Field(kind="quantity", unit="m", text=TUBES, low="0.05 mm", high="0.2 m")
_SLEEVE = Field(kind="quantity", unit="m", text=SLEEVES, low="0 mm", high="0.1 m")
_SHEET = Field(kind="quantity", unit="m", text=SHEETS, low="0.1 mm", high="20 mm")


def read_defence(reader: Reader, given: object, folder: Path) -> dict[str, Any]:
    """Return the options of the defended optimum."""
    table = reader.table(given, PATH) or {}
    values = reader.section(DefenceOptions, table, PATH, also=["stock", "choices"])
    values["stock"] = _stock(reader, table.get("stock", {}))
    values["choices"] = read_choices(reader, table.get("choices", {}), folder, f"{PATH}.choices")
    return values


def _stock(reader: Reader, given: object) -> Stock:
    """Return what can be bought."""
    path = f"{PATH}.stock"
    table = reader.table(given, path) or {}
    reader.unknown(table, path, ["tubes", "sleeves", "sheets"])
    tubes = []
    for number, pair in enumerate(_list(reader, table, path, "tubes"), 1):
        where = f"{path}.tubes[{number}]"
        if not isinstance(pair, list | tuple) or len(pair) != 2:
            expected = 'outer diameter and wall, such as ["8 mm", "1 mm"]'
            reader.problem(where, f"wrong type, got {shown(pair)}, expected {expected}")
            continue
        sizes = [
            _one(reader, field, one, where)
            for field, one in zip((_DIAMETER, _WALL), pair, strict=True)
        ]
        diameter, wall = (one for one in sizes)
        if isinstance(diameter, float) and isinstance(wall, float):
            if 2.0 * wall >= diameter:
                reader.problem(where, f"no bore, got {shown(pair)}, expected wall < diameter / 2")
            tubes.append((diameter, wall))
    lists: dict[str, tuple[float, ...]] = {}
    for name, field in (("sleeves", _SLEEVE), ("sheets", _SHEET)):
        found = [
            _one(reader, field, one, f"{path}.{name}[{number}]")
            for number, one in enumerate(_list(reader, table, path, name), 1)
        ]
        lists[name] = tuple(sorted(one for one in found if isinstance(one, float)))
    stock = Stock(tubes=tuple(sorted(tubes)), **lists)
    for name, text in (("tubes", TUBES), ("sleeves", SLEEVES), ("sheets", SHEETS)):
        if name in table:
            reader.note(
                f"{path}.{name}", _words(table[name]), Field(kind="text", text=text), "file"
            )
    return stock


def read_choices(
    reader: Reader, given: object, folder: Path, path: str
) -> dict[str, tuple[Any, ...]]:
    """Return the values of each field that a study of choices goes through."""
    table = reader.table(given, path) or {}
    reader.unknown(table, path, CHOICE_FIELDS)
    fields = declared(Actuator)
    choices = {}
    count = 1
    for name in CHOICE_FIELDS:
        if name not in table:
            continue
        found = [
            _one(reader, fields[name], one, f"{path}.{name}[{number}]")
            for number, one in enumerate(_list(reader, table, path, name), 1)
        ]
        if name == "alloy":
            for number, one in enumerate(found, 1):
                if one is not None:
                    check_alloy(reader, one, folder, f"{path}.alloy[{number}]")
        if not found:
            reader.problem(f"{path}.{name}", "empty, expected one value or more")
        choices[name] = tuple(dict.fromkeys(found))
        count *= max(len(choices[name]), 1)
        text = f"Values of {name} that the study of choices goes through"
        reader.note(f"{path}.{name}", _words(table[name]), Field(kind="text", text=text), "file")
    if count > COMBINATIONS_MAX:
        reader.problem(path, f"too many, got {count} combinations, expected {COMBINATIONS_MAX}")
    return choices


def _list(reader: Reader, table: Mapping[str, Any], path: str, name: str) -> list[Any]:
    """Return a list, empty where it is not given or no list."""
    given = table.get(name, [])
    if isinstance(given, list | tuple):
        return list(given) if reader.few_enough(given, f"{path}.{name}") else []
    reader.problem(f"{path}.{name}", f"wrong type, got {shown(given)}, expected a list")
    return []


def _one(reader: Reader, field: Field, given: object, where: str) -> Any:
    """Return one checked value of a list; None with a problem noted."""
    try:
        return reader.value(field, given)
    except UnitError as problem:
        reader.problem(where, str(problem))
        return None


def _words(given: object) -> str:
    """Return a list as it would be read out."""
    if isinstance(given, list | tuple):
        return ", ".join(" x ".join(map(str, x)) if isinstance(x, list) else str(x) for x in given)
    return shown(given)
