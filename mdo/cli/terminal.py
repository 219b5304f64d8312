"""The terminal: what may be printed there, progress on it, and how a signal ends a run."""

from __future__ import annotations

import contextlib
import os
import signal
import socket
import sys
import threading
import time
from collections.abc import Iterator
from functools import partial
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from mdo.run.progress import State, Tracker

INTERRUPTED, TERMINATED = 130, 143
ENDINGS = {signal.SIGINT: (INTERRUPTED, "interrupted"), signal.SIGTERM: (TERMINATED, "terminated")}
_GRACE = 2.0  # [s] that a run gets after a signal before it is ended from outside
_MINUTE, _HOUR = 60.0, 3600.0
_SHOW_CURSOR = "\x1b[?25h\r\x1b[2K"
_shown: list[Any] = []  # the display of progress that is open
_asked: list[int] = []  # the signals that came, such as Ctrl-C
_held = threading.Event()  # they have to wait
# A run that is ended from outside leaves what its processes share to a helper of the standard
# library, which tidies up and prints a warning: nothing for whoever pressed Ctrl-C.
_TIDIED_UP = "ignore:resource_tracker:UserWarning"


def say(text: object, *, error: bool = False) -> None:
    """Print text, every character that could steer the terminal shown as a question mark."""
    from mdo.study.text import printable

    print(printable(str(text)), file=sys.stderr if error else sys.stdout, flush=error)


@contextlib.contextmanager
def progress(*, quiet: bool) -> Iterator[Tracker]:
    """Progress of a run on the error stream: a bar on a terminal, plain lines elsewhere.

    Parameters
    ----------
    quiet
        True to show nothing.
    """
    from mdo.run.progress import Tracker

    if quiet:
        yield Tracker(lambda _: None)
    elif not _is_terminal():
        yield Tracker(partial(say, error=True))
    else:
        with _bar() as watch:
            yield Tracker(lambda _: None, watch)


def time_text(seconds: float) -> str:
    """Return a time left in words, with no more digits than it deserves."""
    if seconds < 10.0:
        return "a few seconds"
    if seconds < 90.0:
        return f"about {10 * round(seconds / 10)} s"
    if seconds < 1.5 * _HOUR:
        return f"about {round(seconds / _MINUTE)} min"
    return f"about {round(seconds / _HOUR)} h"


@contextlib.contextmanager
def interruptible() -> Iterator[None]:
    """Let Ctrl-C and SIGTERM end the program at any moment, also inside of compiled code.

    The interpreter raises ``KeyboardInterrupt`` only between its own instructions, and some
    libraries swallow it. A thread that is woken by the signal itself therefore waits for a short
    time, then ends the process. What was written stays whole: the store puts a result in its place
    by renaming it. Nothing is changed where this is not the main thread, or where Ctrl-C is ignored
    (a job in the background).
    """
    here = threading.current_thread() is threading.main_thread()
    if not here or signal.getsignal(signal.SIGINT) != signal.default_int_handler:
        yield
        return
    _asked.clear()
    hooks = sys.unraisablehook, sys.excepthook  # libraries print by these what they swallow
    sys.unraisablehook = lambda problem: None if _asked else hooks[0](problem)
    sys.excepthook = lambda *problem: None if _asked else hooks[1](*problem)
    if _TIDIED_UP not in sys.warnoptions:
        sys.warnoptions.append(_TIDIED_UP)
    handlers = {number: signal.signal(number, _ask) for number in ENDINGS}
    woken, wake = socket.socketpair()
    wake.setblocking(False)
    before = signal.set_wakeup_fd(wake.fileno(), warn_on_full_buffer=False)
    watcher = threading.Thread(target=_end_when_woken, args=(woken,), daemon=True)
    watcher.start()
    try:
        yield
    finally:
        signal.set_wakeup_fd(before)
        for number, handler in handlers.items():
            signal.signal(number, handler)
        sys.unraisablehook, sys.excepthook = hooks
        wake.close()
        watcher.join(timeout=1.0)
        woken.close()


@contextlib.contextmanager
def uninterrupted() -> Iterator[None]:
    """Let Ctrl-C wait until the block has ended: compiled modules that are loading may abort of it.

    Raises
    ------
    KeyboardInterrupt
        At the end of the block, if Ctrl-C was pressed in it.
    """
    _held.set()
    try:
        yield
    finally:
        _held.clear()
    if _asked:
        raise KeyboardInterrupt


def interrupted() -> bool:
    """Whether a signal came, also if a library made another error of it."""
    return bool(_asked)


def ending() -> tuple[int, str]:
    """Exit code and word of the signal that came, of Ctrl-C where none is known."""
    return ENDINGS[signal.Signals(_asked[0])] if _asked else ENDINGS[signal.SIGINT]


def _ask(number: int, _frame: object) -> None:
    """Note a signal and raise it as Ctrl-C.

    Raises
    ------
    KeyboardInterrupt
        Unless it has to wait.
    """
    _asked.append(number)
    if not _held.is_set():
        raise KeyboardInterrupt


def no_more_interrupts() -> None:
    """Ignore signals from here on: the program ends by itself at once."""
    if threading.current_thread() is threading.main_thread():
        for number in ENDINGS:
            signal.signal(number, signal.SIG_IGN)


def _end_when_woken(woken: socket.socket) -> None:
    """Wait for a signal; end the process if the run does not end in a short time."""
    while True:
        data = woken.recv(1)
        if not data:
            return
        if data[0] in ENDINGS:
            break
    woken.settimeout(_GRACE)
    try:
        while woken.recv(1):  # more signals change nothing; the end of the run closes the pair
            pass
    except TimeoutError:
        _end_now(*ENDINGS[signal.Signals(data[0])])
    except OSError:
        return


def _end_now(code: int, word: str) -> None:
    """End the process, one line on the error stream."""
    with contextlib.suppress(OSError, ValueError):
        start = _SHOW_CURSOR if _shown else ""
        os.write(2, f"{start}{word}\n".encode())
    os._exit(code)


def end_at_once(code: int) -> None:
    """End the process without what libraries do at its end: they would print what was cut off."""
    for stream in (sys.stdout, sys.stderr):
        with contextlib.suppress(OSError, ValueError, AttributeError):
            stream.flush()
    os._exit(code)


def _is_terminal() -> bool:
    """Whether the error stream is a terminal that can show a bar."""
    try:
        return sys.stderr.isatty() and os.environ.get("TERM") not in {"dumb", "unknown"}
    except (AttributeError, ValueError):
        return False


@contextlib.contextmanager
def _bar() -> Iterator[Any]:
    """Bar with the share that is done and the time left; gone when the run ends."""
    from rich.console import Console
    from rich.progress import BarColumn, Progress, ProgressColumn, SpinnerColumn, Task, TextColumn
    from rich.text import Text

    from mdo.study.text import clipped

    class TimeLeft(ProgressColumn):
        """Time left: what was estimated at the last line, less what has passed since."""

        def render(self, task: Task) -> Text:
            left, since = task.fields["left"], task.fields["since"]
            if left is None:
                return Text("")
            rest = left - (time.monotonic() - since)
            return Text(f"{time_text(max(rest, 0.0))} left", style="dim")

    columns = (
        SpinnerColumn(),
        TextColumn("{task.description}", markup=False),
        BarColumn(bar_width=24),
        TextColumn("{task.percentage:>3.0f} %"),
        TimeLeft(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as shown:
        _shown.append(shown)
        task = shown.add_task("Starting", total=None, left=None, since=0.0)

        def watch(state: State) -> None:
            now = time.monotonic()
            shown.update(
                task, description=clipped(state.line), completed=state.done, total=state.total,
                left=state.left, since=now,
            )  # fmt: skip

        try:
            yield watch
        finally:
            _shown.clear()
