"""The command ``fold-mdo``: parse, call, print. Heavy imports wait until a verb needs them."""

from __future__ import annotations

import argparse
import contextlib
import os
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from mdo import __version__, analysis_names
from mdo.analysis_names import EXPLORATIONS
from mdo.cli import terminal
from mdo.cli.bench import set_log_beside
from mdo.cli.results import (
    aircraft,
    compare,
    make_report,
    print_order,
    spares,
    write_workbook,
)
from mdo.data_files import toml_beside
from mdo.errors import InputError

if TYPE_CHECKING:
    from mdo.study import Study

OK, INTERNAL, BAD_INPUT, INTERRUPTED, PIPE_CLOSED, TERMINATED = 0, 1, 2, 130, 141, 143

EXIT_CODES = """\
exit codes:
  0  done
  1  internal error: a fault of the tool
  2  bad input (arguments, study, alloy card, folder of results): every problem is listed
  3  sizing finds no feasible design
130  interrupted by Ctrl-C: no half result is left, the same command starts again
141  whoever read the output has gone (a closed pipe)
143  terminated from outside (SIGTERM): as 130
"""

NEXT = {
    "check": "tells every fault of the file at once",
    "check --all": "lists what it leaves open, and where that comes from",
    "run": "sizes the actuator and writes the report",
}
COLUMN = 50  # of what they do


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code.

    Parameters
    ----------
    argv
        Arguments without the name of the program; those of the process if None.

    Raises
    ------
    SystemExit
        From the parser, for ``--help`` (0) and for arguments that it does not know (2).
    """
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(AttributeError, ValueError):
            stream.reconfigure(errors="replace")  # type: ignore[union-attr]
    try:
        with terminal.interruptible():
            code = _call(_parser().parse_args(argv))
    except KeyboardInterrupt:
        code = _interrupted()
    if argv is None:  # nothing is left to do but to end
        terminal.no_more_interrupts()
        if code in {INTERRUPTED, TERMINATED}:
            terminal.end_at_once(code)
    return code


def _call(arguments: argparse.Namespace) -> int:
    """Call a verb and return the exit code; an error becomes one message."""
    verb: Callable[[argparse.Namespace], int] = arguments.verb
    try:
        code = verb(arguments)
        sys.stdout.flush()
    except BrokenPipeError:
        _silence_stdout()
        return PIPE_CLOSED
    except KeyboardInterrupt:
        return _interrupted()
    except Exception as error:
        if terminal.interrupted():
            return _interrupted()
        if arguments.debug:
            import traceback

            traceback.print_exc()
        return _report(error)
    return code


def _interrupted() -> int:
    """Say that the run was interrupted or terminated; return the exit code."""
    terminal.no_more_interrupts()
    code, word = terminal.ending()
    print(word, file=sys.stderr, flush=True)
    return code


def _report(error: Exception) -> int:
    """Print one message for an error and return its exit code."""
    if isinstance(error, InputError):
        terminal.say(error, error=True)
        return BAD_INPUT
    if isinstance(error, OSError) and error.filename is None:
        _silence_stdout()
        print(f"fold-mdo: cannot write its output: {error.strerror or error}", file=sys.stderr)
        return INTERNAL
    terminal.say(_fault(error), error=True)
    return INTERNAL


def _fault(error: Exception) -> str:
    """Message of an internal error, and how to report it."""
    text = " ".join(str(error).split())
    what = f"{type(error).__name__}: {text}" if text else type(error).__name__
    return (
        f"fold-mdo: internal error: {what}\n"
        "This is a fault of the tool, not of your input. Please report it to its maintainers, with "
        "the study file, the output of 'fold-mdo --version' and that of the same command with "
        "--debug."
    )


def _silence_stdout() -> None:
    """Stop writing to a reader that has gone, also at the end of the process."""
    with contextlib.suppress(OSError, ValueError, AttributeError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _run(arguments: argparse.Namespace) -> int:
    """Run every analysis of a study and print what came out."""
    study = _load(arguments.study)
    from mdo.cli.text import as_json

    with terminal.uninterrupted():
        from mdo.run.analyses import NotWrittenError, run_study

    if arguments.analysis:
        study = replace(study, analyses=tuple(dict.fromkeys(arguments.analysis)))
    failure: NotWrittenError | None = None
    try:
        with terminal.progress(quiet=arguments.quiet) as tracker:
            outcome = run_study(
                study, results_root=arguments.results, progress=tracker,
                scheduler=arguments.scheduler, workers=arguments.workers,
            )  # fmt: skip
    except NotWrittenError as error:  # what was computed is shown all the same
        failure, outcome = error, error.outcome
    as_told = outcome.summary_text(arguments.units)
    terminal.say(as_json(outcome.summary()) if arguments.json else as_told)
    if failure is not None:
        raise failure
    return int(outcome.exit_code)


def _new(arguments: argparse.Namespace) -> int:
    """Write a first study and say what comes next."""
    from mdo.study.first import first_study

    file = arguments.study
    first_study(file, arguments.kind, arguments.units)
    terminal.say(f"{file}: feasible as it stands. Put in your own numbers, then")
    for command, what in NEXT.items():
        terminal.say(f"  fold-mdo {command} {file}".ljust(COLUMN) + f" {what}")
    return 0


def _check(arguments: argparse.Namespace) -> int:
    """Check a study as a run would before it computes, and print the verdict or every input."""
    from mdo.alloys import check_consistency
    from mdo.cli.text import as_json, check_summary, inputs_text, verdict_text
    from mdo.study import StudyError, load_study
    from mdo.study.assemble import assemble

    try:
        study = load_study(arguments.study)
        card = assemble(study).card
        _check_explorations(study)
    except StudyError as error:
        if arguments.json:
            terminal.say(as_json({"valid": False, "problems": error.problems}))
        raise
    warnings = [*study.warnings, *check_consistency(card)]
    _warn(warnings)
    if arguments.json:
        terminal.say(as_json(check_summary(study, card, warnings)))
    elif arguments.all:
        terminal.say(inputs_text(study, card, arguments.units))
    else:
        terminal.say(verdict_text(study, card, len(warnings)))
    return OK


def _check_explorations(study: Study) -> None:
    """Check the plans of the explorations that a study has a block for, or runs."""
    named = {*study.analyses, *study.content.get("analysis", {})}
    planned = sorted(named.intersection(EXPLORATIONS))
    if not planned:
        return
    with terminal.uninterrupted():
        from mdo.optimise.problem import make_problem
        from mdo.run.explorations import check_plans
    check_plans(make_problem(study), planned)


def _alloys(arguments: argparse.Namespace) -> int:
    """Print the alloy cards, or one of them."""
    from mdo.alloys import check_consistency, list_cards, load_card
    from mdo.cli.text import card_list_text, card_text

    if arguments.name is None:
        terminal.say(card_list_text([load_card(name) for name in list_cards()]))
        return OK
    card = load_card(arguments.name)
    terminal.say(card_text(card, arguments.units))
    _warn(check_consistency(card))
    return OK


def _schema(_: argparse.Namespace) -> int:
    """Print the JSON Schema of the study file."""
    from mdo.cli.text import as_json
    from mdo.study.schema import json_schema

    print(as_json(json_schema()))
    return OK


def _load(path: Path) -> Study:
    """Read a study and print its warnings."""
    from mdo.study import load_study

    study = load_study(path)
    _warn(study.warnings)
    return study


def _warn(warnings: Sequence[str]) -> None:
    """Print warnings beside the output proper."""
    for warning in warnings:
        terminal.say(f"warning: {warning}", error=True)


def _parser() -> argparse.ArgumentParser:
    """Parser of all verbs, see ``verbs.toml``."""
    parser = argparse.ArgumentParser(
        prog="fold-mdo",
        description="Size, explore and defend wing-fold actuators of shape-memory torque tubes.",
        epilog=EXIT_CODES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    version = f"fold-mdo {__version__}"
    parser.add_argument(
        "--version", action="version", version=version, help="print the version and end"
    )
    verbs = parser.add_subparsers(title="verbs", metavar="VERB", required=True)
    command_line = toml_beside(__file__, "verbs")
    for name, plan in command_line["verbs"].items():
        verb = verbs.add_parser(name, help=plan["text"], description=plan["text"])
        verb.set_defaults(verb=VERBS[name])
        known = command_line["arguments"] | plan.get("arguments", {})
        one_of = plan.get("one_of", ())
        group = verb.add_mutually_exclusive_group() if one_of else verb
        for argument in plan["takes"]:
            (group if argument in one_of else verb).add_argument(argument, **_look(known[argument]))
    return parser


def _look(plan: dict[str, Any]) -> dict[str, Any]:
    """Argument as the parser takes it."""
    look = dict(plan)
    if "type" in plan:
        look["type"] = TYPES[plan["type"]]
    if isinstance(plan.get("choices"), str):
        look["choices"] = getattr(analysis_names, plan["choices"])
        look["help"] = plan["help"].replace("CHOICES", ", ".join(look["choices"]))
    return look


TYPES = {"path": Path, "whole number": int, "aircraft": aircraft, "spares": spares}
VERBS = {
    "run": _run, "new": _new, "check": _check, "alloys": _alloys, "schema": _schema,
    "report": make_report, "compare": compare, "order": print_order, "workbook": write_workbook,
    "bench": set_log_beside,
}  # fmt: skip


if __name__ == "__main__":
    raise SystemExit(main())
