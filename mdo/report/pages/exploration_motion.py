"""Part of the page on the fold in time."""

from __future__ import annotations

from mdo.report.pages.parts import Section
from mdo.report.words.exploration_columns import Tables


def motion_sections(tables: Tables) -> list[Section]:
    """Sections on a motion."""
    return []
