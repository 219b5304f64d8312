"""Cases as rows of a CSV file or a workbook beside the study."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from mdo.study import Study, StudyError, study_from_dict

HEAD = ["id", "kind", "location", "fold_from [deg]", "fold_to", "returns", "airspeed_equivalent",
        "load_factor", "folds_per_life", "other_set", "return.load_factor"]  # fmt: skip
ROWS = [
    ["sheet_up", "fold", "air", 0, "30 deg", True, "150 kt", 1, 100, "warmed", 0.9],
    ["sheet_down", "fold", "air", 10, "-20 deg", False, "150 kt", 1.1, 50.0, "warmed", None],
]


def as_csv(*lines: list[Any]) -> bytes:
    cells = [["" if cell is None else str(cell) for cell in line] for line in lines]
    return "\n".join(",".join(line) for line in cells).encode()


def as_workbook(*lines: list[Any]) -> bytes:
    book = openpyxl.Workbook()
    for line in lines:
        book.active.append(line)
    book.create_sheet("notes").append(["not read"])
    buffer = io.BytesIO()
    book.save(buffer)
    return buffer.getvalue()


def study_beside(content: dict[str, Any], folder: Path, name: str, data: bytes) -> Study:
    (folder / name).write_bytes(data)
    content["study"]["cases"] = name
    return study_from_dict(content, folder=folder)


@pytest.mark.parametrize(("name", "made"), [("cases.csv", as_csv), ("cases.xlsx", as_workbook)])
def test_rows_are_cases_as_if_they_stood_in_the_study(
    name: str, made: Any, content: dict[str, Any], tmp_path: Path
) -> None:
    own = len(content["case"])
    study = study_beside(content, tmp_path, name, made(HEAD, *ROWS))
    up, down = study.cases[own:]
    assert (up.id, down.id) == ("sheet_up", "sheet_down")
    assert up.returns
    assert not down.returns
    # 30 and -20 deg, 150 kt = 77.1667 m/s, by definition
    assert (up.fold_to, down.fold_to) == pytest.approx((0.5235987756, -0.3490658504))
    assert up.airspeed_equivalent == pytest.approx(77.1666667)
    assert up.return_case is not None
    assert up.return_case.load_factor == pytest.approx(0.9)
    assert down.load_factor == pytest.approx(1.1)
    inputs = {given.path: given for given in study.inputs}
    assert inputs["case.sheet_up.fold_from"].origin == "file"


def test_study_with_a_table_is_kept_whole_and_varied(
    content: dict[str, Any], tmp_path: Path
) -> None:
    study = study_beside(content, tmp_path, "cases.csv", as_csv(HEAD, *ROWS))
    (tmp_path / "cases.csv").unlink()
    changed = study.with_values({"case.sheet_down.load_factor": 1.2})
    assert changed.cases[-1].load_factor == pytest.approx(1.2)
    assert "sheet_down" in study.text


def test_a_case_given_twice_is_refused_with_both_places(
    content: dict[str, Any], tmp_path: Path
) -> None:
    mine = content["case"][1]["id"]
    rows = [[mine, *ROWS[0][1:]], ROWS[1], ROWS[1]]
    with pytest.raises(StudyError) as error:
        study_beside(content, tmp_path, "cases.csv", as_csv(HEAD, *rows))
    told = "\n".join(error.value.problems)
    assert f'"{mine}" given twice, got it in study, [[case]] number 2 and in cases.csv' in told
    assert "cases.csv line 2" in told
    assert '"sheet_down" given twice, got it in cases.csv line 3 and in cases.csv line 4' in told


@pytest.mark.parametrize(
    ("name", "data", "message"),
    [
        ("gone/cases.csv", b"", "study.cases: cannot be read"),
        ("cases.csv", b"", "study.cases: empty"),
        ("cases.csv", b"id,kind\n", "study.cases: empty"),
        ("cases.csv", b"id,knd\na,fold\n", "line 1: unknown column, got \"knd\""),
        ("cases.csv", b"id,id\na,b\n", "line 1: column id given twice"),
        ("cases.csv", b"id,kind\na\n", "cases.csv line 2: got 1 cells, expected 2"),
        ("cases.csv", b"id,kind\na,dance\n", "case.a.kind: unknown choice"),
        ("cases.csv", b"id,fold_from [kg]\na,3\n", "case.a.fold_from"),
        ("cases.csv", b"id,fold_from\na,3\n", "case.a.fold_from: missing unit"),
        ("cases.csv", b"id,returns\na,perhaps\n", "case.a.returns: wrong type"),
        ("cases.csv", b"\xff\xfe\x00", "not UTF-8"),
        ("cases.xlsx", b"no workbook", "study.cases: not a workbook"),
        ("cases.xlsx", b"PK\x03\x04 broken", "study.cases: not a workbook"),
    ],
)  # fmt: skip
def test_a_table_that_cannot_be_used_is_told(
    name: str, data: bytes, message: str, content: dict[str, Any], tmp_path: Path
) -> None:
    if "/" not in name:
        (tmp_path / name).write_bytes(data)
    content["study"]["cases"] = name
    with pytest.raises(StudyError) as error:
        study_from_dict(content, folder=tmp_path)
    assert any(message in line for line in error.value.problems), error.value.problems
