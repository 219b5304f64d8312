"""What the wing is at an angle and a state: twist, transmission, load, moments, stored heat."""

from __future__ import annotations

import jax
import jax.numpy as jnp
from jax import Array

from mdo.disciplines.motion.records import MotionPlant, MotionState

LASH_STRESS = 0.5e6  # [Pa] over which the gear crosses its lash


def twist_strain(angle: Array, plant: MotionPlant) -> Array:
    """Strain at r_w of each group by the kinematics of the hinge alone [1], (K,).

    Parameters
    ----------
    angle
        Fold angle [rad].
    plant
        Record.

    Returns
    -------
    Array
        Strain [1], (K,).

    References
    ----------
    Derived (definition of the pre-twist): ``pre_twist - n |angle - start|``.
    """
    moved = jnp.asarray(plant.side) * (angle - jnp.asarray(plant.start_angle))
    strain: Array = plant.strain_per_twist * (plant.pre_twist - plant.gear_ratio * moved)
    return strain


def given_way(mean: Array, plant: MotionPlant) -> tuple[Array, Array]:
    """Strain lost in compliance and lash at a mean stress, and its slope.

    Parameters
    ----------
    mean
        Mean stress of the wall [Pa], (K,).
    plant
        Record.

    Returns
    -------
    tuple
        Strain [1] and its slope [1/Pa], (K,).

    References
    ----------
    Derived; the lash is crossed over 0.5 MPa, judgement.
    """
    turned = jnp.tanh(mean / LASH_STRESS)
    half = 0.5 * jnp.asarray(plant.lash)
    lost = plant.compliance * mean + half * turned
    slope = plant.compliance + half * (1.0 - turned**2) / LASH_STRESS
    return plant.strain_per_twist * lost, plant.strain_per_twist * slope


def table_at(values: Array, place: Array) -> tuple[Array, Array]:
    """Value and slope of a table, linear between whole places, beyond them too.

    Parameters
    ----------
    values
        In any unit, places last.
    place
        Place in the table [1].

    Returns
    -------
    tuple
        Value, and slope per place, in the unit of the values.

    Examples
    --------
    >>> [float(one) for one in table_at(jnp.array([1.0, 3.0, 4.0]), jnp.asarray(0.5))]
    [2.0, 2.0]

    References
    ----------
    Derived (linear interpolation).
    """
    low = jnp.clip(jnp.floor(jax.lax.stop_gradient(place)), 0.0, values.shape[-1] - 2.0)
    index = low.astype(int)
    first, second = jnp.take(values, index, axis=-1), jnp.take(values, index + 1, axis=-1)
    return first + (second - first) * (place - low), second - first


def load_moment(
    angle: Array, air_share: Array, mass_share: Array, plant: MotionPlant
) -> tuple[Array, Array]:
    """Moment of the load at the hinge, up positive [N*m], and its slope [N*m/rad].

    Parameters
    ----------
    angle
        Fold angle [rad].
    air_share, mass_share
        Of the half widths of both loads, -1 to 1 [1].
    plant
        Record.

    Returns
    -------
    tuple
        Moment [N*m] and slope [N*m/rad].

    References
    ----------
    Derived (linear between the angles of the table).
    """
    place = (angle - plant.load_angle) / plant.load_step
    whole = (
        jnp.asarray(plant.load_steady) + air_share * plant.load_air + mass_share * plant.load_mass
    )
    moment, slope = table_at(plant.load_factor * whole, place)
    return moment, slope / plant.load_step


def group_moment(mean: Array, plant: MotionPlant) -> Array:
    """Moment of each group at the hinge without losses, up positive [N*m], (K,).

    Parameters
    ----------
    mean
        Mean stress of the wall [Pa], (K,).
    plant
        Record.

    Returns
    -------
    Array
        Moment [N*m], (K,).

    References
    ----------
    ``T = tau A r_w`` (Timoshenko, from memory); work-consistent radius, reference sma-tubes 1.1.
    """
    arm = plant.gear_ratio * plant.torque_per_stress * jnp.asarray(plant.torque_count)
    moment: Array = jnp.asarray(plant.side) * arm * mean
    return moment


def kept_share(moment: Array, way: Array, plant: MotionPlant) -> Array:
    """Share of the moment of each group that reaches the hinge when it turns a way.

    Parameters
    ----------
    moment
        Moment of each group, up positive [N*m], (K,).
    way
        1 up, -1 down [1].
    plant
        Record.

    Returns
    -------
    Array
        Share [1], (K,): below one where the group drives, above where it is dragged.

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> geared = SimpleNamespace(drive_loss=0.03, drag_loss=0.05)
    >>> kept_share(jnp.array([2.0, -2.0]), jnp.asarray(1.0), geared).tolist()
    [0.97, 1.05]

    References
    ----------
    Derived (efficiency of a drive either way).
    """
    drives = moment * way >= 0.0
    return jnp.where(
        drives, 1.0 - jnp.asarray(plant.drive_loss), 1.0 + jnp.asarray(plant.drag_loss)
    )


def stored_energy(state: MotionState, plant: MotionPlant) -> Array:
    """Heat of the wing over 0 K, latent heat with it [J].

    Parameters
    ----------
    state, plant
        Records.

    Returns
    -------
    Array
        Heat [J].

    References
    ----------
    Enthalpy, Voller 1985, IMA J. Numer. Anal. 5, 201 (first page seen).
    """
    tube = plant.heater_capacity * state.heater + jnp.sum(
        plant.cell_capacity * state.cells + plant.cell_latent * (1.0 - state.fraction), axis=-1
    )
    whole: Array = jnp.sum(jnp.asarray(plant.count) * tube) + plant.bay_capacity * state.bay
    return whole
