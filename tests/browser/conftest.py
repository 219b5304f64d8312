"""Browser and pages of the tests in this folder.

FOLD_MDO_BROWSER names the browser; with FOLD_MDO_BROWSER_REQUIRED=1 its absence is a failure and
not a skip. FOLD_MDO_BROWSER_READY is a folder in which ``build.py`` made the pages before (while
working on the page). FOLD_MDO_BROWSER_RESULTS is a folder of any results: each page of a design
under it is checked as well, with whatever needs no particular content.
"""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from .shots import find_browser, launched
from .viewing import View

QUICK_GROUPS = (("feasible",), ("hostile", "short"))
SLOW_GROUPS = (("infeasible", "plain"), ("whole",))
QUICK = tuple(name for group in QUICK_GROUPS for name in group)
SLOW = tuple(name for group in SLOW_GROUPS for name in group)
WINDOWS = 8
PATIENCE = 900.0  # [s] for one page to be made
BUILD = Path(__file__).with_name("build.py")
Look = Callable[..., View]


def extra_results() -> dict[str, Path]:
    """Designs named by FOLD_MDO_BROWSER_RESULTS, by a short name; explorations have no record."""
    root = os.environ.get("FOLD_MDO_BROWSER_RESULTS")
    if not root:
        return {}
    found = sorted(Path(root).rglob("record.json"))
    return {"/".join(one.parent.relative_to(root).parts): one.parent for one in found}


def pytest_configure(config: pytest.Config) -> None:
    """Name the markers of this folder."""
    config.addinivalue_line("markers", "browser: reads the report in a real browser")
    config.addinivalue_line("markers", "dear: of all pages only one is quick enough")
    config.addinivalue_line("markers", "texts: the page with hostile text is read every time")


def pytest_generate_tests(metafunc: pytest.Metafunc) -> None:
    """Give every test with ``name`` all pages: quick ones, slow ones, and any others asked for."""
    if "name" not in metafunc.fixturenames:
        return
    marked_with = {one.name for one in metafunc.definition.iter_markers()}
    quick = ("feasible",) if "dear" in marked_with else ("feasible", "short")
    quick = QUICK if "texts" in marked_with else quick
    slow = [name for name in (*QUICK, *SLOW) if name not in quick]
    marked = [pytest.param(name, marks=pytest.mark.slow) for name in slow]
    metafunc.parametrize("name", [*quick, *marked, *extra_results()])


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Mark every test of this folder as one that needs a browser."""
    here = Path(__file__).parent
    for item in items:
        if here in item.path.parents:
            item.add_marker(pytest.mark.browser)


class Builder:
    """Makes pages in processes of their own, the quick ones at once."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.extra = extra_results()
        self.running: dict[str, subprocess.Popen[str]] = {}

    def _start(self, group: tuple[str, ...]) -> None:
        log = (self.folder / f"{group[0]}.log").open("w", encoding="utf-8")
        with log:
            process = subprocess.Popen(
                [sys.executable, str(BUILD), str(self.folder), *group],
                stdout=log, stderr=subprocess.STDOUT, text=True,
            )  # fmt: skip
        self.running |= dict.fromkeys(group, process)

    def result(self, name: str) -> Path:
        """Return the folder of a result, made now if it is not there."""
        if name in self.extra:
            return self.extra[name]
        done = self.folder / f"{name}.done"
        if not done.exists() and name not in self.running:
            wanted = QUICK_GROUPS if name in QUICK else [one for one in SLOW_GROUPS if name in one]
            for group in wanted:
                self._start(group)
        ends = time.monotonic() + PATIENCE
        while not done.exists() or not done.read_text(encoding="utf-8"):
            code = self.running[name].poll()
            if (code is not None and not done.exists()) or time.monotonic() > ends:
                logs = "".join(one.read_text("utf-8") for one in self.folder.glob("*.log"))
                pytest.fail(f"page '{name}' was not made (exit code {code}):\n{logs}")
            time.sleep(0.05)
        return Path(done.read_text(encoding="utf-8"))

    def close(self) -> None:
        """End what still runs."""
        for process in self.running.values():
            if process.poll() is None:
                process.terminate()
            process.wait()


@pytest.fixture(scope="package")
def builder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Builder]:
    ready = os.environ.get("FOLD_MDO_BROWSER_READY")
    made = Builder(Path(ready) if ready else tmp_path_factory.mktemp("pages"))
    yield made
    made.close()


@pytest.fixture(scope="package")
def browser() -> Iterator[Any]:
    executable = find_browser()
    problem = None
    if executable is None:
        problem = "no browser found; install Chromium or name one in FOLD_MDO_BROWSER"
    else:
        try:
            import axe_playwright_python  # noqa: F401
            import playwright  # noqa: F401
            import pypdfium2  # noqa: F401
        except ImportError as error:
            problem = f"{error.name} is not installed; pip install '.[test]'"
    if problem is not None:
        if os.environ.get("FOLD_MDO_BROWSER_REQUIRED") == "1":
            pytest.fail(problem)
        pytest.skip(problem)
    assert executable is not None
    with launched(executable) as started:
        yield started


@pytest.fixture(scope="package")
def windows(browser: Any, builder: Builder) -> Iterator[Look]:
    """Keep the last few windows, since a page takes a second or two to load."""
    kept: dict[tuple[str, int, str], View] = {}

    def opened(name: str, *, width: int = 1440, scheme: str = "light") -> View:
        key = (name, width, scheme)
        view = kept.pop(key, None)
        if view is None:
            view = View(browser, builder.result(name), width=width, scheme=scheme)
        else:
            view.refresh()
        kept[key] = view
        if len(kept) > WINDOWS:
            kept.pop(next(iter(kept))).close()
        return view

    yield opened
    for view in kept.values():
        view.close()


@pytest.fixture
def look(windows: Look) -> Look:
    """Open the report of a result, folded and at its top; another test may have read it before."""
    return windows


@pytest.fixture
def fresh(browser: Any, builder: Builder) -> Iterator[Look]:
    """Open the report of a result in a window that no other test has touched or will."""
    views: list[View] = []

    def opened(name: str, *, width: int = 1440, scheme: str = "light") -> View:
        views.append(View(browser, builder.result(name), width=width, scheme=scheme))
        return views[-1]

    yield opened
    for view in views:
        view.close()
