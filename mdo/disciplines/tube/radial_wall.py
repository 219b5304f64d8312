r"""Wall of a tube in torsion, resolved over the radius: stresses at points, twist under a torque.

Plane sections stay plane, so the strain of a point is that at the effective radius times ``r/r_w``,
and the mean stress of the section, ``T/(A r_w)``, is a weighted sum over the points:
``T = 2 pi int tau r^2 dr``. The local law is of total form and holds at turning points: the cold
wall by H_cool or H_detw, the hot wall on the heating envelope with what each point had locked in.

The twist under a torque is in :mod:`mdo.disciplines.tube.radial_twist`. The tube of the examples
has radii of 10 and 8 mm, the card is the made-up one of :mod:`mdo.disciplines.tube.sma`.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, NamedTuple

import jax
import jax.numpy as jnp
import numpy as np
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.tube import hot, phases

POINTS = 8  # of Gauss and Legendre; the outer fibre is one more point, without weight
LOCAL_STEPS = 4  # that reach round-off from the first guess (checked in the tests)


class Wall(NamedTuple):
    """Points of a wall, the outer fibre last; (P,).

    ``ratio`` is radius over effective radius [1], ``share`` the part in the mean stress [1].
    """

    ratio: Array
    share: Array


def wall_points(wall_ratio: ArrayLike, points: int = POINTS) -> Wall:
    r"""Points and weights over the radius of a wall.

    .. math:: \frac{T}{A r_w} = \frac{3}{r_o^3-r_i^3}\int_{r_i}^{r_o}\tau r^2 dr = \sum_p w_p\tau_p

    Parameters
    ----------
    wall_ratio
        Wall over outer radius [1], above 0 and at most 1.
    points
        Number of points of Gauss and Legendre.

    Returns
    -------
    Wall
        Radius over effective radius and share of each point [1], outer fibre last, share 0.

    Examples
    --------
    The outer fibre of radii 10 and 8 mm, r_w 9.037 mm, and the sum of the shares:

    >>> tube = wall_points(0.2)
    >>> float(tube.ratio[-1]), float(tube.share.sum())
    (1.10656, 1.0)

    References
    ----------
    Torsion with plane sections, Timoshenko, Strength of Materials (from memory); shares derived.
    """
    nodes, weights = np.polynomial.legendre.leggauss(points)
    inner = 1.0 - jnp.asarray(wall_ratio)
    radius = (1.0 + inner) / 2 + (1.0 - inner) / 2 * nodes
    whole = 1.0 + inner + inner**2
    share = 1.5 * weights * radius**2 / whole
    effective = (2.0 / 3.0) * whole / (1.0 + inner)
    return Wall(jnp.append(radius, 1.0) / effective, jnp.append(share, 0.0))


def mean_stress(wall_stress: Array, wall: Wall) -> Array:
    """Mean stress of a section, ``T/(A r_w)``, of the stress at its points.

    Parameters
    ----------
    wall_stress
        Stress of the points [Pa], points last.
    wall
        Points.

    Returns
    -------
    Array
        Mean stress [Pa].

    Examples
    --------
    Elastic, 90.7571 MPa at the outer fibre (textbook: 84.16799 N*m over A r_w):

    >>> tube = wall_points(0.2)
    >>> float(mean_stress(90.7571e6 * tube.ratio / tube.ratio[-1], tube)) / 1e6
    82.351

    References
    ----------
    Derived; see :func:`wall_points`.
    """
    return jnp.sum(wall.share * wall_stress, axis=-1)


def value_and_slope(law: Callable[[Array], Array], at: Array) -> tuple[Array, Array]:
    """Value of an elementwise function and its derivative.

    Parameters
    ----------
    law
        Elementwise function.
    at
        Argument in any unit, any shape.

    Returns
    -------
    tuple
        Value and slope in the unit of the function over that of its argument.

    References
    ----------
    Derived (forward mode of one direction).
    """
    value, slope = jax.jvp(law, (at,), (jnp.ones_like(at),))
    return value, slope


def hot_guess(
    gamma: Array, temperature: ArrayLike, locked: Array, alloy: Alloy
) -> tuple[Array, Array, Array]:
    """First stress of a hot point, and the bounds within which Newton may move it.

    Parameters
    ----------
    gamma
        Strain of the point [1], any shape.
    temperature
        Temperature [K], broadcasts.
    locked
        Transformation strain locked in [1], shape of gamma.
    alloy
        Card.

    Returns
    -------
    tuple
        Stress, lower and upper bound [Pa].

    Notes
    -----
    Below the line of A_f and above that of A_s the law is linear and the guess is the root. Between
    them the fraction is shared out as if the stress were nearly constant there.

    References
    ----------
    Derived (inverse of the cosine of Liang and Rogers 1990).
    """
    slope = jnp.asarray(alloy.austenite_slope) * alloy.slope_factor / phases.ROOT3
    width = slope * (jnp.asarray(alloy.austenite_finish) - alloy.austenite_start)
    line = slope * (jnp.asarray(temperature) - alloy.austenite_finish)
    first = jnp.maximum(line, 0.0) + 0.0 * gamma
    last = jnp.maximum(line + width, 0.0) + 0.0 * gamma
    least = phases.martensite_fraction_heating(temperature, first, alloy)
    modulus = hot.mixed_shear_modulus(least, alloy)
    start = first / modulus + locked * least
    finish = last / alloy.martensite_shear_modulus + locked
    way = jnp.clip((gamma - start) / jnp.maximum(finish - start, 1e-9), 0.0, 1.0)
    fraction = least + way * (1.0 - least)
    between = line + width * jnp.arccos(1.0 - 2.0 * fraction) / jnp.pi
    below, above = gamma <= start, gamma >= finish
    guess = jnp.where(below, first + modulus * (gamma - start), between)
    guess = jnp.where(above, last + alloy.martensite_shear_modulus * (gamma - finish), guess)
    return guess, jnp.where(below, -jnp.inf, first), jnp.where(above, jnp.inf, last)


def hot_newton(
    gamma: Array, law: Callable[[Array], Array], start: tuple[Array, Array, Array], steps: int
) -> Array:
    """Stress of hot points by a few Newton steps from their guess.

    Parameters
    ----------
    gamma
        Strain of the points [1], any shape.
    law
        Strain of a point at a stress.
    start
        First stress and its bounds, of :func:`hot_guess` [Pa].
    steps
        Number of steps; two reach 1e-6 of strain, four round-off.

    Returns
    -------
    Array
        Stress [Pa].

    Notes
    -----
    The law is convex up to half of the transformation and concave beyond; the guess lies on the
    side from which Newton does not swing.

    References
    ----------
    Derived.
    """
    stress, low, high = start
    for _ in range(steps):
        value, slope = value_and_slope(law, stress)
        stress = jnp.clip(stress - (value - gamma) / slope, low, high)
    return stress


def hot_wall_stress(
    strain: ArrayLike, temperature: ArrayLike, locked: ArrayLike, wall: Wall, alloy: Alloy
) -> Array:
    r"""Stress at the points of a hot wall at a strain.

    .. math:: \gamma\,r/r_w = \tau/G(\xi) + \gamma_s(r)\,\xi(\tau, T)

    Parameters
    ----------
    strain
        Strain at the effective radius :math:`\gamma` [1], any shape.
    temperature
        Temperature of the wall T [K].
    locked
        Transformation strain locked in at each point [1], points last.
    wall, alloy
        Points; card.

    Returns
    -------
    Array
        Stress [Pa], points last.

    Notes
    -----
    At most four Newton steps from a guess that inverts the cosine; beyond the two lines of the
    alloy the law is linear and the guess exact.

    Examples
    --------
    Elastic austenite, G_A 26 GPa, 10 deg over 0.5 m (textbook: 90.7571 MPa at the outer fibre):

    >>> card = Alloy(**dict.fromkeys(Alloy._fields, 0.0) | {"austenite_start": 360.0,
    ...     "austenite_finish": 380.0, "austenite_slope": 7e6, "slope_factor": 1.0,
    ...     "austenite_shear_modulus": 26e9, "martensite_shear_modulus": 12e9})
    >>> tube = wall_points(0.2)
    >>> strain = 0.1745329 * 9.037037e-3 / 0.5
    >>> float(hot_wall_stress(strain, 430.0, 0.0 * tube.ratio, tube, card)[-1]) / 1e6
    90.757

    References
    ----------
    Reference sma-tubes, section 1.2; reverse transformation in proportion to xi, Liang and Rogers
    1990, J. Intell. Mater. Syst. Struct. 1, 207 (from memory).
    """
    stop = jax.lax.stop_gradient
    gamma = jnp.asarray(strain)[..., None] * wall.ratio + 0.0 * jnp.asarray(locked)
    fixed = stop((gamma, temperature, jnp.asarray(locked) + 0.0 * gamma, alloy))

    def law(stress: Array, at: Any) -> Array:
        return hot.hot_strain(stress, *at[1:])

    guess = hot_guess(*fixed)
    stress = stop(hot_newton(fixed[0], lambda tau: law(tau, fixed), guess, LOCAL_STEPS))
    _, slope = value_and_slope(lambda tau: law(tau, fixed), stress)
    result: Array = stress - (law(stress, (gamma, temperature, locked, alloy)) - gamma) / slope
    return result
