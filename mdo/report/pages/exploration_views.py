"""A map as planes: the best design of every point, its two main axes, and slices of a full grid."""

from __future__ import annotations

import itertools
from typing import NamedTuple

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from mdo.arrays import Floats
from mdo.report.words.exploration_columns import (
    FEASIBLE,
    UNSETTLED,
    Column,
    Columns,
    Tables,
    thinned,
    thinned_words,
)

Ints = NDArray[np.int64]
MOST_POINTS = 2000  # drawn one by one
MOST_LEVELS = 60  # of one axis of a grid
MOST_CELLS = 12_000  # of all planes that a page holds
BINS = 8
SAME = 1e-9  # of the span of an axis


class MapData(NamedTuple):
    """A map: axes, the most telling first, and for every point the lightest of its choices."""

    axes: list[Column]
    best: pd.DataFrame
    choices: list[str]

    @property
    def drawn(self) -> pd.DataFrame:
        """Points that are drawn one by one."""
        return thinned(self.best, MOST_POINTS).reset_index(drop=True)

    @property
    def note(self) -> str:
        """Sentence on how many of the points are drawn, empty where all are."""
        return thinned_words(len(self.drawn), len(self.best), "points", "map_points")


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
    axes = [columns.of(str(name)) for name in tables["map_axes"]["axis"]]
    standing = points["status"].map({FEASIBLE: 0, UNSETTLED: 1}).fillna(2)
    order = points.assign(standing=standing).sort_values(
        ["point", "standing", "system_mass", "violation"], kind="stable"
    )
    best = order.drop_duplicates("point").drop(columns="standing").reset_index(drop=True)
    # choices that did not settle at points where another one is feasible
    lost = points[points["status"] == UNSETTLED].groupby("point")["choice"].agg(", ".join)
    doubt = best["point"].map(lost).astype(object)
    best["doubt"] = doubt.where(doubt.notna() & (best["status"] == FEASIBLE), "")
    axes.sort(key=lambda axis: -influence(best, axis.name))
    return MapData(axes, best, sorted(set(points["choice"].astype(str)) - {""}))


def influence(best: pd.DataFrame, axis: str) -> float:
    """Share of the variance of mass, and of feasibility, that lies between bands of an axis.

    Bands hold about as many points each.
    """
    values, feasible = best[axis].to_numpy(float), (best["status"] == FEASIBLE).to_numpy()
    if not values.size:
        return 0.0
    ends = np.unique(np.quantile(values, np.linspace(0.0, 1.0, BINS + 1)))
    bands = np.searchsorted(ends[1:-1], values, side="right")
    mass = best["system_mass"].astype(float)[feasible]
    return _between(mass, bands[feasible]) + _between(pd.Series(feasible.astype(float)), bands)


def _between(values: pd.Series, bands: Ints) -> float:
    """Variance of the means of bands over the variance of all."""
    whole = float(values.var(ddof=0))
    return (
        float(values.groupby(bands).transform("mean").var(ddof=0)) / whole if whole > 0.0 else 0.0
    )


def grid_levels(data: MapData) -> list[Floats] | None:
    """Levels of each axis where the points are a full grid, None where they are spread."""
    levels = [_levels(data.best[axis.name].to_numpy(float)) for axis in data.axes]
    size = int(np.prod([one.size for one in levels]))
    small = all(2 <= one.size <= MOST_LEVELS for one in levels)
    return levels if small and levels and size == len(data.best) else None


def _levels(values: Floats) -> Floats:
    """Distinct values of an axis, those that differ by rounding taken as one."""
    ordered = np.unique(values)
    return ordered[np.diff(ordered, prepend=-np.inf) > SAME * np.ptp(values)]


def planes(data: MapData, levels: list[Floats]) -> list[list[Plane]]:
    """Return slices of a grid by pair of axes, the most telling pair first, its middle slice first.

    Where there are too many, slices at the ends and in the middle of the other axes are kept, then
    only those in the middle, then only the first pairs.
    """
    places = [
        np.abs(data.best[axis.name].to_numpy(float)[:, None] - one).argmin(axis=1)
        for axis, one in zip(data.axes, levels, strict=True)
    ]
    numbers = np.full([one.size for one in levels], -1)  # row of the point at each node
    numbers[tuple(places)] = np.arange(len(data.best))
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


def _held(levels: list[Floats], pair: tuple[int, int], kept: int) -> list[dict[int, int]]:
    """Levels at which the axes outside a pair are held, the middle first."""
    sizes = {axis: one.size for axis, one in enumerate(levels) if axis not in pair}
    middle = {axis: size // 2 for axis, size in sizes.items()}
    few = {axis: {middle[axis]} if kept == 1 else {0, middle[axis], size - 1}
           for axis, size in sizes.items()}  # fmt: skip
    choices = [sorted(few[axis]) if kept < size else range(size) for axis, size in sizes.items()]
    all_held = [dict(zip(sizes, at, strict=True)) for at in itertools.product(*choices)]
    return [middle, *(one for one in all_held if one != middle)]


def _plane(
    data: MapData, levels: list[Floats], numbers: Ints, pair: tuple[int, int], held: dict[int, int]
) -> Plane:
    x, y = pair
    words = ", ".join(
        f"{data.axes[axis].title} {data.axes[axis].level(float(levels[axis][place]))}"
        for axis, place in held.items()
    )
    rows = numbers[tuple(held.get(axis, slice(None)) for axis in range(len(levels)))].T
    return Plane(data.axes[x], data.axes[y], words, levels[x], levels[y], rows)
