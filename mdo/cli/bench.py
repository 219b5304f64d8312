"""The verb of the command line that sets a log of a bench beside a result."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

from mdo.cli import terminal
from mdo.cli.options import QUIET

HELP = (
    "Set a log of a bench beside the prediction of a result: what agrees, what does not, which "
    "input would explain it; fit inputs to it. Without a log: virtual coupon tests of its alloy."
)
ARGUMENTS: dict[str, dict[str, Any]] = {
    "result": {
        "metavar": "RESULT", "type": Path,
        "help": "folder of a result with its motion beside it, such as results/STUDY/motion",
    },
    "log": {
        "metavar": "LOG", "type": Path, "nargs": "?",
        "help": "CSV or Parquet; a TOML file of the same name beside it names columns and units",
    },
    "--fit": {
        "metavar": "NAMES", "default": "",
        "help": "inputs to fit to the log, with commas: fields of the alloy card, film_factor, "
        "gap_factor, friction_factor, load_factor, outside_temperature, angle_zero, "
        "temperature_zero",
    },
    "--card": {
        "metavar": "FILE", "type": Path,
        "help": "write an alloy card with what was fitted there",
    },
    "--make": {
        "metavar": "FILE", "type": Path,
        "help": "write a made log (CSV) of this design there, to try the rest on: nothing is "
        "measured",
    },
}  # fmt: skip


def add_bench_verb(verb: Any, units: argparse.ArgumentParser) -> None:
    """Add the verb to the parser; ``verb`` adds one and returns its parser."""
    bench = verb("bench", _bench, HELP, units, QUIET)
    for name, look in ARGUMENTS.items():
        bench.add_argument(name, **look)


def _bench(arguments: argparse.Namespace) -> int:
    """Compare, fit, print what came out."""
    with terminal.uninterrupted():
        from mdo.bench.log_cells import refused
        from mdo.run.bench import compare_log, make_log

    if arguments.make is not None:
        make_log(arguments.result, arguments.make)
        terminal.say(f"made log: {arguments.make}")
        return 0
    names = [name.strip() for name in arguments.fit.split(",") if name.strip()]
    if names and arguments.log is None:
        raise refused("--fit: got no LOG, expected a log to fit to")
    if arguments.card is not None and not names:
        raise refused("--card: got no --fit, expected inputs to fit, such as --fit austenite_start")
    with terminal.progress(quiet=arguments.quiet) as tracker:
        done = compare_log(
            arguments.result, arguments.log, names=names, card=arguments.card,
            units=arguments.units, say=tracker,
        )  # fmt: skip
    for line in done.lines:
        terminal.say(line)
    terminal.say(f"Tables and page: {done.folder}")
    if arguments.card is not None:
        terminal.say(f"card: {arguments.card}")
    return 0
