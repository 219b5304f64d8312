"""Studies that share a compiled chain as problems of one batch."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from numpy.typing import NDArray

from mdo.explore.batch.lanes import Model, Problems, Solver
from mdo.explore.batch.sqp import Slope, Value
from mdo.explore.problem import LINEAR_STEPS, DesignProblem

Floats = NDArray[np.float64]
SHIFT = 0.03  # of the scaled variables, to a second point where rows are compared
CONSTANT = 1e-12  # slope below which a row does not depend on the design
FEASIBLE = 1e-6


class ChainData(NamedTuple):
    """What a lane needs beside the scaled variables.

    Attributes
    ----------
    x
        Design whose inactive entries are kept.
    theta, prelude
        Parameters and what follows from them alone.
    scale
        Mass that counts as one [kg].
    """

    x: Any
    theta: Any
    prelude: Any
    scale: Any


def chain_model(problem: DesignProblem) -> Model:
    """Objective over its scale and all rows of the chain, in the scaled active variables."""
    active = np.flatnonzero(problem.active)
    sizes, logarithmic = _scaling(problem)
    sizes, logarithmic = sizes[active], logarithmic[active]

    def values(z: Any, data: ChainData) -> Value:
        own = jnp.where(logarithmic, jnp.exp(jnp.where(logarithmic, z, 0.0)), z * sizes)
        point = problem.chain.evaluate_point(data.x.at[active].set(own), data.theta, data.prelude)
        return Value(point.objective / data.scale, point.rows)

    def slopes(z: Any, data: ChainData) -> tuple[Value, Slope]:
        def twice(at: Any) -> tuple[Value, Value]:
            value = values(at, data)
            return value, value

        slope, value = jax.jacfwd(twice, has_aux=True)(z)
        return value, Slope(slope.f, slope.c)

    return Model(values, slopes)


def _scaling(problem: DesignProblem) -> tuple[Floats, NDArray[np.bool_]]:
    """Size of one step of every variable, and which are scaled by their logarithm."""
    names = [label.split(".")[0] for label in problem.labels]
    steps = np.array([LINEAR_STEPS.get(name, 1.0) for name in names])
    return steps, np.array([name not in LINEAR_STEPS for name in names])


def chain_problems(problems: Sequence[DesignProblem], designs: Floats, scale: float) -> Problems:
    """One batch of studies with the same chain and active variables, each from its own design.

    Raises
    ------
    ValueError
        If a study moves other variables than the first, or has a chain of its own.
    """
    first = problems[0]
    for one in problems:
        if one.chain is not first.chain or not np.array_equal(one.active, first.active):
            raise ValueError("a batch needs one compiled chain and the same active variables")
    active = first.active
    data = ChainData(
        x=np.array(designs),
        theta=np.stack([np.asarray(one.theta) for one in problems]),
        prelude=stacked([one.prelude for one in problems]),
        scale=np.full(len(problems), scale),
    )
    return Problems(
        start=np.stack([p.scale(x)[active] for p, x in zip(problems, designs, strict=True)]),
        lower=np.stack([p.scale(p.lower)[active] for p in problems]),
        upper=np.stack([p.scale(p.upper)[active] for p in problems]),
        counts=np.stack([p.rows.counts for p in problems]),
        data=data,
    )


def stacked(trees: Sequence[Mapping[str, Any]]) -> Any:
    """Trees of arrays as one tree with the problem as first axis."""
    return jax.tree.map(lambda *leaves: np.stack([np.asarray(leaf) for leaf in leaves]), *trees)


def distinct(solver: Solver, problems: Problems) -> tuple[Problems, NDArray[np.bool_]]:
    """Leave out copies of rows and rows without slope; returns also which problems are blocked.

    A problem is blocked where a row fails whatever the design.
    """
    counts = problems.counts.copy()
    blocked = np.zeros(counts.shape[0], dtype=bool)
    shift = SHIFT * np.cos(np.arange(problems.start.shape[1]))
    ahead = np.clip(problems.start + shift, problems.lower, problems.upper)
    for at in range(0, blocked.size, solver.width):
        chosen = np.resize(np.arange(at, min(at + solver.width, blocked.size)), solver.width)
        data = jax.tree.map(lambda a, take=chosen: a[take], problems.data)
        here = solver.slopes(problems.start[chosen], data)
        there = solver.slopes(ahead[chosen], data)
        parts = [np.asarray(a) for a in (here[0].c, here[1].J, there[0].c, there[1].J)]
        for lane, number in enumerate(chosen[: blocked.size - at]):
            own = [part[lane] for part in parts]
            counts[number], blocked[number] = _distinct(counts[number], *own)
    return problems._replace(counts=counts), blocked


def _distinct(counts: Any, c: Floats, J: Floats, other: Floats, turned: Floats) -> Any:
    """Rows of one problem that say something, and whether a constant one fails."""
    constant = np.maximum(np.abs(J).max(axis=1), np.abs(turned).max(axis=1)) < CONSTANT
    places = np.flatnonzero(counts)
    signature = np.round(np.column_stack([c, other, J])[places], 10)
    _, unique = np.unique(signature, axis=0, return_index=True)
    kept = np.zeros_like(counts)
    kept[places[unique]] = True
    return kept & ~constant, bool((counts & constant & (c < -FEASIBLE)).any())
