"""Verbs of the command line on finished results: report, compare, order."""

from __future__ import annotations

import argparse
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mdo.cli.terminal import say

if TYPE_CHECKING:
    import pandas as pd

    from mdo.report.pages.order_sheet import Quantities

OK = 0
_SPARES = re.compile(r"(?P<number>\d{1,6})|(?P<share>\d{1,3}(\.\d+)?) ?%")


def add_result_verbs(verb: Any, units: argparse.ArgumentParser) -> None:
    """Add the verbs to the parser; ``verb`` adds one and returns its parser."""
    report = verb("report", _report, "Make the report of a finished result again.")
    _result(report)
    report.add_argument(
        "--output",
        metavar="FILE",
        type=Path,
        help="write the page there and leave the result as it is (default: replace its report)",
    )
    _add_compare(verb, units)
    _add_order(verb, units)


def _add_compare(verb: Any, units: argparse.ArgumentParser) -> None:
    compare = verb("compare", _compare, "Put finished results side by side.", units)
    compare.add_argument(
        "results",
        metavar="RESULT",
        type=Path,
        nargs="+",
        help="folders of two to eight results, such as results/STUDY/optimum; the first is what "
        "the others are compared with",
    )
    compare.add_argument(
        "--output", metavar="FILE", type=Path, help="write a page with figures there too"
    )
    compare.add_argument("--json", action="store_true", help="print JSON, in SI units")


def _add_order(verb: Any, units: argparse.ArgumentParser) -> None:
    order = verb("order", _order, "Print the order sheet of the tubes of a result.", units)
    _result(order)
    order.add_argument(
        "--aircraft", metavar="N", type=_aircraft, default=1, help="how many aircraft (default: 1)"
    )
    order.add_argument(
        "--spares",
        metavar="N",
        type=_spares,
        default=(0, 0.0),
        help="spare tubes of each set: a number, or a share such as 10%% (default: 0)",
    )
    order.add_argument(
        "--output",
        metavar="FILE",
        type=Path,
        help="write it there: Markdown, or CSV in SI units if the name ends with .csv",
    )


def _result(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "result",
        metavar="RESULT",
        type=Path,
        help="folder of a finished result, such as results/STUDY/optimum",
    )


def _report(arguments: argparse.Namespace) -> int:
    """Make the report of a result again."""
    from mdo.run.rebuild import rebuild_report

    done = rebuild_report(arguments.result, arguments.output)
    if arguments.output is None:
        changed = ", ".join(done.changed) or "nothing: every file is as it was"
        say(f"changed: {changed}")
    say(f"report: {done.page}")
    return OK


def _compare(arguments: argparse.Namespace) -> int:
    """Compare results on the terminal and, where asked for, on a page."""
    from mdo.cli.text import as_json
    from mdo.report.pages.comparison_of_results import compare_results
    from mdo.report.words.results_compared import comparison_dict, comparison_text

    found = compare_results(arguments.results)
    if arguments.output is not None:
        from mdo.report.pages.results_compared import comparison_page
        from mdo.results.opening import write_output

        write_output(arguments.output, comparison_page(found, arguments.units).encode())
        say(f"page: {arguments.output}", error=True)
    text = as_json(comparison_dict(found)) if arguments.json else None
    say(text or comparison_text(found, arguments.units))
    return OK


def _order(arguments: argparse.Namespace) -> int:
    """Print or write the order sheet of a result."""
    from mdo.report.pages.order_sheet import TABLE, Quantities, order_sheet_markdown
    from mdo.run.rebuild import stored_order_sheet

    sheet = stored_order_sheet(arguments.result)
    number, share = arguments.spares
    quantities = Quantities(arguments.aircraft, number, share)
    file: Path | None = arguments.output
    if file is None:
        say(order_sheet_markdown({TABLE: sheet}, arguments.units, quantities).rstrip("\n"))
        return OK
    _write_order(file, sheet, arguments.units, quantities)
    say(f"order sheet: {file}")
    return OK


def _write_order(file: Path, sheet: pd.DataFrame, units: str, quantities: Quantities) -> None:
    from mdo.report.pages.order_sheet import TABLE, order_sheet_markdown, ordered_table
    from mdo.results.opening import write_output
    from mdo.results.spreadsheet import csv_bytes

    if file.suffix.lower() == ".csv":
        write_output(file, csv_bytes(ordered_table(sheet, quantities)))
    else:
        write_output(file, order_sheet_markdown({TABLE: sheet}, units, quantities).encode())


def _aircraft(text: str) -> int:
    """Read a number of aircraft."""
    if not re.fullmatch(r"\d{1,6}", text) or int(text) == 0:
        raise argparse.ArgumentTypeError(f"got {text!r}, expected a whole number from 1 on")
    return int(text)


def _spares(text: str) -> tuple[int, float]:
    """Read spares: a number of tubes or a share in per cent."""
    found = _SPARES.fullmatch(text)
    if found is None:
        raise argparse.ArgumentTypeError(
            f"got {text!r}, expected a whole number of tubes, or a share such as 10%"
        )
    if found["number"]:
        return int(found["number"]), 0.0
    return 0, float(found["share"]) / 100.0
