"""The design behind a point of a requirement map: by a click in its figures, or by a slider."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from mdo.report.figures.requirement_map import place_texts
from mdo.report.pages.exploration_controls import chosen_block
from mdo.report.pages.exploration_views import MapData
from mdo.report.templates.pieces import paragraph
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    Columns,
    design_columns,
    thinned,
    thinned_words,
)

MOST_DESIGNS = 2000
HOW = (
    "Click a point above, or move the slider, to see the design behind it; where none is feasible "
    "it is the one that comes nearest."
)


def design_panel(data: MapData, columns: Columns, figures: Sequence[str]) -> str:
    """Return the panel of the design behind a point, the lightest one at first.

    Parameters
    ----------
    data, columns : of the map
    figures : names of the figures in which a click chooses a point
    """
    shown = thinned(data.best, MOST_DESIGNS).reset_index(drop=True)
    labels = place_texts(shown, data.axes)
    mass = shown["system_mass"].to_numpy(float)
    start = int(np.nanargmin(mass)) if (shown["status"] == FEASIBLE).any() else 0
    note = thinned_words(len(shown), len(data.best), "points", "map_points")
    block = chosen_block(
        "map-chosen",
        shown,
        [label.replace("<br>", ", ") for label in labels],
        [columns.of(name) for name in design_columns(shown)],
        {name: {} for name in figures},
        start,
        labels=labels,
    )
    return paragraph(f"{HOW} {note}".strip(), kind="soft") + block
