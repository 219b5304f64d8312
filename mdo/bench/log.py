"""A log in SI units whose time runs forward: every repair is stated, the rest is refused.

Repairs: rows of too few or many cells, without time, or whose time repeats or runs backward are
left out; cells that are no numbers or that no bench can have are missing; inputs are bridged.
A log that needs too much of that is refused, with line and column.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.bench.log_cells import (
    CHANNELS,
    INPUTS,
    MANY,
    OUTPUTS,
    Cells,
    Column,
    Columns,
    Fault,
    Numbers,
    read_columns,
    refused,
)
from mdo.bench.log_csv import read_csv
from mdo.results.files import fingerprint
from mdo.study.reader import StudyError
from mdo.study.text import clipped
from mdo.study.units import to_trade
from mdo.study.values import shown

SHARE_MAX = 0.05  # of rows or cells that may be repaired; judgement
GAP_SHARE_MAX = 0.2  # of the time that may have no samples; judgement
GAP = 3.0  # median intervals that make a gap; judgement
SAMPLES_MIN = 10
ANGLE_RATIO = 57.29578  # degrees in a radian: a span that is off by it was read in the wrong unit
_COLD = 523.15  # [K] no tube is hotter than this when a log begins; judgement


class Gap(NamedTuple):
    """A time without samples [s]."""

    start: float
    end: float


class Log(NamedTuple):
    """A log in SI units.

    Attributes
    ----------
    name, digest
        Name of the file and its SHA-256.
    time
        Time from the first sample [s], rising, (N,).
    channels
        Channels by name, (N,), tube temperatures (N, tubes); NaN is a missing sample of an output.
    gaps
        Times without samples.
    repairs
        What was done to the log, in words.
    study, case
        What was on the bench, as the file beside the log says; may be empty.
    """

    name: str
    digest: str
    time: Numbers
    channels: Mapping[str, Numbers]
    gaps: tuple[Gap, ...]
    repairs: tuple[str, ...]
    study: str = ""
    case: str = ""


def read_log(path: str | Path) -> Log:
    """Read a log and the ``[log]`` beside it.

    Parameters
    ----------
    path : CSV or Parquet; the TOML file of the same name beside it names columns and units

    Raises
    ------
    StudyError
        With what is wrong: file, line, column, what was got and expected.
    """
    path = Path(path)
    columns = read_columns(path)
    cells = read_cells(path, columns)
    repair = _Repair(clipped(path.name), cells)
    time, rows = repair.time()
    channels = repair.channels(rows, time)
    return Log(
        repair.name, fingerprint(path), time, channels, repair.gaps(time, rows),
        (*cells.notes, *repair.done), columns.study, columns.case,
    )  # fmt: skip


class _Repair:
    """Makes series of the cells of a log, noting what it does."""

    def __init__(self, name: str, cells: Cells) -> None:
        self.name, self._cells = name, cells
        self.done: list[str] = []
        self._rows = len(cells.lines)
        if cells.torn:
            what = f"{cells.torn.text}; left out"
            self._repaired("", cells.torn.cells, cells.torn.line, what, "rows")

    def time(self) -> tuple[Numbers, NDArray[np.int64]]:
        """Rising time from 0 [s] and the rows that have it."""
        column = next(n for n, c in enumerate(self._cells.columns) if c.channel == "time")
        name = self._cells.columns[column].name
        fault = self._cells.faults.get(name)
        time = self._si(column)
        rows = np.arange(self._rows)
        bad = ~np.isfinite(time)
        if bad.any():
            got = f"got {shown(fault.text)}" if fault else "no time"
            self._repaired(name, bad.sum(), rows[bad][0], f"{got}; left out", "rows", at_row=True)
            rows = rows[~bad]
        time = time[rows]
        best = np.maximum.accumulate(time) if len(time) else time
        late = np.zeros(len(time), dtype=bool)
        late[1:] = time[1:] <= best[:-1]
        for which, what in ((late & (time == best), "repeats"), (time < best, "runs backward")):
            if which.any():
                first = rows[which][0]
                self._repaired(name, which.sum(), first, f"time {what}; left out", "rows",
                               at_row=True)  # fmt: skip
        rows, time = rows[~late], time[~late]
        if len(time) < SAMPLES_MIN:
            self._refuse(name, int(self._cells.lines[0]),
                         f"got {len(time)} samples, expected at least {SAMPLES_MIN}")  # fmt: skip
        return time - time[0], rows

    def gaps(self, time: Numbers, rows: NDArray[np.int64]) -> tuple[Gap, ...]:
        """Times without samples; refused where they are most of the log."""
        steps = np.diff(time)
        usual = float(np.median(steps))
        where = np.flatnonzero(steps > GAP * usual)
        lost = float(steps[where].sum())
        if not len(where):
            return ()
        line = int(self._cells.lines[rows[where[0]]])
        said = f"{len(where)} gap(s) of {lost:.4g} s together, the first after {self._at(line)}"
        if lost > GAP_SHARE_MAX * time[-1]:
            self._refuse("", line, f"{said}, expected at most {GAP_SHARE_MAX:.0%} of the time")
        self.done.append(f"{said}; inputs run straight across, nothing is compared there")
        return tuple(Gap(float(time[n]), float(time[n + 1])) for n in where)

    def channels(self, rows: NDArray[np.int64], time: Numbers) -> dict[str, Numbers]:
        """All channels but time [SI]."""
        found: dict[str, list[Numbers]] = {}
        for number, column in enumerate(self._cells.columns):
            if column.channel == "time":
                continue
            values = self._sound(number, column)[rows]
            if not np.isfinite(values).any():
                self._refuse(column.name, int(self._cells.lines[rows[0]]),
                             "no numbers that can be used, expected some")  # fmt: skip
            if column.channel in INPUTS:
                values = _bridged(time, values)
            elif self._is_dead(column, values):
                continue
            found.setdefault(column.channel, []).append(values)
        channels = {
            name: np.stack(columns, axis=1) if name in MANY else columns[0]
            for name, columns in found.items()
        }
        self._check_units(channels)
        if not any(name in channels for name in OUTPUTS):
            self._refuse("", int(self._cells.lines[0]),
                         "no channel that was measured is alive, expected one")  # fmt: skip
        return channels

    def _si(self, number: int) -> Numbers:
        column = self._cells.columns[number]
        with np.errstate(over="ignore"):
            values: Numbers = self._cells.numbers[number] * column.scale + column.offset
        return values

    def _sound(self, number: int, column: Column) -> Numbers:
        """Values of a column; what is no number or beyond any bench is missing, and noted."""
        values = self._si(number)
        fault: Fault | None = self._cells.faults.get(column.name)
        missing = ~np.isfinite(values)
        if fault:
            what = f"no number, got {shown(fault.text)}; taken as missing"
            self._repaired(column.name, fault.cells, fault.line, what, "cells")
        blank = int(missing.sum()) - (fault.cells if fault else 0)
        if missing.sum() > SHARE_MAX * self._rows and column.channel in INPUTS:
            self._refuse(column.name, int(self._cells.lines[missing][0]),
                         f"{missing.mean():.0%} of the cells missing, expected numbers "
                         "(an input has to be known)")  # fmt: skip
        if missing.all():
            self._refuse(column.name, int(self._cells.lines[0]), "no numbers, expected some")
        if blank > 0:
            self.done.append(f"column {clipped(column.name)}: {blank} cells missing")
        of = CHANNELS[column.channel]
        beyond = ~missing & ((values < of.low) | (values > of.high))
        if beyond.any():
            row = int(np.flatnonzero(beyond)[0])
            low, high = (f"{to_trade(end, of.unit)[0]:.5g}" for end in (of.low, of.high))
            got = self._cells.numbers[number][row]
            self._repaired(column.name, int(beyond.sum()), row,
                           f"out of range, got {got:g} {column.unit}, expected {low} to {high} "
                           f"{to_trade(of.low, of.unit)[1]} (is the unit right?); taken as missing",
                           "cells", at_row=True)  # fmt: skip
            values = np.where(beyond, np.nan, values)
        return values

    def _is_dead(self, column: Column, values: Numbers) -> bool:
        """Whether an output never changes: a sensor that is not connected, left out and noted."""
        least, most = np.nanmin(values), np.nanmax(values)
        if least < most:
            return False
        kept = (least - column.offset) / column.scale
        self.done.append(
            f"column {clipped(column.name)}: {kept:g} {column.unit} in every row from "
            f"{self._at(int(self._cells.lines[0]))}; a dead sensor, left out"
        )
        return True

    def _check_units(self, channels: Mapping[str, Numbers]) -> None:
        """Refuse channels that look as if their unit were another.

        Raises
        ------
        StudyError
            Naming the channel and the unit that would fit.
        """
        line = int(self._cells.lines[0])
        hot = channels.get("tube_temperature")
        if hot is not None and hot[np.isfinite(hot)][:SAMPLES_MIN].min() > _COLD:
            self._refuse(self._named("tube_temperature"), line,
                         "wrong unit, tubes are above 250 degC when the log begins, expected "
                         "cold tubes (are these kelvin?)")  # fmt: skip
        asked, got = channels.get("commanded_angle"), channels.get("measured_angle")
        if asked is None or got is None or np.ptp(asked) == 0.0:
            return
        ratio = (np.nanmax(got) - np.nanmin(got)) / np.ptp(asked)
        for factor, words in ((ANGLE_RATIO, "1/57"), (1 / ANGLE_RATIO, "57 times")):
            if abs(np.log(ratio * factor)) < 0.15:
                self._refuse(self._named("measured_angle"), line,
                             f"wrong unit, its span is {words} of that of the command, expected "
                             "the unit of each in [log] (deg or rad?)")  # fmt: skip

    def _named(self, channel: str) -> str:
        return next(c.name for c in self._cells.columns if c.channel == channel)

    def _at(self, line: int) -> str:
        return f"{self._cells.place} {line}"

    def _repaired(
        self, column: str, count: int, first: int, what: str, of: str, *, at_row: bool = False
    ) -> None:
        """Note a repair, or refuse a log that needs too many; ``first`` is a line or a row."""
        line = int(self._cells.lines[first]) if at_row else int(first)
        if count > max(SHARE_MAX * self._rows, 1):
            self._refuse(column, line, f"{what.partition(';')[0]}, as in {count} of {self._rows} "
                         f"{of}; expected at most {SHARE_MAX:.0%}")  # fmt: skip
        where = f"column {clipped(column)}, " if column else ""
        self.done.append(f"{where}{count} {of}, the first in {self._at(line)}: {what}")

    def _refuse(self, column: str, line: int, what: str) -> None:
        """Refuse the log.

        Raises
        ------
        StudyError
            Naming file, line and column.
        """
        where = f", column {clipped(column)}" if column else ""
        raise StudyError([f"{self.name}: {self._at(line)}{where}: {what}"])


def _bridged(time: Numbers, values: Numbers) -> Numbers:
    """Series with what is missing put on straight lines."""
    known = np.isfinite(values)
    if known.all():
        return values
    return np.interp(time, time[known], values[known])


_OTHER_FILES = {
    b"PK\x03\x04": "a workbook or an archive", b"\x1f\x8b": "a compressed file",
    b"\xd0\xcf\x11\xe0": "a workbook", b"%PDF": "a PDF", b"\x89HDF": "an HDF5 file",
}  # fmt: skip


def read_cells(path: Path, columns: Columns) -> Cells:
    """Read the wanted columns of a log.

    Raises
    ------
    StudyError
        If it cannot be read; the message names file, line and column.
    """
    name = clipped(path.name)
    try:
        if not path.is_file():
            raise refused(f"{name}: no such file, expected a log (CSV or Parquet)")
        with path.open("rb") as file:
            head = file.read(4096)
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or "not a usable path"
        raise refused(f"{name}: cannot be read: {reason}") from None
    if not head.strip(b"\x00\xef\xbb\xbf\xff\xfe \t\r\n"):
        raise refused(f"{name}: empty, expected rows under the names of the columns")
    for start, what in _OTHER_FILES.items():
        if head.startswith(start):
            raise refused(f"{name}: {what}, expected CSV or Parquet (save it as CSV)")
    if head.startswith(b"PAR1"):
        from mdo.bench.log_parquet import read_parquet

        return read_parquet(path, name, columns)
    for encoding in (_encoding(head), "latin-1"):
        try:
            with path.open("r", encoding=encoding, newline=None) as text:
                cells = read_csv(text, name, columns)
        except UnicodeError:
            continue
        if encoding != "utf-8-sig":
            cells.notes.insert(0, f"not UTF-8: read as {encoding}")
        return cells
    raise refused(f"{name}: not text in any known encoding, expected UTF-8")


def _encoding(head: bytes) -> str:
    """Encoding of a text by its first bytes."""
    if head[:2] in {b"\xff\xfe", b"\xfe\xff"}:
        return "utf-16"
    if head[1::2].count(0) > len(head) // 4:
        return "utf-16-le"
    return "utf-16-be" if head[::2].count(0) > len(head) // 4 else "utf-8-sig"
