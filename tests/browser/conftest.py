"""Browser and pages of the tests in this folder.

FOLD_MDO_BROWSER names the browser; with FOLD_MDO_BROWSER_REQUIRED=1 its absence is a failure and
not a skip. FOLD_MDO_BROWSER_READY is a folder in which ``build.py`` made the pages before (while
working on the page). FOLD_MDO_BROWSER_RESULTS is a folder of any results: each page of a design
under it is checked as well, with whatever needs no particular content.
"""

from __future__ import annotations

import fcntl
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
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
        self.pool = ThreadPoolExecutor(max_workers=len(QUICK_GROUPS))
        self.running: dict[str, Future[None]] = {}

    def _make(self, group: tuple[str, ...]) -> None:
        """Make the pages of a group, those that are not there; another process may be at it."""
        with (self.folder / f"{group[0]}.lock").open("w") as lock:
            fcntl.flock(lock, fcntl.LOCK_EX)
            self._make_lacking(group)

    def _make_lacking(self, group: tuple[str, ...]) -> None:
        lacking = [name for name in group if not (self.folder / f"{name}.done").exists()]
        if lacking:
            command = [sys.executable, str(BUILD), str(self.folder), *lacking]
            run = subprocess.run(
                command, check=False, capture_output=True, text=True, timeout=PATIENCE
            )
            if run.returncode:
                raise RuntimeError(f"pages {lacking} were not made:\n{run.stdout}{run.stderr}")

    def result(self, name: str) -> Path:
        """Return the folder of a result, made now if it is not there."""
        if name in self.extra:
            return self.extra[name]
        if name not in self.running:
            groups = QUICK_GROUPS if name in QUICK else [g for g in SLOW_GROUPS if name in g]
            for group in groups:
                self.running |= dict.fromkeys(group, self.pool.submit(self._make, group))
        self.running[name].result()
        return Path((self.folder / f"{name}.done").read_text(encoding="utf-8"))


@pytest.fixture(scope="package")
def builder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Builder]:
    ready = os.environ.get("FOLD_MDO_BROWSER_READY")
    folder = tmp_path_factory.getbasetemp()
    if "PYTEST_XDIST_WORKER" in os.environ:  # one folder for all workers
        folder = folder.parent
    pages = Path(ready) if ready else folder / "pages"
    pages.mkdir(exist_ok=True)
    made = Builder(pages)
    yield made
    made.pool.shutdown(cancel_futures=True)


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
def look(browser: Any, builder: Builder) -> Iterator[Look]:
    """Open the report of a result, folded and at its top; another test may have read it before.

    The last few windows are kept, since a page takes a second or two to load.
    """
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
def fresh(browser: Any, builder: Builder) -> Iterator[Look]:
    """Open the report of a result in a window that no other test has touched or will."""
    views: list[View] = []

    def opened(name: str, *, width: int = 1440, scheme: str = "light") -> View:
        views.append(View(browser, builder.result(name), width=width, scheme=scheme))
        return views[-1]

    yield opened
    for view in views:
        view.close()
