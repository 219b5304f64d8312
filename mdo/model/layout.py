"""Flat vectors and the named arrays they stand for."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np
from jax import Array
from jax.flatten_util import ravel_pytree
from numpy.typing import NDArray

# Design variables in the order of the optimiser's vector, and their sizes (2 = sets up, down).
DESIGN_SIZES: dict[str, int] = {
    "tube_outer_radius": 1,
    "wall_ratio": 1,
    "tube_length": 1,
    "tube_count": 2,
    "operating_stress": 2,
    "gear_ratio": 1,
    "pre_twist": 2,
    "heater_power": 2,
    "hot_temperature": 1,
    "insulation_thickness": 1,
    "spring_moment": 1,
    "spring_rate": 1,
}
DESIGN_LENGTH = sum(DESIGN_SIZES.values())
SET_NAMES = ("up", "down")


def design_labels() -> tuple[str, ...]:
    """Name of every entry of the design vector, sets spelled out (``tube_count.up``)."""
    labels: list[str] = []
    for name, size in DESIGN_SIZES.items():
        labels += [name] if size == 1 else [f"{name}.{side}" for side in SET_NAMES]
    return tuple(labels)


def split_design(x: Array) -> dict[str, Array]:
    """Design vector to named arrays: scalars for size 1, shape (2,) for per-set variables."""
    values: dict[str, Array] = {}
    at = 0
    for name, size in DESIGN_SIZES.items():
        values[name] = x[at] if size == 1 else x[at : at + size]
        at += size
    return values


def join_design(values: Mapping[str, Any]) -> NDArray[np.float64]:
    """Named values to the design vector.

    Raises
    ------
    KeyError
        If a design variable is missing.
    """
    parts = [
        np.broadcast_to(np.asarray(values[name], dtype=float), (size,))
        for name, size in DESIGN_SIZES.items()
    ]
    return np.concatenate(parts)


class Packed(NamedTuple):
    """Parameters as one vector, with the way back."""

    vector: NDArray[np.float64]
    unpack: Any


def pack(parameters: Mapping[str, Any]) -> Packed:
    """Flatten a mapping of arrays and records into one float64 vector."""
    import jax

    as_float = jax.tree.map(lambda leaf: np.asarray(leaf, dtype=float), dict(parameters))
    vector, unpack = ravel_pytree(as_float)
    return Packed(np.asarray(vector), unpack)
