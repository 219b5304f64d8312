"""File of a log: which kind it is, and its wanted columns."""

from __future__ import annotations

from pathlib import Path

from mdo.bench.log_cells import Cells
from mdo.bench.log_columns import Columns, refused
from mdo.bench.log_csv import read_csv
from mdo.study.text import clipped

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
