"""Closed-form heat balance of a lumped tube: segments, sleeve, fin ends, wall difference.

A segment is one stretch of temperature with constant heat capacity, loss and power. Its time is the
exact solution of the lumped equation. Where the power (or the surroundings) cannot take the tube to
the end of the segment the logarithm is continued by its parabola: the time stays finite, positive
and grows steeply, and no valid case is touched.

The tube of the examples is 12 over 8 mm, 300 mm long: 57.14 J/K, 2942.2 J latent, 80 to 110 degC.
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
    heat
        Heat stored or released in the segment :math:`Q = C\Delta T + m\Delta H\Delta\xi + W` [J],
        any shape.
    conductance
        Loss :math:`UA` [W/K], above zero.
    span
        Temperature change :math:`\Delta T` [K], not negative.
    reach
        Distance :math:`a` from the end temperature to the asymptote [K]; not above zero where the
        segment cannot be completed.

    Returns
    -------
    Array
        Time [s].

    Notes
    -----
    Exact for a of 0.5 K and more. Below, ``ln a`` is continued by its parabola at 0.5 K (C2), so an
    impossible case has a large, finite time that rises with every kelvin missing. A tangent would
    not do: once the whole segment is out of reach the time would be flat.

    Examples
    --------
    Heating from 20 to 110 degC with 200 W and 12 W/(m2 K) on 0.01131 m2 takes 42.03 s (hand: 17.51
    s to 80 degC, 24.52 s through the transformation):

    >>> loss = 12.0 * 0.01131
    >>> times = [segment_time(heat=jnp.asarray(heat), conductance=loss, span=jnp.asarray(span),
    ...     reach=jnp.asarray(200.0 / loss - end)) for heat, span, end in
    ...     ((57.14 * 60, 60.0, 60.0), (57.14 * 30 + 2942.2, 30.0, 90.0))]
    >>> float(times[0] + times[1])
    42.03

    References
    ----------
    Lumped capacity, Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, 5.1 (from
    memory).
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
    time
        Duration :math:`t` [s], any shape.
    heat
        Heat stored [J]; over `span` it is the capacity.
    conductance
        :math:`UA` [W/K].
    span
        Temperature change [K].
    excess
        :math:`\theta_1 = T_1 - T_e` at the start [K].
    power
        Heater power :math:`P` [W].

    Returns
    -------
    Array
        Heat lost [J]. Closes the ledger with ``heat`` only where the segment is completed.

    Examples
    --------
    Cooling without power for one time constant (hand: 100 J/K x 50 K x (1 - 1/e)):

    >>> float(segment_loss(time=jnp.asarray(100.0), heat=jnp.asarray(1000.0), conductance=1.0,
    ...     span=jnp.asarray(10.0), excess=50.0, power=0.0))
    3160.60

    References
    ----------
    Derived: integral of the exact lumped solution.
    """
    length = jnp.maximum(span, SHORTEST)
    stores = heat > 0.0  # a stretch without length has neither time nor heat
    constant = jnp.where(stores, heat, 1.0) / (conductance * length)
    gained = jnp.where(stores, -jnp.expm1(-time / constant) * constant, 0.0)
    return power * time - (power - conductance * excess) * gained


def sleeve_resistance(
    *, inner_radius: Array, thickness: Array, length: Array, conductivity: Array
) -> Array:
    r"""Resistance of an insulating sleeve.

    .. math:: R = \ln(1+\delta/r_1)/(2\pi k L)

    Parameters
    ----------
    inner_radius
        :math:`r_1` [m], above zero, any shape.
    thickness
        :math:`\delta` [m], not negative; zero gives no resistance.
    length
        :math:`L` [m].
    conductivity
        :math:`k` [W/(m*K)].

    Returns
    -------
    Array
        Resistance [K/W].

    Examples
    --------
    Hand: ln 2/(0.06 pi x 0.3) for 6 mm around a radius of 6 mm at 0.03 W/(m K).

    >>> float(sleeve_resistance(inner_radius=0.006, thickness=0.006, length=0.3, conductivity=0.03))
    12.2575

    References
    ----------
    Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, 3.3 (from memory).
    """
    return jnp.log1p(thickness / inner_radius) / (2.0 * jnp.pi * conductivity * length)


def fin_conductance(
    *, film_coefficient: Array, perimeter: Array, conductivity: Array, area: Array
) -> Array:
    r"""Loss of a long unheated stub at one end.

    .. math:: G = \sqrt{h P k A_c}

    Parameters
    ----------
    film_coefficient
        :math:`h` [W/(m**2*K)], above zero, any shape.
    perimeter
        :math:`P` [m].
    conductivity
        :math:`k` [W/(m*K)].
    area
        Cross-section of the wall :math:`A_c` [m**2], above zero.

    Returns
    -------
    Array
        Conductance [W/K].

    Examples
    --------
    Wall of 12 over 8 mm, 18 W/(m K), 12 W/(m2 K): 1.81 W at 80 K (hand).

    >>> 80.0 * float(fin_conductance(film_coefficient=12.0, perimeter=0.0376991, conductivity=18.0,
    ...     area=6.28319e-5))
    1.81

    References
    ----------
    Infinite fin, Incropera and DeWitt, Fundamentals of Heat and Mass Transfer, table 3.4 (from
    memory).
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
    flux
        Heat flux :math:`q''` on the bore [W/m**2], any shape.
    inner_radius, outer_radius
        :math:`0 < r_i < r_o` [m].
    conductivity
        :math:`k` [W/(m*K)], of the poorer phase.

    Returns
    -------
    Array
        Inner minus outer temperature [K].

    Examples
    --------
    5 W/cm2 on a wall of 6 over 4 mm at 18 W/(m K) (hand: 11.111 x (1.8 x 0.405465 - 0.5)):

    >>> float(wall_difference_bore(flux=5e4, inner_radius=0.004, outer_radius=0.006,
    ...     conductivity=18.0))
    2.5537

    References
    ----------
    Derived (hollow cylinder, uniform heating rate).
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
    flux
        Heat flux :math:`q''` on the outer surface [W/m**2], any shape.
    inner_radius, outer_radius
        :math:`0 < r_i < r_o` [m].
    conductivity
        :math:`k` [W/(m*K)], of the poorer phase.

    Returns
    -------
    Array
        Outer minus inner temperature [K].

    Examples
    --------
    The same wall (hand: 16.667 x (0.5 - 0.8 x 0.405465)):

    >>> float(wall_difference_wrap(flux=5e4, inner_radius=0.004, outer_radius=0.006,
    ...     conductivity=18.0))
    2.9271

    References
    ----------
    Derived: :func:`wall_difference_bore` with the two surfaces exchanged.
    """
    share = inner_radius**2 / (outer_radius**2 - inner_radius**2)
    shape = 0.5 - share * jnp.log(outer_radius / inner_radius)
    return flux * outer_radius / conductivity * shape
