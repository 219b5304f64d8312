"""A map as planes: the best design of every point, its two main axes, and slices of a full grid."""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.report.words.exploration_columns import FEASIBLE, UNSETTLED, Column, Columns, Tables

Ints = NDArray[np.int64]
MOST_LEVELS = 60  # of one axis of a grid
MOST_CELLS = 12_000  # of all planes that a page holds
BINS = 8
SAME = 1e-9  # of the span of an axis


class MapData(NamedTuple):
    """A map: its axes, and one row for every point with the lightest of its choices."""

    axes: tuple[Column, ...]
    best: pd.DataFrame
    choices: tuple[str, ...]


class Plane(NamedTuple):
    """A slice of a grid: two axes, the levels, and the row of every point (second, first)."""

    x: Column
    y: Column
    held: str
    x_levels: Floats
    y_levels: Floats
    rows: Ints


def map_data(tables: Tables, columns: Columns) -> MapData:
    """Return the lightest choice of every point.

    Where none is feasible it is one that did not settle, or else the one nearest to feasible.
    """
    points = tables["map_points"]
    axes = tuple(columns.of(str(name)) for name in tables["map_axes"]["axis"])
    standing = np.where(
        points["status"] == FEASIBLE, 0, np.where(points["status"] == UNSETTLED, 1, 2)
    )
    order = points.assign(standing=standing).sort_values(
        ["point", "standing", "system_mass", "violation"], kind="stable"
    )
    best = order.drop_duplicates("point").drop(columns="standing").reset_index(drop=True)
    best["doubt"] = _doubt(points, best)
    choices = sorted(str(one) for one in points["choice"].unique() if str(one))
    ordered = sorted(axes, key=lambda axis: -influence(best, axis.name))
    return MapData(tuple(ordered), best, tuple(choices))


def _doubt(points: pd.DataFrame, best: pd.DataFrame) -> list[str]:
    """Choices that did not settle at points where another one is feasible."""
    lost = points[points["status"] == UNSETTLED].groupby("point")["choice"].agg(", ".join)
    return [
        str(lost.get(point, "")) if status == FEASIBLE else ""
        for point, status in zip(best["point"], best["status"], strict=True)
    ]


def influence(best: pd.DataFrame, axis: str) -> float:
    """Share of the variance of mass, and of feasibility, that lies between bands of an axis."""
    feasible = (best["status"] == FEASIBLE).to_numpy(float)
    bands = _bands(best[axis].to_numpy(float))
    met = feasible > 0.0
    return _between(best["system_mass"].to_numpy(float)[met], bands[met]) + _between(
        feasible, bands
    )


def _bands(values: Floats) -> Ints:
    """Number of the band in which each value lies; bands hold about as many values each."""
    if not values.size:
        return np.zeros(0, dtype=int)
    ends = np.unique(np.quantile(values, np.linspace(0.0, 1.0, BINS + 1)))
    return np.asarray(np.searchsorted(ends[1:-1], values, side="right"))


def _between(values: Floats, bands: Ints) -> float:
    """Variance of the means of bands over the variance of all."""
    if values.size < 2 or float(np.var(values)) <= 0.0:
        return 0.0
    parts = [values[bands == band] for band in np.unique(bands)]
    means = sum(part.size * (float(part.mean()) - float(values.mean())) ** 2 for part in parts)
    return float(means / values.size / np.var(values))


def grid_levels(data: MapData) -> list[Floats] | None:
    """Levels of each axis where the points are a full grid, None where they are spread."""
    levels = [_levels(data.best[axis.name].to_numpy(float)) for axis in data.axes]
    size = int(np.prod([one.size for one in levels]))
    small = all(2 <= one.size <= MOST_LEVELS for one in levels)
    return levels if small and levels and size == len(data.best) else None


def _levels(values: Floats) -> Floats:
    """Distinct values of an axis, those that differ by rounding taken as one."""
    ordered = np.unique(values)
    if ordered.size < 2:
        return ordered
    apart = np.diff(ordered) > SAME * (ordered[-1] - ordered[0])
    return np.asarray(ordered[np.concatenate([[True], apart])])


def planes(data: MapData, levels: list[Floats]) -> list[list[Plane]]:
    """Return slices of a grid by pair of axes, the most telling pair first, its middle slice first.

    Where there are too many, slices at the ends and in the middle of the other axes are kept, then
    only those in the middle, then only the first pairs.
    """
    numbers = _numbers(data, levels)
    pairs = list(itertools.combinations(range(len(levels)), 2))
    for kept in (MOST_LEVELS, 3, 1):
        wanted = [_held(levels, pair, kept) for pair in pairs]
        cells = [
            len(held) * levels[x].size * levels[y].size
            for held, (x, y) in zip(wanted, pairs, strict=True)
        ]
        if sum(cells) <= MOST_CELLS:
            break
    fit = max(int(np.searchsorted(np.cumsum(cells), MOST_CELLS, side="right")), 1)
    return [
        [_plane(data, levels, numbers, pair, at) for at in held]
        for pair, held in zip(pairs[:fit], wanted[:fit], strict=True)
    ]


def _numbers(data: MapData, levels: list[Floats]) -> Ints:
    """Row of the point at each node of the grid."""
    places = [
        np.abs(data.best[axis.name].to_numpy(float)[:, None] - one).argmin(axis=1)
        for axis, one in zip(data.axes, levels, strict=True)
    ]
    numbers = np.full([one.size for one in levels], -1)
    numbers[tuple(places)] = np.arange(len(data.best))
    return numbers


def _held(levels: list[Floats], pair: tuple[int, int], kept: int) -> list[dict[int, int]]:
    """Levels at which the axes outside a pair are held, the middle first."""
    others = [axis for axis in range(len(levels)) if axis not in pair]
    choices = []
    for axis in others:
        size = levels[axis].size
        picked = {size // 2} if kept == 1 else {0, size // 2, size - 1}
        choices.append(sorted(picked) if kept < size else list(range(size)))
    middle = {axis: levels[axis].size // 2 for axis in others}
    all_held = [dict(zip(others, at, strict=True)) for at in itertools.product(*choices)]
    return [middle, *(one for one in all_held if one != middle)]


def _plane(
    data: MapData, levels: list[Floats], numbers: Ints, pair: tuple[int, int], held: dict[int, int]
) -> Plane:
    x, y = pair
    at = tuple(held.get(axis, slice(None)) for axis in range(len(levels)))
    words = ", ".join(
        f"{data.axes[axis].title} {data.axes[axis].level(float(levels[axis][place]))}"
        for axis, place in held.items()
    )
    rows = np.asarray(numbers[at]).T
    return Plane(data.axes[x], data.axes[y], words, levels[x], levels[y], rows)
