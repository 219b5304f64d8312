"""What the report of one design is made from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import pandas as pd

from mdo.optimise.appraisal import Appraisal
from mdo.report.words.table import SHOWN, Table, shown_table


class Source(NamedTuple):
    """The design with everything computed about it, the tables of its result, versions of the run.

    A section of the page is made by a function of a source: it returns what the template of the
    section prints, by name, or None where the page has no such section.
    """

    appraisal: Appraisal
    tables: Mapping[str, pd.DataFrame]
    versions: Mapping[str, str]

    def table(self, name: str) -> pd.DataFrame:
        """One table of the result."""
        return self.tables[name]

    def shown(self, name: str, frame: pd.DataFrame | None = None) -> Table:
        """Table as ``tables.toml`` says it, of some lines or of all that the result has."""
        lines = self.table(SHOWN[name].of or name) if frame is None else frame
        return shown_table(name, lines)

    def has(self, name: str) -> bool:
        """Whether the result has a table."""
        return name in self.tables


Facts = dict[str, Any]
