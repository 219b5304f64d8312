"""Cases as rows of a table beside the study: a CSV file or a workbook, a column for each field.

A column is a field of ``[[case]]``, with its unit in brackets where its cells are bare numbers; one
named ``return.<field>`` is that of ``[case.return]``. An empty cell leaves a field out. The rows
join the cases of the study file as if they stood there.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from mdo.study.cases import RETURN_KEYS, Case
from mdo.study.fields import declared
from mdo.study.reader import Place, Reader
from mdo.study.sheet import Row, read_rows
from mdo.study.text import file_name
from mdo.study.values import shown

BACK = "return."


def with_case_table(reader: Reader, content: Mapping[str, Any], folder: Path) -> dict[str, Any]:
    """Content of a study with the cases of its table beside those that it has itself.

    Parameters
    ----------
    reader : takes the problems
    content : of the study file
    folder : where the path of the table counts from
    """
    head = content.get("study")
    name = head.get("cases") if isinstance(head, Mapping) else None
    if not isinstance(head, Mapping) or not isinstance(name, str):
        return dict(content)
    own = content.get("case", [])
    place, fields = Place(reader, "study.cases"), declared(Case)
    columns = {**fields, **{BACK + key: fields[key] for key in RETURN_KEYS}}
    rows = read_rows(place, folder / file_name(name), columns)
    if not isinstance(own, list):
        return dict(content)
    _refuse_twice(place, own, rows)
    kept = {key: value for key, value in head.items() if key != "cases"}
    return {**content, "study": kept, "case": [*own, *(_case(row) for row in rows)]}


def _case(row: Row) -> dict[str, Any]:
    """Case of a row as it would stand in the study, its return in a table of its own."""
    back = {
        field.removeprefix(BACK): cell
        for field, cell in row.cells.items()
        if field.startswith(BACK)
    }
    case = {field: cell for field, cell in row.cells.items() if not field.startswith(BACK)}
    return case | ({"return": back} if back else {})


def _refuse_twice(place: Place, own: Sequence[Any], rows: Sequence[Row]) -> None:
    """Note a case that stands both in the study and in its table, or twice in the table."""
    first: dict[object, str] = {
        case["id"]: f"{Path(place.reader.source).name}, [[case]] number {number}"
        for number, case in enumerate(own, 1)
        if isinstance(case, Mapping) and isinstance(case.get("id"), str)
    }
    for where, cells in rows:
        name = cells.get("id")
        if name in first:
            place.problem(
                f"case {shown(name)} given twice, got it in {first[name]} and in {where}, "
                "expected it in one place (remove one)"
            )
        else:
            first[name] = where
