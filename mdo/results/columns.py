"""Dictionary of the columns of all tables: unit and meaning, kept beside the tables of a result.

The tables have one line of heads and then plain cells, so that they sort, filter and paste; what a
column means and in which unit it counts is written here instead of into a second line of heads.
"""

from __future__ import annotations

from collections.abc import Mapping

import pandas as pd

from mdo.data_files import csv_beside
from mdo.quantities import QUANTITIES

COLUMNS = "columns"  # the table that says what the columns of the others mean
# Unit and meaning of columns that hold no quantity of the table. A name that several tables use for
# different things stands there as ``table.column``.
OTHERS = {line["column"]: (line["unit"], line["meaning"]) for line in csv_beside(__file__)}


def columns_table(tables: Mapping[str, pd.DataFrame]) -> pd.DataFrame:
    """Table, column, unit and meaning of every column of some tables, in their order."""
    rows = [
        (table, str(column), *column_facts(table, str(column), frame))
        for table, frame in tables.items()
        for column in frame.columns
    ]
    return pd.DataFrame(rows, columns=["table", "column", "unit", "meaning"])


def column_facts(table: str, column: str, frame: pd.DataFrame) -> tuple[str, str]:
    """Unit and meaning of a column: empty for words, ``?`` for a number that nobody explains."""
    kind = frame[column].dtype
    is_number = pd.api.types.is_numeric_dtype(kind) and not pd.api.types.is_bool_dtype(kind)
    quantity = QUANTITIES.get(column.partition(".")[0])
    unit, meaning = ("?", "") if quantity is None else (quantity.unit, quantity.meaning)
    for name in (column, f"{table}.{column}"):
        unit, meaning = OTHERS.get(name, (unit, meaning))
    return (unit, meaning) if is_number else ("", "")
