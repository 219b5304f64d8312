"""Coupons of an alloy in the tests of a laboratory, as the level that follows a path has them.

A tube under constant torque or a bar under constant force, cooled and heated; a tube twisted at a
constant temperature. Every course starts from austenite that was heated free of load.
"""

from __future__ import annotations

from functools import cache
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np

from mdo.arrays import Floats
from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.incremental import austenite, march_under
from mdo.disciplines.tube.phases import ROOT3
from mdo.disciplines.tube.radial_wall import Wall, wall_points
from mdo.model.kept import kept

STEPS = 160  # of cooling, and of heating
TWIST_STEPS = 80  # of loading, and of unloading
POINTS = 6  # through the wall


class Courses(NamedTuple):
    """Courses of some tests of one kind.

    Attributes
    ----------
    level
        What is constant in each: stress [Pa] or temperature [K], (L,).
    path
        What is moved, the same in all: temperature [K] or stress [Pa], (N,).
    strain
        Of a tube the shear strain at r_w, of a bar the tensile strain [1], (L, N).
    """

    level: Floats
    path: Floats
    strain: Floats


def constant_torque(
    stress: Floats, ends: tuple[float, float], wall_ratio: float, alloy: Alloy
) -> Courses:
    """Tubes cooled and heated between two temperatures, each under a constant torque.

    Parameters
    ----------
    stress : mean shear stress ``T/(A r_w)`` of each [Pa], (L,)
    ends : lower and upper cycle temperature [K]
    wall_ratio : wall over outer radius [1]
    alloy : card
    """
    path = _there_and_back(ends)
    strain = _cycled()(stress, path, tuple(wall_points(wall_ratio, POINTS)), tuple(alloy))[0]
    return Courses(np.asarray(stress), path, np.asarray(strain))


def constant_force(stress: Floats, ends: tuple[float, float], alloy: Alloy) -> Courses:
    """Bars cooled and heated between two temperatures, each under a constant force.

    Parameters
    ----------
    stress : tensile stress of each [Pa], (L,)
    ends : lower and upper cycle temperature [K]
    alloy : card; its two factors of torsion do not act
    """
    path = _there_and_back(ends)
    bar = alloy._replace(strain_factor=1.0, slope_factor=1.0)
    wall = (np.ones(1), np.ones(1))
    _, fraction, transformed = _cycled()(np.asarray(stress) / ROOT3, path, wall, tuple(bar))
    stiff = 2.0 * bar.austenite_shear_modulus * (1.0 + np.asarray(bar.poisson_ratio))
    soft = (1.0 - fraction) / stiff + fraction / bar.martensite_young_modulus
    strain = np.asarray(stress)[:, None] * soft + np.asarray(transformed) / ROOT3
    return Courses(np.asarray(stress), path, np.asarray(strain))


def isothermal_twist(
    temperature: Floats, stress_max: float, hot: float, wall_ratio: float, alloy: Alloy
) -> Courses:
    """Tubes brought to a temperature without load, then twisted and let go.

    Parameters
    ----------
    temperature : of each [K], (L,)
    stress_max : mean shear stress at the end of twisting [Pa]
    hot : temperature that they come from [K]
    wall_ratio : wall over outer radius [1]
    alloy : card
    """
    up = np.linspace(0.0, stress_max, TWIST_STEPS + 1)[1:]
    path = np.concatenate([up, up[::-1][1:], [0.0]])
    wall = tuple(wall_points(wall_ratio, POINTS))
    strain = _twisted()(temperature, path, hot, wall, tuple(alloy))
    return Courses(np.asarray(temperature), path, np.asarray(strain))


def _there_and_back(ends: tuple[float, float]) -> Floats:
    cooled = np.linspace(ends[1], ends[0], STEPS + 1)
    return np.concatenate([cooled, cooled[::-1][1:]])


@cache
def _cycled() -> Any:
    """Compiled cycles: strain, mean fraction and transformation strain, (L, N)."""

    def cycle(stress: Any, path: Any, wall: Any, alloy: Any) -> Any:
        points, card = Wall(*wall), Alloy(*alloy)

        def one(level: Any) -> Any:
            same = jnp.full(path.shape, level)
            march = march_under(same, path, austenite(points), points, card)
            states = march.states
            return (march.strain, states.fraction @ points.share, states.transformed @ points.share)

        return jax.vmap(one)(stress)

    return _compiled(cycle, "coupon.cycle")


@cache
def _twisted() -> Any:
    """Compiled twisting at constant temperature: strain, (L, N)."""

    def twist(temperature: Any, path: Any, hot: Any, wall: Any, alloy: Any) -> Any:
        points, card = Wall(*wall), Alloy(*alloy)

        def one(level: Any) -> Any:
            cooled = hot + (level - hot) * jnp.linspace(0.0, 1.0, 40)
            kelvin = jnp.concatenate([cooled, jnp.full(path.shape, level)])
            stress = jnp.concatenate([jnp.zeros(40), path])
            return march_under(stress, kelvin, austenite(points), points, card).strain[40:]

        return jax.vmap(one)(temperature)

    return _compiled(twist, "coupon.twist")


def _compiled(function: Any, identity: str) -> Any:
    """Compiled function of anything that can be an array of float64."""
    traced = kept(function, identity)
    return lambda *given: traced(*jax.tree.map(lambda one: np.asarray(one, dtype=float), given))
