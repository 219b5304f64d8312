"""Tables as CSV: RFC 4180, UTF-8 with its mark, numbers in full, no text that becomes a formula."""

from __future__ import annotations

import codecs
import csv
import io
import math

import numpy as np
import openpyxl
import pandas as pd
import pytest

from mdo.results.spreadsheet import FORMULA_STARTS, csv_bytes, workbook_bytes


def read(data: bytes) -> list[list[str]]:
    return list(csv.reader(io.StringIO(data.decode("utf-8-sig"), newline=""), strict=True))


def test_lines_end_as_rfc_4180_says_and_the_mark_of_utf_8_is_there() -> None:
    data = csv_bytes(pd.DataFrame({"länge": [1.5], "text": ["a"]}))
    assert data == codecs.BOM_UTF8 + "länge,text\r\n1.5,a\r\n".encode()


@pytest.mark.parametrize(
    "text", ['say "so"', "a,b", "two\r\nlines", "two\nlines", "  spaces ", "Größe ≥ 3 µm", ""]
)
def test_texts_read_back_as_they_were(text: str) -> None:
    assert read(csv_bytes(pd.DataFrame({"a": [text], "b": ["end"]})))[1] == [text, "end"]


@pytest.mark.parametrize("start", FORMULA_STARTS)
def test_text_of_a_user_never_becomes_a_formula(start: str) -> None:
    text = f'{start}HYPERLINK("x";"y")'
    head, line = read(csv_bytes(pd.DataFrame({text: [text], "n": [-1.0]})))
    assert head == [f"'{text}", "n"]
    assert line == [f"'{text}", "-1.0"]  # a negative number stays one


def test_numbers_read_back_to_the_same_bits() -> None:
    rng = np.random.default_rng(7)
    numbers = rng.standard_normal(500) * 10.0 ** rng.integers(-300, 300, 500)
    lines = read(csv_bytes(pd.DataFrame({"x": numbers, "n": np.arange(500)})))[1:]
    assert [float(line[0]) for line in lines] == numbers.tolist()
    assert [line[1] for line in lines] == [str(n) for n in range(500)]


def test_what_is_no_number_is_empty_and_infinity_is_said() -> None:
    data = pd.DataFrame({"x": [np.nan, np.inf, -np.inf], "b": [True, False, True]})
    assert read(csv_bytes(data))[1:] == [["", "True"], ["inf", "False"], ["-inf", "True"]]


def test_mixed_columns_and_two_columns_of_one_name_are_kept() -> None:
    data = pd.DataFrame([[1.25, "=1+1"], ["-", None]], columns=["a", "a"])
    assert read(csv_bytes(data)) == [["a", "a"], ["1.25", "'=1+1"], ["'-", ""]]


def test_same_table_gives_the_same_bytes() -> None:
    data = pd.DataFrame({"x": [0.1, 0.2], "t": ["a", "b"]})
    assert csv_bytes(data) == csv_bytes(data.copy())


def test_workbook_has_a_sheet_for_each_table_with_its_numbers() -> None:
    first = pd.DataFrame(
        {"line": ["=1+1", "tubes"], "mass": [0.1, math.nan], "holds": [True, False]}
    )
    second = pd.DataFrame({"count": [3], "most": [math.inf]})
    data = workbook_bytes({"masses": first, "a_name_that_is_longer_than_a_sheet_may_have": second})
    book = openpyxl.load_workbook(io.BytesIO(data))
    assert book.sheetnames == ["masses", "a_name_that_is_longer_than_a_sh"]
    rows = list(book["masses"].iter_rows(values_only=True))
    assert rows == [("line", "mass", "holds"), ("'=1+1", 0.1, True), ("tubes", None, False)]
    assert list(book.worksheets[1].iter_rows(values_only=True))[1] == (3, "inf")


def test_workbook_refuses_a_table_longer_than_a_sheet() -> None:
    with pytest.raises(ValueError, match="table long has 1048576 lines"):
        workbook_bytes({"long": pd.DataFrame({"n": range(1_048_576)})})
