"""What all lanes remember, as one tree of arrays: begun, taken on by one iteration, picked from."""

from __future__ import annotations

from functools import partial
from typing import Any

import jax
import jax.numpy as jnp
import numpy as np

from mdo.optimise.batch.iteration import (
    Limits,
    Memory,
    Options,
    Proposal,
    Slope,
    Value,
    begin,
    propose,
)


def blank(width: int, n: int, rows: int) -> Memory:
    """Memory of lanes in which nothing was ever done."""
    one = begin(jnp.zeros(n), rows, Options())
    blank: Memory = jax.tree.map(lambda a: np.stack([np.asarray(a)] * width), one)
    return blank


HELD = ("z", "radius", "updates", "fresh")  # what steps change, outside of compiled functions


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

    def kept(ahead: Any, before: Any) -> Any:
        return jnp.where(live.reshape(-1, *[1] * (ahead.ndim - 1)), ahead, before)

    return jax.tree.map(kept, new, memory), proposal


def filled(memory: Memory, fresh: Any, starts: Any, hessians: Any, *, options: Options) -> Memory:
    """Memory with some lanes begun anew."""
    rows = memory.multipliers.shape[1]
    anew = jax.vmap(lambda z, H: begin(z, rows, options, H))(starts, hessians)

    def chosen(new: Any, old: Any) -> Any:
        return jnp.where(fresh.reshape(-1, *[1] * (new.ndim - 1)), new, old)

    filled: Memory = jax.tree.map(chosen, anew, memory)
    return filled


def gathered(tree: Any, lanes: Any) -> Any:
    """Some lanes of a tree of arrays."""
    return jax.tree.map(lambda a: a[lanes], tree)
