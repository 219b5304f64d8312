"""Lines of the mass roll-up: tubes, their end fittings and mid-span supports.

Every line is for one wing, basic mass without growth; judgements are fields of MassAssumptions.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.bundle.strength import spline_length
from mdo.disciplines.mass.assumptions import MassAssumptions
from mdo.disciplines.smooth import smooth_step


def ring_area(outer_diameter: ArrayLike, inner_diameter: ArrayLike) -> Array:
    r"""Area of a ring.

    .. math:: \tfrac\pi4 (D^2 - d^2)

    Parameters
    ----------
    outer_diameter, inner_diameter
        D and d [m], any shape.

    Returns
    -------
    Array
        Area [m**2].

    Examples
    --------
    Hand: 20 pi mm2.

    >>> float(ring_area(0.012, 0.008)) * 1e6
    62.8319

    References
    ----------
    Derived.
    """
    return jnp.pi / 4.0 * (jnp.asarray(outer_diameter) ** 2 - jnp.asarray(inner_diameter) ** 2)


def tube_mass(
    *,
    density: ArrayLike,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    tube_length: ArrayLike,
    inactive_length: ArrayLike,
) -> Array:
    r"""Mass of one alloy tube with its grips.

    .. math:: m = \rho A (L + L_g)

    Parameters
    ----------
    density
        Density of the alloy :math:`\rho` [kg/m**3].
    outer_diameter, inner_diameter
        Diameters [m], any shape.
    tube_length
        Active length L [m].
    inactive_length
        Both grips and cold ends together :math:`L_g` [m].

    Returns
    -------
    Array
        Mass [kg].

    Examples
    --------
    12 over 8 mm, 300 mm at 6450 kg/m3 (hand: 0.12158 kg):

    >>> float(tube_mass(density=6450.0, outer_diameter=0.012, inner_diameter=0.008, tube_length=0.3,
    ...     inactive_length=0.0))
    0.12158

    References
    ----------
    Derived.
    """
    length = jnp.asarray(tube_length) + inactive_length
    return jnp.asarray(density) * ring_area(outer_diameter, inner_diameter) * length


def end_fitting_mass(
    tube_torque: ArrayLike,
    *,
    outer_diameter: ArrayLike,
    inner_diameter: ArrayLike,
    mass: MassAssumptions,
) -> Array:
    r"""Mass of one splined end fitting of one tube.

    .. math:: m = 1.3\,\rho_f\tfrac\pi4\left((1.5\,OD)^2 - ID^2\right) L_s

    Parameters
    ----------
    tube_torque
        Greatest torque of one tube [N*m], not negative, any shape.
    outer_diameter, inner_diameter
        Diameters of the tube [m].
    mass
        Assumptions: the factors 1.3 and 1.5, density, bearing of the spline.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    The length L_s follows from the bearing pressure of the spline,
    :func:`mdo.disciplines.bundle.strength.spline_length`.

    Examples
    --------
    Spline of 20 mm by 100 N*m, solid tube, 4430 kg/m3 (hand: 1.3 x 4430 x 706.858e-6 x 0.017857):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(spline_height_ratio=0.05, spline_teeth=16.0, spline_share=0.5,
    ...     spline_bearing_allowable=70e6, fitting_outer_ratio=1.5, fitting_factor=1.3,
    ...     fitting_density=4430.0)
    >>> float(end_fitting_mass(100.0, outer_diameter=0.020, inner_diameter=0.0, mass=plain))
    0.072693

    References
    ----------
    Derived; the factors are judgement.
    """
    outer = jnp.asarray(outer_diameter)
    length = spline_length(
        tube_torque,
        mean_diameter=outer,
        tooth_height=mass.spline_height_ratio * outer,
        teeth=mass.spline_teeth,
        share=mass.spline_share,
        bearing_allowable=mass.spline_bearing_allowable,
    )
    area = ring_area(mass.fitting_outer_ratio * outer, inner_diameter)
    return jnp.asarray(mass.fitting_factor * mass.fitting_density * area * length)


def mid_support_mass(
    fitting_mass: ArrayLike, *, length_to_diameter: ArrayLike, mass: MassAssumptions
) -> Array:
    r"""Mass of the support at mid-span of one slender tube.

    .. math:: m = k\,m_f\,S\left(\frac{L/OD - 0.95\,l}{0.1\,l}\right)

    Parameters
    ----------
    fitting_mass
        Mass of one end fitting :math:`m_f` [kg], any shape.
    length_to_diameter
        L/OD of the tube [1].
    mass
        Assumptions: share k, slenderness limit l.

    Returns
    -------
    Array
        Mass [kg].

    Notes
    -----
    A smooth step over a tenth of the slenderness limit brings it in.

    Examples
    --------
    At the limit half of it stands (hand: 0.1 x 0.5/2):

    >>> from types import SimpleNamespace
    >>> plain = SimpleNamespace(support_slenderness=60.0, support_share=0.5)
    >>> float(mid_support_mass(0.1, length_to_diameter=60.0, mass=plain))
    0.025

    References
    ----------
    Judgement, no source.
    """
    limit = jnp.asarray(mass.support_slenderness)
    step = smooth_step((jnp.asarray(length_to_diameter) - 0.95 * limit) / (0.1 * limit))
    return jnp.asarray(fitting_mass) * mass.support_share * step
