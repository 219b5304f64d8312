"""What resists the fold motion besides the load: aerodynamic damping and bearing friction."""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

PEAK_RATE = 1.875  # minimum-jerk motion: peak rate over mean rate; derived
PEAK_ACCELERATION = 5.773502691896258  # 10/sqrt(3), same motion: peak acceleration T^2/angle


def damping_per_rate(
    *,
    air_density: ArrayLike,
    true_airspeed: ArrayLike,
    panel_slope: ArrayLike,
    panel_damping_integral: ArrayLike,
) -> Array:
    r"""Quasi-steady aerodynamic damping of the fold motion.

    .. math:: -\partial M/\partial\dot\varphi = \tfrac12 \rho V a J_3, \quad
              J_3 = \int c (s-y_f)^2 ds

    Parameters
    ----------
    air_density
        :math:`\rho` [kg/m**3].
    true_airspeed
        :math:`V` [m/s].
    panel_slope
        :math:`a` [1/rad], of a wing of the panel's own aspect ratio (within 10 % of a lattice; the
        section slope would overstate it three to five times).
    panel_damping_integral
        :math:`J_3` [m**4].

    Returns
    -------
    Array
        Moment per rate [N*m*s/rad], not negative.

    Examples
    --------
    Square panel of 1 m, J_3 = 1/3 m4 (hand: 0.5 x 1.2 x 60 x 1.5/3):

    >>> float(damping_per_rate(air_density=1.2, true_airspeed=60.0, panel_slope=1.5,
    ...     panel_damping_integral=1.0 / 3.0))
    18.0

    References
    ----------
    Derived (quasi-steady strips).
    """
    flow = 0.5 * jnp.asarray(air_density) * jnp.asarray(true_airspeed)
    return flow * jnp.asarray(panel_slope) * jnp.asarray(panel_damping_integral)


def bearing_friction_moment(
    *,
    normal_force: ArrayLike,
    drag_force: ArrayLike,
    weight_force: ArrayLike,
    centre_offset: ArrayLike,
    drag_arm: ArrayLike,
    bearing_spacing: ArrayLike,
    bearing_radius: ArrayLike,
    bearing_friction: ArrayLike,
) -> Array:
    r"""Friction moment of two bearings that carry the panel, as a magnitude.

    .. math:: M_f = \mu r_b \sum_{\pm} \sqrt{(\tfrac N2 \pm \tfrac{N e}{L_b})^2
              + (\tfrac D2 \pm \tfrac{D s_D}{L_b})^2 + (\tfrac G2)^2}

    Parameters
    ----------
    normal_force, drag_force, weight_force
        :math:`N`, :math:`D`, :math:`G` [N]; the weight is added as if at right angles.
    centre_offset
        :math:`e` [m], centre of pressure from the middle between the bearings.
    drag_arm
        :math:`s_D` [m].
    bearing_spacing
        :math:`L_b` [m].
    bearing_radius
        :math:`r_b` [m].
    bearing_friction
        :math:`\mu` [1].

    Returns
    -------
    Array
        Moment [N*m], not negative.

    Examples
    --------
    Normal force in the middle, weight across (hand: 0.1 x 0.02 x 500):

    >>> float(bearing_friction_moment(normal_force=300.0, drag_force=0.0, weight_force=400.0,
    ...     centre_offset=0.0, drag_arm=0.0, bearing_spacing=0.5, bearing_radius=0.02,
    ...     bearing_friction=0.1))
    1.0

    References
    ----------
    Derived (reactions of two bearings, Coulomb friction).
    """
    spacing = jnp.asarray(bearing_spacing)
    normal, drag = jnp.asarray(normal_force), jnp.asarray(drag_force)
    normal_tilt, drag_tilt = centre_offset / spacing, drag_arm / spacing
    rest = 0.25 * jnp.asarray(weight_force) ** 2 + 1e-12  # [N**2]; keeps the root differentiable

    def reaction(sign: float) -> Array:
        across = normal * (0.5 + sign * normal_tilt)
        along = drag * (0.5 + sign * drag_tilt)
        return jnp.sqrt(across**2 + along**2 + rest)

    radius = jnp.asarray(bearing_friction) * jnp.asarray(bearing_radius)
    return radius * (reaction(1.0) + reaction(-1.0))
