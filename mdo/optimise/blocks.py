"""Blocks of one size, so that a function is compiled once whatever the number of points."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import jax
import numpy as np

from mdo.arrays import Indices


def in_blocks(function: Callable[[Indices], Any], count: int, size: int) -> Any:
    """Tree of arrays that a function gives for the places of a block, joined over all blocks.

    The last block is filled up with copies, which are left out again.
    """
    parts = []
    for at in range(0, count, size):
        kept = min(size, count - at)
        block = function(np.resize(np.arange(at, at + kept), size))
        parts.append(jax.tree.map(lambda array, n=kept: np.asarray(array)[:n], block))
    return jax.tree.map(lambda *arrays: np.concatenate(arrays), *parts)


def block_size(cpu: int, wide: int) -> int:
    """Size that suits the device that JAX finds."""
    return cpu if jax.default_backend() == "cpu" else wide
