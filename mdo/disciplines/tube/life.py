"""Actuation life: work-based law with Miner's sum, or a declared allowable.

``log10 N = a + b log10 w`` with w = tau_outer gamma_act in MJ/m3 (b < 0): the energy form of
Calhoun, Wheeler, Baxevanis & Lagoudas, Scripta Mater. 95 (2015) 58 (form from memory); constants by
the alloy card. Allowable is the work at ten times the folds: a factor ten on lives.
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy, Choices, Legs, Requirements


def cycles_to_failure(work_density: ArrayLike, alloy: Alloy) -> Array:
    """Cycles to failure at a work density [J/m3]; guarded below 1 kJ/m3."""
    w = jnp.maximum(jnp.asarray(work_density), 1e3) / 1e6
    exponent = jnp.asarray(alloy.life_intercept) + jnp.asarray(alloy.life_slope) * jnp.log10(w)
    return jnp.power(10.0, exponent)


def allowable_work_density(cycles: ArrayLike, alloy: Alloy) -> Array:
    """Work density [J/m3] at which a number of cycles is reached: the inverse of the law."""
    n = jnp.maximum(jnp.asarray(cycles), 1.0)
    return 1e6 * 10.0 ** ((jnp.log10(n) - alloy.life_intercept) / alloy.life_slope)


class Life(NamedTuple):
    """Life use of each leg and set [1], and the folds of each set [1]."""

    leg_life_use: Array
    life_use: Array
    folds_total: Array


def life(
    *,
    leg_work_density: Array,
    pushes_up: Array,
    heated: Array,
    legs: Legs,
    choices: Choices,
    requirements: Requirements,
    alloy: Alloy,
) -> Life:
    """Miner's sum of each set at the unfactored operating moments (one wing).

    Parameters
    ----------
    leg_work_density : outer stress times strain of the driving set in each leg [J/m3], (legs,)
    pushes_up, heated : who drives, (legs,)
    legs : folds_per_life, moves
    choices, requirements, alloy : set_present; life_factor; life law or declared allowable

    Returns
    -------
    Life : life_use (2,) must not exceed 1; with a declared allowable it is the declared share of
        cycles and the stress and strain of each leg are compared with it elsewhere
    """
    folds = jnp.asarray(legs.folds_per_life) * legs.moves * heated
    law = jnp.asarray(alloy.life_law) > 0.5
    cycles = jnp.where(law, cycles_to_failure(leg_work_density, alloy), alloy.declared_life_cycles)
    use = jnp.asarray(requirements.life_factor) * folds / cycles
    sides = jnp.stack([pushes_up, 1.0 - pushes_up]) * jnp.asarray(choices.set_present)[:, None]
    return Life(
        leg_life_use=use,
        life_use=jnp.sum(sides * use, axis=1),
        folds_total=jnp.sum(sides * folds, axis=1),
    )
