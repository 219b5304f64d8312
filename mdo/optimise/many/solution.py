"""Optima of many points as one record of arrays, and as the columns of a chunk."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from mdo.arrays import Booleans, Floats, Indices
from mdo.optimise.many.model import OUTPUTS
from mdo.optimise.status import FEASIBLE, INFEASIBLE, OPEN

if TYPE_CHECKING:
    import pandas as pd

Words = NDArray[np.object_]
HOLDS = 1e-8  # largest violation of a design that meets every row


class Starts(NamedTuple):
    """Where points start: designs, and lower triangles of Hessians, zeros where unknown."""

    designs: Floats
    hessians: Floats


def starts_at(designs: Floats, active: Booleans) -> Starts:
    """Starts at designs of which no Hessian is known."""
    size = int(active.sum())
    return Starts(designs, np.zeros((len(designs), size * (size + 1) // 2)))


class Optima(NamedTuple):
    """Where the optimiser ended at many points, first axis of every array: the point.

    Attributes
    ----------
    status, reason
        ``feasible``, ``infeasible`` or ``not settled``, and why; no status: not solved yet.
    active, blocks
        Titles of the rows that carry the optimum, and of those from which a row is a reason.
    objective, violation, kkt_residual, iterations
        Of the optimiser.
    counts_exist
        Whether the count problem of the design has a solution.
    outputs, times, designs
        In the order of :data:`OUTPUTS`, of :data:`mdo.optimise.many.points.TIMES` and of the design
        vector.
    costs, limit_costs
        Slopes of the optimal objective along the axes and along limits of the outputs.
    harder
        Slopes of the least violation along the axes, where nothing is feasible.
    hessians
        Lower triangles of the quasi-Newton matrices.
    bound
        On the error of the objective, where rows are corrected by what is interpolated; else 0.
    """

    status: Words
    reason: Words
    active: Words
    blocks: Words
    objective: Floats
    violation: Floats
    kkt_residual: Floats
    iterations: Indices
    counts_exist: Booleans
    outputs: Floats
    times: Floats
    designs: Floats
    costs: Floats
    harder: Floats
    limit_costs: Floats
    hessians: Floats
    bound: Floats

    @property
    def feasible(self) -> Booleans:
        """Points with a feasible optimum."""
        return np.asarray(self.status == FEASIBLE)

    @property
    def held(self) -> Booleans:
        """Points whose design meets every row, optimum or not."""
        return np.asarray((self.status != INFEASIBLE) & (self.violation <= HOLDS))

    @property
    def lost(self) -> Booleans:
        """Points that are not settled and violate a row."""
        return np.asarray((self.status == OPEN) & (self.violation > HOLDS))

    @property
    def starts(self) -> Starts:
        """Starts of the same points, or of their neighbours."""
        return Starts(self.designs, self.hessians)

    def output(self, name: str) -> Floats:
        """Values of one output."""
        return self.outputs[:, OUTPUTS.index(name)]

    def take(self, places: Any) -> Optima:
        """Some of the points."""
        return Optima(*(field[places] for field in self))

    def replaced(self, places: Any, new: Optima) -> Optima:
        """The same points, some of them replaced."""
        changed = self.take(np.arange(len(self.status)))
        for field, values in zip(changed, new, strict=True):
            field[places] = values
        return changed


def joined(parts: Sequence[Optima]) -> Optima:
    """Points of several parts, one after the other."""
    return Optima(*(np.concatenate(fields) for fields in zip(*parts, strict=True)))


def unsolved(count: int, like: Optima) -> Optima:
    """Points that are not solved yet, of the shapes of others."""
    return Optima(
        *(np.full((count, *f.shape[1:]), "" if f.dtype == object else 0, f.dtype) for f in like)
    )


def columns_of(optima: Optima) -> dict[str, Any]:
    """Columns of a chunk; an array of several columns is numbered."""
    columns: dict[str, Any] = {}
    for name, field in optima._asdict().items():
        if field.ndim == 1:
            columns[name] = field.tolist() if field.dtype == object else field
        else:
            columns |= {f"{name}.{n}": column for n, column in enumerate(field.T)}
    return columns


def optima_of(frame: pd.DataFrame) -> Optima:
    """Optima of the columns of chunks."""

    def field(name: str) -> Any:
        if name in frame:
            values = frame[name]
            return values.to_numpy(object if values.dtype.kind not in "bif" else None)
        numbered = [column for column in frame if str(column).startswith(f"{name}.")]
        return frame[numbered].to_numpy(dtype=float)

    return Optima(*(field(name) for name in Optima._fields))


def better(new: Optima, old: Optima) -> Booleans:
    """Whether new ends are better: feasible before not, then lighter; else less violated."""
    good, had = new.feasible, old.feasible
    lighter, less = new.objective < old.objective, new.violation < old.violation
    return np.where(good & had, lighter, np.where(good == had, less, good))


def agreeing(
    one: Optima, other: Optima, of_objective: float, of_violation: float
) -> tuple[Booleans, Booleans]:
    """Where two starts end at one optimum, and where at one least violation.

    Parameters
    ----------
    one, other : ends of the same points from two starts
    of_objective, of_violation : relative differences that count as none
    """

    def close(first: Floats, second: Floats, share: float) -> Booleans:
        size = np.maximum(np.abs(first), np.abs(second))
        return np.asarray(np.abs(first - second) <= share * size)

    return (
        one.held & other.held & close(one.objective, other.objective, of_objective),
        ~one.held & ~other.held & close(one.violation, other.violation, of_violation),
    )
