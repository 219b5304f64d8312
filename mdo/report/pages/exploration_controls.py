"""What can be chosen on the page of an exploration: planes, axes, the design behind a point."""

from __future__ import annotations

import textwrap
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import numpy as np
import pandas as pd

from mdo.report.words.exploration_columns import FEASIBLE, Column, numbers
from mdo.report.words.printed import signed
from mdo.report.words.table import Table
from mdo.study.number_text import figure

MOST_PARALLEL = 10  # axes beside each other
WIDTH, SIDE = 1000.0, 58.0  # [px] of parallel coordinates, and beside their first and last axis
LETTER = 7.2  # [px] mean width of a letter
NOTHING = 1e-6  # share of an axis below which its end is zero


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
    """The design behind a point: a line, what is active and values for each point, its bundle."""

    name: str
    said: Sequence[str]
    active: Sequence[str]
    start: int
    table: Table
    drawn: bool
    data: Mapping[str, Any]


class Axis(NamedTuple):
    """An axis of parallel coordinates: place [px], words on lines, ends as numbers and as text."""

    x: float
    words: str
    lines: Sequence[str]
    low: float
    high: float
    ends: tuple[str, str]


class Parallel(NamedTuple):
    """A line for each design across axes with ranges; ``data`` holds the numbers of the lines."""

    name: str
    axes: Sequence[Axis]
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
        "columns": [{"title": title, "values": numbers(values)} for values, title in drawn],
        "figures": {key: [rows.tolist() for rows in each] for key, each in figures.items()},
    }
    return Axes(name, [column.title for column in columns], chosen, data)


def chosen_design(
    name: str, frame: pd.DataFrame, said: Sequence[str], columns: Sequence[Column],
    figures: Mapping[str, Mapping[str, object]], start: int, labels: Sequence[str] = (),
    bundles: Mapping[str, Any] | None = None,
) -> Chosen:  # fmt: skip
    """Return the panel of the design behind a point.

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
    rows = [(column.title, text) for column, text in zip(columns, values[start], strict=True)]
    data = {"said": list(said), "values": values, "active": active, "figures": figures,
            "labels": list(labels), "lost": lost.tolist(), "bundles": bundles or None}  # fmt: skip
    table = Table(("the design", "of the point"), rows, kind="tight")
    return Chosen(name, said, active, start, table, bool(bundles), data)


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
    columns = columns[:MOST_PARALLEL]
    apart = (WIDTH - 2.0 * SIDE) / max(len(columns) - 1, 1)
    axes, lines = [], []
    for place, column in enumerate(columns):
        unit = column.scale(_largest(frame[column.name]))[2]
        values = column.drawn(frame[column.name])[0]
        words = f"{column.title} [{unit}]" if unit else column.title
        x = SIDE + apart * place if len(columns) > 1 else WIDTH / 2.0
        axes.append(_axis(words, values, x, min(apart, 2.0 * SIDE)))
        lines.append({"low": axes[-1].low, "high": axes[-1].high, "unit": unit,
                      "values": numbers(values)})  # fmt: skip
    groups = _quarters(frame[lead.name].to_numpy(float), met)
    return Parallel(name, axes, alternative, {"axes": lines, "groups": groups})


def _axis(words: str, values: np.ndarray, x: float, width: float) -> Axis:
    """Axis at a place, its words within a width [px]."""
    known = values[np.isfinite(values)]
    low, high = (float(end(known)) if known.size else start
                 for end, start in ((np.min, 0.0), (np.max, 1.0)))  # fmt: skip
    lines = textwrap.wrap(words, max(6, int(width / LETTER)), max_lines=3, placeholder="…")
    tidy = (0.0 if abs(end) < NOTHING * (high - low) else end for end in (low, high))
    first, last = (signed(figure(end, 3)) for end in tidy)
    return Axis(x, words, lines, low, high, (first, last))


def _quarters(values: np.ndarray, met: np.ndarray) -> list[int]:
    """Quarter of each feasible design by its value, 4 for the others."""
    good = met & np.isfinite(values)
    ends = np.quantile(values[good], [0.25, 0.5, 0.75]) if good.any() else np.zeros(3)
    quarters = np.where(good, np.searchsorted(ends, values, side="right"), 4)
    return [int(quarter) for quarter in quarters]


def _largest(values: pd.Series) -> float:
    sizes = np.abs(values.to_numpy(float))
    return float(np.max(sizes[np.isfinite(sizes)], initial=0.0))


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
