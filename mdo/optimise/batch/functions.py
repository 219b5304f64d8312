"""Functions of all lanes of a model, compiled for one width, and what the lanes remember.

What all lanes remember is one tree of arrays: begun, taken on by one iteration, picked from.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Iterable
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from itertools import chain
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.arrays import Booleans, Floats
from mdo.optimise.batch.iteration import (
    Limits,
    Memory,
    Options,
    Proposal,
    Slope,
    Value,
    begin,
    correction,
    merit_of,
    propose,
)

DEFAULT = Options()
HELD = ("z", "radius", "updates", "fresh")  # what steps change, outside of compiled functions


class Model(NamedTuple):
    """Functions of a batch, compiled: ``values(z, data)`` and ``slopes(z, data)``.

    ``compiling(z, data)`` gives calls that compile them, each alone, as soon as it can be made.
    """

    values: Callable[[Any, Any], Value]
    slopes: Callable[[Any, Any], tuple[Value, Slope]]
    compiling: Callable[[Any, Any], Iterable[Callable[[], Any]]]


class Problems(NamedTuple):
    """Many problems of one model; first axis of every array: the problem.

    Attributes
    ----------
    start, lower, upper
        Starting point and bounds of the scaled variables; equal bounds freeze a variable.
    counts
        Rows that count.
    data
        Whatever else the model needs, a tree of arrays.
    hessian
        Of the Lagrangian, from a neighbour (:attr:`Solution.hessian`); zeros or None where unknown.
    """

    start: Floats
    lower: Floats
    upper: Floats
    counts: Booleans
    data: Any
    hessian: Floats | None = None


class Compiled:
    """Functions of the lanes of a model for one width, each compiled when it is first called.

    Parameters
    ----------
    model : functions of a batch
    width : lanes
    options : tolerances and weights
    """

    def __init__(self, model: Model, *, width: int = 64, options: Options = DEFAULT) -> None:
        self.model, self.width, self.options = model, width, options
        self.propose = jax.jit(partial(advance, options=options))
        self.correction = jax.jit(jax.vmap(correction))
        self.merit = jax.jit(jax.vmap(merit_of))
        self.fill = jax.jit(partial(filled, options=options))
        self.gather = jax.jit(gathered)


def compile_lanes(own: Compiled, problems: Problems) -> None:
    """Compile everything for problems of this kind, on all cores at once."""
    lanes = np.resize(np.arange(len(problems.start)), own.width)
    z, data = problems.start[lanes], jax.tree.map(lambda a: a[lanes], problems.data)
    n, rows = z.shape[1], problems.counts.shape[1]
    data, counts = placed((data, problems.counts[lanes]))
    limits = Limits(problems.lower[lanes], problems.upper[lanes], counts)
    memory = split_memory(blank(own.width, n, rows))
    value = Value(*placed((np.zeros(own.width), np.zeros((own.width, rows)))))
    slope = Slope(*placed((np.zeros((own.width, n)), np.zeros((own.width, rows, n)))))
    live = np.ones(own.width, dtype=bool)

    def correcting() -> None:
        ahead, proposal = own.propose(memory, value, slope, limits, live)
        own.correction(ahead, proposal, value, value)

    calls: list[Callable[[], Any]] = [
        correcting,
        partial(own.merit, value, counts, memory.rho),
        partial(own.gather, (data, counts, memory.rho), lanes),
        partial(own.fill, memory, live, z, memory.H),
    ]
    with ThreadPoolExecutor(os.cpu_count()) as pool:
        begun = [pool.submit(call) for call in chain(own.model.compiling(z, data), calls)]
        for future in begun:
            future.result()


def blank(width: int, n: int, rows: int) -> Memory:
    """Memory of lanes in which nothing was ever done."""
    lane = begin(jnp.zeros(n), rows, DEFAULT)
    lanes: Memory = jax.tree.map(lambda a: np.stack([np.asarray(a)] * width), lane)
    return lanes


def placed(tree: Any) -> Any:
    """Put arrays on the device of the model, all in the same way.

    To the compiler an array that was put there by name is another thing than one that happens to
    be there: a function called with both is compiled twice.
    """
    return jax.device_put(tree, jax.local_devices()[0])


def split_memory(memory: Memory) -> Memory:
    """Memory as steps leave it: what they change as numpy's arrays, the rest on the device."""
    small: dict[str, Any] = {name: np.array(getattr(memory, name)) for name in HELD}
    large = {name: getattr(memory, name) for name in Memory._fields if name not in HELD}
    return Memory(**small, **placed(large))


def advance(
    memory: Memory, value: Value, slope: Slope, limits: Limits, live: Any, *, options: Options
) -> tuple[Memory, Proposal]:
    """One proposal of every lane; lanes that have ended keep what they remember."""
    new, proposal = jax.vmap(partial(propose, options=options))(memory, value, slope, limits)
    return chosen(live, new, memory), proposal


def filled(memory: Memory, fresh: Any, starts: Any, hessians: Any, *, options: Options) -> Memory:
    """Memory with some lanes begun anew."""
    rows = memory.multipliers.shape[1]
    anew = jax.vmap(lambda z, H: begin(z, rows, options, H))(starts, hessians)
    return chosen(fresh, anew, memory)


def chosen(mask: Any, new: Memory, old: Memory) -> Memory:
    """Lanes of one memory where the mask holds, of another elsewhere."""

    def of_lanes(one: Any, other: Any) -> Any:
        return jnp.where(mask.reshape(-1, *[1] * (one.ndim - 1)), one, other)

    return jax.tree.map(of_lanes, new, old)  # type: ignore[no-any-return]


def gathered(tree: Any, lanes: Any) -> Any:
    """Some lanes of a tree of arrays."""
    return jax.tree.map(lambda a: a[lanes], tree)
