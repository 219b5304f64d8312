from __future__ import annotations

import math
from pathlib import Path
from typing import Any

import numpy as np
import openpyxl
import pytest

from mdo.study import StudyError, study_from_dict

HEADER = "case,leg,fold_angle [deg],minimum [in*lbf],maximum [N*m],source"


def rows(case: dict[str, Any]) -> list[str]:
    """Two rows for each leg of a case, at the ends of its motion."""
    if case["kind"] == "soak":
        return []
    ends = [case["fold_at"]] if "fold_at" in case else [case["fold_from"], case["fold_to"]]
    legs = ["fold", "return"] if case.get("returns") else ["fold"]
    return [
        f"{case['id']},{leg},{end.split()[0]},-100,{20 + number},wind tunnel"
        for leg in legs
        for number, end in enumerate(ends)
    ]


def study_with(content: dict[str, Any], folder: Path, lines: list[str] | bytes) -> Any:
    content["fidelity"] = {"optimise": {"hinge_moment": "table"}}
    content["actuator"]["table"] = "loads.csv"
    data = lines if isinstance(lines, bytes) else "\n".join(lines).encode()
    (folder / "loads.csv").write_bytes(data)
    return study_from_dict(content, folder=folder)


def whole(content: dict[str, Any]) -> list[str]:
    return [HEADER, *(line for case in content["case"] for line in rows(case))]


def test_table_is_read_in_si_and_interpolated(content: dict[str, Any], tmp_path: Path) -> None:
    study = study_with(content, tmp_path, whole(content))
    low, high = study.load_table.moments("stow_calm", "fold", np.radians([0.0, 50.0, 100.0]))
    assert low == pytest.approx([-11.2984829] * 3)  # 100 in lbf, exact definitions
    assert high == pytest.approx([20.0, 20.5, 21.0])
    assert study.load_table.rows[0].source == "wind tunnel"
    assert study.load_table.rows[1].fold_angle == pytest.approx(math.radians(100))


def test_workbook_says_the_same_as_csv(content: dict[str, Any], tmp_path: Path) -> None:
    text = study_with(content, tmp_path, whole(content)).load_table
    book = openpyxl.Workbook()
    for line in whole(content):
        cells = line.split(",")
        book.active.append(cells if cells[0] == "case" else [_number(cell) for cell in cells])
    book.save(tmp_path / "loads.xlsx")
    content["actuator"]["table"] = "loads.xlsx"
    assert study_from_dict(content, folder=tmp_path).load_table == text


def _number(cell: str) -> float | str:
    try:
        return float(cell)
    except ValueError:
        return cell


def test_table_without_the_leg_says_so(content: dict[str, Any], tmp_path: Path) -> None:
    table = study_with(content, tmp_path, whole(content)).load_table
    with pytest.raises(KeyError, match="no hinge moments for case overrun, leg return"):
        table.moments("overrun", "return", np.zeros(1))


@pytest.mark.parametrize(
    ("edit", "message"),
    [
        (lambda lines: [], "empty, got loads.csv"),
        (lambda lines: lines[1:], "line 1: unknown column, got \"stow_calm\""),
        (lambda lines: [HEADER.replace(" [deg]", ""), *lines[1:]],
         "column fold_angle: missing unit"),
        (lambda lines: [HEADER.replace("N*m", "kg"), *lines[1:]],
         "column maximum: wrong dimension"),
        (lambda lines: [*lines, "stow_calm,fold,7"], "got 3 cells, expected 6"),
        (lambda lines: [*lines, "stow_calm,fold,x,1,2,s"],
         "line 29.fold_angle: not a quantity, got 'x'"),
        (lambda lines: [*lines, "stow_calm,fold,5,nan,2,s"], "minimum: not a finite number"),
        (lambda lines: [*lines, "stow_calm,fold,5,900,2,s"], "minimum above maximum"),
        (lambda lines: [*lines, "stow_calm,back,5,1,2,s"],
         "leg: unknown leg, got \"back\", expected one of: fold, return"),
        (lambda lines: [*lines, "nowhere,fold,5,1,2,s"], "got case \"nowhere\""),
        (lambda lines: [*lines, lines[1]], "an angle given twice"),
        (lambda lines: [lines[0], *lines[2:]],
         "case stow_calm, leg fold: not covered, got 1 angles"),
        (lambda lines: b"\xff\xff", "not UTF-8 text"),
        (lambda lines: [*lines, '"open'], "not CSV"),
    ],
)  # fmt: skip
def test_bad_table_is_refused_in_words(
    content: dict[str, Any], tmp_path: Path, edit: Any, message: str
) -> None:
    with pytest.raises(StudyError, match=message):
        study_with(content, tmp_path, edit(whole(content)))


def test_missing_table_is_refused_in_words(content: dict[str, Any], tmp_path: Path) -> None:
    content["fidelity"] = {"optimise": {"hinge_moment": "table"}}
    content["actuator"]["table"] = "none.csv"
    with pytest.raises(StudyError, match=r"actuator.table: cannot be read \(No such file"):
        study_from_dict(content, folder=tmp_path)
