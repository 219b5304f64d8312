"""Flat vectors and the named arrays they stand for."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import jax
import numpy as np
from jax import Array
from numpy.typing import NDArray

# Design variables in the order of the optimiser's vector, and their sizes (2 = sets up, down).
DESIGN_SIZES: dict[str, int] = {
    "tube_outer_radius": 1, "wall_ratio": 1, "tube_length": 1, "tube_count": 2,
    "operating_stress": 2, "gear_ratio": 1, "pre_twist": 2, "heater_power": 2,
    "hot_temperature": 1, "insulation_thickness": 1, "spring_moment": 1, "spring_rate": 1,
}  # fmt: skip
DESIGN_LENGTH = sum(DESIGN_SIZES.values())
SET_NAMES = ("up", "down")
# Variables that are not scaled by their logarithm, and the size of one step of each.
LINEAR_STEPS = {"hot_temperature": 10.0, "insulation_thickness": 1e-3, "spring_rate": 10.0}
SMALLEST = 1e-9  # lower bound of a logarithmic variable


def design_labels() -> tuple[str, ...]:
    """Name of every entry of the design vector, sets spelled out (``tube_count.up``)."""
    labels: list[str] = []
    for name, size in DESIGN_SIZES.items():
        labels += [name] if size == 1 else [f"{name}.{side}" for side in SET_NAMES]
    return tuple(labels)


LOGARITHMIC = np.array([label not in LINEAR_STEPS for label in design_labels()])
STEPS = np.array([LINEAR_STEPS.get(label, 1.0) for label in design_labels()])


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


def pack(parameters: Mapping[str, Any]) -> NDArray[np.float64]:
    """Flatten a mapping of arrays and records into one float64 vector."""
    leaves = jax.tree.leaves(dict(parameters))
    return np.concatenate([np.asarray(leaf, dtype=float).ravel() for leaf in leaves])


def unpacking(parameters: Mapping[str, Any]) -> Callable[[Any], dict[str, Any]]:
    """Return the way back from :func:`pack` for parameters of these names and shapes.

    It takes a vector, or the vectors of many studies, shape (n, parameters), traced or plain.
    """
    leaves, tree = jax.tree.flatten(dict(parameters))
    shapes = [np.shape(leaf) for leaf in leaves]
    ends = np.cumsum([int(np.prod(shape, dtype=int)) for shape in shapes]).tolist()
    places = [slice(*pair) for pair in zip([0, *ends], ends, strict=False)]

    def unpack(vectors: Any) -> dict[str, Any]:
        shaped = [
            vectors[..., place].reshape((*vectors.shape[:-1], *shape))
            for place, shape in zip(places, shapes, strict=True)
        ]
        return dict(jax.tree.unflatten(tree, shaped))

    return unpack
