"""Make the report of a finished result again, from what the result holds; nothing is optimised.

What was computed is read and never written: tables (Parquet), record, summaries. Only what is made
from them is replaced, file by file, each whole: the pages, the CSV twins of the tables, the order
sheet; then the manifest gets their fingerprints.
"""

from __future__ import annotations

import hashlib
import os
import tempfile
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from urllib.parse import quote

import pandas as pd

from mdo.defend.record import read_record
from mdo.optimise.appraisal import Appraisal
from mdo.report import Source
from mdo.report.pages.log_page import log_page
from mdo.report.pages.order_sheet import TABLE
from mdo.results.files import Lock, StoreError, write_whole
from mdo.results.opening import (
    AGAIN,
    check_unchanged,
    check_version,
    expecting_our_own,
    open_result,
    write_output,
)
from mdo.results.spreadsheet import csv_bytes
from mdo.results.stored import StoredResult
from mdo.run.analyses import SUMMARIES, design_pages
from mdo.run.design_analyses import RECORD
from mdo.run.explorations import REPORT, is_exploration, stored_pages
from mdo.study.reader import StudyError

BENCH = "bench"  # what a log set beside a result is kept as


@dataclass(frozen=True)
class Rebuilt:
    """What was made again: the page, and names of the files that differ from before."""

    page: Path
    changed: tuple[str, ...]


def rebuild_report(folder: str | Path, output: str | Path | None = None) -> Rebuilt:
    """Make the report of a finished result again.

    Parameters
    ----------
    folder : folder of the result
    output : file for the page; the result is then left as it is. None replaces the report in it.

    Raises
    ------
    StoreError
        If there is no whole result of this version of the tool, or something cannot be written.
    """
    result = open_result(folder)
    with expecting_our_own(result.folder):
        files = {name: page.encode() for name, page in _made_again(result).items()}
    if output is not None:
        write_output(output, _linked(files, result.folder, Path(output)))
        return Rebuilt(Path(output), ())
    twins = {f"{name}.csv": csv_bytes(result.table(name)) for name in result.tables}
    return Rebuilt(result.folder / REPORT, _replaced(result, {**files, **twins}))


def _linked(files: Mapping[str, bytes], folder: Path, output: Path) -> bytes:
    """Page that lies elsewhere, with links to the other pages in the folder of their result."""
    page, beside = files[REPORT], os.path.relpath(folder.resolve(), output.resolve().parent)
    for name in files:
        page = page.replace(f'href="{name}"'.encode(), f'href="{quote(beside)}/{name}"'.encode())
    return page


def _made_again(result: StoredResult) -> dict[str, str]:
    """Pages of a result, and order sheet of a design."""
    if is_exploration(result.manifest.analysis):
        check_version(result)
        check_unchanged(result, [*SUMMARIES.values(), *_parquet(result)])
        return stored_pages(result)
    if result.manifest.analysis == BENCH:
        check_version(result)
        check_unchanged(result, _parquet(result))
        return {REPORT: log_page(result.study, result.page_tables)}
    with stored_appraisal(result) as appraisal:
        return design_pages(Source(appraisal, result.page_tables, result.manifest.versions))


@contextmanager
def stored_appraisal(result: StoredResult) -> Iterator[Appraisal]:
    """Appraisal that a result was made from; what was found about an optimum is in its tables.

    Files of the user's own that its study names are there while it is open.

    Raises
    ------
    StoreError
        If the result is of another version, older than records, edited or damaged.
    """
    with tempfile.TemporaryDirectory() as aside:
        with expecting_our_own(result.folder):
            appraisal = _appraisal(result, Path(aside))
        yield appraisal


def _appraisal(result: StoredResult, aside: Path) -> Appraisal:
    """Appraisal of a result, checked before it is read; files of its study go aside."""
    check_version(result)
    manifest = result.manifest
    if is_exploration(manifest.analysis):
        raise StoreError(
            f"{result.folder}: an exploration of many designs, got '{manifest.analysis}', expected "
            "the result of one design (evaluate, optimum or defence)"
        )
    if RECORD not in manifest.files:
        raise StoreError(
            f"{result.folder}: written before results kept what a report is rebuilt from "
            f"(no {RECORD}); {AGAIN}"
        )
    check_unchanged(result, [RECORD, *SUMMARIES.values(), *_parquet(result)])
    try:
        text = (result.folder / RECORD).read_text(encoding="utf-8")
        return read_record(text, manifest.study_text, aside)
    except (OSError, ValueError, StudyError) as error:
        words = " ".join(str(error).split())
        raise StoreError(
            f"{result.folder / RECORD}: cannot be read: edited, damaged or of another version "
            f"of the tool ({words}); {AGAIN}"
        ) from None


def stored_order_sheet(folder: str | Path) -> pd.DataFrame:
    """Order sheet of a finished result, as a table [SI].

    Raises
    ------
    StoreError
        If there is no whole result of this version of the tool, or it has no order sheet.
    """
    result = open_result(folder)
    check_version(result)
    if TABLE not in result.tables:
        raise StoreError(f"{result.folder}: has no order sheet; {AGAIN}")
    check_unchanged(result, [f"{TABLE}.parquet"])
    return result.table(TABLE)


def _parquet(result: StoredResult) -> list[str]:
    """Files of the tables of a result."""
    return [f"{name}.parquet" for name in result.tables]


def _replaced(result: StoredResult, files: Mapping[str, bytes]) -> tuple[str, ...]:
    """Replace files of a result one by one, then the manifest; returns those that differ."""
    place = result.folder
    lock = Lock(place.with_name(f".{place.name}.lock"), str(place))
    try:
        changed = {}
        for name, data in files.items():
            path = place / name
            if not path.is_file() or path.read_bytes() != data:
                write_whole(path, data)
                changed[name] = data
        known = {name: hashlib.sha256(data).hexdigest() for name, data in files.items()}
        manifest = replace(result.manifest, files={**result.manifest.files, **known})
        if manifest != result.manifest:
            manifest.write(place)
    finally:
        lock.release()
    return tuple(changed)
