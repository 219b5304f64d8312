"""Blocks of one size, so that a function is compiled once whatever the number of points."""

from __future__ import annotations

from collections.abc import Iterator

import jax
import numpy as np
from numpy.typing import NDArray


def blocks(count: int, size: int) -> Iterator[tuple[NDArray[np.intp], int]]:
    """Places of every block, the last one filled up with copies, and how many of them are new."""
    for at in range(0, count, size):
        kept = min(size, count - at)
        yield np.resize(np.arange(at, at + kept), size), kept


def block_size(cpu: int, wide: int) -> int:
    """Size that suits the device that JAX finds."""
    return cpu if jax.default_backend() == "cpu" else wide
