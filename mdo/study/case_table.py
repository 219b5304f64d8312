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
from mdo.study.fields import Field, declared
from mdo.study.reader import Place, Reader
from mdo.study.sheet import HEADER, read_sheet
from mdo.study.text import clipped, file_name
from mdo.study.values import nearest, shown

BACK = "return."
_TRUTH = {"true": True, "false": False, "1": True, "0": False, "yes": True, "no": False}
Column = tuple[str, str, Field]  # field, unit of bare numbers, its declaration


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
    place = Place(reader, "study.cases")
    lines = read_sheet(place, folder / file_name(name))
    rows = [] if lines is None else _rows(place, lines, clipped(Path(name).name))
    if not isinstance(own, list):
        return dict(content)
    _refuse_twice(place, own, rows)
    kept = {key: value for key, value in head.items() if key != "cases"}
    return {**content, "study": kept, "case": [*own, *(case for _, case in rows)]}


def _rows(
    place: Place, lines: Sequence[Sequence[str]], name: str
) -> list[tuple[str, dict[str, Any]]]:
    """Cases of a table, each with where it stands."""
    if not lines or not any(any(line) for line in lines[1:]):
        place.problem(f"empty, got {name}, expected a row for each case under the names of fields")
        return []
    columns = [_column(place, cell, name) for cell in lines[0]]
    known = [column[0] for column in columns if column is not None]
    for twice in sorted({field for field in known if known.count(field) > 1}):
        place.problem(f"{name} line 1: column {twice} given twice, expected once")
    if None in columns or len(set(known)) < len(known):
        return []
    rows = []
    for number, line in enumerate(lines[1:], 2):
        if not any(cell.strip() for cell in line):
            continue
        if len(line) != len(columns):
            place.problem(f"{name} line {number}: got {len(line)} cells, expected {len(columns)}")
            continue
        case: dict[str, Any] = {}
        for (field, unit, of), cell in zip(filter(None, columns), line, strict=True):
            if cell.strip():
                into = case.setdefault("return", {}) if field.startswith(BACK) else case
                into[field.removeprefix(BACK)] = _value(of, unit, cell.strip())
        rows.append((f"{name} line {number}", case))
    return rows


def _column(place: Place, cell: str, name: str) -> Column | None:
    """Field of a column, noting one that no case has."""
    match = HEADER.fullmatch(cell)
    field = match["name"] if match else cell
    fields = declared(Case)
    allowed = {*fields, *(BACK + key for key in RETURN_KEYS)}
    if match is None or field not in allowed:
        place.problem(f"{name} line 1: unknown column, {nearest(clipped(field), sorted(allowed))}")
        return None
    return field, (match["unit"] or "").strip(), fields[field.removeprefix(BACK)]


def _value(of: Field, unit: str, cell: str) -> object:
    """Cell as the study file would have it; what is wrong with it the reader of cases says."""
    if of.kind == "boolean":
        return _TRUTH.get(cell.lower(), cell)
    if of.kind not in {"quantity", "difference", "integer"}:
        return cell
    try:
        number = float(cell)
    except ValueError:
        return cell
    return f"{cell} {unit}" if unit else number


def _refuse_twice(place: Place, own: Sequence[Any], rows: Sequence[tuple[str, Any]]) -> None:
    """Note a case that stands both in the study and in its table, or twice in the table."""
    first: dict[object, str] = {
        case["id"]: f"{Path(place.reader.source).name}, [[case]] number {number}"
        for number, case in enumerate(own, 1)
        if isinstance(case, Mapping) and isinstance(case.get("id"), str)
    }
    for where, case in rows:
        name = case.get("id")
        if name in first:
            place.problem(
                f"case {shown(name)} given twice, got it in {first[name]} and in {where}, "
                "expected it in one place (remove one)"
            )
        else:
            first[name] = where
