"""Shape-memory alloy under stress: phase temperatures and the martensite left on heating.

J2 equivalence maps the transformation part only: sigma = sqrt(3) tau; the card's factor f_C scales
C/sqrt(3) (Lagoudas (ed.), Shape Memory Alloys, 2008, from memory).
"""

from __future__ import annotations

from typing import NamedTuple

import jax.numpy as jnp
from jax import Array
from jax.typing import ArrayLike

from mdo.disciplines.records import Alloy
from mdo.disciplines.smooth import smooth_step

ROOT3 = 3.0**0.5


class PhaseTemperatures(NamedTuple):
    """Transformation temperatures under stress [K]: start and finish of either phase, any shape."""

    martensite_start: Array
    martensite_finish: Array
    austenite_start: Array
    austenite_finish: Array


def stress_shift(tau: ArrayLike, slope: ArrayLike, alloy: Alloy) -> Array:
    r"""Shift of a transformation temperature by a shear stress.

    .. math:: \Delta T = \sqrt3\,\tau/(f_C C)

    Parameters
    ----------
    tau
        Shear stress :math:`\tau` [Pa], any shape.
    slope
        Tensile stress per kelvin :math:`C` [Pa/K], above zero.
    alloy
        Card with slope_factor :math:`f_C`.

    Returns
    -------
    Array
        Shift [K], towards hot for a positive stress.

    Examples
    --------
    100 MPa at 7 MPa/K (hand: 173.205/7):

    >>> from types import SimpleNamespace
    >>> float(stress_shift(100e6, 7e6, SimpleNamespace(slope_factor=1.0)))
    24.7436

    References
    ----------
    Clausius-Clapeyron line of any text on shape-memory alloys (from memory); J2 mapping as above.
    """
    return ROOT3 * jnp.asarray(tau) / (jnp.asarray(slope) * alloy.slope_factor)


def phase_temperatures(tau: ArrayLike, alloy: Alloy) -> PhaseTemperatures:
    r"""Transformation temperatures at a shear stress (Clausius-Clapeyron lines).

    .. math:: M_s' = M_s + \sigma/C_M, \quad M_f' = M_f + \sigma/C_M, \quad
              A_s' = A_s + \sigma/C_A, \quad A_f' = A_f + \sigma/C_A

    Parameters
    ----------
    tau
        Shear stress [Pa], any shape; :math:`\sigma = \sqrt3\tau/f_C`.
    alloy
        Card with zero-stress temperatures and slopes.

    Returns
    -------
    PhaseTemperatures
        Four temperatures [K], shape of tau.

    Examples
    --------
    The made-up card at 100 MPa (hand: 24.744 K up):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(martensite_start=340.0, martensite_finish=320.0,
    ...     austenite_start=360.0, austenite_finish=380.0, martensite_slope=7e6,
    ...     austenite_slope=7e6, slope_factor=1.0)
    >>> [float(value) for value in phase_temperatures(100e6, card)]
    [364.744, 344.744, 384.744, 404.744]

    References
    ----------
    Any text on shape-memory alloys (from memory).
    """
    martensite = stress_shift(tau, alloy.martensite_slope, alloy)
    austenite = stress_shift(tau, alloy.austenite_slope, alloy)
    return PhaseTemperatures(
        martensite_start=jnp.asarray(alloy.martensite_start) + martensite,
        martensite_finish=jnp.asarray(alloy.martensite_finish) + martensite,
        austenite_start=jnp.asarray(alloy.austenite_start) + austenite,
        austenite_finish=jnp.asarray(alloy.austenite_finish) + austenite,
    )


def martensite_fraction_heating(temperature: ArrayLike, tau: ArrayLike, alloy: Alloy) -> Array:
    r"""Martensite fraction on the heating envelope (full loop, cosine kinetics).

    .. math:: \xi = S\left(\frac{A_f' - T}{A_f - A_s}\right), \quad S(x) = (1 - \cos\pi x)/2

    Parameters
    ----------
    temperature
        Tube temperature :math:`T` [K], any shape.
    tau
        Shear stress [Pa], broadcasts.
    alloy
        Card.

    Returns
    -------
    Array
        Martensite fraction :math:`\xi` [1], 1 below As', 0 above Af'.

    Examples
    --------
    The made-up card under 100 MPa, 390 K and halfway (hand: 0.83903, 0.5):

    >>> from types import SimpleNamespace
    >>> card = SimpleNamespace(austenite_start=360.0, austenite_finish=380.0, austenite_slope=7e6,
    ...     slope_factor=1.0)
    >>> kelvin = jnp.array([390.0, 394.7436])
    >>> [float(xi) for xi in martensite_fraction_heating(kelvin, 100e6, card)]
    [0.83903, 0.50000]

    References
    ----------
    Heating branch of Liang and Rogers 1990, J. Intell. Mater. Syst. Struct. 1, 207, for xi_0 = 1
    (from memory).
    """
    finish = alloy.austenite_finish + stress_shift(tau, alloy.austenite_slope, alloy)
    width = jnp.asarray(alloy.austenite_finish) - alloy.austenite_start
    return smooth_step((finish - temperature) / width)
