"""What can be chosen on the page of an exploration: planes, axes, the design behind a point."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.report.words.exploration_columns import Column, rounded, short
from mdo.report.words.table import Table

MOST_PARALLEL = 10  # axes beside each other


class Planes(NamedTuple):
    """Choice of the plane that some figures show: words of pairs and slices, what changes."""

    name: str
    pairs: Sequence[str]
    held: Sequence[Sequence[str]]
    data: Mapping[str, Any]


class Axes(NamedTuple):
    """Choice of the columns that some figures of points show; ``chosen`` by axis at first."""

    name: str
    titles: Sequence[str]
    chosen: Mapping[str, int]
    data: Mapping[str, Any]


class Chosen(NamedTuple):
    """The design behind a point: a line, what is active and values for each point."""

    name: str
    said: Sequence[str]
    active: Sequence[str]
    start: int
    table: Table
    data: Mapping[str, Any]


class Parallel(NamedTuple):
    """A line for each design across axes with ranges, whose words are given."""

    name: str
    words: Sequence[str]
    alternative: str
    data: Mapping[str, Any]


def axes_of_points(
    name: str, figures: Mapping[str, Sequence[np.ndarray]], frame: pd.DataFrame,
    columns: Sequence[Column], chosen: Mapping[str, int],
) -> Axes:  # fmt: skip
    """Return the choice of the columns that some figures of points show.

    Parameters
    ----------
    name : of the block
    figures : by figure, the rows of each trace
    frame : the points, SI
    columns : to choose from
    chosen : ``x`` and perhaps ``y``: number of the column at first
    """
    drawn = [column.drawn(frame[column.name]) for column in columns]
    data = {
        "columns": [{"title": title, "values": _values(values)} for values, title in drawn],
        "figures": {key: [rows.tolist() for rows in each] for key, each in figures.items()},
    }
    return Axes(name, [column.title for column in columns], chosen, data)


def chosen_design(
    name: str, frame: pd.DataFrame, said: Sequence[str], columns: Sequence[Column],
    figures: Mapping[str, Mapping[str, object]], start: int, labels: Sequence[str] = (),
) -> Chosen:  # fmt: skip
    """Return the panel of the design behind a point.

    Parameters
    ----------
    name : of the block
    frame : designs of the points, SI
    said : one line for each point
    columns : that are listed
    figures : by figure, the number of the ``trace`` that marks the point, and its ``x``, ``y``
        and perhaps ``z`` for every point; empty where none is marked
    start : point that is shown at first
    labels : labels of the points in the figures, where they do not carry the point's number
    """
    active = [str(text) or "nothing" for text in frame["active"]]
    values = [
        [column.text(float(line[column.name])) for column in columns]
        for line in frame.to_dict("records")
    ]
    rows = [(column.title, text) for column, text in zip(columns, values[start], strict=True)]
    data = {"said": list(said), "values": values, "active": active, "figures": figures,
            "labels": list(labels)}  # fmt: skip
    table = Table(("the design", "of the point"), rows, kind="tight")
    return Chosen(name, said, active, start, table, data)


def parallel_lines(
    name: str, frame: pd.DataFrame, columns: Sequence[Column], *, lead: Column, met: np.ndarray,
    alternative: str,
) -> Parallel:  # fmt: skip
    """Return parallel coordinates: a line for each design, brushed by range fields or the pointer.

    Parameters
    ----------
    name : of the block
    frame : designs that are drawn, SI
    columns : axes from left to right
    lead : column by whose quarters the lines are coloured
    met : which designs are feasible; the others are dashed
    alternative : what it shows, for who cannot see it
    """
    axes = []
    for column in columns[:MOST_PARALLEL]:
        unit = column.scale(_largest(frame[column.name]))[2]
        values = _values(column.drawn(frame[column.name])[0])
        axes.append({"title": short(column.title), "unit": unit, "values": values})
    words = [
        f"{column.title} [{axis['unit']}]" if axis["unit"] else column.title
        for column, axis in zip(columns, axes, strict=False)
    ]
    groups = _quarters(frame[lead.name].to_numpy(float), met)
    return Parallel(name, words, alternative, {"axes": axes, "groups": groups})


def _quarters(values: np.ndarray, met: np.ndarray) -> list[int]:
    """Quarter of each feasible design by its value, 4 for the others."""
    good = met & np.isfinite(values)
    ends = np.quantile(values[good], [0.25, 0.5, 0.75]) if good.any() else np.zeros(3)
    quarters = np.where(good, np.searchsorted(ends, values, side="right"), 4)
    return [int(quarter) for quarter in quarters]


def _largest(values: pd.Series) -> float:
    sizes = np.abs(values.to_numpy(float))
    return float(np.max(sizes[np.isfinite(sizes)], initial=0.0))


def _values(values: np.ndarray) -> list[float | None]:
    return [float(value) if np.isfinite(value) else None for value in rounded(values)]


def telling(frame: pd.DataFrame, columns: Sequence[Column], most: int) -> list[Column]:
    """Return the columns that differ most between designs, in their order."""
    spread = {}
    for column in columns:
        values = frame[column.name].to_numpy(float)
        values = values[np.isfinite(values)]
        size = float(np.max(np.abs(values), initial=0.0))
        spread[column.name] = float(np.std(values)) / size if size > 0.0 else 0.0
    kept = sorted(spread, key=lambda name: -spread[name])[:most]
    return [column for column in columns if column.name in kept and spread[column.name] > 1e-6]
