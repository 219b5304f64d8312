"""Rows and mass corrected to those of a dearer model, by numbers among the parameters.

The last disciplines of the chain of a study that corrects::

    rows = rows' + d + D s,    mass = mass' + d_0 + D_0 s + s B s / 2,    s = scaled(x) - scaled(c)

with values d and slopes D of the difference at a centre c, and the curvature B of the difference of
the Lagrangians (first-order additive correction: Alexandrov, Lewis, Gumbert, Green and Newman,
Approximation and model management in aerodynamic optimization with variable-fidelity models,
Journal of Aircraft 38, 2001, from memory). Zeros correct nothing. So costs, maps, fronts, the batch
and the OpenMDAO problem use it without knowing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from typing import Any, NamedTuple

import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.model.declaration import Discipline, named_discipline
from mdo.model.layout import DESIGN_LENGTH, DESIGN_SIZES, LOGARITHMIC, SMALLEST, STEPS
from mdo.model.requirements import REQUIREMENTS
from mdo.model.rows import row_shape

NAME = "correction"  # of the parameters
MASS = "system_mass"
UNCORRECTED = "uncorrected_"


class Correction(NamedTuple):
    """Difference of a dearer model around a design.

    Attributes
    ----------
    centre
        Design vector at which values and slopes are those of the dearer model.
    values
        Of mass [kg] and then all rows, shape (1 + rows,).
    slopes
        In the scaled variables, shape (1 + rows, design).
    curvature
        Of the mass with the rows at their multipliers, shape (design, design).
    """

    centre: ArrayLike
    values: ArrayLike
    slopes: ArrayLike
    curvature: ArrayLike


def no_correction(parameters: Mapping[str, Any]) -> Correction:
    """Zeros for parameters whose legs and statics are filled."""
    shape = (*np.shape(parameters["fold_angle"]), np.size(parameters["statics"].state.moves))
    rows = sum(int(np.prod(row_shape(entry, *shape))) for entry in REQUIREMENTS.values())
    return Correction(
        centre=np.ones(DESIGN_LENGTH),
        values=np.zeros(1 + rows),
        slopes=np.zeros((1 + rows, DESIGN_LENGTH)),
        curvature=np.zeros((DESIGN_LENGTH, DESIGN_LENGTH)),
    )


def scaled_step(centre: ArrayLike, x: Array) -> Array:
    """Step from a centre in the scaled variables: logarithms, or steps of the few linear ones."""
    safe = jnp.where(LOGARITHMIC, jnp.maximum(x, SMALLEST), 1.0)
    start = jnp.where(LOGARITHMIC, jnp.maximum(jnp.asarray(centre), SMALLEST), 1.0)
    return jnp.where(LOGARITHMIC, jnp.log(safe / start), (x - jnp.asarray(centre)) / STEPS)


def _step(correction: Correction, values: Mapping[str, Any]) -> Array:
    x = jnp.concatenate([jnp.ravel(jnp.asarray(values[name])) for name in DESIGN_SIZES])
    return scaled_step(correction.centre, x)


def corrected_rows(*, correction: Correction, **values: Any) -> tuple[Array, ...]:
    """All rows, corrected, in the order of the table; the design by its names."""
    step = _step(correction, values)
    added = jnp.asarray(correction.values)[1:] + jnp.asarray(correction.slopes)[1:] @ step
    rows, at = [], 0
    for name in REQUIREMENTS:
        row = values[UNCORRECTED + name]
        rows.append(row + added[at : at + row.size].reshape(row.shape))
        at += row.size
    return tuple(rows)


def corrected_mass(*, correction: Correction, **values: Any) -> tuple[Array]:
    """System mass, corrected [kg]."""
    step = _step(correction, values)
    first = jnp.asarray(correction.values)[0] + jnp.asarray(correction.slopes)[0] @ step
    second = step @ jnp.asarray(correction.curvature) @ step / 2.0
    return (values[UNCORRECTED + MASS] + first + second,)


def plain(item: Discipline, *names: str) -> Discipline:
    """Discipline whose outputs of these names are not corrected yet, and are called so."""
    outputs = tuple(UNCORRECTED + name if name in names else name for name in item.outputs)
    return item._replace(outputs=outputs)


def correcting(name: str, compute: Callable[..., Any], gives: Iterable[str]) -> Discipline:
    """Discipline that corrects outputs of the chain."""
    names = tuple(gives)
    reads = (NAME, *DESIGN_SIZES, *(UNCORRECTED + each for each in names))
    return named_discipline(name, compute, reads=reads, gives=names, records=(NAME,))
