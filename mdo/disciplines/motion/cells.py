"""Law of the cells of every group: strain and fraction with their slopes."""

from __future__ import annotations

from typing import NamedTuple

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.motion.records import MotionPlant, MotionState
from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.hot import mixed_shear_modulus
from mdo.disciplines.tube.incremental import State, next_point


class Local(NamedTuple):
    """Strain and fraction of each cell with their slopes by stress and temperature, (K, C)."""

    strain: Array
    fraction: Array
    strain_stress: Array
    strain_kelvin: Array
    fraction_stress: Array
    fraction_kelvin: Array


def at_group(values: Array) -> Array:
    """Values of groups beside their cells.

    Parameters
    ----------
    values
        Of each group, any unit, (K,).

    Returns
    -------
    Array
        In the unit of the values, (K, 1).

    References
    ----------
    Derived.
    """
    return jnp.asarray(values)[..., None]


def state_of_cells(state: MotionState) -> State:
    """State of the walls alone.

    Parameters
    ----------
    state
        Of the wing.

    Returns
    -------
    State
        Fraction, strain [1] and stress [Pa], (K, C).

    References
    ----------
    Derived.
    """
    return State(state.fraction, state.transformed, state.stress)


def alloy_of(plant: MotionPlant) -> Alloy:
    """Card with the transformation temperatures of each group.

    Parameters
    ----------
    plant
        Record.

    Returns
    -------
    Alloy
        Card, temperatures [K] of shape (K, 1).

    References
    ----------
    Derived (definition of the shift).
    """
    alloy, shift = plant.alloy, at_group(plant.transformation_shift)
    return alloy._replace(
        martensite_start=alloy.martensite_start + shift,
        martensite_finish=alloy.martensite_finish + shift,
        austenite_start=alloy.austenite_start + shift,
        austenite_finish=alloy.austenite_finish + shift,
    )


def local_law(stress: Array, cells: Array, before: State, alloy: Alloy) -> Local:
    """Law of every cell with its slopes.

    Parameters
    ----------
    stress
        Stress [Pa], (K, C).
    cells
        Temperature [K], (K, C).
    before
        State before the step.
    alloy
        Card.

    Returns
    -------
    Local
        Strain and fraction [1], slopes [1/Pa] and [1/K].

    References
    ----------
    :func:`mdo.disciplines.tube.incremental.next_point`.
    """

    def law(tau: Array, kelvin: Array) -> tuple[Array, Array]:
        after = next_point(tau, kelvin, before, alloy)
        return tau / mixed_shear_modulus(after.fraction, alloy) + after.transformed, after.fraction

    one, none = jnp.ones_like(stress), jnp.zeros_like(stress)
    (strain, fraction), by_stress = jax.jvp(law, (stress, cells), (one, none))
    _, by_kelvin = jax.jvp(law, (stress, cells), (none, one))
    return Local(strain, fraction, by_stress[0], by_kelvin[0], by_stress[1], by_kelvin[1])
