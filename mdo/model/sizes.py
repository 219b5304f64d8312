"""Legs and static cases in a few sizes, so that studies share compiled code.

The arrays of a study are filled up to the next size with copies of its last leg (or static case)
that count for nothing: ``filler`` is 1, they neither move nor hold and have no folds. Rows of
fillers never count, and their outputs are left out where a design is read: so a copy changes no
maximum or minimum over legs; smooth extremes and means leave it out by the record's ``real``.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from mdo.disciplines.records import Legs, Statics

# The length of its first axis says whether an output runs over legs or static cases. So no size
# stands in both, and no level may give an output whose first axis has one of these lengths and
# runs over something else; a test holds every level to that.
LEG_SIZES = (12, 18, 24, 36, 48, 72, 96)
STATIC_SIZES = (8, 16, 32, 64, 128)
OVER_ANGLES = ("fold_angle", "path_strain", "path_drag_factor", "table_moment_low",
               "table_moment_high")  # fmt: skip
OF_STATICS = ("static_table_low", "static_table_high")
NOTHING = ("moves", "holds", "locked", "soak", "direction", "is_return", "has_return",
           "folds_per_life")  # fmt: skip


def size_for(count: int, sizes: tuple[int, ...]) -> int:
    """Smallest size that takes a number of entries; beyond the last, that number itself."""
    return next((size for size in sizes if size >= count), count)


def filled(parameters: Mapping[str, Any]) -> dict[str, Any]:
    """Parameters with their legs and static cases filled up to the next size."""
    legs, statics = parameters["legs"], parameters["statics"].state
    leg_size = size_for(np.size(legs.moves), LEG_SIZES)
    static_size = size_for(np.size(statics.moves), STATIC_SIZES)
    sizes = dict.fromkeys(OVER_ANGLES, leg_size) | dict.fromkeys(OF_STATICS, static_size)
    arrays = {name: _filled(parameters[name], sizes[name]) for name in sizes.keys() & parameters}
    return {
        **parameters,
        **arrays,
        "legs": _filled_legs(legs, leg_size),
        "statics": Statics(_filled_legs(statics, static_size)),
    }


def _filled(array: Any, size: int) -> NDArray[np.float64]:
    """Array with its last entry repeated up to a size, first axis."""
    values = np.asarray(array, dtype=float)
    return np.concatenate([values, np.repeat(values[-1:], size - len(values), axis=0)])


def _filled_legs(legs: Legs, size: int) -> Legs:
    count = np.size(legs.moves)
    whole = {name: _filled(array, size) for name, array in legs._asdict().items()}
    for name in NOTHING:
        whole[name][count:] = 0.0
    whole["filler"][count:] = 1.0
    return Legs(**whole)


def emptied(values: Mapping[str, Any], legs: int, statics: int) -> dict[str, NDArray[np.float64]]:
    """Outputs of the chain without the entries that only fill: of so many legs and static cases."""
    lengths = {size_for(legs, LEG_SIZES): legs, size_for(statics, STATIC_SIZES): statics}
    arrays = {name: np.asarray(value) for name, value in values.items()}
    return {
        name: array[: lengths.get(len(array))] if array.ndim else array
        for name, array in arrays.items()
    }
