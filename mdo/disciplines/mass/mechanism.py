"""Lines of the mass roll-up: gears, lock, brake, sensors, spring, fasteners.

Every line is for one wing, basic mass without growth; judgements are fields of MassAssumptions.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.records import Choices, Legs, Requirements, real_legs
from mdo.disciplines.smooth import blended_max, smooth_max, softplus


def gear_mass(rotor_volume: ArrayLike, mass: MassAssumptions) -> Array:
    r"""Mass of a gear stage, its bearings and case included.

    .. math:: m = c_{app}\sum F d^2

    Parameters
    ----------
    rotor_volume
        Solid-rotor volume of the stage [m**3], any shape.
    mass
        Assumptions: application density.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    44.44 in3 at 0.25 lb/in3 (6920 kg/m3): 11.1 lb.

    >>> from types import SimpleNamespace
    >>> float(gear_mass(44.444 * 0.0254**3, SimpleNamespace(gear_application_density=6920.0)))
    5.04

    References
    ----------
    Willis 1963, restated in gearbox notes (0.25 lb/in3 in aircraft).
    """
    return jnp.asarray(rotor_volume) * mass.gear_application_density


def lock_mass(
    ultimate_moment: ArrayLike, *, local_thickness: ArrayLike, mass: MassAssumptions
) -> Array:
    r"""Mass of the positive lock of one hinge, actuator and baseline alike.

    .. math:: m = m_0 + k\,\rho\,A\,s\,d, \quad A = F/(n\tau), \quad F = M/(r\,t)

    Parameters
    ----------
    ultimate_moment
        Ultimate hinge moment that is locked M [N*m], any shape; the sign is ignored.
    local_thickness
        Wing thickness at the fold t [m], above zero.
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    Pin length a multiple s of its diameter d, mechanism a multiple k of the pin, plus a fixed part;
    so it rises with M to the power 1.5.

    Examples
    --------
    3000 N*m on 0.1 m, arm 0.6 of it, two planes at 250 MPa: pin of 100 mm2, 11.284 mm (hand):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(lock_arm_ratio=0.6, lock_pin_planes=2.0, lock_factor=4.0,
    ...     lock_pin_shear_allowable=250e6, lock_pin_density=7850.0, lock_pin_slenderness=3.0,
    ...     lock_mass_fixed=0.1)
    >>> float(lock_mass(3000.0, local_thickness=0.1, mass=plain))
    0.2063

    References
    ----------
    Derived (pin in shear); the factors are judgement.
    """
    force = jnp.abs(ultimate_moment) / (mass.lock_arm_ratio * jnp.asarray(local_thickness))
    area = force / (jnp.asarray(mass.lock_pin_planes) * mass.lock_pin_shear_allowable)
    # a tiny area keeps the gradient of the root finite at zero moment
    diameter = jnp.sqrt(4.0 / jnp.pi * (area + 1e-12))
    pin = mass.lock_pin_density * area * mass.lock_pin_slenderness * diameter
    return jnp.asarray(mass.lock_mass_fixed + mass.lock_factor * pin)


def brake_mass(hold_moment: ArrayLike, mass: MassAssumptions) -> Array:
    r"""Mass of a power-off brake on the low-torque side.

    .. math:: m = |M|/(n_b\,TD_b)

    Parameters
    ----------
    hold_moment
        Moment held at the hinge M [N*m], any shape; the sign is ignored.
    mass
        Assumptions: speed ratio n_b, torque density TD_b.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(brake_speed_ratio=50.0, brake_torque_density=4.0)
    >>> float(brake_mass(-400.0, plain))
    2.0

    References
    ----------
    Judgement, no source.
    """
    return jnp.abs(hold_moment) / (jnp.asarray(mass.brake_speed_ratio) * mass.brake_torque_density)


def sensor_mass(tube_count: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of the sensors of one hinge: angle, end switches, temperatures.

    Parameters
    ----------
    tube_count
        Tubes of one wing [1], not negative, any shape.
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    Two resolvers of 0.1, four switches of 0.03, two thermocouples of 5 g on each of 10 tubes
    (hand):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(resolver_count=2.0, resolver_mass=0.1, switch_count=4.0,
    ...     switch_mass=0.03, thermocouples_per_tube=2.0, thermocouple_mass=0.005)
    >>> float(sensor_mass(10.0, plain))
    0.42

    References
    ----------
    Judgement (masses of parts), no source.
    """
    hinge = mass.resolver_count * jnp.asarray(mass.resolver_mass) + (
        mass.switch_count * jnp.asarray(mass.switch_mass)
    )
    per_tube = jnp.asarray(mass.thermocouples_per_tube) * mass.thermocouple_mass
    return jnp.asarray(hinge + per_tube * jnp.asarray(tube_count))


def spring_energy(*, moment: ArrayLike, rate: ArrayLike, travel: ArrayLike) -> Array:
    """Elastic energy of a linear spring at its greatest moment.

    .. math:: U = M_{max}^2/(2k)

    Parameters
    ----------
    moment
        Greatest moment at the hinge over the travel [N*m], any shape.
    rate
        k at the hinge [N*m/rad], not negative; held above |M|/(10 travel): a flatter spring is not
        stored in less than ten travels of wind-up.
    travel
        Travel [rad], above zero.

    Returns
    -------
    Array
        Energy [J].

    Examples
    --------
    Hand: 20^2/(2 x 10), and a flat spring at the least rate, 20^2/(2 x 2):

    >>> float(spring_energy(moment=20.0, rate=10.0, travel=1.0))
    20.0
    >>> float(spring_energy(moment=20.0, rate=0.0, travel=1.0))
    100.0

    References
    ----------
    Derived; ten travels are judgement.
    """
    greatest = jnp.asarray(moment)
    least = jnp.abs(greatest) / (10.0 * jnp.maximum(jnp.asarray(travel), 1e-6))
    stiffness = blended_max(rate, least, 0.1 * least + 1e-9)
    return greatest**2 / (2.0 * stiffness)


def spring_mass(energy: ArrayLike, mass: MassAssumptions) -> Array:
    r"""Mass of a torsion spring by its elastic energy.

    .. math:: m = 1.5\,\rho\,\frac{4 G U}{\tau^2}

    Parameters
    ----------
    energy
        U, elastic energy at the greatest moment [J], not negative, any shape.
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    A solid round bar in torsion holds ``tau^2/(4G)`` per volume.

    Examples
    --------
    100 J in steel at 600 MPa (hand: 1.5 x 7850 x 4 x 79e9 x 100/3.6e17):

    >>> from types import SimpleNamespace
    >>> steel = SimpleNamespace(spring_shear_allowable=600e6, spring_shear_modulus=79e9,
    ...     spring_density=7850.0, spring_factor=1.5)
    >>> float(spring_mass(100.0, steel))
    1.03358

    References
    ----------
    Timoshenko, Strength of Materials (from memory); the factor 1.5 is judgement.
    """
    per_volume = jnp.asarray(mass.spring_shear_allowable) ** 2 / (4.0 * mass.spring_shear_modulus)
    density = jnp.asarray(mass.spring_factor) * mass.spring_density
    return density * jnp.asarray(energy) / per_volume


def fastener_mass(lines: ArrayLike, mass: MassAssumptions) -> Array:
    """Mass of fasteners, brackets and seals: 5 % of the lines that they hold.

    Parameters
    ----------
    lines
        Mass of those lines [kg], any shape.
    mass
        Assumptions.

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    >>> from types import SimpleNamespace
    >>> float(fastener_mass(20.0, SimpleNamespace(fastener_fraction=0.05)))
    1.0

    References
    ----------
    Judgement, no source.
    """
    return jnp.asarray(mass.fastener_fraction * jnp.asarray(lines))


def held_by_brake(
    overrun_moment: Array, legs: Legs, choices: Choices, requirements: Requirements
) -> Array:
    """Moment that the brake must hold at one hinge; 0 without a brake.

    Parameters
    ----------
    overrun_moment
        Least resisting moment [N*m], (legs, angles); negative where the load aids.
    legs, choices, requirements
        Records: moves; brake; overrun_factor.

    Returns
    -------
    Array
        Moment [N*m].

    Notes
    -----
    The overrunning load of all moving legs with its factor; smooth maximum, never low.

    Examples
    --------
    Two legs, the second does not move (hand: 1.25 x 80; the smooth maximum is a little high):

    >>> from types import SimpleNamespace
    >>> held = held_by_brake(jnp.array([[-80.0, 20.0], [-500.0, -500.0]]),
    ...     SimpleNamespace(moves=[1.0, 0.0], filler=0.0), SimpleNamespace(brake=1.0),
    ...     SimpleNamespace(overrun_factor=1.25))
    >>> 100.0 <= float(held) < 100.1
    True

    References
    ----------
    Derived (definition of the brake's load).
    """
    moving = (jnp.asarray(legs.moves) > 0.5)[:, None]
    real = real_legs(legs, overrun_moment)
    scale = jnp.mean(jnp.abs(overrun_moment), where=real) + 1.0
    assisting = jnp.where(moving, -overrun_moment, -1e9).ravel()
    largest = smooth_max(assisting, scale=scale, axis=0, where=real.ravel())
    largest = softplus(largest, 0.01 * scale)
    return jnp.asarray(choices.brake) * requirements.overrun_factor * largest
