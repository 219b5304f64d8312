"""The verb of the command line that writes a first study."""

from __future__ import annotations

import argparse
from typing import Any

from mdo.cli.terminal import say

KINDS = ("deck", "flight", "both", "bench")  # as in mdo.study.first, which takes long to import
NEXT = {
    "check": "tells every fault of the file at once",
    "check --all": "lists what it leaves open, and where that comes from",
    "run": "sizes the actuator and writes the report",
}
COLUMN = 50


def add_new_verb(verb: Any, study: argparse.ArgumentParser, units: argparse.ArgumentParser) -> None:
    """Add the verb to the parser; ``verb`` adds one and returns its parser."""
    text = "Write a first study, feasible as it stands; a file that is there is never touched."
    new = verb("new", _new, text, study, units)
    new.add_argument(
        "--kind",
        choices=KINDS,
        default="both",
        help="folds on deck, in flight, on both, or an actuator on a bench (default: both)",
    )


def _new(arguments: argparse.Namespace) -> int:
    """Write a first study and say what comes next."""
    from mdo.study.first import first_study

    file = arguments.study
    first_study(file, arguments.kind, arguments.units)
    say(f"{file}: feasible as it stands. Put in your own numbers, then")
    for command, what in NEXT.items():
        say(f"  fold-mdo {command} {file}".ljust(COLUMN) + f" {what}")
    return 0
