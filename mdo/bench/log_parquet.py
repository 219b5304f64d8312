"""Wanted columns of a log in Parquet."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq

from mdo.bench.log_cells import (
    CELLS_MAX,
    ROWS_MAX,
    Cells,
    Column,
    Columns,
    Fault,
    Numbers,
    match_columns,
    refused,
    to_numbers,
)
from mdo.study.reader import StudyError
from mdo.study.text import clipped

_BATCH = 65_536


def read_parquet(path: Path, name: str, columns: Columns) -> Cells:
    """Read the wanted columns; a row is a row of the file, counted from 1.

    Raises
    ------
    StudyError
        If the file is damaged, too long, or a column holds no numbers.
    """
    try:
        file = pq.ParquetFile(path)
        schema = file.schema_arrow
        places = match_columns(schema.names, columns.wanted, f"{name}: schema")
        _check(name, file.metadata.num_rows, columns.wanted, [schema.field(n) for n in places])
        names = [schema.names[place] for place in places]
        faults: dict[str, Fault] = {}
        found: list[list[Numbers]] = [[] for _ in names]
        row = 1
        for batch in file.iter_batches(_BATCH, columns=names):
            lines = np.arange(row, row + len(batch), dtype=np.int64)
            for column, into, key in zip(columns.wanted, found, names, strict=True):
                comma = columns.decimal == "comma"
                into.append(_numbers(batch[key], lines, column, faults, comma=comma))
            row += len(batch)
    except (pa.ArrowException, OSError, ValueError, KeyError, OverflowError) as error:
        what = clipped(" ".join(str(error).split()))
        raise refused(f"{name}: damaged Parquet ({what}), expected a whole file") from None
    if row == 1:
        raise refused(f"{name}: no rows, expected samples")
    numbers = [np.concatenate(into) for into in found]
    return Cells(columns.wanted, numbers, np.arange(1, row, dtype=np.int64), faults, place="row")


def _check(name: str, rows: int, wanted: tuple[Column, ...], fields: list[Any]) -> None:
    """Refuse what is too long or no numbers, before any of it is read."""
    if rows > ROWS_MAX or rows * len(wanted) > CELLS_MAX:
        raise refused(f"{name}: too long, got {rows} rows, expected at most {ROWS_MAX}")
    problems = [
        f"{name}: column {clipped(column.name)}: holds {clipped(field.type)}, expected numbers"
        for column, field in zip(wanted, fields, strict=True)
        if not (
            pa.types.is_integer(field.type)
            or pa.types.is_floating(field.type)
            or _is_text(field.type)
            or _is_time(column, field.type)
        )
    ]
    if problems:
        raise StudyError(problems)


def _is_text(kind: Any) -> bool:
    return bool(pa.types.is_string(kind) or pa.types.is_large_string(kind))


def _is_time(column: Column, kind: Any) -> bool:
    return column.channel == "time" and bool(pa.types.is_timestamp(kind))


def _numbers(
    values: Any, lines: Any, column: Column, faults: dict[str, Fault], *, comma: bool
) -> Numbers:
    if _is_text(values.type):
        cells = [cell or "" for cell in values.to_pylist()]
        return to_numbers(cells, lines, column.name, faults, comma=comma)
    if _is_time(column, values.type):  # seconds, brought to the unit that [log] says
        values = values.cast(pa.timestamp("ns")).cast(pa.int64()).cast(pa.float64(), safe=False)
        return np.asarray(values.to_numpy(zero_copy_only=False)) * 1e-9 / column.scale
    numbers = np.array(values.cast(pa.float64(), safe=False).to_numpy(zero_copy_only=False))
    numbers[~np.isfinite(numbers)] = np.nan
    return numbers
