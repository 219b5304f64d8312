"""From stress of a tube to moment at the hinge, and the factored moment that is asked there."""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import torsion


def stress_cap(section: torsion.Section, alloy: Alloy) -> Array:
    """Uniform stress at which the outer fibre reaches the allowable one [Pa]."""
    return jnp.asarray(alloy.allowable_shear_stress) / torsion.outer_stress(1.0, section)


def factored(moment: ArrayLike, margin: ArrayLike) -> Array:
    """Required moment with its margin: ``(1 + m) R`` where R resists, R itself where it assists."""
    value = jnp.asarray(moment)
    return jnp.where(value > 0.0, (1.0 + jnp.asarray(margin)) * value, value)


class Levers(NamedTuple):
    """From tube stress and strain to moments at the hinge, one wing."""

    drive: Array
    drag: Array
    to_strain: Array


def levers(
    *,
    section: torsion.Section,
    tube_length: Array,
    gear_ratio: Array,
    efficiency: Array,
    drag_efficiency: Array,
) -> Levers:
    """Hinge moment per tube and stress, driving and dragging [m3]; strain at r_w per twist."""
    arm = gear_ratio * section.area * section.effective_radius
    return Levers(arm * efficiency, arm / drag_efficiency, section.effective_radius / tube_length)
