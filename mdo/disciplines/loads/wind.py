"""Wind on a parked panel."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike


def wind_moment_rule(
    *,
    air_density: ArrayLike,
    wind_speed: ArrayLike,
    panel_area: ArrayLike,
    panel_centroid: ArrayLike,
    wind_factor: ArrayLike,
) -> Array:
    r"""Hinge moment of a parked panel in wind from any direction, either sign.

    .. math:: M = \pm K \tfrac12\rho V^2 S_o\, 2\bar s

    Parameters
    ----------
    air_density
        Density of the air :math:`\rho` [kg/m**3].
    wind_speed
        :math:`V` [m/s].
    panel_area
        :math:`S_o` [m**2].
    panel_centroid
        :math:`\bar s` [m] from the axis; twice it is the span of a rectangular panel.
    wind_factor
        :math:`K` [1], 0.75.

    Returns
    -------
    Array
        Magnitude [N*m], at any fold angle.

    Examples
    --------
    65 kt on a panel of 0.427 m2 and 0.553 m (hand: 0.75 x 684.87 Pa x 0.427 x 0.553):

    >>> float(wind_moment_rule(air_density=1.225, wind_speed=65 * 1852 / 3600, panel_area=0.427,
    ...     panel_centroid=0.2765, wind_factor=0.75))
    121.29

    References
    ----------
    By analogy with 14 CFR 25.415.
    """
    pressure = 0.5 * jnp.asarray(air_density) * jnp.asarray(wind_speed) ** 2
    return jnp.asarray(wind_factor) * pressure * panel_area * 2.0 * panel_centroid


def wind_moment_plate(
    *,
    fold_angle: ArrayLike,
    air_density: ArrayLike,
    wind_speed: ArrayLike,
    panel_area: ArrayLike,
    wind_arm: ArrayLike,
    panel_slope: ArrayLike,
    wind_upflow: ArrayLike,
    wind_plateau: ArrayLike,
) -> Array:
    r"""Hinge moment of a parked panel as a flat plate in the worst horizontal wind.

    .. math:: M = \pm q_w S_o \bar s\, C \tanh(a \sin\gamma / C), \quad
              \gamma = \min(|\varphi| + \gamma_0, 90^\circ)

    Parameters
    ----------
    fold_angle
        :math:`\varphi` [rad]; folded beyond 90 deg the plate tips back towards the wind's plane.
    air_density
        Density of the air [kg/m**3].
    wind_speed
        Wind speed [m/s].
    panel_area
        :math:`S_o` [m**2].
    wind_arm
        :math:`\bar s` [m], area centroid, or 0.55 of the panel span in gusts.
    panel_slope
        :math:`a` [1/rad].
    wind_upflow
        :math:`\gamma_0` [rad], terrain or deck upflow, 10 deg.
    wind_plateau
        :math:`C` [1], largest normal-force coefficient, 1.5.

    Returns
    -------
    Array
        Magnitude [N*m].

    Examples
    --------
    Broadside, q 800 Pa, 0.5 m2 at 0.4 m, slope 3 (hand: 160 x 1.5 tanh 2):

    >>> float(wind_moment_plate(fold_angle=jnp.pi / 2, air_density=1.0, wind_speed=40.0,
    ...     panel_area=0.5, wind_arm=0.4, panel_slope=3.0, wind_upflow=0.2, wind_plateau=1.5))
    231.367

    References
    ----------
    Normal force of plates: Hoerner 1965, Fluid-Dynamic Drag (from memory); the tanh is judgement.
    """
    angle = jnp.abs(jnp.asarray(fold_angle))
    inclination = jnp.minimum(jnp.minimum(angle, jnp.pi - angle) + wind_upflow, 0.5 * jnp.pi)
    plateau = jnp.asarray(wind_plateau)
    coefficient = plateau * jnp.tanh(panel_slope * jnp.sin(inclination) / plateau)
    pressure = 0.5 * jnp.asarray(air_density) * jnp.asarray(wind_speed) ** 2
    return pressure * panel_area * wind_arm * coefficient
