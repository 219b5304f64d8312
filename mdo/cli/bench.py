"""The verb of the command line that sets a log of a bench beside a result."""

from __future__ import annotations

import argparse

from mdo.cli import terminal


def set_log_beside(arguments: argparse.Namespace) -> int:
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
