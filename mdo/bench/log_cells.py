"""Numbers of a log as they stand in its file, by the columns and units that ``[log]`` names.

What is no number is missing (NaN) and noted with its line and column.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.study.fields import Field, choice, declared, many, words
from mdo.study.reader import Reader, StudyError
from mdo.study.text import clipped, not_utf8, one_line, toml_fault, too_deep
from mdo.study.units import UnitError, parse_quantity
from mdo.study.values import nearest, shown

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


Numbers = NDArray[np.float64]
ROWS_MAX, CELLS_MAX = 3_000_000, 60_000_000
_CELL_MAX = 64
_MISSING = frozenset({"", "nan", "na", "n/a", "null", "none", "-", "--", "?", "#n/a"})


class Fault(NamedTuple):
    """Cells of a column that are no numbers: how many, and line and text of the first."""

    cells: int
    line: int
    text: str


@dataclass
class Cells:
    """Numbers of each wanted column as they are written, and the line of each row.

    Attributes
    ----------
    columns, numbers
        Wanted columns and their numbers, NaN where one is missing.
    lines
        Line (CSV) or row (Parquet) of the file, counted from 1.
    faults
        Cells that are no numbers, by name of the column.
    torn
        Rows of another number of cells than the header; they were left out.
    notes
        What was done to read the file at all.
    place
        What a row is called: ``line`` or ``row``.
    """

    columns: tuple[Column, ...]
    numbers: list[Numbers]
    lines: NDArray[np.int64]
    faults: dict[str, Fault] = field(default_factory=dict)
    torn: Fault | None = None
    notes: list[str] = field(default_factory=list)
    place: str = "line"


def match_columns(header: Sequence[str], wanted: Sequence[Column], where: str) -> list[int]:
    """Place of each wanted column in a header.

    Raises
    ------
    StudyError
        If one is missing, there twice, or says another unit than ``[log]``.
    """
    plain = [split_header(cell)[0] for cell in header]
    problems, places = [], []
    for column in wanted:
        found = [n for n, cell in enumerate(header) if column.name in {cell, plain[n]}]
        if len(found) != 1:
            what = "there twice" if found else f"no such column, {nearest(column.name, plain[:50])}"
            problems.append(f"{where}, column {clipped(column.name)}: {what}")
            continue
        places += found
        unit = split_header(header[found[0]])[1]
        if unit and not same_unit(unit, column):
            problems.append(
                f"{where}, column {clipped(column.name)}: wrong unit, the header says "
                f"{shown(unit)}, [log] says {shown(column.unit)}, expected the same"
            )
    if problems:
        raise StudyError(problems)
    return places


def same_unit(unit: str, column: Column) -> bool:
    """Whether a unit of a header is that of ``[log]``, or none at all."""
    try:
        return np.allclose(conversion(unit, column.channel), column[3:], rtol=1e-9)
    except UnitError as problem:  # of another kind is wrong; what is no unit says nothing
        return "unknown unit" in str(problem)


def to_numbers(
    cells: Sequence[Any],
    lines: NDArray[np.int64],
    name: str,
    faults: dict[str, Fault],
    *,
    comma: bool | None,
) -> Numbers:
    """Numbers of cells of text, NaN where there is none; what is no number is noted."""
    if comma:
        cells = [cell.replace(",", ".", 1) for cell in cells]
    text = "".join(cells)
    plain = text.isascii() and "_" not in text
    try:  # an array of text is as wide as its longest cell
        narrow = plain and max(map(len, cells), default=0) <= _CELL_MAX
        numbers = np.asarray(cells if narrow else ["?"], dtype=str).astype(float)
    except ValueError:
        numbers = np.full(len(cells), np.nan)
        for n, cell in enumerate(cells):
            try:
                plain = cell.isascii() and "_" not in cell
                numbers[n] = float(cell) if plain else float("?")
            except ValueError:
                if cell.strip().lower() not in _MISSING:
                    before = faults.get(name, Fault(0, int(lines[n]), clipped(cell)))
                    faults[name] = before._replace(cells=before.cells + 1)
    numbers[~np.isfinite(numbers)] = np.nan
    return numbers
