"""Which requirements are active where: a strip beneath a front or a family."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from itertools import pairwise

import pandas as pd
import plotly.graph_objects as go

from mdo.arrays import Floats
from mdo.report.figures.frame import frame_rows
from mdo.report.figures.style import BLUE
from mdo.report.words.exploration_columns import broken
from mdo.report.words.table import Table

MOST_ROWS = 12
ROW = 26  # [px]
MARGIN = 290  # [px] for the names


def active_rows(texts: Sequence[str]) -> list[str]:
    """Return the titles of all active rows, the most frequent first."""
    counts = Counter(title for text in texts for title in titles_of(text))
    return [title for title, _ in sorted(counts.items(), key=lambda item: (-item[1], item[0]))]


def titles_of(text: str) -> list[str]:
    """Return the titles in one cell of a column ``active``."""
    return [title for title in str(text).split("; ") if title]


def active_figure(at: Floats, texts: Sequence[str], axis: str, *, log: bool = False) -> go.Figure:
    """Return a strip: one line for each row, a mark wherever it is active.

    Parameters
    ----------
    at : place of each design on the axis, in the unit of the axis
    texts : its active rows
    axis : title of the axis
    log : as in the figure above it
    """
    titles = active_rows(texts)[:MOST_ROWS][::-1]
    result = go.Figure()
    for place, title in enumerate(titles):
        here = [x for x, text in zip(at, texts, strict=True) if title in titles_of(text)]
        result.add_scatter(
            x=here, y=[place] * len(here), mode="markers", name="active", showlegend=False,
            marker={"symbol": "square", "size": 10, "color": BLUE, "line": {"width": 0}},
            hovertemplate=f"{broken(title)}<br>active at %{{x:.4g}}<extra></extra>",
        )  # fmt: skip
    names = [broken(title) for title in titles]
    return frame_rows(
        result, names, axis, left=MARGIN, height=70 + ROW * max(len(titles), 1), lines=True,
        x={"zeroline": False, "type": "log" if log else "linear"},
    )  # fmt: skip


def active_table(names: Sequence[str], texts: Sequence[str], head: str) -> Table:
    """Return what is active at each design, as words."""
    rows = [(name, text or "nothing") for name, text in zip(names, texts, strict=True)]
    return Table((head, "active there"), rows)


def changes_of_active(frame: pd.DataFrame) -> list[tuple[int, list[str], list[str]]]:
    """Return where the active set changes along rows: place, rows that come, rows that go."""
    changes: list[tuple[int, list[str], list[str]]] = []
    sets = [titles_of(text) for text in frame["active"]]
    for place, (before, after) in enumerate(pairwise(sets), 1):
        come = [title for title in after if title not in before]
        gone = [title for title in before if title not in after]
        if come or gone:
            changes.append((place, come, gone))
    return changes
