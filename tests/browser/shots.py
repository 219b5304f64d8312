"""Pictures of a report, to be looked at: wide and narrow, light and dark, and as printed.

Run ``python tests/browser/shots.py FOLDER OUT``: every ``report.html`` under FOLDER, or one file,
is taken as a reader first sees it or, with ``--open``, with everything opened (many pictures).
"""

from __future__ import annotations

import argparse
import contextlib
import os
import shutil
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

BROWSERS = ("chromium", "chromium-browser", "google-chrome", "chrome", "msedge")
WIDTHS = (1440, 800)
SCHEMES = ("light", "dark")
HEIGHT = 900  # [px] of a window
PART = 4000  # [px] of page in one picture
PAPER = {"format": "A4", "margin": dict.fromkeys(("top", "bottom", "left", "right"), "15mm")}
OPEN_ALL = "document.querySelectorAll('details').forEach(one => { one.open = true })"


def find_browser() -> str | None:
    """Return the browser to drive: that of FOLD_MDO_BROWSER, or the first one on the path."""
    named = os.environ.get("FOLD_MDO_BROWSER")
    for name in [named] if named else BROWSERS:
        found = shutil.which(name)
        if found is not None:
            return found
    return None


@contextlib.contextmanager
def launched(executable: str) -> Iterator[Any]:
    """Start a browser without a window; ends it at the end."""
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=executable)
        try:
            yield browser
        finally:
            browser.close()


def settle(page: Any) -> None:
    """Wait until figures that follow the size of the window have done so."""
    page.wait_for_timeout(250)
    page.evaluate("() => new Promise(done => requestAnimationFrame(() => setTimeout(done)))")


def take(browser: Any, report: Path, out: Path, *, opened: bool) -> list[Path]:
    """Write the pictures and the print of one report and return their places."""
    out.mkdir(parents=True, exist_ok=True)
    written = []
    for width in WIDTHS:
        for scheme in SCHEMES:
            page = browser.new_page(
                viewport={"width": width, "height": HEIGHT}, color_scheme=scheme
            )
            page.goto(report.resolve().as_uri())
            if opened:
                page.evaluate(OPEN_ALL)
            settle(page)
            written += _parts(page, out / f"{width}_{scheme}", width)
            page.close()
    page = browser.new_page(viewport={"width": WIDTHS[0], "height": HEIGHT})
    page.goto(report.resolve().as_uri())
    settle(page)
    page.pdf(path=str(out / "print.pdf"), **PAPER)
    page.close()
    return [*written, out / "print.pdf"]


def _parts(page: Any, stem: Path, width: int) -> list[Path]:
    """Take a whole page in parts that a viewer can show."""
    height = int(page.evaluate("document.documentElement.scrollHeight"))
    written = []
    for number, top in enumerate(range(0, height, PART)):
        place = stem.with_name(f"{stem.name}_{number:02d}.png")
        area = {"x": 0, "y": top, "width": width, "height": min(PART, height - top)}
        page.screenshot(path=str(place), full_page=True, clip=area)
        written.append(place)
    return written


def main() -> int:
    """Take pictures of every report of a folder."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("source", type=Path, help="a report, or a folder with reports")
    parser.add_argument("out", type=Path, help="folder of the pictures, outside the repository")
    parser.add_argument("--open", action="store_true", help="open what is folded")
    given = parser.parse_args()
    executable = find_browser()
    if executable is None:
        parser.error("no browser found; install Chromium or name one in FOLD_MDO_BROWSER")
    one = given.source.is_file()
    reports = [given.source] if one else sorted(given.source.rglob("report.html"))
    if not reports:
        parser.error(f"{given.source}: no report.html here")
    with launched(executable) as browser:
        for report in reports:
            name = report.stem if one else "_".join(report.parent.relative_to(given.source).parts)
            taken = take(browser, report, given.out / (name or "report"), opened=given.open)
            sys.stdout.write(f"{report}: {len(taken)} files in {taken[0].parent}\n")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
