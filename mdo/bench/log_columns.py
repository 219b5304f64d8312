"""``[log]``: which column of a log is which channel, and in what unit its numbers stand."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any, NamedTuple

from mdo.study.fields import Field, choice, declared, many, words
from mdo.study.reader import Reader, StudyError
from mdo.study.text import clipped, not_utf8, one_line, toml_fault, too_deep
from mdo.study.units import UnitError, parse_quantity
from mdo.study.values import shown

SIZE_MAX = 100_000
TUBES_MAX = 64
_HEADER = re.compile(r"\s*(?P<name>.*?)\s*(?:[\[(](?P<unit>[^\[\]()]*)[\])])?\s*")
_HINT = 'expected a column and its unit, such as "T1 [degC]"'
_EXTENSIONS = (".csv", ".txt", ".tsv", ".dat", ".parquet", ".pq")


class Channel(NamedTuple):
    """What a log may hold: SI unit, range that a bench can have, title, example of a unit."""

    unit: str
    low: float
    high: float
    title: str
    example: str


CHANNELS = {
    "time": Channel("s", -1e12, 1e12, "Time", "s"),
    "commanded_angle": Channel("rad", -6.3, 6.3, "Commanded angle", "deg"),
    "measured_angle": Channel("rad", -6.3, 6.3, "Fold angle", "deg"),
    "torque": Channel("N*m", -1e6, 1e6, "Torque", "N*m"),
    "tube_temperature": Channel("K", 150.0, 1300.0, "Tube temperature", "degC"),
    "bay_temperature": Channel("K", 150.0, 700.0, "Bay temperature", "degC"),
    "heater_power": Channel("W", -1.0, 2e6, "Heater power", "W"),
    "heater_voltage": Channel("V", -1.0, 1e3, "Heater voltage", "V"),
}
INPUTS = ("commanded_angle", "heater_power", "heater_voltage", "bay_temperature")
OUTPUTS = ("measured_angle", "torque", "tube_temperature")
MANY = ("tube_temperature", "heater_power", "heater_voltage")


def _columns(text: str) -> Any:
    return many(Field(kind="text"), text, least=1, most=TUBES_MAX)


@dataclass(frozen=True)
class LogTable:
    """The fields of ``[log]``."""

    time: str = words("Time of each sample", required=True)
    commanded_angle: str = words("Angle that was asked for")
    measured_angle: str = words("Fold angle that was measured")
    torque: str = words("Torque at the hinge")
    tube_temperature: tuple[str, ...] = _columns("Temperatures of tubes")
    bay_temperature: str = words("Temperature of the air around the tubes")
    heater_power: tuple[str, ...] = _columns("Electrical power into the heaters of each set")
    heater_voltage: tuple[str, ...] = _columns("Voltage of the heaters of each set")
    study: str = words("Study whose actuator was on the bench", name=True)
    case: str = words("Case of that study that was run; its first one if left out", name=True)
    decimal: str = choice(("point", "comma"), "What stands before decimals; found if left out")


class Column(NamedTuple):
    """One column that is wanted: channel, name in the log, conversion ``number * scale + offset``.

    ``unit`` is the unit as it is written.
    """

    channel: str
    name: str
    unit: str
    scale: float
    offset: float


class Columns(NamedTuple):
    """Columns of a log, what stands before decimals (empty: to be found), study and case."""

    wanted: tuple[Column, ...]
    decimal: str = ""
    study: str = ""
    case: str = ""


def refused(message: str) -> StudyError:
    """Error that holds one problem."""
    return StudyError([message])


def split_header(cell: str) -> tuple[str, str]:
    """Name and unit of ``name [unit]`` or ``name (unit)``; the unit is empty where none is."""
    match = _HEADER.fullmatch(cell)
    return (match["name"], (match["unit"] or "").strip()) if match else (cell.strip(), "")


def conversion(unit: str, channel: str) -> tuple[float, float]:
    """Scale and offset from a unit as it is written to the SI unit of a channel.

    Raises
    ------
    UnitError
        If it is no unit of that kind.
    """
    si = CHANNELS[channel].unit
    zero = parse_quantity(f"0 {unit}", si)
    return parse_quantity(f"1 {unit}", si) - zero, zero


def read_columns(log: Path) -> Columns:
    """Read the ``[log]`` of the TOML file beside a log: same name, ending ``.toml``.

    Raises
    ------
    StudyError
        With every problem of the file.
    """
    if log.suffix.lower() not in _EXTENSIONS:
        raise refused(
            f"{one_line(log)}: got ending {shown(log.suffix)}, expected {', '.join(_EXTENSIONS)}"
        )
    path = log.with_suffix(".toml")
    reader = Reader(one_line(path))
    content = _content(path, reader.source)
    reader.unknown(content, "", ("log",))
    table = reader.table(content.get("log", {}), "log") or {}
    table = {
        key: [value] if key in MANY and isinstance(value, str) else value
        for key, value in table.items()
    }
    values = reader.section(LogTable, table, "log")
    wanted = _wanted(reader, values)
    if reader.problems:
        raise StudyError(reader.problems)
    return Columns(wanted, *(values[name] or "" for name in ("decimal", "study", "case")))


def _wanted(reader: Reader, values: dict[str, Any]) -> tuple[Column, ...]:
    wanted: list[Column] = []
    for channel in (name for name in declared(LogTable) if name in CHANNELS):
        given = values.get(channel)
        for text in (given if isinstance(given, tuple) else (given,)) if given else ():
            name, unit = split_header(text)
            try:
                scale, offset = conversion(unit, channel)
            except UnitError as problem:
                what = _HINT if not unit else str(problem)
                reader.problem(f"log.{channel}", f"got {shown(text)}: {what}")
                continue
            if not name:
                reader.problem(f"log.{channel}", f"got {shown(text)}, {_HINT}")
            wanted.append(Column(channel, name, unit, scale, offset))
    names = [column.name for column in wanted]
    for twice in sorted({name for name in names if names.count(name) > 1}):
        reader.problem("log", f"column {shown(twice)} named twice, expected each once")
    if not reader.problems and not any(column.channel in OUTPUTS for column in wanted):
        reader.problem("log", f"nothing that was measured, expected one of: {', '.join(OUTPUTS)}")
    return tuple(wanted)


def _content(path: Path, source: str) -> dict[str, Any]:
    """Parsed text of the file beside a log."""
    example = '[log] with lines such as time = "t [s]" and measured_angle = "phi [deg]"'
    try:
        with path.open("rb") as file:
            data = file.read(SIZE_MAX + 1)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise refused(
            f"{source}: cannot be read: {reason}, expected a file beside the log with {example}"
        ) from None
    if len(data) > SIZE_MAX:
        raise refused(f"{source}: too large, expected at most 100 kB with {example}")
    try:
        text = data.decode("utf-8-sig")
        if line := too_deep(text):
            raise refused(f"{source}: nested too deeply at line {line}, expected {example}")
        return tomllib.loads(text)
    except UnicodeDecodeError as error:
        raise refused(f"{source}: {not_utf8(data, error)}") from None
    except RecursionError:
        raise refused(f"{source}: nested too deeply, expected {example}") from None
    except ValueError as error:
        what = toml_fault(clipped(text) if len(text) > SIZE_MAX else text, error)
        raise refused(f"{source}: not TOML: {what}, expected {example}") from None
