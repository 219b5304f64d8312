"""Ctrl-C at any moment: exit code 130, one line, no half result, and the next run works."""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import textwrap
import time
from pathlib import Path
from typing import Any

import pytest

from mdo.cli import main as cli
from mdo.cli import terminal as cli_terminal

STUDY = Path(__file__).parents[2] / "studies" / "deck_small.toml"
pytestmark = pytest.mark.skipif(sys.platform == "win32", reason="signals of POSIX")


@pytest.fixture(autouse=True)
def _children_hear_the_signal(monkeypatch: pytest.MonkeyPatch) -> Any:
    """A process in the background ignores Ctrl-C and hands that down; these tests must not."""
    before = signal.signal(signal.SIGINT, signal.default_int_handler)
    yield
    signal.signal(signal.SIGINT, before)


def python(program: str) -> subprocess.Popen[str]:
    line = [sys.executable, "-c", textwrap.dedent(program)]
    return subprocess.Popen(line, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)


def interrupted(
    process: subprocess.Popen[str], number: signal.Signals = signal.SIGINT
) -> tuple[int, str, str]:
    """Wait until a program says it is ready, interrupt it, and return what it ended with."""
    assert process.stdout is not None
    assert process.stdout.readline() == "ready\n"
    process.send_signal(number)
    out, error = process.communicate(timeout=60)
    return process.returncode, out, error


def test_run_is_interrupted_in_python_code() -> None:
    process = python(
        """
        import sys, time, types
        from mdo.cli import main as cli
        module = types.ModuleType("mdo.run.analyses")
        def run_study(*_, **__):
            print("ready", flush=True)
            time.sleep(60)
        module.run_study, module.NotWrittenError = run_study, OSError
        sys.modules["mdo.run.analyses"] = module
        sys.exit(cli.main(["run", STUDY, "--quiet"]))
        """.replace("STUDY", repr(str(STUDY)))
    )
    assert interrupted(process) == (cli.INTERRUPTED, "", "interrupted\n")


@pytest.mark.parametrize("call", ["time.sleep(0.2)", "ctypes.CDLL(None).sleep(30)"])
def test_run_that_does_not_hear_is_ended_from_outside(call: str) -> None:
    # the second lets other threads run, as compiled code does, and no signal in before it returns
    program = f"""
        import ctypes, time
        from mdo.cli.terminal import interruptible
        with interruptible():
            ready = False
            while True:
                try:
                    if not ready:
                        ready = True
                        print("ready", flush=True)
                    {call}
                except BaseException: pass
        """
    began = time.perf_counter()
    assert interrupted(python(program)) == (cli.INTERRUPTED, "", "interrupted\n")
    assert time.perf_counter() - began < 20.0


def test_error_that_a_library_makes_of_it_counts_as_interrupted() -> None:
    process = python(
        """
        import sys, time
        from mdo.cli import main as cli
        def verb(_):
            print("ready", flush=True)
            try: time.sleep(60)
            except BaseException: raise ImportError("a module could not be loaded") from None
        cli.VERBS["schema"] = verb
        sys.exit(cli.main(["schema"]))
        """
    )
    assert interrupted(process) == (cli.INTERRUPTED, "", "interrupted\n")


@pytest.mark.parametrize(
    ("number", "code", "word"),
    [
        (signal.SIGTERM, cli.TERMINATED, "terminated"),
        (signal.SIGINT, cli.INTERRUPTED, "interrupted"),
    ],
)
@pytest.mark.parametrize("hears", [True, False])
def test_signal_leaves_one_line_though_processes_share_semaphores(
    number: signal.Signals, code: int, word: str, hears: bool
) -> None:
    """Without care the tracker of what processes share prints a warning of leaked semaphores."""
    process = python(
        """
        import atexit, multiprocessing, sys, time
        from mdo.cli import main as cli
        def noisy():
            raise RuntimeError("closed at the end")
        def verb(_):
            atexit.register(noisy)
            cli.held = multiprocessing.get_context("spawn").BoundedSemaphore(2)
            print("ready", flush=True)
            while True:
                try: time.sleep(60)
                except BaseException:
                    if HEARS: raise
        cli.VERBS["schema"] = verb
        sys.argv = ["fold-mdo", "schema"]
        sys.exit(cli.main())
        """.replace("HEARS", str(hears))
    )
    assert interrupted(process, number) == (code, "", f"{word}\n")


def test_signals_are_as_before_after_a_command(capsys: pytest.CaptureFixture[str]) -> None:
    numbers = (signal.SIGINT, signal.SIGTERM)
    before = [signal.getsignal(number) for number in numbers]
    assert cli.main(["alloys"]) == cli.OK
    assert [signal.getsignal(number) for number in numbers] == before
    assert signal.set_wakeup_fd(-1) == -1
    assert not cli_terminal.interrupted()


def moments(count: int, seed: int, arguments: list[str], root: Path) -> list[str]:
    """Interrupt a command at random moments; what was not as it should be."""
    program = (
        "import sys; from mdo.cli.main import main; print('ready', file=sys.stderr, flush=True); "
        "sys.exit(main())"
    )
    line = [sys.executable, "-c", program, *arguments]
    began = time.perf_counter()
    whole = subprocess.run(line, capture_output=True, text=True, check=False)
    took = time.perf_counter() - began
    assert whole.returncode in {0, 3}, whole.stderr
    chance, found = random.Random(seed), []
    for number in range(count):
        process = subprocess.Popen(line, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert process.stderr is not None
        assert process.stderr.readline() == "ready\n"  # the interpreter has started
        time.sleep(chance.uniform(0.05, 0.5 if number % 4 == 0 else took))
        process.send_signal(signal.SIGINT)
        out, error = process.communicate(timeout=60)
        ended = (process.returncode, out, error.splitlines()[-1:])
        if ended != (cli.INTERRUPTED, "", ["interrupted"]) and (process.returncode, out) != (
            whole.returncode,
            whole.stdout,
        ):
            found.append(f"{ended}: {error[-300:]}")
        if "Traceback" in error or "ignored" in error:
            found.append(error[-300:])
        found += half_results(root)
    again = subprocess.run(line, capture_output=True, text=True, check=False)
    if again.returncode != whole.returncode:
        found.append(f"the next run ended with {again.returncode}: {again.stderr}")
    return found


def half_results(root: Path) -> list[str]:
    """Results that are to be seen and not whole; those that are whole are removed."""
    found = []
    for folder in root.glob("*/[!.]*"):
        manifest = json.loads((folder / "manifest.json").read_text(encoding="utf-8"))
        if not manifest["complete"] or not all(
            (folder / name).exists() for name in manifest["files"]
        ):
            found.append(f"half a result: {os.listdir(folder)}")  # noqa: PTH208
        shutil.rmtree(folder)
    return found


@pytest.mark.slow
def test_check_is_interrupted_at_some_moments(tmp_path: Path) -> None:
    found = moments(2, 1, ["check", str(STUDY)], tmp_path)
    assert not found, "\n".join(found)


@pytest.mark.slow
def test_run_is_interrupted_at_many_moments(tmp_path: Path) -> None:
    line = ["run", str(STUDY), "--analysis", "evaluate", "--results", str(tmp_path)]
    found = moments(40, 2, line, tmp_path)
    assert not found, "\n".join(found)


def test_interrupt_waits_for_modules_that_are_loading() -> None:
    process = python(
        """
        import sys, time
        from mdo.cli import main as cli, terminal as cli_terminal
        def verb(_):
            with cli_terminal.uninterrupted():
                print("ready", flush=True)
                end = time.monotonic() + 1.0
                while time.monotonic() < end: pass
                loaded.append(True)
            return cli.OK
        loaded = []
        cli.VERBS["schema"] = verb
        code = cli.main(["schema"])
        sys.exit(code if loaded else 77)
        """
    )
    assert interrupted(process) == (cli.INTERRUPTED, "", "interrupted\n")
