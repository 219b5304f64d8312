"""From the table of requirements to the rows of the chain, their labels and masks, and back.

Everything here follows from an entry of :mod:`mdo.model.requirements`.
"""

from __future__ import annotations

import inspect
from collections.abc import Mapping
from functools import lru_cache
from typing import Any, NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from numpy.typing import NDArray

from mdo.arrays import Booleans
from mdo.model.layout import SET_NAMES
from mdo.model.requirements import (
    ANGLES,
    AT_MOST,
    LEGS,
    REQUIREMENTS,
    SCALAR,
    SETS,
    STATICS,
    Requirement,
    Source,
)
from mdo.model.situation import Situation

# What the shapes of rows are taken from, beside what the entries read.
SHAPED_BY = ("fold_angle", "static_bay_hot")
# Parts of a label that place a row, in the order of its axes.
AXES = {SCALAR: (), SETS: ("side",), LEGS: ("leg",), ANGLES: ("leg", "angle"), STATICS: ("leg",)}

LIMIT_STEP = 1e-6  # relative


def _names(source: Source) -> tuple[str, ...]:
    """Names of quantities and records that a value, limit or scale reads."""
    if isinstance(source, str):
        return (source.partition(".")[0],)
    names = tuple(inspect.signature(source).parameters) if callable(source) else ()
    return tuple(name for name in names if name not in {"value", "limit"})


def names_read() -> tuple[str, ...]:
    """Names of all quantities and records that the table reads, each once."""
    sources = [
        source
        for entry in REQUIREMENTS.values()
        for source in (entry.value, entry.limit, entry.scale.row)
    ]
    names = (*SHAPED_BY, *(name for source in sources for name in _names(source)))
    return tuple(dict.fromkeys(names))


def _read(source: Source, values: Mapping[str, Any]) -> Any:
    """Value of a name, of a field of a record, of a function of names, or a plain number."""
    if isinstance(source, str):
        name, _, field = source.partition(".")
        return getattr(values[name], field) if field else values[name]
    if callable(source):
        return source(**{name: values[name] for name in _names(source)})
    return source


def _per_angle(part: Any, over: str) -> Any:
    """Value per leg as a column where a requirement runs over the angles of each leg."""
    return part[:, None] if over == ANGLES and np.ndim(part) == 1 else part


def value_and_limit(entry: Requirement, values: Mapping[str, Any]) -> tuple[Any, Any]:
    """Value and limit of a requirement, of shapes that go together.

    Parameters
    ----------
    entry : of the table
    values : quantities and records by name, traced or plain
    """
    value, limit = (
        _per_angle(_read(source, values), entry.over) for source in (entry.value, entry.limit)
    )
    return value, limit


def row_shape(entry: Requirement, legs: int, angles: int, statics: int) -> tuple[int, ...]:
    """Shape of the row of a requirement."""
    sizes = {
        SCALAR: (),
        SETS: (len(SET_NAMES),),
        LEGS: (legs,),
        ANGLES: (legs, angles),
        STATICS: (statics,),
    }
    return sizes[entry.over]


def row_of(entry: Requirement, values: Mapping[str, Any]) -> Array:
    """Row of a requirement (>= 0 is good), of what it reads by name."""
    value, limit = value_and_limit(entry, values)
    given = {name: values[name] for name in _names(entry.scale.row)}
    row: Array = entry.scale.row(value=value, limit=limit, **given)
    return row if entry.sense == AT_MOST else -row


def constraint_rows(**values: Any) -> tuple[Array, ...]:
    """All rows of one design (>= 0 is good), in the order of the table.

    The arguments are those that :func:`names_read` names.
    """
    shape = (*np.shape(values["fold_angle"]), *np.shape(values["static_bay_hot"]))
    return tuple(
        jnp.broadcast_to(row_of(entry, values), row_shape(entry, *shape))
        for entry in REQUIREMENTS.values()
    )


class RowLabel(NamedTuple):
    """Where a row comes from: its requirement, and leg, angle or set where it has one, else -1.

    ``leg`` is the number of the static case where a requirement runs over those.
    """

    group: str
    leg: int = -1
    angle: int = -1
    side: int = -1

    @property
    def requirement(self) -> Requirement:
        """Entry of the table."""
        return REQUIREMENTS[self.group]


class RowIndex(NamedTuple):
    """Labels of all rows in the order of the vector, and the mask of those that count."""

    labels: tuple[RowLabel, ...]
    counts: Booleans


def place(label: RowLabel) -> tuple[int, ...]:
    """Place of a row in the array of its requirement."""
    return tuple(getattr(label, axis) for axis in AXES[label.requirement.over])


class Reading(NamedTuple):
    """A row as people read it: value, limit, and margin, positive where it holds, in its unit."""

    value: float
    limit: float
    margin: float


def read_row(label: RowLabel, values: Mapping[str, Any]) -> Reading:
    """Reading of a row, of quantities and records by name as numpy arrays."""
    entry, at = label.requirement, place(label)
    shape = np.shape(values[entry.name])
    value, limit = (
        float(np.broadcast_to(part, shape)[at]) for part in value_and_limit(entry, values)
    )
    return Reading(value, limit, limit - value if entry.sense == AT_MOST else value - limit)


def limit_slope(label: RowLabel, values: Mapping[str, Any]) -> float:
    """Change of a row per unit of its limit (SI), to first order; 0 where the limit is none."""
    entry, at = label.requirement, place(label)
    value, limit = (np.asarray(part, dtype=float) for part in value_and_limit(entry, values))
    given = {name: values[name] for name in _names(entry.scale.row)}
    step = LIMIT_STEP * np.maximum(np.abs(limit), 1e-12)
    ahead, behind = (
        np.asarray(entry.scale.row(value=value, limit=limit + part, **given))
        for part in (step, -step)
    )
    slopes = np.broadcast_to(np.abs(ahead - behind) / (2.0 * step), np.shape(values[entry.name]))
    return float(slopes[at])


def index_rows(
    row_names: tuple[str, ...], where: Situation, *, leg_count: int, angle_count: int
) -> RowIndex:
    """Labels and mask of the row vector of a study.

    A hold has one fold angle: only its first row counts, the copies would only make multipliers
    ambiguous. Rows of entries that only fill the arrays never count.
    """
    sizes = leg_count, angle_count, where.static.size
    real = {LEGS: where.real, ANGLES: where.real[:, None], STATICS: where.real_static}
    masks: list[NDArray[Any]] = []
    for name in row_names:
        entry = REQUIREMENTS[name]
        counts = _per_angle(np.asarray(entry.counts(where)), entry.over)
        every = counts & real.get(entry.over, True)
        mask = np.broadcast_to(every, row_shape(entry, *sizes)).copy()
        if entry.over == ANGLES:
            mask[where.holds, 1:] = False
        masks.append(mask.ravel())
    return RowIndex(_labels(row_names, *sizes), np.concatenate(masks).astype(bool))


@lru_cache(maxsize=32)
def _labels(row_names: tuple[str, ...], *sizes: int) -> tuple[RowLabel, ...]:
    """Labels of all rows, by how many legs, angles and static cases there are."""
    labels: list[RowLabel] = []
    for name in row_names:
        entry = REQUIREMENTS[name]
        axes, places = AXES[entry.over], np.ndindex(row_shape(entry, *sizes))
        labels += [RowLabel(name, **dict(zip(axes, at, strict=True))) for at in places]
    return tuple(labels)
