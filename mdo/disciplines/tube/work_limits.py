"""Physical limits printed beside a design: work of the alloy and its least mass.

They hold for any design of the kind; a design that beats one is a fault of the model, not a
success.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube.sma import transformation_strain_cooling

TINY = 1e-30  # guard of denominators that vanish for an absent set


def actuation_strain(tau: ArrayLike, alloy: Alloy) -> Array:
    r"""Shear strain between cold and hot at one stress.

    .. math:: \gamma_{act} = \tau (1/G_M - 1/G_A) + \sqrt3\,H_{cool}(\sqrt3\tau)

    Parameters
    ----------
    tau
        Shear stress :math:`\tau` [Pa], not negative, any shape.
    alloy
        Card.

    Returns
    -------
    Array
        Actuation shear strain [1].

    Examples
    --------
    The made-up card of :mod:`mdo.disciplines.tube.sma` at 100 MPa (hand):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(strain_min=0.0, strain_saturation=0.03, strain_rate_constant=1e-8,
    ...     strain_threshold_stress=0.0, strain_factor=1.0, austenite_shear_modulus=26e9,
    ...     martensite_shear_modulus=12e9)
    >>> float(actuation_strain(100e6, card))
    0.0472556

    References
    ----------
    Derived: both states of :mod:`mdo.disciplines.tube.sma` at equal torque.
    """
    stress = jnp.asarray(tau)
    compliance = 1.0 / jnp.asarray(alloy.martensite_shear_modulus) - 1.0 / jnp.asarray(
        alloy.austenite_shear_modulus
    )
    return stress * compliance + transformation_strain_cooling(stress, alloy)


def work_ceiling(tau: ArrayLike, alloy: Alloy) -> Array:
    r"""Gross work of one stroke per kilogram of active alloy at one stress.

    .. math:: w = \tau\gamma_{act}/\rho

    Parameters
    ----------
    tau
        Uniform shear stress [Pa], not negative, any shape; the allowable one gives the ceiling.
    alloy
        Card.

    Returns
    -------
    Array
        Work per mass [J/kg], net of nothing: the return stroke is not taken off.

    Examples
    --------
    Hand: 100e6 x 0.0472556/6450.

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(strain_min=0.0, strain_saturation=0.03, strain_rate_constant=1e-8,
    ...     strain_threshold_stress=0.0, strain_factor=1.0, austenite_shear_modulus=26e9,
    ...     martensite_shear_modulus=12e9, density=6450.0)
    >>> float(work_ceiling(100e6, card))
    732.6

    References
    ----------
    Derived.
    """
    return jnp.asarray(tau) * actuation_strain(tau, alloy) / alloy.density


def geometric_utilisation(wall_ratio: ArrayLike) -> Array:
    r"""Work of a tube under uniform stress over outer stress x outer strain x volume.

    .. math:: \eta = \tfrac23\frac{1-\beta^3}{1-\beta^2}, \quad \beta = 1 - t/r_o

    Parameters
    ----------
    wall_ratio
        Wall over outer radius t/r_o [1], 0 to 1, any shape.

    Returns
    -------
    Array
        Utilisation [1]; written without the 0/0 at beta = 1.

    Examples
    --------
    >>> float(geometric_utilisation(0.2))
    0.90370

    References
    ----------
    Derived.
    """
    beta = 1.0 - jnp.asarray(wall_ratio)
    return 2.0 / 3.0 * (1.0 + beta + beta**2) / (1.0 + beta)


def load_matching_ratio(moment: Array, angle: Array) -> Array:
    r"""Work against the load over peak moment x travel (trapezoid rule).

    .. math:: \frac{|\int M\,d\varphi|}{\max|M|\,|\Delta\varphi|}

    Parameters
    ----------
    moment
        Resisting moment along the travel [N*m], shape (..., A); where the load assists the work
        counts negative.
    angle
        Fold angle [rad], shape (..., A), monotone.

    Returns
    -------
    Array
        Ratio [1], at most 1.

    Examples
    --------
    A weight from level to upright, cos(phi) (hand: 2/pi):

    >>> angle = jnp.linspace(0.0, jnp.pi / 2, 1001)
    >>> float(load_matching_ratio(jnp.cos(angle), angle))
    0.63662

    References
    ----------
    Derived.
    """
    work = jnp.abs(jnp.trapezoid(moment, angle, axis=-1))
    travel = jnp.abs(angle[..., -1] - angle[..., 0])
    box = jnp.max(jnp.abs(moment), axis=-1) * travel
    return work / jnp.maximum(box, TINY)


def minimum_alloy_mass(
    work: ArrayLike,
    *,
    specific_work: ArrayLike,
    safety_factor: ArrayLike = 1.0,
    efficiency: ArrayLike = 1.0,
    load_matching: ArrayLike = 1.0,
) -> Array:
    r"""Least mass of active alloy that can do a work.

    .. math:: m = W\,FS/(w\,\eta\,r)

    Parameters
    ----------
    work
        Integral of the moment over the fold W [J], not negative, any shape.
    specific_work
        Allowed work per kilogram at the life asked for w [J/kg], above zero.
    safety_factor
        Factor FS on the work [1].
    efficiency
        Product of geometric utilisation, joint, sharing and gear efficiencies [1], above zero.
    load_matching
        Result r of :func:`load_matching_ratio` [1], above zero; 1 is the bound of an ideal variable
        ratio.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    A tube of constant torque is sized at the peak, so the work integral over the load-matching
    ratio is peak moment x travel.

    Examples
    --------
    5,000 in*lbf through 90 deg at 16.5 MJ/m3 and 8,850 kg/m3 (hand: 887.4 J/1864 J/kg):

    >>> float(minimum_alloy_mass(887.4, specific_work=16.5e6 / 8850.0))
    0.476

    References
    ----------
    Derived; 16.5 MJ/m3: Karaca et al. 2013, Acta Mater. (abstract).
    """
    return (
        jnp.asarray(work)
        * safety_factor
        / (jnp.asarray(specific_work) * efficiency * jnp.asarray(load_matching))
    )
