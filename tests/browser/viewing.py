"""A report in a browser window, and what is noticed while it is there."""

from __future__ import annotations

import json
from importlib.resources import files
from pathlib import Path
from typing import Any

import pandas as pd

PROBE = Path(__file__).with_name("probe.js").read_text(encoding="utf-8")
HEIGHT = 900  # [px]
PRINTED = (680, 1000)  # [px] of A4 between margins of 15 mm
SCREEN = ("overflow", "cut", "overlapping")  # what shows nowhere, on a screen or on paper
SERIOUS = ("serious", "critical")
# Sections that are folded as a whole stay open: tests read what is in them.
FOLD_ALL = (
    "document.querySelectorAll('details').forEach("
    "one => { one.open = one.classList.contains('whole') });"
)
OPEN_ALL = "document.querySelectorAll('details').forEach(one => { one.open = true })"


class View:
    """One report in a window of its own.

    Attributes
    ----------
    page
        Page of Playwright, loaded.
    said
        Warnings and errors of the console, and errors of scripts.
    closed
        Height of the page as it opens [px].
    requests
        Addresses that were asked for, that of the report itself left out.
    """

    def __init__(
        self, browser: Any, result: Path, *, width: int, scheme: str, file: str = "report.html"
    ) -> None:
        self.result = result
        self.said: list[str] = []
        self.requests: list[str] = []
        self.context = browser.new_context(
            viewport={"width": width, "height": HEIGHT}, color_scheme=scheme, offline=True
        )
        self.page = self.context.new_page()
        self.page.set_default_timeout(10_000)
        address = (result / file).resolve().as_uri()
        self.page.on("console", self._hear)
        self.page.on("pageerror", lambda error: self.said.append(f"error: {error}"))
        self.page.on("dialog", lambda dialog: (self.said.append("dialog"), dialog.dismiss()))
        self.page.on("request", lambda one: one.url != address and self.requests.append(one.url))
        self.page.goto(address)
        self.settle()
        self.closed = self.page.evaluate("document.documentElement.scrollHeight")
        self.page.evaluate(FOLD_ALL)
        self.settle()
        self.page.evaluate(PROBE)

    def _hear(self, message: Any) -> None:
        if message.type in {"error", "warning", "trace"}:  # the plotting library warns by a trace
            self.said.append(f"{message.type}: {message.text}")

    def settle(self) -> None:
        """Wait until figures that follow the size of the window have done so."""
        self.page.evaluate("() => new Promise(done => requestAnimationFrame(() => "
                           "setTimeout(() => requestAnimationFrame(done), 60)))")  # fmt: skip

    def probe(self, what: str, *given: object) -> Any:
        """Return what a function of ``probe.js`` finds."""
        return self.page.evaluate(f"window.probe.{what}(...{json.dumps(given)})")

    def faults(self, *what: str) -> dict[str, Any]:
        """Return what functions of ``probe.js`` find, by name, those that find anything."""
        return {name: found for name in what if (found := self.probe(name))}

    def to_paper(self) -> None:
        """Bring the page into the state in which it is printed on A4."""
        self.page.emulate_media(media="print")
        self.page.set_viewport_size({"width": PRINTED[0], "height": PRINTED[1]})
        self.page.evaluate("window.dispatchEvent(new Event('beforeprint'))")
        self.settle()

    def controls(self) -> list[Any]:
        """Return what of a page serves a screen only and is seen."""
        every = self.page.locator("nav, input, select, button:not(th button), a.skip").all()
        return [control for control in every if control.is_visible()]

    def point_at(self, x: float, y: float, *, off: float = 8.0) -> None:
        """Move the pointer to a place, over its neighbourhood."""
        self.page.mouse.move(x - off, y - off)
        self.page.mouse.move(x, y, steps=3)

    def open_all(self) -> None:
        """Open everything that is folded."""
        self.page.evaluate(OPEN_ALL)
        self.settle()

    def refresh(self) -> None:
        """Fold everything but whole sections, and go back to the top."""
        self.page.evaluate(f"{FOLD_ALL}document.activeElement.blur(); scrollTo(0, 0)")
        self.page.mouse.move(1.0, 1.0)
        self.settle()

    def axe(self) -> list[str]:
        """Return serious and critical findings of axe-core, one line each."""
        source = files("axe_playwright_python").joinpath("axe.min.js").read_text(encoding="utf-8")
        self.page.evaluate(source)
        found = self.page.evaluate(
            "() => axe.run(document, {resultTypes: ['violations']}).then(all => all.violations.map("
            "one => [one.impact, one.id, one.help, one.nodes.length,"
            " one.nodes.slice(0, 3).map(node => node.html.slice(0, 160) + ' | ' +"
            " node.failureSummary)]))"
        )
        return [
            f"{impact}: {rule} ({text}), {count} places: {places}"
            for impact, rule, text, count, places in found
            if impact in SERIOUS
        ]

    def table(self, name: str) -> pd.DataFrame:
        """Return a table of the result, as it lies on disk."""
        return pd.read_parquet(self.result / f"{name}.parquet")

    def close(self) -> None:
        """Close the window."""
        self.context.close()
