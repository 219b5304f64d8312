"""What the report of one design is made from."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import pandas as pd

from mdo.optimise.appraisal import Appraisal
from mdo.report.pages.parts import Head, head_of
from mdo.report.words.table import SHOWN, Table, shown_table
from mdo.results.manifest import tool_versions


class Source(NamedTuple):
    """The design with everything computed about it, the tables of its result, versions of the run.

    A section of the page is made by a function of a source: it returns what the template of the
    section prints, by name, or None where the page has no such section.
    """

    appraisal: Appraisal
    tables: Mapping[str, pd.DataFrame]
    run_versions: Mapping[str, str] | None = None

    @property
    def versions(self) -> Mapping[str, str]:
        """Of the tool and its libraries in the run; those of this process where none are given."""
        return tool_versions() if self.run_versions is None else self.run_versions

    @property
    def head(self) -> Head:
        """What the pages say of the study."""
        return head_of(self.appraisal.study.content, self.appraisal.kind, self.versions)

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
