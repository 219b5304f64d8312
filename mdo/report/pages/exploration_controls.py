"""What can be chosen on the page of an exploration: planes, axes, the design behind a point.

Each is given as its macro in ``choosing.html`` prints it; ``data`` is what the script reads.
"""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from mdo.report.figures.requirement_map import axis_type
from mdo.report.pages.parts import Facts
from mdo.report.words.exploration_columns import FEASIBLE, Column, largest, numbers
from mdo.report.words.printed import signed
from mdo.report.words.table import Table
from mdo.study.number_text import figure

MOST_PARALLEL = 10  # axes beside each other
WIDTH, SIDE = 1000.0, 58.0  # [px] of parallel coordinates, and beside their first and last axis
LETTER = 7.2  # [px] mean width of a letter
NOTHING = 1e-6  # share of an axis below which its end is zero


def axes_of_points(
    name: str, groups: Sequence[tuple[str, np.ndarray, Any]], frame: pd.DataFrame,
    columns: Sequence[Column], chosen: Mapping[str, int],
) -> Facts:  # fmt: skip
    """Choice of the columns that a figure of points shows.

    Parameters
    ----------
    name : of the figure
    groups : of points, a trace each: name, rows, look
    frame : the points, SI
    columns : to choose from
    chosen : ``x`` and perhaps ``y``: number of the column at first
    """
    drawn = [column.drawn(frame[column.name]) for column in columns]
    data = {
        "columns": [
            {"title": title, "values": numbers(values), "type": axis_type(values)}
            for values, title in drawn
        ],
        "figures": {name: [rows.tolist() for _, rows, _ in groups]},
    }
    titles = [column.title for column in columns]
    return {"name": f"{name}-axes", "titles": titles, "chosen": chosen, "data": data}


def chosen_design(
    name: str, frame: pd.DataFrame, said: Sequence[str], columns: Sequence[Column],
    figures: Mapping[str, Mapping[str, object]], start: int, labels: Sequence[str] = (),
    bundles: Mapping[str, Any] | None = None,
) -> Facts:  # fmt: skip
    """Panel of the design behind a point.

    Parameters
    ----------
    name : of the block
    frame : designs of the points, SI
    said : one line for each point
    columns : that are listed
    figures : by figure, the number of the ``trace`` that marks the point, and its ``x`` and ``y``
        for every point; empty where none is marked
    start : point that is shown at first
    labels : labels of the points in the figures, where they do not carry the point's number
    bundles : of :func:`mdo.report.drawings.bundle_numbers.bundle_numbers`
    """
    lost = (frame["status"] != FEASIBLE).to_numpy()
    texts = np.where(lost, frame["reason"], frame["active"])
    active = [str(text) or ("not known" if none else "nothing")
              for text, none in zip(texts, lost, strict=True)]  # fmt: skip
    values = [
        [column.text(float(line[column.name])) for column in columns]
        for line in frame.to_dict("records")
    ]
    data = {"said": list(said), "values": values, "active": active, "figures": figures,
            "labels": list(labels), "lost": lost.tolist(), "bundles": bundles or None}  # fmt: skip
    rows = list(zip([column.title for column in columns], values[start], strict=True))
    table = Table(("the design", "of the point"), rows, kind="tight")
    return {"name": name, "start": start, "table": table, "data": data}


def parallel_lines(
    name: str, frame: pd.DataFrame, columns: Sequence[Column], *, lead: Column, alternative: str
) -> Facts:
    """Parallel coordinates: a line for each design, brushed by range fields or the pointer.

    Parameters
    ----------
    name : of the block
    frame : designs that are drawn, SI; those that are not feasible are dashed
    columns : axes from left to right
    lead : column by whose quarters the lines are coloured
    alternative : what it shows, for who cannot see it
    """
    columns = columns[:MOST_PARALLEL]
    apart = (WIDTH - 2.0 * SIDE) / max(len(columns) - 1, 1)
    axes, lines = [], []
    for place, column in enumerate(columns):
        values = column.drawn(frame[column.name])[0]
        unit = column.scale(largest(frame[column.name]))[2]
        axis = _axis(f"{column.title} [{unit}]" if unit else column.title, values)
        letters = max(6, int(min(apart, 2.0 * SIDE) / LETTER))
        axis["lines"] = textwrap.wrap(axis["words"], letters, max_lines=3, placeholder="…")
        axis["x"] = SIDE + apart * place if len(columns) > 1 else WIDTH / 2.0
        axes.append(axis)
        lines.append({"low": axis["low"], "high": axis["high"], "unit": unit,
                      "values": numbers(values)})  # fmt: skip
    met = (frame["status"] == FEASIBLE).to_numpy()
    data = {"axes": lines, "groups": _quarters(frame[lead.name].to_numpy(float), met)}
    return {"name": name, "axes": axes, "alternative": alternative, "data": data}


def _axis(words: str, values: np.ndarray) -> Facts:
    """Axis with its ends as numbers and as text."""
    known = values[np.isfinite(values)]
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    tidy = (0.0 if abs(end) < NOTHING * (high - low) else end for end in (low, high))
    ends = [signed(figure(end, 3)) for end in tidy]
    return {"words": words, "low": low, "high": high, "ends": ends}


def _quarters(values: np.ndarray, met: np.ndarray) -> list[int]:
    """Quarter of each feasible design by its value, 4 for the others."""
    good = met & np.isfinite(values)
    ends = np.quantile(values[good], [0.25, 0.5, 0.75]) if good.any() else np.zeros(3)
    quarters: list[int] = np.where(good, np.searchsorted(ends, values, side="right"), 4).tolist()
    return quarters


def telling(frame: pd.DataFrame, columns: Sequence[Column], most: int) -> list[Column]:
    """Return the columns that differ most between designs, in their order."""
    values = frame[[column.name for column in columns]].astype(float)
    values = values.where(np.isfinite(values))
    spread = (values.std(ddof=0) / values.abs().max()).fillna(0.0)
    kept = spread[spread > 1e-6].sort_values(ascending=False, kind="stable").index[:most]
    return [column for column in columns if column.name in kept]
