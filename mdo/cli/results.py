"""Verbs of the command line on finished results: report, compare, order, workbook."""

from __future__ import annotations

import argparse
import re
from pathlib import Path

from mdo.cli.terminal import say

OK = 0
_SPARES = re.compile(r"(?P<number>\d{1,6})|(?P<share>\d{1,3}(\.\d+)?) ?%")


def make_report(arguments: argparse.Namespace) -> int:
    """Make the report of a result again."""
    from mdo.run.rebuild import rebuild_report

    done = rebuild_report(arguments.result, arguments.output)
    if arguments.output is None:
        changed = ", ".join(done.changed) or "nothing: every file is as it was"
        say(f"changed: {changed}")
    say(f"report: {done.page}")
    return OK


def compare(arguments: argparse.Namespace) -> int:
    """Compare results on the terminal and, where asked for, on a page."""
    from mdo.cli.text import as_json
    from mdo.report.pages.comparison_of_results import compare_results
    from mdo.report.pages.results_compared import comparison_page
    from mdo.report.words.bench import bench_page, bench_words
    from mdo.report.words.results_compared import comparison_dict, comparison_text
    from mdo.results.opening import expecting_our_own, write_output

    with expecting_our_own("compare: one of the results"):
        compared = compare_results(arguments.results)
        text = (
            as_json(comparison_dict(compared))
            if arguments.json
            else comparison_text(compared, arguments.units)
        )
        page = "" if arguments.output is None else comparison_page(compared, arguments.units)
        studies = [side.result.study for side in compared.sides]
        if all("bench" in study for study in studies):
            text, page = bench_words(studies[0], text), bench_page(studies[0], page)
    if arguments.output is not None:
        write_output(arguments.output, page.encode())
        say(f"page: {arguments.output}", error=True)
    say(text)
    return OK


def print_order(arguments: argparse.Namespace) -> int:
    """Print or write the order sheet of a result."""
    from mdo.report.pages.order_sheet import TABLE, Quantities, order_sheet_markdown, ordered_table
    from mdo.results.opening import expecting_our_own, write_output
    from mdo.results.spreadsheet import csv_bytes
    from mdo.run.rebuild import stored_order_sheet

    sheet = stored_order_sheet(arguments.result)
    quantities = Quantities(arguments.aircraft, *arguments.spares)
    file: Path | None = arguments.output
    with expecting_our_own(arguments.result):
        if file is not None and file.suffix.lower() == ".csv":
            data = csv_bytes(ordered_table(sheet, quantities))
        else:
            text = order_sheet_markdown({TABLE: sheet}, arguments.units, quantities)
            data = text.encode()
    if file is None:
        say(text.rstrip("\n"))
        return OK
    write_output(file, data)
    say(f"order sheet: {file}")
    return OK


def write_workbook(arguments: argparse.Namespace) -> int:
    """Write the tables of a result into one workbook, SI units; the first sheet explains them."""
    from mdo.results.files import StoreError
    from mdo.results.opening import check_version, expecting_our_own, open_result, write_output
    from mdo.results.spreadsheet import workbook_bytes

    result = open_result(arguments.result)
    check_version(result)
    names = sorted(result.tables, key=lambda name: name != "columns")
    with expecting_our_own(arguments.result):
        tables = {name: result.table(name) for name in names}
        try:
            data = workbook_bytes(tables)
        except ValueError as error:
            raise StoreError(f"{arguments.result}: {error}; take its Parquet or CSV") from None
    write_output(arguments.output, data)
    say(f"workbook: {arguments.output}")
    return OK


def aircraft(text: str) -> int:
    """Read a number of aircraft."""
    if not re.fullmatch(r"\d{1,6}", text) or int(text) == 0:
        raise argparse.ArgumentTypeError(f"got {text!r}, expected a whole number from 1 on")
    return int(text)


def spares(text: str) -> tuple[int, float]:
    """Read spares: a number of tubes or a share in per cent."""
    found = _SPARES.fullmatch(text)
    if found is None:
        raise argparse.ArgumentTypeError(
            f"got {text!r}, expected a whole number of tubes, or a share such as 10%"
        )
    if found["number"]:
        return int(found["number"]), 0.0
    return 0, float(found["share"]) / 100.0
