"""Closed-form heat balance of a lumped tube: segments, sleeve, fin ends, wall difference.

A segment is one stretch of temperature with constant heat capacity, loss and power. Its time is the
exact solution of the lumped equation. Where the power (or the surroundings) cannot take the tube to
the end of the segment the logarithm is continued by its parabola: the time stays finite, positive
and grows steeply, and no valid case is touched.
"""

from __future__ import annotations

import jax.numpy as jnp
from jax import Array

REACH = 0.5  # [K] least distance of the asymptote from the end temperature for the exact solution
SHORTEST = 1e-6  # [K] length under which a segment counts as isothermal


def segment_time(*, heat: Array, conductance: Array, span: Array, reach: Array) -> Array:
    r"""Time of one segment of heating or cooling.

    .. math:: t = \frac{Q}{UA\,\Delta T}\,\ln\frac{a+\Delta T}{a},\qquad
        a_{heating} = \frac{P}{UA}-(T_2-T_e),\quad a_{cooling} = T_2-T_e

    Parameters
    ----------
    heat : heat stored or released in the segment :math:`Q = C\Delta T + m\Delta H\Delta\xi + W`
        [J], any shape
    conductance : loss :math:`UA` [W/K], > 0
    span : temperature change :math:`\Delta T` >= 0 [K]
    reach : distance :math:`a` from the end temperature to the asymptote [K]; not above zero where
        the segment cannot be completed

    Returns
    -------
    Array
        Time [s].

    Notes
    -----
    Exact for a >= 0.5 K. Below, ``ln a`` is continued by its parabola at 0.5 K (C2), so an
    impossible case has a large, finite time that rises with every kelvin missing. A tangent would
    not do: once the whole segment is out of reach the time would be flat.

    References
    ----------
    Lumped balance, reference thermal-power-mass 2.1 (check TM-13).
    """
    length = jnp.maximum(span, SHORTEST)
    begin, end = jnp.maximum(reach + length, REACH), jnp.maximum(reach, REACH)
    exact = jnp.log1p((begin - end) / end)
    short_end = jnp.maximum(1.0 - reach / REACH, 0.0)
    short_begin = jnp.maximum(1.0 - (reach + length) / REACH, 0.0)
    missing = short_end * (1.0 + short_end / 2.0) - short_begin * (1.0 + short_begin / 2.0)
    return heat / (conductance * length) * (exact + missing)


def segment_loss(
    *, time: Array, heat: Array, conductance: Array, span: Array, excess: Array, power: Array
) -> Array:
    r"""Heat lost in a segment, from the temperature course and not from the balance of its ends.

    .. math:: Q_{loss} = UA\int_0^t\theta\,dt
        = P t - \tau (P - UA\,\theta_1)(1-e^{-t/\tau}),\qquad \tau = \frac{Q}{UA\,\Delta T}

    Parameters
    ----------
    time : duration :math:`t` [s], any shape
    heat : heat stored [J]; ``span`` : temperature change [K]; their ratio is the capacity
    conductance : :math:`UA` [W/K]
    excess : :math:`\theta_1 = T_1 - T_e` at the start [K]
    power : heater power :math:`P` [W]

    Returns
    -------
    Array
        Heat lost [J]. Closes the ledger with ``heat`` only where the segment is completed.

    References
    ----------
    Integral of the exact lumped solution (derived).
    """
    length = jnp.maximum(span, SHORTEST)
    stores = heat > 0.0  # a stretch without length has neither time nor heat
    constant = jnp.where(stores, heat, 1.0) / (conductance * length)
    gained = jnp.where(stores, -jnp.expm1(-time / constant) * constant, 0.0)
    return power * time - (power - conductance * excess) * gained


def sleeve_resistance(
    *, inner_radius: Array, thickness: Array, length: Array, conductivity: Array
) -> Array:
    r"""Resistance of an insulating sleeve :math:`\ln(1+\delta/r_1)/(2\pi k L)` [K/W].

    Parameters
    ----------
    inner_radius : :math:`r_1` [m], > 0, any shape
    thickness : :math:`\delta` >= 0 [m]; zero gives no resistance
    length : :math:`L` [m]
    conductivity : :math:`k` [W/(m*K)]

    References
    ----------
    Reference thermal-power-mass 2.8.
    """
    return jnp.log1p(thickness / inner_radius) / (2.0 * jnp.pi * conductivity * length)


def fin_conductance(
    *, film_coefficient: Array, perimeter: Array, conductivity: Array, area: Array
) -> Array:
    r"""Loss of a long unheated stub at one end: :math:`\sqrt{h P k A_c}` [W/K].

    Parameters
    ----------
    film_coefficient : :math:`h` [W/(m**2*K)], > 0, any shape
    perimeter : :math:`P` [m]
    conductivity : :math:`k` [W/(m*K)]
    area : cross-section of the wall :math:`A_c` [m**2], > 0

    References
    ----------
    Infinite fin; reference thermal-power-mass 2.8 (1.81 W per end for its TUBE-A at 80 K).
    """
    return jnp.sqrt(film_coefficient * perimeter * conductivity * area)


def wall_difference_bore(
    *, flux: Array, inner_radius: Array, outer_radius: Array, conductivity: Array
) -> Array:
    r"""Temperature across the wall, heated in the bore, outside insulated, quasi-steady.

    .. math:: \Delta T = \frac{q''r_i}{k}\left[\frac{r_o^2}{r_o^2-r_i^2}\ln\frac{r_o}{r_i}
        -\frac12\right]

    Parameters
    ----------
    flux : heat flux :math:`q''` on the bore [W/m**2], any shape
    inner_radius, outer_radius : :math:`0 < r_i < r_o` [m]
    conductivity : :math:`k` [W/(m*K)], of the poorer phase

    Returns
    -------
    Array
        Inner minus outer temperature [K].

    References
    ----------
    Reference thermal-power-mass 2.3 (derived; check TM-16).
    """
    share = outer_radius**2 / (outer_radius**2 - inner_radius**2)
    shape = share * jnp.log(outer_radius / inner_radius) - 0.5
    return flux * inner_radius / conductivity * shape


def wall_difference_wrap(
    *, flux: Array, inner_radius: Array, outer_radius: Array, conductivity: Array
) -> Array:
    r"""Temperature across the wall, heated on the outside, bore insulated, quasi-steady.

    .. math:: \Delta T = \frac{q''r_o}{k}\left[\frac12-\frac{r_i^2}{r_o^2-r_i^2}
        \ln\frac{r_o}{r_i}\right]

    Parameters
    ----------
    flux : heat flux :math:`q''` on the outer surface [W/m**2], any shape
    inner_radius, outer_radius : :math:`0 < r_i < r_o` [m]
    conductivity : :math:`k` [W/(m*K)], of the poorer phase

    Returns
    -------
    Array
        Outer minus inner temperature [K].

    References
    ----------
    As :func:`wall_difference_bore` with the two surfaces exchanged (derived).
    """
    share = inner_radius**2 / (outer_radius**2 - inner_radius**2)
    shape = 0.5 - share * jnp.log(outer_radius / inner_radius)
    return flux * outer_radius / conductivity * shape


def through_flow_difference(
    *, flux: Array, inner_radius: Array, outer_radius: Array, conductivity: Array
) -> Array:
    r"""Steady difference where the outside carries all: :math:`(q''r_i/k)\ln(r_o/r_i)` [K].

    Parameters
    ----------
    flux : heat flux :math:`q''` on the bore [W/m**2], any shape
    inner_radius, outer_radius : :math:`0 < r_i < r_o` [m]
    conductivity : :math:`k` [W/(m*K)]

    References
    ----------
    Reference thermal-power-mass 2.3.
    """
    return flux * inner_radius / conductivity * jnp.log(outer_radius / inner_radius)


def lumped_time_constant(*, capacity: Array, conductance: Array) -> Array:
    """Time constant ``C/UA`` [s] of a lumped body of capacity [J/K] and loss [W/K]."""
    return capacity / conductance
