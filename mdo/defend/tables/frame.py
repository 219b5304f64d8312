"""Tables of records, by the paths of their attributes."""

from __future__ import annotations

from collections.abc import Iterable
from operator import attrgetter
from typing import Any

import pandas as pd


def of_lines(kind: Any, lines: Iterable[Any]) -> pd.DataFrame:
    """Lines of one kind of named tuple as a table, the columns there without lines too."""
    return pd.DataFrame(lines, columns=list(kind._fields))


def of_records(records: Iterable[Any], columns: str) -> pd.DataFrame:
    """Table of records: a column each by its name, ``name=path`` where its attribute has another.

    Parameters
    ----------
    records : one line each
    columns : such as ``"value title=knob.title"``
    """
    lines, pairs = list(records), (column.partition("=") for column in columns.split())
    return pd.DataFrame(
        {name: [attrgetter(path or name)(line) for line in lines] for name, _, path in pairs}
    )
